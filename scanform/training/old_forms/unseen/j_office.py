"""Set J, forms from an office program: a county's grader, a skid steer, a log loader, a backhoe. All are invented."""

from __future__ import annotations

from html import escape

from pdfplumber.page import Page as PdfPage

from scanform.training.old_forms.calc import Cell, Grid, fods, grid_of
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted, first_page, glyph_boxes_on, leader, runs_of
from scanform.training.old_forms.unseen.points_j_roads import BACKHOE, GRADER
from scanform.training.old_forms.unseen.points_j_yards import LOG_LOADER, SKID_STEER
from scanform.training.old_forms.writer import cell, fodt, paragraph, tab, table

__all__ = ["backhoe_glyphs", "grader_county", "log_loader_questions", "skid_two_blocks"]

_MM = 25.4 / 72
_A4, _LETTER = (210.0, 297.0), (215.9, 279.4)
_ANSWERS = ("ok", "defect", "na")


def grader_county(run: str) -> DrawnForm:
    """A county's spreadsheet: labels shaded beside their rooms, one list in parts, a cell for notes to each row."""
    margin, widths = 13.0, (26.0, 80.0, 90.0, 40.0, 46.0, 40.0, 212.0)
    header = (
        (("unit", "Equipment No."), ("date", "Date")),
        (("operator", "Operator"), ("hours", "Hour Meter")),
        (("site", "Road / District"), ("fuel-added", "Gallons Fuel")),
    )
    rows: list[tuple[float, list[Cell]]] = [
        (30, [Cell("Motor Grader Daily Check", "title", 7)]),
        (18, [Cell("Harlan Flats County Road Dept.  -  one sheet per machine per day", "plain", 7)]),
    ]
    rows += [(25, _two_rooms(left, right)) for (_, left), (_, right) in header]
    placed: list[tuple[int, str, str]] = []
    for heading, points in GRADER.items():
        rows.append((19, [Cell(heading, "head", 3), *(Cell(w, "head") for w in ("OK", "Repair", "N/A", "Notes"))]))
        for name, words in points.items():
            placed.append((len(rows), name, words))
            rows.append((19, [Cell(str(len(placed)), "middle"), Cell(words, "ruled", 2), *(Cell() for _ in range(4))]))
    rows.append((30, _two_rooms("Operator Signature", "Shop Foreman")))
    rows.append(
        (16, [Cell("Mark one column for every item. Tell the foreman about anything under Repair.", "plain", 7)])
    )
    pdf = converted(fods(_LETTER, margin, widths, rows), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows[:-1]], 2)
    fields = []
    for r, ((left_id, left), (right_id, right)) in enumerate(header, start=2):
        fields.append(FormField(left_id, "text", "cell", grid.box(r, 2, 4), left))
        fields.append(FormField(right_id, "text", "cell", grid.box(r, 6, 7), right))
    for r, name, words in placed:
        answers = tuple((answer, grid.box(r, k, k + 1)) for k, answer in enumerate(_ANSWERS, start=3))
        fields.append(FormField(f"item.{name}", "choice", "cell", grid.box(r, 3, 6), words, answers=answers))
        fields.append(FormField(f"note.{name}", "text", "cell", grid.box(r, 6, 7), "Notes"))
    end = len(rows) - 2
    fields.append(FormField("signature", "signature", "cell", grid.box(end, 2, 4), "Operator Signature"))
    fields.append(FormField("foreman", "text", "cell", grid.box(end, 6, 7), "Shop Foreman"))
    return DrawnForm("grader-county", run, pdf, *_LETTER, tuple(fields), {})


def _two_rooms(left: str, right: str) -> list[Cell]:
    """Two shaded labels, each with the cell to write in beside it."""
    return [Cell(left, "label", 2), Cell("", "ruled", 2), Cell(right, "label", 2), Cell()]


