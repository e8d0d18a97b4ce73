"""Set C, forms drawn with reportlab: a harbour crane, a quarry's week, a digger. All are invented."""

from __future__ import annotations

from itertools import pairwise

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.pad import Pad
from scanform.training.old_forms.unseen.points_c import DIGGER, HARBOUR
from scanform.training.old_forms.wording import item, items

__all__ = ["digger_sections", "harbour_crane", "quarry_week"]


def harbour_crane(run: str) -> DrawnForm:
    """Landscape in three columns, boxes right of the words under S, U and N; the date in groups parted by strokes."""
    pad = Pad(297.0, 210.0)
    pad.rect(Box(10, 10, 60, 20), 0.5)
    pad.line(16, 27, 26, 13, 0.9)
    pad.line(26, 13, 34, 27, 0.9)
    pad.text(36, 19, "PORT OF", 8)
    pad.text(36, 24, "KELDMOUTH", 10, bold=True)
    pad.rect(Box(70, 10, 150, 20), 0.5)
    pad.centred(145, 19, "QUAY CRANE - START OF SHIFT INSPECTION", 12, bold=True)
    pad.centred(145, 25, "S = satisfactory    U = unsatisfactory    N = not fitted / not used", 8)
    pad.rect(Box(220, 10, 67, 20), 0.5)
    for k, words in enumerate(("Document: QC-17", "Issue: 4", "Keep for 24 months")):
        pad.text(223, 16 + 5.5 * k, words, 8)
    pad.text(10, 41, "Crane", 9)
    pad.comb("unit", "Crane", 22, 35.5, 3, (6.5, 8.0), "alnum")
    pad.text(48, 41, "Date", 9)
    cells, x = [], 57.0
    for group in (2, 2, 4):
        for _ in range(group):
            cells.append(Box(x, 35.5, 6.0, 8.0))
            pad.rect(cells[-1], 0.2)
            x += 6.0
        if group == 2:
            pad.text(x + 0.8, 41.5, "/", 14)
            x += 3.0
    pad.fields.append(FormField("date", "comb", "comb", cells[0].union(cells[-1]), "Date", tuple(cells), "digits"))
    pad.text(118, 41, "Hours", 9)
    pad.comb("hours", "Hours", 130, 35.5, 6, (6.5, 8.0), "digits")
    pad.writing_line("operator", "Driver", 178, 41, 232)
    pad.writing_line("shift", "Shift", 236, 41, 258)
    pad.writing_line("berth", "Berth", 261, 41, 287)
    points = list(HARBOUR.items())
    for column in range(3):
        left = 10.0 + 94.0 * column
        for j, letter in enumerate("SUN"):
            pad.centred(left + 66.5 + 8.5 * j, 51, letter, 9, bold=True)
        for k, (name, words) in enumerate(points[7 * column : 7 * column + 7]):
            y = 53.0 + 9.5 * k
            pad.text(left, y + 4, f"{7 * column + k + 1}. {words}", 9)
            boxes = [(a, Box(left + 64 + 8.5 * j, y, 5.0, 5.0)) for j, a in enumerate(("ok", "defect", "na"))]
            pad.choice(name, words, boxes, "box")
            pad.line(left, y + 7.2, left + 87, y + 7.2, 0.1, dots=True)
    pad.text(10, 126, "Particulars of anything unsatisfactory (write the number first):", 9)
    pad.bare_lines("remarks", 10, 134, 287, 4, 8.0)
    pad.rect(Box(10, 165, 277, 18), 0.3)
    pad.text(12, 169, "Signature of driver", 7)
    pad.zone("signature", "Signature of driver", Box(12, 170, 88, 12))
    pad.line(102, 165, 102, 183, 0.3)
    pad.text(104, 169, "Reported to", 7)
    pad.zone("told", "Reported to", Box(104, 170, 88, 12))
    pad.line(194, 165, 194, 183, 0.3)
    pad.text(196, 169, "Shift foreman", 7)
    pad.zone("foreman", "Shift foreman", Box(196, 170, 89, 12))
    return pad.form("harbour-crane", run)


