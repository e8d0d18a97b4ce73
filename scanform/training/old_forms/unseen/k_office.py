"""Set K, forms from an office program: a wheel loader, a mobile crusher, an orchard's tractor. All are invented."""

from __future__ import annotations

from html import escape

from scanform.form.geometry import Box
from scanform.training.old_forms.calc import Cell, fods, grid_of
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted, first_page, glyph_boxes_on, leader, runs_of
from scanform.training.old_forms.unseen.points_k_plant import CRUSHER, LOADER, ORCHARD
from scanform.training.old_forms.writer import fodt, paragraph, tab

__all__ = ["crusher_signs", "loader_yes_no", "orchard_tractor"]

_UNDERSCORE_MM = 0.65  # how far below the baseline Liberation Sans has its middle, at 11 pt


def loader_yes_no(run: str) -> DrawnForm:
    """A spreadsheet in a serif face: numbered points, Yes and No, a wide cell for the action; all in hairlines."""
    margin, size = 15.0, (210.0, 297.0)
    widths = (28.0, 62.0, 140.0, 42.0, 42.0, 196.0)
    label, room = "label", "ruled"
    rows: list[tuple[float, list[Cell]]] = [
        (28, [Cell("Wheel Loader - Daily Check List", "title", 6)]),
        (18, [Cell("Chandrakot Stone Products, Plant & Machinery Section", "plain", 6)]),
        (24, [Cell("Machine No.", label, 2), Cell("", room), Cell("Date", label, 2), Cell("", room)]),
        (24, [Cell("Operator", label, 2), Cell("", room), Cell("Shift (A / B / C)", label, 2), Cell("", room)]),
        (24, [Cell("HMR start", label, 2), Cell("", room), Cell("HMR close", label, 2), Cell("", room)]),
        (24, [Cell("Location", label, 2), Cell("", room), Cell("Diesel filled (L)", label, 2), Cell("", room)]),
        (
            20,
            [Cell("Sr.", "head"), Cell("Check whether in order", "head", 2), Cell("Yes", "head"), Cell("No", "head")]
            + [Cell("Action taken", "head")],
        ),
    ]
    for number, words in enumerate(LOADER.values(), start=1):
        rows.append((17.5, [Cell(str(number), "middle"), Cell(words, room, 2), Cell(), Cell(), Cell("", room)]))
    rows += [
        (18, [Cell("Remarks", label, 6)]),
        (46, [Cell("", room, 6)]),
        (28, [Cell("Operator sign", label, 2), Cell("", room), Cell("Supervisor", label, 2), Cell("", room)]),
    ]
    document = fods(size, margin, widths, rows).replace("Liberation Sans", "Liberation Serif").replace("0.6pt", "0.4pt")
    pdf = converted(document, ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 2)
    head = (
        ("unit", "Machine No.", "date", "Date"),
        ("operator", "Operator", "shift", "Shift (A / B / C)"),
        ("hours-start", "HMR start", "hours-end", "HMR close"),
        ("site", "Location", "diesel-filled", "Diesel filled (L)"),
    )
    fields = []
    for row, (left_id, left, right_id, right) in enumerate(head, start=2):
        fields.append(FormField(left_id, "text", "cell", grid.box(row, 2, 3), left))
        fields.append(FormField(right_id, "text", "cell", grid.box(row, 5, 6), right))
    for row, (name, words) in enumerate(LOADER.items(), start=7):
        answers = (("ok", grid.box(row, 3, 4)), ("defect", grid.box(row, 4, 5)))
        fields.append(FormField(f"item.{name}", "choice", "cell", grid.box(row, 3, 5), words, answers=answers))
        fields.append(FormField(f"note.{name}", "text", "cell", grid.box(row, 5, 6), "Action taken"))
    end = 7 + len(LOADER)
    fields += [
        FormField("remarks", "text", "area", grid.box(end + 1, 0, 6), "Remarks"),
        FormField("signature", "signature", "cell", grid.box(end + 2, 2, 3), "Operator sign"),
        FormField("foreman", "text", "cell", grid.box(end + 2, 5, 6), "Supervisor"),
    ]
    return DrawnForm("loader-yes-no", run, pdf, *size, tuple(fields), {})