def skid_two_blocks(run: str) -> DrawnForm:
    """A4, from a branch overseas: two lists beside each other, thin rules, no shading; label and room in one cell."""
    margin, widths = 15.0, (146.0, 45.0, 45.0, 36.0, 146.0, 45.0, 45.0)
    head, gap = ("Check", "OK", "Fix"), Cell("", "plain")
    rows: list[tuple[float, list[Cell]]] = [
        (32, [Cell("SKID STEER / TRACK LOADER", "title", 7)]),
        (20, [Cell("Redstone Equipment Overseas, daily operator check", "plain", 7)]),
        (29, [Cell("Machine no.:"), Cell("Date:", "ruled", 3), Cell("Hour meter:"), Cell("Shift:", "ruled", 2)]),
        (29, [Cell("Operator:", "ruled", 4), Cell("Job / location:", "ruled", 3)]),
        (14, [Cell("", "plain", 7)]),
        (21, [*(Cell(w, "middle") for w in head), gap, *(Cell(w, "middle") for w in head)]),
    ]
    first = len(rows)
    left, right = SKID_STEER
    for left_words, right_words in zip(left.values(), right.values(), strict=True):
        rows.append((24, [Cell(left_words), Cell(), Cell(), gap, Cell(right_words), Cell(), Cell()]))
    end = len(rows)
    rows += [
        (18, [Cell("Put a check mark under OK or Fix. Say below what is to be fixed:", "plain", 7)]),
        *((28, [Cell("", "ruled", 7)]) for _ in range(3)),
        (14, [Cell("", "plain", 7)]),
        (34, [Cell("Signature:", "ruled", 4), Cell("Given to:", "ruled", 3)]),
    ]
    document = fods(_A4, margin, widths, rows).replace("0.6pt solid", "0.35pt solid")
    pdf = converted(document.replace("Liberation Sans", "DejaVu Sans Condensed"), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 2)
    fields = [
        FormField("unit", "text", "cell", grid.box(2, 0, 1), "Machine no.:"),
        FormField("date", "text", "cell", grid.box(2, 1, 4), "Date:"),
        FormField("hours", "text", "cell", grid.box(2, 4, 5), "Hour meter:"),
        FormField("shift", "text", "cell", grid.box(2, 5, 7), "Shift:"),
        FormField("operator", "text", "cell", grid.box(3, 0, 4), "Operator:"),
        FormField("site", "text", "cell", grid.box(3, 4, 7), "Job / location:"),
    ]
    for column, points in ((1, left), (5, right)):
        for r, (name, words) in enumerate(points.items(), start=first):
            answers = (("ok", grid.box(r, column, column + 1)), ("defect", grid.box(r, column + 1, column + 2)))
            whole = grid.box(r, column, column + 2)
            fields.append(FormField(f"item.{name}", "choice", "cell", whole, words, answers=answers))
    for k in (1, 2, 3):
        fields.append(
            FormField(f"remarks.{k}", "text", "cell", grid.box(end + k, 0, 7), "Say below what is to be fixed:")
        )
    fields.append(FormField("signature", "signature", "cell", grid.box(end + 5, 0, 4), "Signature:"))
    fields.append(FormField("told", "text", "cell", grid.box(end + 5, 4, 7), "Given to:"))
    return DrawnForm("skid-two-blocks", run, pdf, *_A4, tuple(fields), {})


def log_loader_questions(run: str) -> DrawnForm:
    """A letter's table of numbered questions with Yes, No and N/A cells; underscores before and after it."""
    widths, pitch = (10.0, 122.0, 17.0, 17.0, 17.0), 7.4
    words = ["", "Look, then answer", "Yes", "No", "N/A"]
    rows = [[f'<text:p text:style-name="{"th" if k < 2 else "tc"}">{w}</text:p>' for k, w in enumerate(words)]]
    for k, question in enumerate(LOG_LOADER.values(), start=1):
        rows.append(
            [f'<text:p text:style-name="tc">{k}</text:p>', f'<text:p text:style-name="td">{escape(question)}</text:p>']
            + ['<text:p text:style-name="td"/>'] * 3
        )
    table_styles, table_body = table("q", widths, pitch, rows, "c")
    line = '<text:p text:style-name="l"><text:tab/></text:p>'
    body = (
        '<text:p text:style-name="h">LOG LOADER - START OF SHIFT</text:p>'
        '<text:p text:style-name="s">Bitter Creek Lumber, Log Yard. A &#8220;No&#8221; goes to the millwrights '
        "before you start.</text:p>"
        '<text:p text:style-name="f">Loader # <text:tab/> Date <text:tab/> Hour meter <text:tab/></text:p>'
        '<text:p text:style-name="g2">Operator <text:tab/> Shift <text:tab/></text:p>'
        f'<text:p text:style-name="s"/>{table_body}<text:p text:style-name="b">Explain each No:</text:p>{line}{line}'
        '<text:p text:style-name="e">Operator signature <text:tab/> Reported to <text:tab/></text:p>'
    )
    styles = (
        paragraph("h", 16, 0, bold=True, centred="center")
        + paragraph("s", 10, 1, centred="center")
        + paragraph("f", 11, 4, tab(60, "_") + tab(117, "_") + tab(183, "_"))
        + paragraph("g2", 11, 4, tab(117, "_") + tab(183, "_"))
        + paragraph("th", 10.5, 0, bold=True)
        + paragraph("td", 10.5, 0)
        + paragraph("tc", 10.5, 0, centred="center")
        + paragraph("b", 11, 4, bold=True)
        + paragraph("l", 11, 3, tab(183, "_"))
        + paragraph("e", 11, 6, tab(108, "_") + tab(183, "_"))
        + cell("c", 'fo:border="0.75pt solid #000000"')
        + table_styles
    )
    pdf = converted(fodt(body, styles, _LETTER), ".fodt")
    page = first_page(pdf)
    xs = sorted({round(edge["x0"] * _MM, 2) for edge in page.edges if edge["orientation"] == "v"})
    ys = sorted({round(edge["top"] * _MM, 2) for edge in page.edges if edge["orientation"] == "h"})
    grid = Grid(xs, ys)
    fields = [
        FormField(field_id, "text", "rule", leader(page, label, 7.0, "_"), label)
        for field_id, label in (
            ("unit", "Loader #"),
            ("date", "Date"),
            ("hours", "Hour meter"),
            ("operator", "Operator"),
            ("shift", "Shift"),
        )
    ]
    for row, (name, question) in enumerate(LOG_LOADER.items(), start=1):
        answers = tuple((answer, grid.box(row, k, k + 1)) for k, answer in enumerate(_ANSWERS, start=2))
        fields.append(FormField(f"item.{name}", "choice", "cell", grid.box(row, 2, 5), question, answers=answers))
    fields += _remarks(page, 6.5, "Explain each No:")
    fields += _signed(page, "Operator signature", "told", "Reported to")
    return DrawnForm("log-loader-questions", run, pdf, *_LETTER, tuple(fields), {})


