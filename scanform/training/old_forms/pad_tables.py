"""Old forms as ruled tables with bare cells, drawn with reportlab. All names are invented."""

from __future__ import annotations

from collections.abc import Sequence

from scanform.form.days import DAYS
from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.pad import Pad
from scanform.training.old_forms.wording import item, items

__all__ = ["coarse_table", "three_columns", "weekly_landscape"]


def _ruled(pad: Pad, xs: Sequence[float], ys: Sequence[float], width: float) -> None:
    """All rules of a table with these column and row edges."""
    for x in xs:
        pad.line(x, ys[0], x, ys[-1], width)
    for y in ys:
        pad.line(xs[0], y, xs[-1], y, width)


def three_columns(run: str) -> DrawnForm:
    """A fully ruled table: number, item, three bare cells; header fields in cells of a table of their own."""
    pad = Pad(215.9, 279.4)
    pad.centred(108, 20, "DAILY EQUIPMENT INSPECTION", 15, bold=True)
    pad.centred(108, 26, "Vellermoor Stone, Lower Pit", 10)
    _ruled(pad, (15, 77, 139, 201), (31, 43), 0.3)
    for x, field_id, label in ((15, "unit", "Unit No."), (77, "date", "Date"), (139, "hours", "Hour Meter")):
        pad.text(x + 1.2, 34.6, label, 7.5)
        pad.zone(field_id, label, Box(x + 16, 31.5, 45, 11))
    _ruled(pad, (15, 139, 201), (43, 55), 0.3)
    for x, right, field_id, label in ((15, 139, "operator", "Operator"), (139, 201, "shift", "Shift")):
        pad.text(x + 1.2, 46.6, label, 7.5)
        pad.zone(field_id, label, Box(x + 16, 43.5, right - x - 17, 11))
    names = items(24, start=1)
    xs, top, pitch = (15.0, 25.0, 147.0, 165.0, 183.0, 201.0), 61.0, 6.6
    rows = [top + k * pitch for k in range(len(names) + 2)]
    _ruled(pad, xs, rows, 0.25)
    pad.centred(20, top + 4.6, "No.", 9, bold=True)
    pad.text(27, top + 4.6, "Item", 9, bold=True)
    for k, words in enumerate(("OK", "Repair", "N/A")):
        pad.centred((xs[2 + k] + xs[3 + k]) / 2, top + 4.6, words, 9, bold=True)
    for k, name in enumerate(names):
        y = rows[k + 1]
        pad.centred(20, y + 4.6, str(k + 1), 9)
        pad.text(27, y + 4.6, item(name, 2), 9)
        cells = [(a, Box(xs[2 + j], y, xs[3 + j] - xs[2 + j], pitch)) for j, a in enumerate(("ok", "defect", "na"))]
        pad.choice(name, item(name, 2), cells, "cell")
    end = rows[-1]
    pad.text(15, end + 6, "Comments:", 9, bold=True)
    pad.bare_lines("remarks", 15, end + 15, 201, 3, 7)
    pad.writing_line("signature", "Signature:", 15, end + 39, 110, high=9)
    return pad.form("three-columns", run)


def weekly_landscape(run: str) -> DrawnForm:
    """A week across the page, Monday to Sunday, a bare cell an item and day; a legend of signs under the title."""
    pad = Pad(297.0, 210.0)
    pad.text(12, 17, "OSSENBY AGGREGATES - weekly dumper check", 13, bold=True)
    pad.text(12, 24, "Legend:  tick = in order,  X = defect,  \u2013 = not fitted", 9)
    pad.writing_line("unit", "Dumper no.", 150, 17, 205)
    pad.writing_line("week", "Week beginning", 212, 17, 285)
    names = items(20, start=5, step=2)
    left, wide = 90.0, 27.9
    xs: tuple[float, ...] = (12.0, *(left + k * wide for k in range(8)))
    top, pitch = 29.0, 6.4
    rows = [top + k * pitch for k in range(len(names) + 4)]
    _ruled(pad, xs, rows, 0.2)
    pad.rect(Box(12, top, xs[-1] - 12, pitch), 0.4)
    pad.text(14, top + 4.5, "Check", 9, bold=True)
    for k, day in enumerate(DAYS):
        pad.centred((xs[k + 1] + xs[k + 2]) / 2, top + 4.5, day.capitalize(), 9, bold=True)
    for r, name in enumerate(names, start=1):
        pad.text(14, rows[r] + 4.4, item(name), 9)
        for k, day in enumerate(DAYS):
            pad.mark(f"item.{name}.{day}", item(name), Box(xs[k + 1], rows[r], wide, pitch), "cell")
    last = len(names) + 1
    pad.text(14, rows[last] + 4.4, "Hours", 9, bold=True)
    pad.text(14, rows[last + 1] + 4.4, "Driver's initials", 9, bold=True)
    for k, day in enumerate(DAYS):
        pad.zone(f"hours.{day}", "Hours", Box(xs[k + 1], rows[last], wide, pitch))
        pad.zone(f"initials.{day}", "Driver's initials", Box(xs[k + 1], rows[last + 1], wide, pitch))
    end = rows[-1]
    pad.text(12, end + 6, "Defects", 9, bold=True)
    pad.bare_lines("remarks", 28, end + 7, 285, 2, 7)
    pad.writing_line("signature", "Foreman", 12, end + 25, 110, high=8)
    return pad.form("weekly-landscape", run, {"tick": "ok", "cross": "defect", "dash": "na"})


def coarse_table(run: str) -> DrawnForm:
    """Copied many times over: a heavy table, typewritten items in two blocks. The newer run has other widths.

    In run "b" the columns are 2 mm wider, the rows 0.3 mm lower, and two items have changed places.
    """
    newer = run == "b"
    pad = Pad(210.0, 297.0, face="Courier")
    pad.text(22, 24, "MORVANE PIT        PLANT SAFETY CHECK", 13, bold=True)
    pad.writing_line("unit", "Plant No", 22, 36, 82, dots=newer)
    pad.writing_line("date", "Date", 90, 36, 136, dots=newer)
    pad.writing_line("hours", "Clock", 144, 36, 190, dots=newer)
    names = items(26, start=9, step=3)
    if newer:
        names[3], names[4] = names[4], names[3]
    wide = 19.0 if newer else 17.0
    pitch = 7.3 if newer else 7.0
    xs = (22.0, 190 - 3 * wide, 190 - 2 * wide, 190 - wide, 190.0)
    rows = [46 + k * pitch for k in range(len(names) + 2)]
    _ruled(pad, xs, rows, 0.5)
    for k, words in enumerate(("GOOD", "BAD", "N.A.")):
        pad.centred((xs[k + 1] + xs[k + 2]) / 2, rows[0] + 5, words, 9, bold=True)
    for r, name in enumerate(names, start=1):
        pad.text(24, rows[r] + 5, item(name).upper(), 9.5)
        cells = [(a, Box(xs[1 + j], rows[r], wide, pitch)) for j, a in enumerate(("ok", "defect", "na"))]
        pad.choice(name, item(name).upper(), cells, "cell")
    end = rows[-1]
    pad.text(22, end + 7, "REMARKS", 9.5, bold=True)
    pad.bare_lines("remarks", 22, end + 16.5, 190, 2, 8)
    pad.writing_line("operator", "Driver", 22, end + 36, 100)
    pad.writing_line("signature", "Signed", 108, end + 36, 190)
    return pad.form("coarse-table", run)
