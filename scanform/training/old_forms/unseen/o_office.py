"""Set O, forms from an office program: a skid steer, a drill rig, a fork truck's week. All are invented."""

from __future__ import annotations

from html import escape

from scanform.form.days import DAY_TITLES, DAYS
from scanform.training.old_forms.calc import Cell, fods, grid_of
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted, first_page, glyph_boxes_on, leader, runs_of
from scanform.training.old_forms.unseen.points_o import DRILL_RIG, FORK_TRUCK, SKID_STEER
from scanform.training.old_forms.writer import fodt, paragraph, tab

__all__ = ["drill_bench", "lawn_skid", "stores_fork_week"]

_BOX = "\u2610"


def lawn_skid(run: str) -> DrawnForm:
    """Typed on Letter: underscores to write on, dots from every point to a box each for pass, fail and none."""
    size = (215.9, 279.4)
    boxes = "<text:tab/>".join(
        f'<text:span text:style-name="g">{_BOX}</text:span> {word}' for word in ("Pass", "Fail", "N/A")
    )
    rows = ""
    for heading, points in SKID_STEER.items():
        rows += f'<text:p text:style-name="b">{heading}</text:p>'
        for words in points.values():
            rows += f'<text:p text:style-name="i">{escape(words)} <text:tab/>{boxes}</text:p>'
    gap = "<text:tab/><text:tab/>"
    line = '<text:p text:style-name="l"><text:tab/></text:p>'
    body = (
        '<text:p text:style-name="h">Skid Steer Daily Inspection</text:p>'
        '<text:p text:style-name="s">Pinnock Creek Landscaping</text:p>'
        f'<text:p text:style-name="f">Unit # {gap}Date {gap}Hour meter <text:tab/></text:p>'
        f'<text:p text:style-name="f2">Operator {gap}Job site <text:tab/></text:p>'
        f'{rows}<text:p text:style-name="b">Comments</text:p>{line * 4}'
        f'<text:p text:style-name="f3">Signature {gap}Foreman <text:tab/></text:p>'
    )
    halves = tab(92, "_") + tab(97) + tab(183, "_")
    styles = (
        paragraph("h", 17, 0, bold=True, centred="center")
        + paragraph("s", 11, 0.5, centred="center")
        + paragraph("f", 11, 6, tab(50, "_") + tab(55) + tab(112, "_") + tab(117) + tab(183, "_"))
        + paragraph("f2", 11, 5, halves)
        + paragraph("f3", 11, 7, halves)
        + paragraph("b", 12, 3, bold=True)
        + paragraph("i", 11, 0.4, tab(112, ".") + tab(137) + tab(162))
        + paragraph("l", 11, 4.2, tab(183, "_"))
    )
    document = fodt(body, styles, size).replace("Liberation Serif", "Liberation Sans")
    pdf = converted(document, ".fodt")
    page = first_page(pdf)
    labels: tuple[tuple[str, str], ...] = (("unit", "Unit #"), ("date", "Date"), ("hours", "Hour meter"))
    labels += (("operator", "Operator"), ("site", "Job site"))
    fields = [FormField(f, "text", "rule", leader(page, label, 7.0, "_"), label) for f, label in labels]
    names = [(name, words) for points in SKID_STEER.values() for name, words in points.items()]
    printed = glyph_boxes_on(page, _BOX)
    for (name, words), *three in zip(names, printed[0::3], printed[1::3], printed[2::3], strict=True):
        answers = tuple(zip(("ok", "defect", "na"), three, strict=True))
        whole = three[0].union(three[2])
        fields.append(FormField(f"item.{name}", "choice", "glyph", whole, words, answers=answers))
    long = [line_ for line_ in runs_of(page, "_", 7.0) if line_.w_mm > 150]
    for k, box in enumerate(long, start=1):
        fields.append(FormField(f"remarks.{k}", "text", "rule", box, "Comments"))
    fields.append(FormField("signature", "signature", "rule", leader(page, "Signature", 8.0, "_"), "Signature"))
    fields.append(FormField("foreman", "text", "rule", leader(page, "Foreman", 7.0, "_"), "Foreman"))
    return DrawnForm("lawn-skid", run, pdf, *size, tuple(fields), {})


