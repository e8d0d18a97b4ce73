"""Set E, forms from office programs and a typesetter: a gravel plant, a garage, a ranch, a mill. All are invented."""

from __future__ import annotations

from html import escape

from scanform.form import DAYS
from scanform.form.geometry import Box
from scanform.training.old_forms.calc import Cell, fods, grid_of
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted, first_page, glyph_boxes_on, leader
from scanform.training.old_forms.unseen.roff import level_rules, typeset, upright_rules
from scanform.training.old_forms.wording import item, items
from scanform.training.old_forms.writer import fodt, paragraph, tab

__all__ = ["garage_week", "gravel_blocks", "mill_typeset", "ranch_letter"]


def gravel_blocks(run: str) -> DrawnForm:
    """Two blocks side by side on one sheet with an empty column between, each row with OK, NOK and a note."""
    margin, size = 10.0, (297.0, 210.0)
    widths = (150.0, 32.0, 32.0, 150.0, 20.0, 150.0, 32.0, 32.0, 150.0)
    names = items(28, start=17, step=3)
    head = [Cell("Item", "head"), Cell("OK", "head"), Cell("NOK", "head"), Cell("Note", "head")]
    rows: list[tuple[float, list[Cell]]] = [
        (28, [Cell("Wash plant and loader: start of shift", "title", 9)]),
        (
            24,
            [Cell("Plant / unit", "label"), Cell("", "ruled", 3), Cell("", "plain"), Cell("Date (YYYY-MM-DD)", "label")]
            + [Cell("", "ruled", 3)],
        ),
        (
            24,
            [Cell("Operator", "label"), Cell("", "ruled", 3), Cell("", "plain"), Cell("Hour meter", "label")]
            + [Cell("", "ruled", 3)],
        ),
        (10, [Cell("", "plain", 9)]),
        (18, [*head, Cell("", "plain"), *head]),
    ]
    for a, b in zip(names[:14], names[14:], strict=True):
        rows.append(
            (
                20,
                [
                    Cell(item(a)),
                    *(Cell() for _ in range(3)),
                    Cell("", "plain"),
                    Cell(item(b)),
                    *(Cell() for _ in range(3)),
                ],
            )
        )
    rows += [(10, [Cell("", "plain", 9)]), (40, [Cell("General remarks", "label"), Cell("", "ruled", 8)])]
    pdf = converted(fods(size, margin, widths, rows), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 1)
    fields = [
        FormField("unit", "text", "cell", grid.box(1, 1, 4), "Plant / unit"),
        FormField("date", "text", "cell", grid.box(1, 6, 9), "Date (YYYY-MM-DD)"),
        FormField("operator", "text", "cell", grid.box(2, 1, 4), "Operator"),
        FormField("hours", "text", "cell", grid.box(2, 6, 9), "Hour meter"),
    ]
    for k, name in enumerate(names):
        row, left = 5 + k % 14, 1 + 5 * (k // 14)
        answers = tuple((a, grid.box(row, left + j, left + j + 1)) for j, a in enumerate(("ok", "defect")))
        whole = grid.box(row, left, left + 2)
        fields.append(FormField(f"item.{name}", "choice", "cell", whole, item(name), answers=answers))
    fields.append(FormField("remarks", "text", "area", grid.box(len(rows) - 1, 1, 9), "General remarks"))
    return DrawnForm("gravel-blocks", run, pdf, *size, tuple(fields), {})


def garage_week(run: str) -> DrawnForm:
    """Landscape: the date under every day, parts named in between, hours at both ends and a signature by the day."""
    margin, size = 12.0, (297.0, 210.0)
    widths = (190.0, *((80.0,) * 7))
    parts = (("Outside", items(5, start=2, step=3)), ("Inside", items(5, start=19, step=3)))
    rows: list[tuple[float, list[Cell]]] = [
        (28, [Cell("Service truck - daily checks for one week", "title", 8)]),
        (24, [Cell("Rego:"), Cell("Depot:", "ruled", 3), Cell("Mechanic:", "ruled", 4)]),
        (
            18,
            [
                Cell("Day", "head"),
                *(
                    Cell(name, "head")
                    for name in ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
                ),
            ],
        ),
        (20, [Cell("Date", "label"), *(Cell() for _ in DAYS)]),
    ]
    at: dict[str, int] = {}
    for heading, names in parts:
        rows.append((17, [Cell(heading, "label", 8)]))
        for name in names:
            at[name] = len(rows)
            rows.append((18.5, [Cell(item(name)), *(Cell() for _ in DAYS)]))
    first = len(rows)
    rows += [
        (20, [Cell(words, "label"), *(Cell() for _ in DAYS)]) for words in ("Start hours", "Finish hours", "Signature")
    ]
    rows += [
        (17, [Cell("\u2713 = good, X = defect, NA = not applicable", "plain", 8)]),
        (40, [Cell("Defects and action", "label"), Cell("", "ruled", 7)]),
    ]
    pdf = converted(fods(size, margin, widths, rows), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 1)
    fields = [
        FormField("unit", "text", "cell", grid.box(1, 0, 1), "Rego:"),
        FormField("site", "text", "cell", grid.box(1, 1, 4), "Depot:"),
        FormField("operator", "text", "cell", grid.box(1, 4, 8), "Mechanic:"),
    ]
    for name, row in at.items():
        for k, day in enumerate(DAYS, start=1):
            fields.append(FormField(f"item.{name}.{day}", "mark", "cell", grid.box(row, k, k + 1), item(name)))
    for k, day in enumerate(DAYS, start=1):
        fields.append(FormField(f"date.{day}", "text", "cell", grid.box(3, k, k + 1), "Date"))
        fields.append(FormField(f"hours.{day}", "text", "cell", grid.box(first, k, k + 1), "Start hours"))
        fields.append(FormField(f"signature.{day}", "signature", "cell", grid.box(first + 2, k, k + 1), "Signature"))
    fields.append(FormField("remarks", "text", "area", grid.box(len(rows) - 1, 1, 8), "Defects and action"))
    return DrawnForm("garage-week", run, pdf, *size, tuple(fields), {"tick": "ok", "cross": "defect", "letters": "na"})


def ranch_letter(run: str) -> DrawnForm:
    """Typed: words, then Yes and a box character, No and a box character, after dots; a line for every label."""
    size = (215.9, 279.4)
    names = items(20, start=33, step=7)
    box = '<text:span text:style-name="g">\u2610</text:span>'
    rows = "".join(
        f'<text:p text:style-name="i">{chr(97 + k)}) {escape(item(name))} good?<text:tab/>Yes {box}   No {box}</text:p>'
        for k, name in enumerate(names)
    )
    body = (
        '<text:p text:style-name="h">Ranch machinery, once a day</text:p>'
        '<text:p text:style-name="f">What machine:<text:tab/></text:p>'
        '<text:p text:style-name="f">Which day:<text:tab/></text:p>'
        '<text:p text:style-name="f">Hours on it:<text:tab/></text:p>'
        '<text:p text:style-name="f">Who checked it:<text:tab/></text:p>'
        f"{rows}"
        '<text:p text:style-name="f">What is not good:<text:tab/></text:p>'
        '<text:p text:style-name="f">Put your name here:<text:tab/></text:p>'
    )
    styles = (
        paragraph("h", 17, 0, bold=True)
        + paragraph("f", 12, 3.5, tab(150, "_"))
        + paragraph("i", 11, 1.4, tab(130, "."))
    )
    pdf = converted(fodt(body, styles, size), ".fodt")
    page = first_page(pdf)
    labels: tuple[tuple[str, str], ...] = (
        ("unit", "What machine:"),
        ("date", "Which day:"),
        ("hours", "Hours on it:"),
        ("operator", "Who checked it:"),
    )
    labels += (("remarks", "What is not good:"), ("signature", "Put your name here:"))
    fields = []
    for field_id, label in labels:
        kind = "signature" if field_id == "signature" else "text"
        fields.append(FormField(field_id, kind, "rule", leader(page, label, 7.0, "_"), label))
    boxes = glyph_boxes_on(page, "\u2610")
    for name, good, bad in zip(names, boxes[::2], boxes[1::2], strict=True):
        answers = (("ok", good), ("defect", bad))
        words = f"{item(name)} good?"
        fields.append(FormField(f"item.{name}", "choice", "glyph", good.union(bad), words, answers=answers))
    return DrawnForm("ranch-letter", run, pdf, *size, tuple(fields), {})


def mill_typeset(run: str) -> DrawnForm:
    """Typeset: a table in a double frame, cells for Pass, Fail and N/A at the left of the points."""
    size = (210.0, 297.0)
    names = items(22, start=5, step=3)
    rows = "\n_\n".join(f"\t\t\t{item(name)}" for name in names)
    document = f""".po 2c
.ll 17c
.nf
.sp |2c
.ps 15
.ft HB
BALL MILL - OPERATOR ROUND
.ps 10
.ft H
.vs 24
Mill number \\l'3.5c'   Date and shift \\l'4.5c'
Round done by \\l'5c'   Running hours \\l'3.5c'
.vs 18
.sp 0.4
.TS
doublebox;
cB|cB|cB|cB
_|_|_|_
c|c|c|lw(9c).
Pass\tFail\tN/A\tWhat to look at
{rows}
.TE
.vs 24
Work order raised for: \\l'12c'
Signature \\l'6c'
"""
    pdf = typeset(document, size)
    page = first_page(pdf)
    levels, uprights = level_rules(page), upright_rules(page)
    short = sorted((round(y), left, right, y) for left, right, y in levels if 20 < right - left < 125)
    labels: tuple[tuple[str, str], ...] = (
        ("unit", "Mill number"),
        ("date", "Date and shift"),
        ("operator", "Round done by"),
    )
    labels += (("hours", "Running hours"), ("remarks", "Work order raised for:"), ("signature", "Signature"))
    fields = []
    for (field_id, label), (_, left, right, y) in zip(labels, short, strict=True):
        kind = "signature" if field_id == "signature" else "text"
        fields.append(FormField(field_id, kind, "rule", Box(left, y - 6.5, right - left, 6.5), label))
    # The frame's inner rules and those between: outside are the frame's outer ones.
    ys = sorted({round(y, 1) for left, right, y in levels if right - left > 125})[2:-1]
    xs = sorted({round(x, 1) for top, bottom, x in uprights})[1:-1]
    for k, name in enumerate(names):
        cells = [
            (a, Box(xs[j], ys[k], xs[j + 1] - xs[j], ys[k + 1] - ys[k])) for j, a in enumerate(("ok", "defect", "na"))
        ]
        whole = cells[0][1].union(cells[2][1])
        fields.append(FormField(f"item.{name}", "choice", "cell", whole, item(name), answers=tuple(cells)))
    return DrawnForm("mill-typeset", run, pdf, *size, tuple(fields), {})
