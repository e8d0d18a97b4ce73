"""Set N, forms from an office program: a council's backhoe, a town's sweeper, a hired excavator's week.

All are invented.
"""

from __future__ import annotations

from html import escape

from pdfplumber.page import Page as PdfPage

from scanform.form.days import DAY_TITLES, DAYS
from scanform.form.geometry import Box
from scanform.training.old_forms.calc import Cell, fods, grid_of
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted, first_page, leader, runs_of
from scanform.training.old_forms.unseen.points_n import BACKHOE, SWEEPER, WHEELED
from scanform.training.old_forms.writer import cell, fodt, paragraph, tab, table

__all__ = ["backhoe_depot", "sweeper_town", "wheeled_week"]

_MM = 25.4 / 72
_ANSWERS = ("ok", "defect", "na")
_UNDERSCORE = 0.167 * 11 * _MM  # how far its ink lies below the baseline: Liberation Sans at 11 pt


def backhoe_depot(run: str) -> DrawnForm:
    """A4, a letter: a table of labels and rooms, one table of bare cells to each part, underscores to write on."""
    size = (210.0, 297.0)
    head = (
        (("unit", "Fleet number"), ("date", "Date")),
        (("operator", "Operator"), ("hours", "Hour meter")),
        (("site", "Job / location"), ("shift", "Shift")),
    )
    head_rows = [[_words("b", label) if k == 0 else "<text:p/>" for _, label in row for k in (0, 1)] for row in head]
    head_styles, head_table = table("h", (32, 68, 28, 50), 9.0, head_rows, "x")
    styles, tables = head_styles, ""
    for k, (heading, points) in enumerate(BACKHOE.items()):
        rows = [[_words("b", heading), *(_words("m", words) for words in ("OK", "Fault", "N/A"))]]
        rows += [[_words("i", words), *(("<text:p/>",) * 3)] for words in points.values()]
        part_styles, part = table(f"t{k}", (118, 20, 20, 20), 6.9, rows, "x")
        styles, tables = styles + part_styles, tables + part
    body = (
        _words("t", "Backhoe Loader \u2013 Daily Operator Check")
        + _words("s", "Harrowmere District Council, Highways Depot. Hand in to the office at the end of the day.")
        + head_table
        + tables
        + _words("r", "Faults and comments:")
        + '<text:p text:style-name="l"><text:tab/></text:p>' * 3
        + '<text:p text:style-name="f">Signature <text:tab/> Reported to <text:tab/></text:p>'
        + '<text:p text:style-name="f">Depot supervisor <text:tab/></text:p>'
    )
    styles += (
        paragraph("t", 17, 0, bold=True, centred="center")
        + paragraph("s", 10, 1, centred="center")
        + paragraph("b", 10.5, 0, bold=True)
        + paragraph("m", 10, 0, bold=True, centred="center")
        + paragraph("i", 10.5, 0)
        + paragraph("r", 10.5, 3, bold=True)
        + paragraph("l", 11, 3.2, tab(178, "_"))
        + paragraph("f", 11, 5, tab(98, "_") + tab(178, "_"))
        + cell("x", 'fo:border="0.5pt solid #000000"')
    )
    document = fodt(body, styles, size).replace("Liberation Serif", "Liberation Sans")
    pdf = converted(document.replace('fo:padding="0.5mm"', 'fo:padding="1mm"'), ".fodt")
    page = first_page(pdf)
    header, *parts = _tables(page)
    fields = [
        FormField(field_id, "text", "cell", _between(header, r, 1 + 2 * k), label)
        for r, row in enumerate(head)
        for k, (field_id, label) in enumerate(row)
    ]
    for edges, points in zip(parts, BACKHOE.values(), strict=True):
        for r, (name, words) in enumerate(points.items(), start=1):
            answers = tuple((a, _between(edges, r, k)) for k, a in enumerate(_ANSWERS, start=1))
            whole = answers[0][1].union(answers[-1][1])
            fields.append(FormField(f"item.{name}", "choice", "cell", whole, words, answers=answers))
    lines = [box for box in runs_of(page, "_", 6.5) if box.w_mm > 150]
    for k, box in enumerate(lines[:3], start=1):
        fields.append(FormField(f"remarks.{k}", "text", "rule", _on_the_rule(box), "Faults and comments:"))
    for field_id, label in (("signature", "Signature"), ("told", "Reported to"), ("foreman", "Depot supervisor")):
        kind = "signature" if field_id == "signature" else "text"
        fields.append(FormField(field_id, kind, "rule", _on_the_rule(leader(page, label, 7.5, "_")), label))
    return DrawnForm("backhoe-depot", run, pdf, *size, tuple(fields), {})


