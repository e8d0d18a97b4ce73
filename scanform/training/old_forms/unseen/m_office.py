"""Set M, forms from an office program: an earthworks dumper, a county's grader, a backhoe's week. All are invented."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from pdfplumber.page import Page as PdfPage

from scanform.form.days import DAY_TITLES, DAYS
from scanform.form.geometry import Box
from scanform.training.old_forms.calc import Cell, fods, grid_of
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted, first_page, leader, runs_of
from scanform.training.old_forms.unseen.points_m import BACKHOE, DUMPER, GRADER_OFF, GRADER_RUNNING
from scanform.training.old_forms.writer import cell, fodt, paragraph, tab, table

__all__ = ["backhoe_week", "dumper_muckshift", "grader_district"]

_MM = 25.4 / 72


def dumper_muckshift(run: str) -> DrawnForm:
    """A contractor's spreadsheet: shaded rows between parts, three answer columns and one for comments."""
    margin, size = 13.0, (210.0, 297.0)
    widths = (22.0, 68.0, 118.0, 40.0, 52.0, 48.0, 172.0)
    label, room = "label", "ruled"
    rows: list[tuple[float, list[Cell]]] = [
        (28, [Cell("Articulated dump truck - daily pre-use check", "title", 7)]),
        (20, [Cell("Marrick Vale Earthworks Ltd        Form PL-06, sheet to site office at end of shift", "plain", 7)]),
    ]
    for left, right in (("Truck no.", "Date"), ("Operator", "Site"), ("Hours start", "Hours finish")):
        rows.append((23, [Cell(left, label, 2), Cell("", room), Cell(right, label, 2), Cell("", room, 2)]))
    rows += [
        (18, [Cell("OK = fit for work    Monitor = safe, book a repair    Defect = park up and report", "plain", 7)]),
        (
            19,
            [Cell("No.", "head"), Cell("Check", "head", 2), *(Cell(w, "head") for w in ("OK", "Monitor", "Defect"))]
            + [Cell("Comments", "head")],
        ),
    ]
    places: list[tuple[int, str, str]] = []
    for heading, points in DUMPER.items():
        rows.append((18, [Cell(heading, label, 7)]))
        for name, words in points.items():
            places.append((len(rows), name, words))
            rows.append((18, [Cell(str(len(places)), "middle"), Cell(words, room, 2), *(Cell() for _ in range(4))]))
    end = len(rows)
    rows += [
        (42, [Cell("Further details", label, 2), Cell("", room, 5)]),
        (28, [Cell("Signed", label, 2), Cell("", room), Cell("Supervisor", label, 2), Cell("", room, 2)]),
    ]
    pdf = converted(fods(size, margin, widths, rows), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 2)
    fields = []
    for row, ids in enumerate((("unit", "date"), ("operator", "site"), ("hours-start", "hours-end")), start=2):
        for field_id, (a, b) in zip(ids, ((2, 3), (5, 7)), strict=True):
            words = rows[row][1][0 if a == 2 else 2].text
            fields.append(FormField(field_id, "text", "cell", grid.box(row, a, b), words))
    for row, name, words in places:
        answers = tuple((answer, grid.box(row, k, k + 1)) for k, answer in enumerate(("ok", "monitor", "defect"), 3))
        fields.append(FormField(f"item.{name}", "choice", "cell", grid.box(row, 3, 6), words, answers=answers))
        fields.append(FormField(f"note.{name}", "text", "cell", grid.box(row, 6, 7), "Comments"))
    fields += [
        FormField("remarks", "text", "area", grid.box(end, 2, 7), "Further details"),
        FormField("signature", "signature", "cell", grid.box(end + 1, 2, 3), "Signed"),
        FormField("foreman", "text", "cell", grid.box(end + 1, 5, 7), "Supervisor"),
    ]
    return DrawnForm("dumper-muckshift", run, pdf, *size, tuple(fields), {})