def crusher_signs(run: str) -> DrawnForm:
    """A spreadsheet on its side: two blocks, a cell after each point for a sign, the parts' names on grey."""
    margin, size = 12.0, (297.0, 210.0)
    widths = (78.0, 212.0, 84.0, 22.0, 78.0, 212.0, 84.0)
    label, room, gap = "label", "ruled", Cell("", "plain")
    rows: list[tuple[float, list[Cell]]] = [
        (30, [Cell("MOBILE JAW CRUSHER: CHECKS BEFORE START", "title", 5), Cell("Drumfearn Quarry", "plain", 2)]),
        (24, [Cell("Crusher", label), Cell("", room, 2), gap, Cell("Date", label), Cell("", room, 2)]),
        (24, [Cell("Operator", label), Cell("", room, 2), gap, Cell("Hours", label), Cell("", room, 2)]),
        (
            20,
            [Cell("\u2713 in order      X fault      N not fitted or not in use", "plain", 7)],
        ),
    ]
    for left, left_points, right, right_points in CRUSHER:
        rows.append(
            (
                19,
                [
                    Cell(left, label, 2),
                    Cell("\u2713 / X / N", "head"),
                    gap,
                    Cell(right, label, 2),
                    Cell("\u2713 / X / N", "head"),
                ],
            )
        )
        for one, other in zip(left_points.values(), right_points.values(), strict=True):
            rows.append((19.5, [Cell(one, room, 2), Cell(), gap, Cell(other, room, 2), Cell()]))
    rows += [
        (8, [Cell("", "plain", 7)]),
        (44, [Cell("Faults", label), Cell("", room, 6)]),
        (28, [Cell("Signed", label), Cell("", room, 2), gap, Cell("Quarry foreman", label), Cell("", room, 2)]),
    ]
    pdf = converted(fods(size, margin, widths, rows), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 1)
    fields = [
        FormField("unit", "text", "cell", grid.box(1, 1, 3), "Crusher"),
        FormField("date", "text", "cell", grid.box(1, 5, 7), "Date"),
        FormField("operator", "text", "cell", grid.box(2, 1, 3), "Operator"),
        FormField("hours", "text", "cell", grid.box(2, 5, 7), "Hours"),
    ]
    row = 4
    for _, left_points, _, right_points in CRUSHER:
        for column, points in ((2, left_points), (6, right_points)):
            for down, (name, words) in enumerate(points.items(), start=row + 1):
                fields.append(FormField(f"item.{name}", "mark", "cell", grid.box(down, column, column + 1), words))
        row += 1 + len(left_points)
    fields += [
        FormField("remarks", "text", "area", grid.box(row + 1, 1, 7), "Faults"),
        FormField("signature", "signature", "cell", grid.box(row + 2, 1, 3), "Signed"),
        FormField("foreman", "text", "cell", grid.box(row + 2, 5, 7), "Quarry foreman"),
    ]
    legend = {"tick": "ok", "cross": "defect", "N": "na"}
    return DrawnForm("crusher-signs", run, pdf, *size, tuple(fields), legend)


def orchard_tractor(run: str) -> DrawnForm:
    """A letter: headings in bold, box characters before OK, Fix and N/A at tab stops, lines of underscores."""
    size = (210.0, 297.0)
    box = '<text:span text:style-name="g">\u2610</text:span>'
    choices = "".join(f"<text:tab/>{box} {word}" for word in ("OK", "Fix", "N/A"))
    parts = []
    for heading, points in ORCHARD.items():
        parts.append(f'<text:p text:style-name="b">{heading}</text:p>')
        parts += [f'<text:p text:style-name="i">{escape(words)}{choices}</text:p>' for words in points.values()]
    line = '<text:p text:style-name="l"><text:tab/></text:p>'
    body = (
        '<text:p text:style-name="h">Tractor check, every morning</text:p>'
        '<text:p text:style-name="s">Pukeraro Orchards. Leave the sheet in the box by the diesel tank.</text:p>'
        '<text:p text:style-name="f">Tractor no. <text:tab/> Date <text:tab/></text:p>'
        '<text:p text:style-name="f">Driver <text:tab/> Hours on clock <text:tab/></text:p>'
        '<text:p text:style-name="f">Block <text:tab/> Implement <text:tab/></text:p>'
        f'{"".join(parts)}<text:p text:style-name="b">What needs fixing</text:p>{line * 3}'
        '<text:p text:style-name="d">Signed <text:tab/> Told <text:tab/></text:p>'
    )
    styles = (
        paragraph("h", 18, 0, bold=True)
        + paragraph("s", 10, 1)
        + paragraph("f", 11, 3.8, tab(98, "_") + tab(178, "_"))
        + paragraph("b", 11, 4.5, bold=True)
        + paragraph("i", 11, 1.2, tab(100) + tab(126) + tab(152))
        + paragraph("d", 11, 4, tab(98, "_") + tab(178, "_"))
        + paragraph("l", 11, 4, tab(178, "_"))
    ).replace("Liberation Serif", "Liberation Sans")
    pdf = converted(fodt(body, styles, size), ".fodt")
    page = first_page(pdf)
    labels = (
        ("unit", "Tractor no."),
        ("date", "Date"),
        ("operator", "Driver"),
        ("hours", "Hours on clock"),
        ("site", "Block"),
        ("implement", "Implement"),
    )
    fields = [FormField(f, "text", "rule", _above(leader(page, label, 6.5, "_")), label) for f, label in labels]
    glyphs = glyph_boxes_on(page, "\u2610")
    every = [point for part in ORCHARD.values() for point in part.items()]
    for k, (name, words) in enumerate(every):
        answers = tuple(zip(("ok", "defect", "na"), glyphs[3 * k : 3 * k + 3], strict=True))
        whole = answers[0][1].union(answers[2][1])
        fields.append(FormField(f"item.{name}", "choice", "glyph", whole, words, answers=answers))
    long = [found for found in runs_of(page, "_", 7.0) if found.w_mm > 160]
    for k, room in enumerate(long, start=1):
        fields.append(FormField(f"remarks.{k}", "text", "rule", _above(room), "What needs fixing"))
    for field_id, label, kind in (("signature", "Signed", "signature"), ("told", "Told", "text")):
        fields.append(FormField(field_id, kind, "rule", _above(leader(page, label, 7.0, "_")), label))
    return DrawnForm("orchard-tractor", run, pdf, *size, tuple(fields), {})


def _above(room: Box) -> Box:
    """Room that ends at the type's baseline, let down onto the underscores' ink."""
    return Box(room.x_mm, room.y_mm + _UNDERSCORE_MM, room.w_mm, room.h_mm)