def _words(style: str, words: str) -> str:
    return f'<text:p text:style-name="{style}">{escape(words)}</text:p>'


def _on_the_rule(box: Box) -> Box:
    """The room over a leader of underscores, let down from their baseline to their ink."""
    return Box(box.x_mm, box.y_mm + _UNDERSCORE, box.w_mm, box.h_mm)


_Edges = tuple[list[float], list[float]]


def _tables(page: PdfPage) -> list[_Edges]:
    """The edges of each ruled table from the top down: where its columns part, where its rows part (mm)."""
    return [
        (
            _merged([x for c in found.cells for x in (c[0], c[2])]),
            _merged([y for c in found.cells for y in (c[1], c[3])]),
        )
        for found in sorted(page.find_tables(), key=lambda found: found.bbox[1])
    ]


def _merged(places_pt: list[float]) -> list[float]:
    """Places in mm, those that are one rule's taken together."""
    groups: list[list[float]] = []
    for place in sorted(at * _MM for at in places_pt):
        if groups and place - groups[-1][-1] < 1:
            groups[-1].append(place)
        else:
            groups.append([place])
    return [(group[0] + group[-1]) / 2 for group in groups]


def _between(edges: _Edges, row: int, column: int) -> Box:
    xs, ys = edges
    return Box(xs[column], ys[row], xs[column + 1] - xs[column], ys[row + 1] - ys[row])


def sweeper_town(run: str) -> DrawnForm:
    """A4 across, a spreadsheet: the lorry on the left and its gear on the right, cells under Pass, Fail and N/A."""
    margin, size = 14.0, (297.0, 210.0)
    half = (22.0, 72.0, 164.0, 36.0, 36.0, 36.0)
    widths = (*half, 18.0, *half)
    gap = Cell("", "plain")

    def pair(left: str, right: str) -> list[Cell]:
        return [Cell(left, "label", 2), Cell("", "ruled", 4), gap, Cell(right, "label", 2), Cell("", "ruled", 4)]

    def heads(k: int) -> list[Cell]:
        return [Cell("", "head"), Cell(SWEEPER[k][0], "label", 2), *(Cell(w, "head") for w in ("Pass", "Fail", "N/A"))]

    def point(number: int, words: str) -> list[Cell]:
        return [Cell(str(number), "middle"), Cell(words, "ruled", 2), Cell(), Cell(), Cell()]

    header = (
        (("unit", "Fleet no."), ("date", "Date")),
        (("operator", "Driver"), ("shift", "Shift / round")),
        (("mileage", "Mileage"), ("hours", "Sweeper hours")),
    )
    left, right = (points for _, points in SWEEPER)
    rows: list[tuple[float, list[Cell]]] = [
        (30, [Cell("Road sweeper daily check", "title", 13)]),
        (25, [Cell("Town of Pellbrook, Street Services", "plain", 13)]),
        *((24, pair(a[1], b[1])) for a, b in header),
        (9, [Cell("", "plain", 13)]),
        (20, [*heads(0), gap, *heads(1)]),
    ]
    for k, (a, b) in enumerate(zip(left.values(), right.values(), strict=True), start=1):
        rows.append((19.5, [*point(k, a), gap, *point(k + len(left), b)]))
    end = len(rows)
    rows += [
        (9, [Cell("", "plain", 13)]),
        (18, [Cell("Defects and action taken", "label", 13)]),
        *((21, [Cell("", "ruled", 13)]) for _ in range(2)),
        (9, [Cell("", "plain", 13)]),
        (26, pair("Signed", "Fitter told")),
    ]
    document = fods(size, margin, widths, rows).replace("#d9d9d9", "#cfdcea").replace("0.6pt solid", "0.75pt solid")
    pdf = converted(document, ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 2)
    fields = []
    for row, labels in enumerate(header, start=2):
        for (field_id, label), first in zip(labels, (2, 9), strict=True):
            fields.append(FormField(field_id, "text", "cell", grid.box(row, first, first + 4), label))
    for points, first in ((left, 3), (right, 10)):
        for row, (name, words) in enumerate(points.items(), start=end - len(left)):
            answers = tuple((a, grid.box(row, first + k, first + k + 1)) for k, a in enumerate(_ANSWERS))
            whole = grid.box(row, first, first + 3)
            fields.append(FormField(f"item.{name}", "choice", "cell", whole, words, answers=answers))
    for k in (1, 2):
        fields.append(
            FormField(f"remarks.{k}", "text", "cell", grid.box(end + 1 + k, 0, 13), "Defects and action taken")
        )
    fields.append(FormField("signature", "signature", "cell", grid.box(end + 5, 2, 6), "Signed"))
    fields.append(FormField("told", "text", "cell", grid.box(end + 5, 9, 13), "Fitter told"))
    return DrawnForm("sweeper-town", run, pdf, *size, tuple(fields), {})


