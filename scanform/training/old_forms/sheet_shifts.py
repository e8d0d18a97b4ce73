"""Old forms made in a spreadsheet: two shifts a day for a week; remarks to every item. All names are invented."""

from __future__ import annotations

from scanform.form.days import DAYS
from scanform.training.old_forms.calc import Cell, fods, grid_of
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted
from scanform.training.old_forms.trades import FORK_TRUCK, SMALL_PLANT

__all__ = ["fork_truck_shifts", "mixer_remarks"]

_SHIFTS = ("early", "late")


def fork_truck_shifts(run: str) -> DrawnForm:
    """Landscape: each day's column halved for two shifts under a merged heading, signs in bare cells, legend below."""
    margin, size = 12.0, (297.0, 210.0)
    widths = (26.0, 138.0, *((42.0,) * 14))
    days = [day.capitalize() for day in DAYS]
    rows: list[tuple[float, list[Cell]]] = [
        (28, [Cell("Fork truck - weekly check, both shifts", "title", 16)]),
        (24, _header("Truck no.", "Week starting", "Depot")),
        (17, [Cell("", "head", 2), *(Cell(day, "head", 2) for day in days)]),
        (16, [Cell("No", "head"), Cell("Point", "head"), *(Cell(s, "head") for _ in DAYS for s in ("E", "L"))]),
    ]
    for number, words in enumerate(FORK_TRUCK.values(), start=1):
        rows.append((19, [Cell(str(number), "middle"), Cell(words), *(Cell() for _ in range(14))]))
    rows += [
        (22, [Cell("Hour meter", "label", 2), *(Cell("", "ruled", 2) for _ in DAYS)]),
        (22, [Cell("Driver's initials", "label", 2), *(Cell("", "ruled", 2) for _ in DAYS)]),
        (16, [Cell("Key:  \u2713 good    X faulty    - not on this truck          E = early, L = late", "plain", 16)]),
        (44, [Cell("Faults", "label", 2), Cell("", "ruled", 14)]),
    ]
    pdf = converted(fods(size, margin, widths, rows), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 1)
    fields = [
        FormField("unit", "text", "cell", grid.box(1, 2, 6), "Truck no."),
        FormField("week", "text", "cell", grid.box(1, 8, 11), "Week starting"),
        FormField("depot", "text", "cell", grid.box(1, 13, 16), "Depot"),
    ]
    for row, (name, words) in enumerate(FORK_TRUCK.items(), start=4):
        for column, (day, shift) in enumerate(((d, s) for d in DAYS for s in _SHIFTS), start=2):
            box = grid.box(row, column, column + 1)
            fields.append(FormField(f"item.{name}-{shift}.{day}", "mark", "cell", box, words))
    end = 4 + len(FORK_TRUCK)
    for k, day in enumerate(DAYS):
        at = 2 + 2 * k
        fields.append(FormField(f"hours.{day}", "text", "cell", grid.box(end, at, at + 2), "Hour meter"))
        fields.append(FormField(f"initials.{day}", "text", "cell", grid.box(end + 1, at, at + 2), "Driver's initials"))
    fields.append(FormField("remarks", "text", "area", grid.box(end + 3, 2, 16), "Faults"))
    legend = {"tick": "ok", "cross": "defect", "dash": "na"}
    return DrawnForm("fork-truck-shifts", run, pdf, *size, tuple(fields), legend)


def _header(unit: str, week: str, depot: str) -> list[Cell]:
    """Three labels, each with the cell to write in at its right."""
    label, room = "label", "ruled"
    return [Cell(unit, label, 2), Cell("", room, 4), Cell(week, label, 2), Cell("", room, 3)] + [
        Cell(depot, label, 2),
        Cell("", room, 3),
    ]


def mixer_remarks(run: str) -> DrawnForm:
    """Items in parts under merged headings, each with two cells for its answer and a wide one for words."""
    margin, size = 15.0, (215.9, 279.4)
    widths = (150.0, 48.0, 62.0, 258.0)
    points = list(SMALL_PLANT.items())[:20]
    parts = (("Engine off", points[:8]), ("Engine running", points[8:14]), ("Driving", points[14:]))
    rows: list[tuple[float, list[Cell]]] = [
        (28, [Cell("Mixer truck pre-use check", "title", 4)]),
        (25, [Cell("Vehicle", "label"), Cell("", "ruled", 2), Cell("Date:", "ruled")]),
        (25, [Cell("Driver", "label"), Cell("", "ruled", 2), Cell("Meter reading:", "ruled")]),
        (18, [Cell("Item", "head"), Cell("Okay", "head"), Cell("Repair", "head"), Cell("What was found", "head")]),
    ]
    at: dict[str, int] = {}
    for heading, part in parts:
        rows.append((17, [Cell(heading, "label", 4)]))
        for name, words in part:
            at[name] = len(rows)
            rows.append((18, [Cell(words), Cell(), Cell(), Cell()]))
    rows.append((32, [Cell("Driver signature", "label"), Cell("", "ruled", 2), Cell("Supervisor:", "ruled")]))
    pdf = converted(fods(size, margin, widths, rows), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 1)
    fields = [
        FormField("unit", "text", "cell", grid.box(1, 1, 3), "Vehicle"),
        FormField("date", "text", "cell", grid.box(1, 3, 4), "Date:"),
        FormField("operator", "text", "cell", grid.box(2, 1, 3), "Driver"),
        FormField("hours", "text", "cell", grid.box(2, 3, 4), "Meter reading:"),
    ]
    for name, words in points:
        answers = tuple((a, grid.box(at[name], 1 + j, 2 + j)) for j, a in enumerate(("ok", "defect")))
        fields.append(FormField(f"item.{name}", "choice", "cell", grid.box(at[name], 1, 3), words, answers=answers))
    last = len(rows) - 1
    fields.append(FormField("signature", "signature", "cell", grid.box(last, 1, 3), "Driver signature"))
    fields.append(FormField("foreman", "text", "cell", grid.box(last, 3, 4), "Supervisor:"))
    return DrawnForm("mixer-remarks", run, pdf, *size, tuple(fields), {})