def backhoe_week(run: str) -> DrawnForm:
    """A week across in a narrow typeface, tinted: signs for seven days, hours and initials below, lines for defects."""
    margin, size = 12.0, (297.0, 210.0)
    widths = (22.0, 182.0, *((80.0,) * 7))
    room = "ruled"
    rows: list[tuple[float, list[Cell]]] = [
        (26, [Cell("Brennock Utilities - backhoe loader, weekly check", "title", 9)]),
        (
            23,
            [Cell("Machine no.", "label", 2), Cell("", room, 2), Cell("Week commencing", "label", 2)]
            + [Cell("", room, 3)],
        ),
        (23, [Cell("Operator", "label", 2), Cell("", room, 2), Cell("Site / job no.", "label", 2), Cell("", room, 3)]),
        (17, [Cell("\u2713 = in order     X = defect, fill in below     N/A = not fitted", "plain", 9)]),
        (18, [Cell("", "head"), Cell("Daily check", "head"), *(Cell(day, "head") for day in DAY_TITLES)]),
    ]
    for number, words in enumerate(BACKHOE.values(), start=1):
        rows.append((15.5, [Cell(str(number), "middle"), Cell(words), *(Cell() for _ in DAYS)]))
    end = len(rows)
    rows += [
        (20, [Cell("Hour meter", "label", 2), *(Cell() for _ in DAYS)]),
        (20, [Cell("Operator's initials", "label", 2), *(Cell() for _ in DAYS)]),
        (17, [Cell("Defects - give the day and the number of the check", "label", 9)]),
        *((19.0, [Cell("", room, 9)]) for _ in range(2)),
        (25, [Cell("Supervisor", "label", 2), Cell("", room, 3), Cell("Date seen", "label", 2), Cell("", room, 2)]),
    ]
    document = fods(size, margin, widths, rows)
    for usual, here in (("Liberation Sans", "Liberation Sans Narrow"), ("#d9d9d9", "#dce6f1"), ("0.6pt", "0.75pt")):
        document = document.replace(usual, here)
    pdf = converted(document, ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 1)
    fields = [
        FormField("unit", "text", "cell", grid.box(1, 2, 4), "Machine no."),
        FormField("week", "text", "cell", grid.box(1, 6, 9), "Week commencing"),
        FormField("operator", "text", "cell", grid.box(2, 2, 4), "Operator"),
        FormField("site", "text", "cell", grid.box(2, 6, 9), "Site / job no."),
    ]
    for row, (name, words) in enumerate(BACKHOE.items(), start=5):
        for k, day in enumerate(DAYS, start=2):
            fields.append(FormField(f"item.{name}.{day}", "mark", "cell", grid.box(row, k, k + 1), words))
    for k, day in enumerate(DAYS, start=2):
        fields.append(FormField(f"hours.{day}", "text", "cell", grid.box(end, k, k + 1), "Hour meter"))
        fields.append(FormField(f"initials.{day}", "text", "cell", grid.box(end + 1, k, k + 1), "Operator's initials"))
    for k in range(2):
        fields.append(FormField(f"remarks.{k + 1}", "text", "cell", grid.box(end + 3 + k, 0, 9), "Defects"))
    fields.append(FormField("foreman", "text", "cell", grid.box(end + 5, 2, 5), "Supervisor"))
    fields.append(FormField("date-seen", "text", "cell", grid.box(end + 5, 7, 9), "Date seen"))
    legend = {"tick": "ok", "cross": "defect", "letters": "na"}
    return DrawnForm("backhoe-week", run, pdf, *size, tuple(fields), legend)