def backhoe_glyphs(run: str) -> DrawnForm:
    """A letter in parts: each point has ballot boxes of a typeface before OK, Needs work and N/A at tab stops."""
    rows = []
    for heading, points in BACKHOE.items():
        rows.append(f'<text:p text:style-name="b">{heading}</text:p>')
        for words in points.values():
            boxes = "".join(
                f'<text:tab/><text:span text:style-name="g">\u2610</text:span> {answer}'
                for answer in ("OK", "Needs work", "N/A")
            )
            rows.append(f'<text:p text:style-name="i">{escape(words)}{boxes}</text:p>')
    line = '<text:p text:style-name="l"><text:tab/></text:p>'
    body = (
        '<text:p text:style-name="h">Backhoe Daily Inspection</text:p>'
        '<text:p text:style-name="s">Tamarack Valley Water &amp; Power, Line and Main Crews</text:p>'
        '<text:p text:style-name="f">Equipment #: <text:tab/> Date: <text:tab/></text:p>'
        '<text:p text:style-name="f">Operator: <text:tab/> Hours: <text:tab/></text:p>'
        '<text:p text:style-name="f">Crew / work order: <text:tab/> Start time: <text:tab/></text:p>'
        f'{"".join(rows)}<text:p text:style-name="b">Describe what needs work</text:p>{line * 3}'
        '<text:p text:style-name="e">Signature: <text:tab/> Crew leader: <text:tab/></text:p>'
    )
    styles = (
        paragraph("h", 18, 0, bold=True)
        + paragraph("s", 10, 0.5)
        + paragraph("f", 10.5, 4, tab(112, "_") + tab(183, "_"))
        + paragraph("i", 10.5, 1, tab(92) + tab(119) + tab(158))
        + paragraph("b", 11, 3, bold=True)
        + paragraph("l", 10.5, 3.5, tab(183, "_"))
        + paragraph("e", 10.5, 5, tab(112, "_") + tab(183, "_"))
    )
    document = fodt(body, styles, _LETTER).replace("Liberation Serif", "Liberation Sans")
    pdf = converted(document.replace('fo:font-size="14pt"', 'fo:font-size="12pt"'), ".fodt")
    page = first_page(pdf)
    labels: tuple[tuple[str, str], ...] = (
        ("unit", "Equipment #:"),
        ("date", "Date:"),
        ("operator", "Operator:"),
        ("hours", "Hours:"),
        ("crew", "Crew / work order:"),
        ("start-time", "Start time:"),
    )
    fields = [FormField(f, "text", "rule", leader(page, label, 6.5, "_"), label) for f, label in labels]
    glyphs = glyph_boxes_on(page, "\u2610")
    listed = [point for part in BACKHOE.values() for point in part.items()]
    for k, (name, words) in enumerate(listed):
        three = glyphs[3 * k : 3 * k + 3]
        answers = tuple(zip(_ANSWERS, three, strict=True))
        whole = three[0].union(three[2])
        fields.append(FormField(f"item.{name}", "choice", "glyph", whole, words, answers=answers))
    fields += _remarks(page, 6.5, "Describe what needs work")
    fields += _signed(page, "Signature:", "foreman", "Crew leader:")
    return DrawnForm("backhoe-glyphs", run, pdf, *_LETTER, tuple(fields), {})


def _remarks(page: PdfPage, high_mm: float, label: str) -> list[FormField]:
    """The lines of underscores that go all the way across."""
    long = [box for box in runs_of(page, "_", high_mm) if box.w_mm > 170]
    return [FormField(f"remarks.{k}", "text", "rule", box, label) for k, box in enumerate(long, start=1)]


def _signed(page: PdfPage, signature: str, told_id: str, told: str) -> list[FormField]:
    return [
        FormField("signature", "signature", "rule", leader(page, signature, 8.0, "_"), signature),
        FormField(told_id, "text", "rule", leader(page, told, 8.0, "_"), told),
    ]