def drill_bench(run: str) -> DrawnForm:
    """A spreadsheet: one column for a sign, a comment cell beside it, shaded rows to part the list."""
    margin, size = 12.0, (210.0, 297.0)
    widths = (26.0, 76.0, 108.0, 48.0, 60.0, 209.0)
    rows: list[tuple[float, list[Cell]]] = [
        (26, [Cell("DRILL RIG PRE-START CHECK", "title", 6)]),
        (17, [Cell("Harrowstone Quarry - Drill and Blast", "plain", 6)]),
        (23, [Cell("Rig no.", "label", 2), Cell("", "ruled", 1), Cell("Date", "label", 2), Cell()]),
        (23, [Cell("Operator", "label", 2), Cell(), Cell("Engine hours", "label", 2), Cell()]),
        (23, [Cell("Bench / pattern", "label", 2), Cell(), Cell("Shift", "label", 2), Cell()]),
        (17, [Cell("\u2713 = OK      X = defect      NA = not applicable", "plain", 6)]),
        (18, [Cell("No.", "head"), Cell("Check", "head", 2), Cell("\u2713 / X", "head"), Cell("Comments", "head", 2)]),
    ]
    places: list[tuple[int, str, str]] = []
    for heading, points in DRILL_RIG.items():
        rows.append((16, [Cell(heading, "label", 6)]))
        for name, words in points.items():
            places.append((len(rows), name, words))
            number = Cell(str(len(places)), "middle")
            rows.append((17.5, [number, Cell(words, "ruled", 2), Cell("", "middle"), Cell("", "ruled", 2)]))
    end = len(rows)
    rows += [
        (12, [Cell("", "plain", 6)]),
        (25, [Cell("Operator sign", "label", 2), Cell(), Cell("Supervisor", "label", 2), Cell()]),
    ]
    pdf = converted(fods(size, margin, widths, rows), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 2)
    fields = []
    header: tuple[tuple[int, str, str, str, str], ...] = (
        (2, "unit", "Rig no.", "date", "Date"),
        (3, "operator", "Operator", "hours", "Engine hours"),
        (4, "site", "Bench / pattern", "shift", "Shift"),
    )
    for row, left, left_label, right, right_label in header:
        fields.append(FormField(left, "text", "cell", grid.box(row, 2, 3), left_label))
        fields.append(FormField(right, "text", "cell", grid.box(row, 5, 6), right_label))
    for row, name, words in places:
        fields.append(FormField(f"item.{name}", "mark", "cell", grid.box(row, 3, 4), words))
        fields.append(FormField(f"note.{name}", "text", "cell", grid.box(row, 4, 6), "Comments"))
    fields.append(FormField("signature", "signature", "cell", grid.box(end + 1, 2, 3), "Operator sign"))
    fields.append(FormField("foreman", "text", "cell", grid.box(end + 1, 5, 6), "Supervisor"))
    legend = {"tick": "ok", "cross": "defect", "letters": "na"}
    return DrawnForm("drill-bench", run, pdf, *size, tuple(fields), legend)


def stores_fork_week(run: str) -> DrawnForm:
    """A week of a warehouse across A4: day columns, hours and initials under them, faults in one wide cell."""
    margin, size = 12.0, (297.0, 210.0)
    widths = (24.0, 206.0, *((77.0,) * 7))
    advice = "Check before use each day. Mark \u2713 if good, X if faulty, leave blank if not in use."
    rows: list[tuple[float, list[Cell]]] = [
        (30, [Cell("Forklift weekly check sheet", "title", 6), Cell("Penlow Road Warehouse", "plain", 3)]),
        (
            25,
            [Cell("Truck no.", "label", 2), Cell("", "ruled", 2), Cell("Week commencing", "label", 2)]
            + [Cell("", "ruled", 3)],
        ),
        (16, [Cell(advice, "plain", 9)]),
        (19, [Cell("", "head"), Cell("Item", "head"), *(Cell(day, "head") for day in DAY_TITLES)]),
    ]
    for number, words in enumerate(FORK_TRUCK.values(), start=1):
        rows.append((19.5, [Cell(str(number), "middle"), Cell(words), *(Cell() for _ in DAYS)]))
    end = len(rows)
    rows += [
        (23, [Cell("Hour meter", "label", 2), *(Cell() for _ in DAYS)]),
        (23, [Cell("Driver's initials", "label", 2), *(Cell() for _ in DAYS)]),
        (46, [Cell("Faults reported", "label", 2), Cell("", "ruled", 7)]),
        (
            25,
            [Cell("Supervisor", "label", 2), Cell("", "ruled", 3), Cell("Date checked", "label", 2)]
            + [Cell("", "ruled", 2)],
        ),
    ]
    document = fods(size, margin, widths, rows).replace("Liberation Sans", "DejaVu Sans Condensed")
    pdf = converted(document, ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 1)
    fields = [
        FormField("unit", "text", "cell", grid.box(1, 2, 4), "Truck no."),
        FormField("week", "text", "cell", grid.box(1, 6, 9), "Week commencing"),
    ]
    for row, (name, words) in enumerate(FORK_TRUCK.items(), start=4):
        for k, day in enumerate(DAYS, start=2):
            fields.append(FormField(f"item.{name}.{day}", "mark", "cell", grid.box(row, k, k + 1), words))
    for row, field_id, label in ((end, "hours", "Hour meter"), (end + 1, "initials", "Driver's initials")):
        for k, day in enumerate(DAYS, start=2):
            fields.append(FormField(f"{field_id}.{day}", "text", "cell", grid.box(row, k, k + 1), label))
    fields.append(FormField("remarks", "text", "area", grid.box(end + 2, 2, 9), "Faults reported"))
    fields.append(FormField("foreman", "text", "cell", grid.box(end + 3, 2, 5), "Supervisor"))
    fields.append(FormField("date-checked", "text", "cell", grid.box(end + 3, 7, 9), "Date checked"))
    legend = {"tick": "ok", "cross": "defect"}
    return DrawnForm("stores-fork-week", run, pdf, *size, tuple(fields), legend)
