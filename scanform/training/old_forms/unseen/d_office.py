"""Set D, forms from an office program: a bus's week, a fuel bowser's list, a roller's letter. All are invented."""

from __future__ import annotations

from html import escape

from scanform.training.old_forms.calc import Cell, fods, grid_of
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted, first_page, leader
from scanform.training.old_forms.unseen.printed_words import words_on
from scanform.training.old_forms.wording import item, items
from scanform.training.old_forms.writer import cell, fodt, paragraph, tab, table

__all__ = ["bowser_list", "bus_week", "roller_letter"]

_DAYS = ("sun", "mon", "tue", "wed", "thu", "fri", "sat")


def bus_week(run: str) -> DrawnForm:
    """The week begins on Sunday, morning and afternoon under every day, three rows of odd figures below."""
    margin, size = 11.0, (279.4, 215.9)
    widths = (150.0, *((41.0,) * 14))
    rows: list[tuple[float, list[Cell]]] = [
        (26, [Cell("Crew bus - weekly walk-round record", "title", 15)]),
        (
            22,
            [Cell("Bus no.:"), Cell("Plate:", "ruled", 4), Cell("Week of:", "ruled", 5), Cell("Base:", "ruled", 5)],
        ),
        (16, [Cell("", "head"), *(Cell(day.capitalize(), "head", 2) for day in _DAYS)]),
        (16, [Cell("Check", "head"), *(Cell(part, "head") for _ in _DAYS for part in ("AM", "PM"))]),
    ]
    names = items(15, start=22, step=7)
    for name in names:
        rows.append((19, [Cell(item(name)), *(Cell() for _ in range(14))]))
    rows += [
        (20, [Cell("Odometer", "label"), *(Cell("", "ruled", 2) for _ in _DAYS)]),
        (20, [Cell("Driver initials", "label"), *(Cell("", "ruled", 2) for _ in _DAYS)]),
        (16, [Cell("OK = good   D = defect, tell the office   leave blank = not driven", "plain", 15)]),
        (34, [Cell("Defects:", "ruled", 15)]),
    ]
    pdf = converted(fods(size, margin, widths, rows), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 1)
    fields = [
        FormField("unit", "text", "cell", grid.box(1, 0, 1), "Bus no.:"),
        FormField("plate", "text", "cell", grid.box(1, 1, 5), "Plate:"),
        FormField("week", "text", "cell", grid.box(1, 5, 10), "Week of:"),
        FormField("site", "text", "cell", grid.box(1, 10, 15), "Base:"),
    ]
    for row, name in enumerate(names, start=4):
        for k, (day, part) in enumerate(((d, p) for d in _DAYS for p in ("am", "pm")), start=1):
            box = grid.box(row, k, k + 1)
            fields.append(FormField(f"item.{name}-{part}.{day}", "mark", "cell", box, item(name)))
    end = 4 + len(names)
    for k, day in enumerate(_DAYS):
        at = 1 + 2 * k
        fields.append(FormField(f"odometer.{day}", "text", "cell", grid.box(end, at, at + 2), "Odometer"))
        fields.append(FormField(f"initials.{day}", "text", "cell", grid.box(end + 1, at, at + 2), "Driver initials"))
    fields.append(FormField("remarks", "text", "area", grid.box(end + 3, 0, 15), "Defects:"))
    return DrawnForm("bus-week", run, pdf, *size, tuple(fields), {"D": "defect"})


