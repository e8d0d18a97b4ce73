"""An old weekly form with two shifts a day, made in a spreadsheet. All names are invented."""

from __future__ import annotations

from scanform.form.days import DAYS
from scanform.training.old_forms.calc import Cell, fods, grid_of
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted
from scanform.training.old_forms.trades import FORK_TRUCK

__all__ = ["fork_truck_shifts"]

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
