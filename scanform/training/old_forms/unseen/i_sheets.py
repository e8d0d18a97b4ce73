"""Set I, forms from a spreadsheet: a quarry's loading shovel, a farm's week. All are invented."""

from __future__ import annotations

from scanform.form.days import DAY_TITLES, DAYS
from scanform.training.old_forms.calc import Cell, Grid, fods, grid_of
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted
from scanform.training.old_forms.unseen.points_i_plant import SHOVEL
from scanform.training.old_forms.unseen.points_i_yard import TELEHANDLER

__all__ = ["shovel_comments", "telehandler_week"]

_A4 = (210.0, 297.0)


def shovel_comments(run: str) -> DrawnForm:
    """A quarry's spreadsheet: parts under green headings, two answer cells and a wide one for a comment to each."""
    margin = 13.0
    widths = (24.0, 60.0, 124.0, 38.0, 46.0, 64.0, 165.0)
    header = (
        (("unit", "Machine No."), ("date", "Date (DD/MM/YY)")),
        (("operator", "Driver"), ("site", "Quarry / face")),
        (("hours-start", "Hours start"), ("hours-end", "Hours finish")),
    )
    rows: list[tuple[float, list[Cell]]] = [
        (28, [Cell("Loading Shovel - Driver's Daily Check", "title", 7)]),
        (20, [Cell("Knocknagrena Quarries. Hand in at the weighbridge at the end of the shift.", "plain", 7)]),
        *((25.0, _pair(left, 2, 2) + _pair(right, 2, 1)) for (_, left), (_, right) in header),
        (12, [Cell("", "plain", 7)]),
        (
            20,
            [Cell("", "head"), Cell("Check", "head", 2), Cell("OK", "head"), Cell("Fault", "head")]
            + [Cell("Comment / action", "head", 2)],
        ),
    ]
    at: dict[str, int] = {}
    for part, points in SHOVEL.items():
        rows.append((18, [Cell(part, "label", 7)]))
        for name, words in points.items():
            at[name] = len(rows)
            rows.append(
                (20, [Cell(str(len(at)), "middle"), Cell(words, "ruled", 2), Cell(), Cell(), Cell("", "ruled", 2)])
            )
    rows += [(12, [Cell("", "plain", 7)]), (34, _pair("Signature", 2, 2) + _pair("Seen by foreman", 2, 1))]
    pdf = converted(fods(_A4, margin, widths, rows).replace("#d9d9d9", "#c9dfb9"), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 2)
    fields = []
    for row, ((left_id, left), (right_id, right)) in enumerate(header, start=2):
        fields.append(FormField(left_id, "text", "cell", grid.box(row, 2, 4), left))
        fields.append(FormField(right_id, "text", "cell", grid.box(row, 6, 7), right))
    places = [(name, words) for points in SHOVEL.values() for name, words in points.items()]
    for name, words in places:
        row = at[name]
        answers = (("ok", grid.box(row, 3, 4)), ("defect", grid.box(row, 4, 5)))
        fields.append(FormField(f"item.{name}", "choice", "cell", grid.box(row, 3, 5), words, answers=answers))
        fields.append(FormField(f"note.{name}", "text", "cell", grid.box(row, 5, 7), "Comment / action"))
    last = len(rows) - 1
    fields.append(FormField("signature", "signature", "cell", grid.box(last, 2, 4), "Signature"))
    fields.append(FormField("foreman", "text", "cell", grid.box(last, 6, 7), "Seen by foreman"))
    return DrawnForm("shovel-comments", run, pdf, *_A4, tuple(fields), {})


def telehandler_week(run: str) -> DrawnForm:
    """A farm's spreadsheet of a week in a serif face with hairlines: signs in bare cells, hours and initials below."""
    margin = 14.0
    widths = (156.0, *((50.0,) * 7))
    rows: list[tuple[float, list[Cell]]] = [
        (30, [Cell("Telehandler weekly check", "title", 8)]),
        (26, _pair("Machine", 1, 3) + _pair("Week commencing", 2, 2)),
        (26, _pair("Farm", 1, 3) + _pair("Main driver", 2, 2)),
        (18, [Cell("Tick if all right, X if it needs attention, leave blank if not used that day.", "plain", 8)]),
        (20, [Cell("Check", "head"), *(Cell(day, "head") for day in DAY_TITLES)]),
    ]
    rows += [(21, [Cell(words), *(Cell() for _ in DAYS)]) for words in TELEHANDLER.values()]
    rows += [
        (24, [Cell("Hours on clock", "label"), *(Cell() for _ in DAYS)]),
        (24, [Cell("Initials", "label"), *(Cell() for _ in DAYS)]),
        (17, [Cell("", "plain", 8)]),
        (64, [Cell("Jobs for the workshop", "label"), Cell("", "ruled", 7)]),
    ]
    sheet = fods(_A4, margin, widths, rows).replace("Liberation Sans", "Liberation Serif").replace("0.6pt", "0.3pt")
    pdf = converted(sheet, ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 1)
    fields = [
        FormField("unit", "text", "cell", grid.box(1, 1, 4), "Machine"),
        FormField("week", "text", "cell", grid.box(1, 6, 8), "Week commencing"),
        FormField("site", "text", "cell", grid.box(2, 1, 4), "Farm"),
        FormField("operator", "text", "cell", grid.box(2, 6, 8), "Main driver"),
    ]
    for row, (name, words) in enumerate(TELEHANDLER.items(), start=5):
        fields += _by_day(grid, row, f"item.{name}", "mark", words)
    end = 5 + len(TELEHANDLER)
    fields += _by_day(grid, end, "hours", "text", "Hours on clock")
    fields += _by_day(grid, end + 1, "initials", "text", "Initials")
    fields.append(FormField("remarks", "text", "area", grid.box(end + 3, 1, 8), "Jobs for the workshop"))
    return DrawnForm("telehandler-week", run, pdf, *_A4, tuple(fields), {"tick": "ok", "cross": "defect"})


def _pair(label: str, label_across: int, across: int) -> list[Cell]:
    """A shaded label and the cell to write in beside it."""
    return [Cell(label, "label", label_across), Cell("", "ruled", across)]


def _by_day(grid: Grid, row: int, stem: str, kind: str, label: str) -> list[FormField]:
    """A field for each day of a row whose first cell is the label's."""
    return [
        FormField(f"{stem}.{day}", kind, "cell", grid.box(row, k, k + 1), label) for k, day in enumerate(DAYS, start=1)
    ]
