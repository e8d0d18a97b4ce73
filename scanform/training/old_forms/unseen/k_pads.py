"""Set K, forms drawn with reportlab: an excavator, a water cart, a warehouse's lift truck. All are invented."""

from __future__ import annotations

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.pad import Pad
from scanform.training.old_forms.unseen.points_k_plant import EXCAVATOR, LIFT_TRUCK, WATER_CART

__all__ = ["excavator_upright", "lift_truck_columns", "water_cart_combs"]


def excavator_upright(run: str) -> DrawnForm:
    """A plant firm's pad: the parts' names stand upright left of their rows, a thin cell each for OK, Defect, N/A."""
    pad = Pad(210.0, 297.0)
    pad.text(15, 19, "EXCAVATOR", 17, bold=True)
    pad.text(15, 25, "Operator's daily inspection", 10)
    pad.text(140, 17, "Strathgarve Plant", 12, bold=True)
    pad.text(140, 22, "Book 4 - white copy office, pink in book", 7.5)
    pad.line(15, 28, 195, 28, 0.7)
    pad.writing_line("unit", "Plant no.", 15, 37, 70)
    pad.writing_line("make", "Make / model", 74, 37, 134)
    pad.writing_line("date", "Date", 138, 37, 195)
    pad.writing_line("operator", "Operator", 15, 46, 94)
    pad.writing_line("hours", "Hours", 98, 46, 134)
    pad.writing_line("site", "Site", 138, 46, 195)
    edges, top, pitch = (15.0, 22.0, 147.0, 163.0, 179.0, 195.0), 51.0, 6.4
    pad.rect(Box(15, top, 180, 7), 0.3, shade=0.85)
    pad.text(24, top + 4.9, "Check", 9, bold=True)
    for k, head in enumerate(("OK", "Defect", "N/A"), start=2):
        pad.centred((edges[k] + edges[k + 1]) / 2, top + 4.9, head, 9, bold=True)
    y = top + 7
    for heading, points in EXCAVATOR.items():
        high = pitch * len(points)
        pad.upright(19.6, y + high / 2 + pad.width_of(heading, 8) / 2, heading, 8)
        for row, (name, words) in enumerate(points.items()):
            at = y + pitch * row
            if row:
                pad.line(22, at, 195, at, 0.15)
            pad.text(24, at + 4.5, words, 9.5)
            cells = [(a, Box(edges[2 + j], at, 16.0, pitch)) for j, a in enumerate(("ok", "defect", "na"))]
            pad.choice(name, words, cells, "cell")
        pad.rect(Box(15, y, 180, high), 0.45)
        y += high
    for x in edges[1:-1]:
        pad.line(x, top if x > 22 else top + 7, x, y, 0.3)
    pad.text(15, y + 6, "Defects / work needed", 9, bold=True)
    pad.bare_lines("remarks", 15, y + 14.5, 195, 3, 7.5)
    pad.writing_line("signature", "Signed", 15, y + 42, 90, high=8)
    pad.writing_line("told", "Reported to", 96, y + 42, 195, high=8)
    return pad.form("excavator-upright", run)


