"""Old forms that somebody made in a spreadsheet. All names are invented."""

from __future__ import annotations

from scanform.form.days import DAY_TITLES, DAYS
from scanform.training.old_forms.calc import Cell, fods, grid_of
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted
from scanform.training.old_forms.wording import item, items

__all__ = ["sheet_columns", "sheet_week"]

_ANSWERS = ("ok", "defect", "na")


def sheet_columns(run: str) -> DrawnForm:
    """A spreadsheet: header cells with their label shaded beside them, three answer columns, remarks merged."""
    margin, size = 14.0, (210.0, 297.0)
    widths = (26.0, 74.0, 180.0, 72.0, 52.0, 58.0, 52.0)
    names = items(24, start=8, step=11)
    rows: list[tuple[float, list[Cell]]] = [
        (30, [Cell("Plant check sheet", "title", 7)]),
        (18, [Cell("Sallowby Roadstone  -  fill in before starting work", "plain", 7)]),
        (26, _written("Plant", 2, 1) + _written("Date", 1, 3)),
        (26, _written("Operator", 2, 1) + _written("Hours", 1, 3)),
        (20, [Cell("", "head"), Cell("Check", "head", 3), *(Cell(w, "head") for w in ("OK", "Not OK", "N/A"))]),
    ]
    for k, name in enumerate(names, start=1):
        rows.append((19, [Cell(str(k), "middle"), Cell(item(name), "ruled", 3), *(Cell() for _ in _ANSWERS)]))
    rows += [
        (18, [Cell("Remarks", "label", 7)]),
        (72, [Cell("", "ruled", 7)]),
        (30, _written("Signature", 2, 1) + _written("Foreman", 1, 3)),
    ]
    pdf = converted(fods(size, margin, widths, rows), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 2)
    fields = [
        FormField("unit", "text", "cell", grid.box(2, 2, 3), "Plant"),
        FormField("date", "text", "cell", grid.box(2, 4, 7), "Date"),
        FormField("operator", "text", "cell", grid.box(3, 2, 3), "Operator"),
        FormField("hours", "text", "cell", grid.box(3, 4, 7), "Hours"),
    ]
    for k, name in enumerate(names, start=5):
        answers = tuple((a, grid.box(k, 4 + j, 5 + j)) for j, a in enumerate(_ANSWERS))
        whole = grid.box(k, 4, 7)
        fields.append(FormField(f"item.{name}", "choice", "cell", whole, item(name), answers=answers))
    end = 5 + len(names)
    fields += [
        FormField("remarks", "text", "area", grid.box(end + 1, 0, 7), "Remarks"),
        FormField("signature", "signature", "cell", grid.box(end + 2, 2, 3), "Signature"),
        FormField("told", "text", "cell", grid.box(end + 2, 4, 7), "Foreman"),
    ]
    return DrawnForm("sheet-columns", run, pdf, *size, tuple(fields), {})


def _written(label: str, label_across: int, across: int) -> list[Cell]:
    """A shaded label and the cell to write in beside it."""
    return [Cell(label, "label", label_across), Cell("", "ruled", across)]


def sheet_week(run: str) -> DrawnForm:
    """A spreadsheet of a week on Letter across: day columns, a legend with a tick sign, hours and initials below."""
    margin, size = 11.0, (279.4, 215.9)
    widths = (162.0, *((80.0,) * 7))
    names = items(17, start=4, step=13)
    rows: list[tuple[float, list[Cell]]] = [
        (26, [Cell("Weekly loader report", "title", 8)]),
        (18, [Cell("\u2713 = OK    X = needs repair    N/A = does not apply", "plain", 8)]),
        (26, [Cell("Loader:", "label"), Cell("", "ruled", 3), Cell("Week of:", "label"), Cell("", "ruled", 3)]),
        (18, [Cell("Item", "head"), *(Cell(day, "head") for day in DAY_TITLES)]),
    ]
    for name in names:
        rows.append((18, [Cell(item(name)), *(Cell() for _ in DAYS)]))
    rows += [
        (21, [Cell("Hour meter", "label"), *(Cell() for _ in DAYS)]),
        (21, [Cell("Initials", "label"), *(Cell() for _ in DAYS)]),
        (36, [Cell("Repairs wanted", "label"), Cell("", "ruled", 7)]),
    ]
    pdf = converted(fods(size, margin, widths, rows), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 2)
    fields = [
        FormField("unit", "text", "cell", grid.box(2, 1, 4), "Loader:"),
        FormField("week", "text", "cell", grid.box(2, 5, 8), "Week of:"),
    ]
    for r, name in enumerate(names, start=4):
        for k, day in enumerate(DAYS):
            fields.append(FormField(f"item.{name}.{day}", "mark", "cell", grid.box(r, k + 1, k + 2), item(name)))
    end = 4 + len(names)
    for k, day in enumerate(DAYS):
        fields.append(FormField(f"hours.{day}", "text", "cell", grid.box(end, k + 1, k + 2), "Hour meter"))
        fields.append(FormField(f"initials.{day}", "text", "cell", grid.box(end + 1, k + 1, k + 2), "Initials"))
    fields.append(FormField("remarks", "text", "area", grid.box(end + 2, 1, 8), "Repairs wanted"))
    return DrawnForm("sheet-week", run, pdf, *size, tuple(fields), {"tick": "ok", "cross": "defect", "letters": "na"})
