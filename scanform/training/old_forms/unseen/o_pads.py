"""Set O, forms drawn with reportlab: a contractor's concrete pump, a house builder's dumper. All are invented."""

from __future__ import annotations

from itertools import pairwise

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.pad import Pad
from scanform.training.old_forms.unseen.points_o import BOOM_PUMP, DUMPER

__all__ = ["boom_pump_sheet", "plot_dumper"]


def boom_pump_sheet(run: str) -> DrawnForm:
    """One ruled table, bare cells under Good, Fault and N/A, a grey row to each part; labels small in header cells."""
    pad = Pad(210.0, 297.0)
    pad.text(13, 19, "BRAMSHALL CONCRETE PUMPING", 13, bold=True)
    pad.text(13, 25, "Boom pump - operator's daily inspection, before leaving the yard", 9)
    pad.text(186, 19, "CP / 07", 9)
    header: tuple[tuple[tuple[str, str, float], ...], ...] = (
        (
            ("unit", "Pump no.", 40.0),
            ("date", "Date", 40.0),
            ("operator", "Operator", 60.0),
            ("hours", "Pump hours", 44.0),
        ),
        (("customer", "Customer", 80.0), ("site", "Site", 60.0), ("kilometres", "Kilometres", 44.0)),
    )
    for r, row in enumerate(header):
        x, y = 13.0, 29.0 + 11.5 * r
        for field_id, label, wide in row:
            pad.rect(Box(x, y, wide, 11.5), 0.3)
            pad.text(x + 1, y + 3, label, 6.5)
            pad.zone(field_id, label, Box(x + 1, y + 3.8, wide - 2, 7.4))
            x += wide
    edges, high, y, number = (13.0, 22.0, 149.0, 165.0, 181.0, 197.0), 6.4, 55.0, 0
    pad.rect(Box(13, y, 184, 7), 0.3, shade=0.8)
    for middle, words in ((17.5, "No."), (157, "Good"), (173, "Fault"), (189, "N/A")):
        pad.centred(middle, y + 4.8, words, 9, bold=True)
    pad.text(24, y + 4.8, "Item", 9, bold=True)
    for x in edges[1:-1]:
        pad.line(x, y, x, y + 7, 0.3)
    y += 7
    for heading, points in BOOM_PUMP.items():
        pad.rect(Box(13, y, 184, 6), 0.3, shade=0.92)
        pad.text(15, y + 4.2, heading, 9, bold=True)
        y += 6
        for name, words in points.items():
            number += 1
            for a, b in pairwise(edges):
                pad.rect(Box(a, y, b - a, high), 0.2)
            pad.centred(17.5, y + 4.4, str(number), 8.5)
            pad.text(24, y + 4.4, words, 9)
            cells = zip(("ok", "defect", "na"), pairwise(edges[2:]), strict=True)
            pad.choice(name, words, [(answer, Box(a, y, b - a, high)) for answer, (a, b) in cells], "cell")
            y += high
    pad.text(13, y + 6, "Remarks / defects reported:", 9, bold=True)
    pad.bare_lines("remarks", 13, y + 15.5, 197, 3, 7.8)
    pad.writing_line("signature", "Operator's signature", 13, 284, 110, high=8)
    pad.writing_line("foreman", "Yard manager", 116, 284, 197, high=8)
    return pad.form("boom-pump-sheet", run)


def plot_dumper(run: str) -> DrawnForm:
    """Typed in Times: combs in the header, questions with a Yes and a No box, a line after each for what is wrong."""
    pad = Pad(210.0, 297.0, face="Times")
    pad.centred(105, 20, "Site Dumper - Daily Check", 18, bold=True)
    pad.centred(105, 26, "Ashlode Homes. To be done by the driver before work and handed to the site office.", 9.5)
    pad.text(16, 40.4, "Plant No.", 10)
    pad.comb("unit", "Plant No.", 34, 35, 6, (6.2, 7.6), "alnum")
    pad.text(82, 40.4, "Date", 10)
    pad.comb("date", "Date (DD MM YY)", 92, 35, 6, (6.2, 7.6), "digits")
    for k, words in enumerate(("D", "D", "M", "M", "Y", "Y")):
        pad.centred(95.1 + 6.2 * k, 45, words, 6)
    pad.text(137, 40.4, "Hours", 10)
    pad.comb("hours", "Hours", 149, 35, 6, (6.2, 7.6), "digits")
    pad.writing_line("operator", "Driver's name", 16, 54, 92)
    pad.writing_line("site", "Site / plot", 98, 54, 152)
    pad.writing_line("ticket", "Ticket no.", 156, 54, 194)
    top, pitch = 70.0, 8.4
    pad.centred(98.5, top - 3, "Yes", 10, bold=True)
    pad.centred(109.5, top - 3, "No", 10, bold=True)
    pad.text(120, top - 3, "If No, what is wrong", 10, bold=True)
    for k, (name, words) in enumerate(DUMPER.items()):
        y = top + pitch * k
        pad.text(16, y + 4.2, f"{k + 1}.", 10.5)
        pad.text(23, y + 4.2, words, 10.5)
        boxes = [("ok", Box(96, y, 5.0, 5.0)), ("defect", Box(107, y, 5.0, 5.0))]
        pad.choice(name, words, boxes, "box")
        pad.line(120, y + 5.2, 194, y + 5.2, 0.15)
        note = Box(120, y + 5.2 - 6.5, 74, 6.5)
        pad.fields.append(FormField(f"note.{name}", "text", "rule", note, "If No, what is wrong"))
    y = top + pitch * len(DUMPER) + 2
    pad.line(16, y, 194, y, 0.4)
    pad.text(16, y + 8.6, "Safe to use today?", 11, bold=True)
    boxes = []
    for x, answer, word in ((60.0, "ok", "Yes"), (80.0, "defect", "No")):
        pad.text(x, y + 8.6, word, 10.5)
        boxes.append((answer, Box(x + 8, y + 4.6, 5.0, 5.0)))
    pad.choice("safe-to-use", "Safe to use today?", boxes, "box")
    pad.text(16, y + 18, "Other remarks", 10)
    pad.line(40, y + 18.8, 194, y + 18.8, 0.2)
    pad.fields.append(FormField("remarks.1", "text", "rule", Box(40, y + 11.8, 154, 7), "Other remarks"))
    pad.line(16, y + 27, 194, y + 27, 0.2)
    pad.fields.append(FormField("remarks.2", "text", "rule", Box(16, y + 19.6, 178, 7.4), "Other remarks"))
    pad.writing_line("signature", "Driver's signature", 16, y + 39, 104, high=9)
    pad.writing_line("foreman", "Site manager", 110, y + 39, 194, high=9)
    return pad.form("plot-dumper", run)