def water_cart_combs(run: str) -> DrawnForm:
    """Combs in the head, two columns of points with dots up to two boxes, captions under the last lines."""
    pad = Pad(210.0, 297.0)
    pad.rect(Box(12, 12, 186, 15), 0.6)
    pad.text(16, 22, "WATER CART PRE-START", 16, bold=True)
    pad.text(140, 18.5, "Tuatara Gully Earthworks", 9)
    pad.text(140, 23.5, "One sheet per cart per day", 9)
    pad.text(12, 38, "Cart no.", 9)
    pad.comb("unit", "Cart no.", 27, 32.5, 4, (6.5, 7.5), "alnum")
    pad.text(62, 38, "Date", 9)
    cells, x = [], 71.0
    for group in (2, 2, 2):
        for _ in range(group):
            cells.append(Box(x, 32.5, 6.5, 7.5))
            pad.rect(cells[-1], 0.2)
            x += 6.5
        x += 2.5
    pad.fields.append(FormField("date", "comb", "comb", cells[0].union(cells[-1]), "Date", tuple(cells), "digits"))
    for first, words in ((0, "day"), (2, "month"), (4, "year")):
        pad.centred(cells[first].right_mm, 43, words, 6.5)
    pad.text(124, 38, "Engine hours", 9)
    pad.comb("hours", "Engine hours", 146, 32.5, 6, (6.5, 7.5), "digits")
    pad.writing_line("operator", "Driver", 12, 53, 90)
    pad.writing_line("site", "Job", 95, 53, 150)
    pad.writing_line("fill-point", "Fill point", 154, 53, 198)
    columns = (("Truck",), ("Tank", "Spray gear", "In the cab"))
    for left, headings in zip((12.0, 109.0), columns, strict=True):
        y = 61.0
        for heading in headings:
            pad.text(left, y + 4, heading, 11, bold=True)
            pad.centred(left + 72.5, y + 4, "OK", 8)
            pad.centred(left + 83.5, y + 4, "Fault", 8)
            y += 6.5
            for name, words in WATER_CART[heading].items():
                end = pad.text(left, y + 4.3, words, 10)
                pad.line(end + 1.5, y + 4.3, left + 68, y + 4.3, 0.3, dots=True)
                boxes = [(a, Box(left + at, y, 5.0, 5.0)) for a, at in (("ok", 70.0), ("defect", 81.0))]
                pad.choice(name, words, boxes, "box")
                y += 8.2
            y += 2.5
    pad.text(12, 207, "Faults and anything else to report", 9)
    pad.rect(Box(12, 209, 186, 32), 0.4)
    pad.zone("remarks", "Faults and anything else to report", Box(12, 209, 186, 32))
    for field_id, label, left, right in (
        ("signature", "Driver's signature", 12.0, 92.0),
        ("foreman", "Foreman", 106, 198),
    ):
        pad.line(left, 258, right, 258, 0.3)
        pad.text(left, 262, label, 8)
        box = Box(left, 250, right - left, 8)
        kind = "signature" if field_id == "signature" else "text"
        pad.fields.append(FormField(field_id, kind, "rule", box, label))
    return pad.form("water-cart-combs", run)


def lift_truck_columns(run: str) -> DrawnForm:
    """Letter on its side: three numbered tables, Pass and Fail cells, a row of framed rooms above."""
    pad = Pad(279.4, 215.9, face="Times")
    pad.centred(139.7, 19, "LIFT TRUCK - OPERATOR'S SHIFT INSPECTION", 15, bold=True)
    pad.centred(139.7, 24.5, "Pelican Narrows Cold Storage        Put a check mark under Pass or Fail.", 9)
    left, top = 13.0, 29.0
    for field_id, label, wide in (
        ("unit", "Truck No.", 42.0),
        ("date", "Date", 42.0),
        ("operator", "Operator (print)", 66.0),
        ("hours", "Hour meter", 38.0),
    ):
        pad.rect(Box(left, top, wide, 13), 0.3)
        pad.text(left + 1.2, top + 3.4, label, 8)
        pad.zone(field_id, label, Box(left + 1, top + 4.4, wide - 2, 8))
        left += wide
    pad.rect(Box(left, top, 266.4 - left, 13), 0.3)
    pad.text(left + 1.2, top + 3.4, "Shift", 8)
    shifts = []
    for k, words in enumerate(("Days", "Afternoons", "Nights")):
        shifts.append((words.lower().rstrip("s"), Box(left + (2.0, 18.0, 44.0)[k], top + 6.2, 4.2, 4.2)))
        pad.rect(shifts[-1][1], 0.3)
        pad.text(shifts[-1][1].right_mm + 1.2, top + 9.6, words, 9)
    whole = shifts[0][1].union(shifts[-1][1])
    pad.fields.append(FormField("shift", "choice", "box", whole, "Shift", answers=tuple(shifts)))
    for column, (heading, points) in enumerate(LIFT_TRUCK.items()):
        x, y, pitch = 13.0 + 86.2 * column, 47.0, 8.0
        rows = [["", heading, "Pass", "Fail"]]
        rows += [[str(k), words, "", ""] for k, words in enumerate(points.values(), start=10 * column + 1)]
        pad.table(x, y, rows, (9.0, 46.0, 13.0, 13.0), pitch, 0.82)
        for row, (name, words) in enumerate(points.items(), start=1):
            cells = [(a, Box(x + 55 + 13 * j, y + pitch * row, 13.0, pitch)) for j, a in enumerate(("ok", "defect"))]
            pad.choice(name, words, cells, "cell")
    pad.text(13, 141.8, "Comments (for every Fail):", 10, bold=True)
    pad.bare_lines("remarks", 13, 151.5, 266.4, 4, 8.5)
    pad.writing_line("signature", "Operator's signature", 13, 193, 128, high=9)
    pad.writing_line("foreman", "Supervisor", 136, 193, 266.4, high=9)
    pad.text(13, 202, "A truck with a failed brake, steering, horn, mast or fork is locked out and tagged.", 8)
    return pad.form("lift-truck-columns", run)