def grader_district(run: str) -> DrawnForm:
    """Letter, a county's typed form: underscores to write on, two ruled tables with two lists side by side."""
    size = (215.9, 279.4)
    widths = (57.0, 11.0, 14.0, 10.0, 57.0, 11.0, 14.0, 10.0)
    off_styles, off = table("a", widths, 7.0, _side_by_side(GRADER_OFF), "ruled")
    running_styles, running = table("b", widths, 7.0, _side_by_side(GRADER_RUNNING), "ruled")
    line = '<text:p text:style-name="d"><text:tab/></text:p>'
    body = (
        '<text:p text:style-name="h">MOTOR GRADER PRE-TRIP INSPECTION</text:p>'
        '<text:p text:style-name="s">Ostrander County Road Department</text:p>'
        '<text:p text:style-name="f">Unit No.<text:tab/> Date<text:tab/> Hour Meter<text:tab/></text:p>'
        '<text:p text:style-name="e">Operator<text:tab/> Road / District<text:tab/></text:p>'
        f'<text:p text:style-name="b">Engine off</text:p>{off}'
        f'<text:p text:style-name="b">Engine running</text:p>{running}'
        '<text:p text:style-name="f">Fuel added (gal)<text:tab/> Oil added (qt)<text:tab/> '
        "Miles graded<text:tab/></text:p>"
        f'<text:p text:style-name="b">Describe repairs needed</text:p>{line * 4}'
        '<text:p text:style-name="e">Operator Signature<text:tab/> Foreman<text:tab/></text:p>'
    )
    styles = (
        paragraph("h", 15, 0, bold=True, centred="center")
        + paragraph("s", 11, 1, centred="center")
        + paragraph("f", 11, 4.5, tab(68, "_") + tab(122, "_") + tab(184, "_"))
        + paragraph("e", 11, 4.5, tab(102, "_") + tab(184, "_"))
        + paragraph("b", 11, 4, bold=True)
        + paragraph("d", 11, 3.8, tab(184, "_"))
        + paragraph("t", 10, 0)
        + paragraph("c", 9, 0, bold=True, centred="center")
        + cell("ruled", 'fo:border="0.75pt solid #000000"')
        + off_styles
        + running_styles
    )
    pdf = converted(fodt(body, styles, size), ".fodt")
    page = first_page(pdf)
    labels: Sequence[tuple[str, str]] = (
        ("unit", "Unit No."),
        ("date", "Date"),
        ("hours", "Hour Meter"),
        ("operator", "Operator"),
        ("road-district", "Road / District"),
        ("fuel-added", "Fuel added (gal)"),
        ("oil-added", "Oil added (qt)"),
        ("miles-graded", "Miles graded"),
    )
    fields = [FormField(f, "text", "rule", leader(page, label, 6.5, "_"), label) for f, label in labels]
    xs, ys = _rules(page, "v", "x0"), _rules(page, "h", "top")
    first = len(GRADER_OFF) // 2 + 2
    fields += _two_lists(GRADER_OFF, xs, ys[:first]) + _two_lists(GRADER_RUNNING, xs, ys[first:])
    long = [run_ for run_ in runs_of(page, "_", 7.0) if run_.w_mm > 160]
    fields += [
        FormField(f"remarks.{k}", "text", "rule", box, "Describe repairs needed") for k, box in enumerate(long, 1)
    ]
    signed = "Operator Signature"
    fields.append(FormField("signature", "signature", "rule", leader(page, signed, 7.5, "_"), signed))
    fields.append(FormField("foreman", "text", "rule", leader(page, "Foreman", 7.5, "_"), "Foreman"))
    return DrawnForm("grader-district", run, pdf, *size, tuple(fields), {})


def _side_by_side(points: dict[str, str]) -> list[list[str]]:
    """A row of heads, then the first half of the points beside the second, three empty cells after each."""
    words = [f'<text:p text:style-name="t">{escape(w)}</text:p>' for w in points.values()]
    half, empty = len(words) // 2, ['<text:p text:style-name="t"/>'] * 3
    heads = [f'<text:p text:style-name="c">{w}</text:p>' for w in ("", "OK", "Repair", "N/A")]
    return [heads * 2] + [[a, *empty, b, *empty] for a, b in zip(words[:half], words[half:], strict=True)]


def _two_lists(points: dict[str, str], xs: Sequence[float], ys: Sequence[float]) -> list[FormField]:
    """The answers of such a table by its edges."""
    fields, half = [], len(points) // 2
    for n, (name, words) in enumerate(points.items()):
        row, first = 1 + n % half, 1 + 4 * (n // half)
        cells = [Box(xs[k], ys[row], xs[k + 1] - xs[k], ys[row + 1] - ys[row]) for k in range(first, first + 3)]
        answers = tuple(zip(("ok", "defect", "na"), cells, strict=True))
        whole = cells[0].union(cells[2])
        fields.append(FormField(f"item.{name}", "choice", "cell", whole, words, answers=answers))
    return fields


def _rules(page: PdfPage, orientation: str, side: str) -> list[float]:
    """Where the rules of the tables lie, mm from above or from the left, pieces of one rule taken as one."""
    places: list[float] = []
    for place in sorted(edge[side] * _MM for edge in page.edges if edge["orientation"] == orientation):
        if not places or place - places[-1] > 1:
            places.append(place)
    return places