def quarry_week(run: str) -> DrawnForm:
    """Letter on its side: day columns with thin rules across and nothing left of the items; days printed upright."""
    pad = Pad(279.4, 215.9, face="Courier")
    pad.text(14, 17, "BRACKENFELL GRANITE", 13, bold=True)
    pad.text(150, 17, "Haul truck / weekly operator inspection", 10)
    pad.writing_line("unit", "Truck", 14, 28, 62)
    pad.writing_line("week", "Week ending", 68, 28, 130)
    pad.writing_line("operator", "Operator", 136, 28, 205)
    pad.writing_line("site", "Pit", 211, 28, 265)
    names = items(15, start=6, step=2)
    left, first, wide, pitch, top = 14.0, 134.0, 18.8, 7.4, 46.0
    end = first + 7 * wide
    for k, day in enumerate(("MON", "TUE", "WED", "THU", "FRI", "SAT", "SUN")):
        pad.upright(first + (k + 0.6) * wide, top - 2, day, 9)
    for k in range(8):
        pad.line(first + k * wide, 34, first + k * wide, top + 17 * pitch, 0.2)
    for k in range(18):
        pad.line(left, top + k * pitch, end, top + k * pitch, 0.5 if k in (0, 15, 17) else 0.12)
    days = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
    for row, name in enumerate(names):
        pad.text(left, top + row * pitch + 5, item(name), 9)
        for k, day in enumerate(days):
            box = Box(first + k * wide, top + row * pitch, wide, pitch)
            pad.mark(f"item.{name}.{day}", item(name), box, "cell")
    for row, (field_id, label) in enumerate((("hours", "SMU at start"), ("initials", "Initials")), start=15):
        pad.text(left, top + row * pitch + 5, label, 9, bold=True)
        for k, day in enumerate(days):
            pad.zone(f"{field_id}.{day}", label, Box(first + k * wide, top + row * pitch, wide, pitch))
    pad.text(14, 180, "V = OK    X = DEFECT    O = NOT CHECKED    - = NOT FITTED", 9)
    pad.text(14, 187, "DEFECTS", 9, bold=True)
    pad.bare_lines("remarks", 14, 195, 265, 2, 8.0)
    legend = {"tick": "ok", "cross": "defect", "dash": "na"}
    return pad.form("quarry-week", run, legend)


def digger_sections(run: str) -> DrawnForm:
    """One ruled table with a banner to each part; cells under a tick and a cross, then a wide one for what was done."""
    pad = Pad(210.0, 297.0, face="Times")
    pad.rect(Box(14, 12, 182, 12), 0.6, shade=0.75)
    pad.centred(105, 20, "EXCAVATOR PRE-START", 15, bold=True)
    lefts, wides = (14.0, 75.0, 136.0), (61.0, 61.0, 60.0)
    rows = (
        (("unit", "Reg. / plant no."), ("make", "Make and model"), ("hours", "Hour clock")),
        (("operator", "Operator's name"), ("ticket", "Ticket no."), ("site", "Site")),
    )
    for r, row in enumerate(rows):
        for (field_id, label), x, wide in zip(row, lefts, wides, strict=True):
            box = Box(x, 26 + 12.0 * r, wide, 12.0)
            pad.rect(box, 0.3)
            pad.text(x + 1, box.y_mm + 3.2, label, 7)
            pad.zone(field_id, label, Box(x + 1, box.y_mm + 4, wide - 2, 7.6))
    pad.text(14, 58, "Date:", 10)
    pad.comb("date", "Date:", 25, 52.5, 6, (7.0, 7.5), "digits")
    pad.text(69, 58, "day, month, year", 8)
    y, number, edges = 64.0, 0, (14.0, 22.0, 108.0, 120.0, 132.0, 196.0)
    for heading, points in DIGGER.items():
        pad.rect(Box(14, y, 182, 7), 0.3, shade=0.88)
        pad.text(16, y + 5, heading, 10, bold=True)
        if number == 0:
            pad.centred(114, y + 5, "Good", 8)
            pad.centred(126, y + 5, "Bad", 8)
            pad.text(134, y + 5, "Action taken", 8)
        y += 7
        for name, words in points.items():
            number += 1
            for a, b in pairwise(edges):
                pad.rect(Box(a, y, b - a, 7.5), 0.3)
            pad.text(15.5, y + 5, str(number), 9)
            pad.text(24, y + 5, words, 10)
            cells = [(a, Box(x, y, 12.0, 7.5)) for a, x in (("ok", 108.0), ("defect", 120.0))]
            pad.choice(name, words, cells, "cell")
            y += 7.5
    pad.text(14, y + 7, "Other remarks", 9)
    pad.rect(Box(14, y + 9, 182, 24), 0.3)
    pad.zone("remarks", "Other remarks", Box(14, y + 9, 182, 24))
    pad.writing_line("signature", "Operator sign", 14, y + 44, 100, high=9)
    pad.writing_line("foreman", "Supervisor sign", 106, y + 44, 196, high=9)
    return pad.form("digger-sections", run)