def bowser_list(run: str) -> DrawnForm:
    """Boxes of OK and Fault in columns left of the points, labels in bold and rooms with a line under them alone."""
    margin, size = 20.0, (210.0, 297.0)
    widths = (34.0, 34.0, 34.0, 370.0)
    rows: list[tuple[float, list[Cell]]] = [
        (30, [Cell("Fuel bowser - before use", "title", 4)]),
        (24, [Cell("Bowser ID", "label", 3), Cell("")]),
        (24, [Cell("Date and time", "label", 3), Cell("")]),
        (24, [Cell("Checked by", "label", 3), Cell("")]),
        (24, [Cell("Litres in tank", "label", 3), Cell("")]),
        (14, [Cell("", "plain", 4)]),
        (19, [Cell("Ok", "head"), Cell("Fault", "head"), Cell("N/A", "head"), Cell("Point to check", "head")]),
    ]
    names = items(18, start=24, step=11)
    rows += [(19.5, [Cell(), Cell(), Cell(), Cell(item(name, 2))]) for name in names]
    rows += [(14, [Cell("", "plain", 4)]), (18, [Cell("Fault details", "label", 4)]), (50, [Cell("", "ruled", 4)])]
    pdf = converted(fods(size, margin, widths, rows), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 1)
    labels = (
        ("unit", "Bowser ID"),
        ("date", "Date and time"),
        ("operator", "Checked by"),
        ("litres", "Litres in tank"),
    )
    fields = [
        FormField(f, "text", "cell", grid.box(row, 3, 4), label) for row, (f, label) in enumerate(labels, start=1)
    ]
    for row, name in enumerate(names, start=7):
        answers = tuple((a, grid.box(row, j, j + 1)) for j, a in enumerate(("ok", "defect", "na")))
        fields.append(FormField(f"item.{name}", "choice", "cell", grid.box(row, 0, 3), item(name, 2), answers=answers))
    fields.append(FormField("remarks", "text", "cell", grid.box(len(rows) - 1, 0, 4), "Fault details"))
    return DrawnForm("bowser-list", run, pdf, *size, tuple(fields), {})


def roller_letter(run: str) -> DrawnForm:
    """A ruled table whose last column holds the words to ring; dots to write on; a remark to each part of the sheet."""
    size = (215.9, 279.4)
    names = items(20, start=30, step=13)
    heads = ["Item", "Condition"]
    rows = [[f'<text:p text:style-name="b">{words}</text:p>' for words in heads]] + [
        [
            f'<text:p text:style-name="t">{escape(item(name))}</text:p>',
            '<text:p text:style-name="c">OK     Repair     N/A</text:p>',
        ]
        for name in names
    ]
    styles, made = table("a", (110, 70), 7.4, rows, "ruled")
    spaced = made.replace("OK     Repair     N/A", 'OK<text:s text:c="8"/>Repair<text:s text:c="8"/>N/A')
    body = (
        '<text:p text:style-name="h">ROLLER / COMPACTOR INSPECTION</text:p>'
        '<text:p text:style-name="s">Quenby Road Builders. Circle the condition. Hand in at the end of the shift.'
        "</text:p>"
        '<text:p text:style-name="f">Equipment number:<text:tab/>Date:<text:tab/></text:p>'
        '<text:p text:style-name="f">Hour meter, start:<text:tab/>Hour meter, finish:<text:tab/></text:p>'
        f'{spaced}<text:p text:style-name="f">Problems:<text:tab/></text:p>'
        '<text:p text:style-name="g2"><text:tab/></text:p>'
        '<text:p text:style-name="f">Operator (sign):<text:tab/>Foreman:<text:tab/></text:p>'
    )
    tabs = tab(100, ".") + tab(180, ".")
    document_styles = (
        paragraph("h", 15, 0, bold=True)
        + paragraph("s", 10, 1)
        + paragraph("f", 11, 5.5, tabs)
        + paragraph("g2", 11, 4.5, tab(180, "."))
        + paragraph("t", 10.5, 0)
        + paragraph("b", 10.5, 0, bold=True)
        + paragraph("c", 10.5, 0, centred="center")
        + cell("ruled", 'fo:border="0.5pt solid #000000"')
        + styles
    )
    # The tabs of "Problems" go to its first stop and no further.
    pdf = converted(fodt(body, document_styles, size), ".fodt")
    page = first_page(pdf)
    fields = []
    for field_id, label in (
        ("unit", "Equipment number:"),
        ("date", "Date:"),
        ("hours", "Hour meter, start:"),
        ("hours-finish", "Hour meter, finish:"),
    ):
        fields.append(FormField(field_id, "text", "dots", leader(page, label, 7.0), label))
    words = zip(words_on(page, "OK"), words_on(page, "Repair"), words_on(page, "N/A"), strict=True)
    for name, boxes in zip(names, words, strict=True):
        answers = tuple(zip(("ok", "defect", "na"), boxes, strict=True))
        whole = boxes[0].union(boxes[2])
        fields.append(FormField(f"item.{name}", "choice", "word", whole, item(name), answers=answers))
    fields.append(FormField("remarks.1", "text", "dots", leader(page, "Problems:", 7.5), "Problems:"))
    for field_id, label, kind in (("signature", "Operator (sign):", "signature"), ("foreman", "Foreman:", "text")):
        fields.append(FormField(field_id, kind, "dots", leader(page, label, 7.0), label))
    return DrawnForm("roller-letter", run, pdf, *size, tuple(fields), {})