def wheeled_week(run: str) -> DrawnForm:
    """A4, a spreadsheet in a narrow face: seven day columns, signs in the cells, hours and initials under them."""
    margin, size = 11.0, (210.0, 297.0)
    widths = (24.0, 66.0, 122.0, *((45.0,) * 7))
    rows: list[tuple[float, list[Cell]]] = [
        (30, [Cell("WHEELED EXCAVATOR - WEEKLY CHECK SHEET", "title", 10)]),
        (25, [Cell("Bracken & Stoat Plant Hire - the driver fills in one column each day before work", "plain", 10)]),
        (25, [Cell("Machine no.", "label", 2), Cell(), Cell("Week commencing", "label", 3), Cell("", "ruled", 4)]),
        (25, [Cell("Driver", "label", 2), Cell(), Cell("Site / hirer", "label", 3), Cell("", "ruled", 4)]),
        (20, [Cell("\u2713 = OK        X = defect, say below        N/A = not applicable", "plain", 10)]),
    ]
    places: dict[int, tuple[str, str]] = {}
    for heading, points in WHEELED.items():
        rows.append((20, [Cell(heading, "label", 3), *(Cell(day, "head") for day in DAY_TITLES)]))
        for name, words in points.items():
            places[len(rows)] = name, words
            rows.append((21.5, [Cell(str(len(places)), "middle"), Cell(words, "ruled", 2), *(Cell() for _ in DAYS)]))
    end = len(rows)
    rows += [
        (23, [Cell("Hour clock", "label", 3), *(Cell() for _ in DAYS)]),
        (23, [Cell("Driver's initials", "label", 3), *(Cell() for _ in DAYS)]),
        (9, [Cell("", "plain", 10)]),
        (64, [Cell("Defects", "label", 2), Cell("", "ruled", 8)]),
        (27, [Cell("Signature", "label", 2), Cell(), Cell("Fitter informed", "label", 3), Cell("", "ruled", 4)]),
    ]
    document = fods(size, margin, widths, rows).replace("Liberation Sans", "Liberation Sans Narrow")
    pdf = converted(document.replace("0.6pt solid", "0.4pt solid").replace("#d9d9d9", "#eeeeee"), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 2)
    fields = [
        FormField("unit", "text", "cell", grid.box(2, 2, 3), "Machine no."),
        FormField("week", "text", "cell", grid.box(2, 6, 10), "Week commencing"),
        FormField("operator", "text", "cell", grid.box(3, 2, 3), "Driver"),
        FormField("site", "text", "cell", grid.box(3, 6, 10), "Site / hirer"),
    ]
    for row, (name, words) in places.items():
        for k, day in enumerate(DAYS, start=3):
            fields.append(FormField(f"item.{name}.{day}", "mark", "cell", grid.box(row, k, k + 1), words))
    for row, (field_id, label) in enumerate((("hours", "Hour clock"), ("initials", "Driver's initials")), start=end):
        for k, day in enumerate(DAYS, start=3):
            fields.append(FormField(f"{field_id}.{day}", "text", "cell", grid.box(row, k, k + 1), label))
    fields += [
        FormField("remarks.1", "text", "area", grid.box(end + 3, 2, 10), "Defects"),
        FormField("signature", "signature", "cell", grid.box(end + 4, 2, 3), "Signature"),
        FormField("told", "text", "cell", grid.box(end + 4, 6, 10), "Fitter informed"),
    ]
    legend = {"tick": "ok", "cross": "defect", "letters": "na"}
    return DrawnForm("wheeled-week", run, pdf, *size, tuple(fields), legend)
