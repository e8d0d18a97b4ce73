"""Set L, forms drawn with reportlab: a hire desk's mini excavator, a crushing plant. All are invented."""

from __future__ import annotations

from itertools import pairwise

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.pad import Pad
from scanform.training.old_forms.unseen.points_l import CRUSHER, MINI

__all__ = ["crushing_plant", "hire_desk_mini"]


def hire_desk_mini(run: str) -> DrawnForm:
    """A numbered pad: combs for fleet number, date and hours; two columns of points, three boxes right of each."""
    pad = Pad(210.0, 297.0)
    pad.text(15, 21, "TORVALE PLANT HIRE", 16, bold=True)
    pad.text(15, 26.5, "Small plant and access. One sheet per machine per day.", 8.5)
    pad.text(195 - pad.width_of("No. 04137", 13), 21, "No. 04137", 13)
    pad.rect(Box(15, 30, 180, 9), 0.4, shade=0.85)
    pad.centred(105, 36.4, "MINI EXCAVATOR \u2013 DAILY CHECK", 13, bold=True)
    pad.text(15, 51.5, "Fleet no.", 9)
    pad.comb("unit", "Fleet no.", 29.5, 46, 6, (6.5, 8.0), "alnum")
    pad.text(75, 51.5, "Date", 9)
    pad.comb("date", "Date", 83.5, 46, 6, (6.5, 8.0), "digits")
    for k, letter in enumerate("DDMMYY"):
        pad.centred(83.5 + 6.5 * (k + 0.5), 56.8, letter, 6.5)
    pad.text(129, 51.5, "Hour meter", 9)
    pad.comb("hours", "Hour meter", 147, 46, 6, (7.5, 8.0), "digits")
    pad.writing_line("customer", "Customer", 15, 66, 116)
    pad.writing_line("contract-no", "Contract no.", 121, 66, 195)
    pad.writing_line("site", "Site", 15, 75.5, 116)
    pad.writing_line("operator", "Operator", 121, 75.5, 195)
    parts = list(MINI.items())
    for left, column in ((15.0, parts[:2]), (108.0, parts[2:])):
        y = 82.0
        for heading, points in column:
            _part(pad, left, y, heading, points)
            y += 8.0 * (len(points) + 1) + 2.0
    pad.text(15, 206, "Faults found (the hire desk must be told before the machine is used)", 9, bold=True)
    pad.bare_lines("remarks", 15, 216, 195, 4, 8.5)
    pad.writing_line("signature", "Operator's signature", 15, 254, 110, high=9)
    pad.writing_line("told", "Reported to", 116, 254, 195, high=9)
    pad.text(15, 268, "White copy: hire desk. Yellow copy: stays with the machine until off hire.", 7.5)
    return pad.form("hire-desk-mini", run)


def _part(pad: Pad, left: float, y: float, heading: str, points: dict[str, str]) -> None:
    """A heading with the answers named over their boxes, then a line to each point; 87 mm wide, 8 mm a line."""
    pad.text(left, y + 6, heading, 10, bold=True)
    columns = (("ok", "OK", 62.5), ("defect", "Fault", 71.5), ("na", "N/A", 80.5))
    for _, word, x in columns:
        pad.centred(left + x + 2.3, y + 6, word, 8)
    pad.line(left, y + 7.4, left + 87, y + 7.4, 0.4)
    for name, words in points.items():
        y += 8.0
        pad.text(left, y + 4.9, words, 9.5)
        pad.choice(name, words, [(answer, Box(left + x, y + 1.2, 4.6, 4.6)) for answer, _, x in columns], "box")
        pad.line(left, y + 7.4, left + 87, y + 7.4, 0.1)


def crushing_plant(run: str) -> DrawnForm:
    """Letter: one long table with Pass, Fail, N/A and a remark to each point, parts shaded; labels inside frames."""
    pad = Pad(215.9, 279.4, face="Times")
    pad.text(13, 17, "Mobile Crushing Plant", 17, bold=True)
    pad.text(13, 22, "Daily inspection before start-up. Lock out before opening any guard.", 9)
    pad.text(152, 17, "Redstone Gap Aggregates", 12)
    pad.text(152, 22, "Form P-6, rev. 2", 9)
    top = (("unit", "Plant no.", 40.0), ("site", "Location", 60.0), ("date", "Date", 40.0))
    _framed(pad, 25, 11.5, top)
    pad.rect(Box(153, 25, 50, 11.5), 0.25)
    pad.text(154.2, 28.2, "Shift", 7.5)
    boxes = []
    for answer, word, x in (("day", "Day", 158.0), ("night", "Night", 178.0)):
        boxes.append((answer, Box(x, 29.7, 4.5, 4.5)))
        pad.rect(boxes[-1][1], 0.25)
        pad.text(x + 6, 33.4, word, 10)
    whole = boxes[0][1].union(boxes[1][1])
    pad.fields.append(FormField("shift", "choice", "box", whole, "Shift", answers=tuple(boxes)))
    hours = (("hours-start", "Engine hours, start", 40.0), ("hours-end", "Engine hours, end", 40.0))
    _framed(pad, 36.5, 11.5, (("operator", "Operator", 60.0), *hours, ("tons-crushed", "Tons crushed", 50.0)))
    edges = (13.0, 22.0, 103.0, 116.0, 129.0, 142.0, 203.0)
    for a, b in pairwise(edges):
        pad.rect(Box(a, 51, b - a, 6.5), 0.25)
    pad.centred(17.5, 55.5, "No.", 10, bold=True)
    pad.text(24, 55.5, "Inspection point", 10, bold=True)
    for x, word in ((109.5, "Pass"), (122.5, "Fail"), (135.5, "N/A")):
        pad.centred(x, 55.5, word, 10, bold=True)
    pad.text(144, 55.5, "Remarks", 10, bold=True)
    y, number = 57.5, 0
    for heading, points in CRUSHER.items():
        pad.rect(Box(13, y, 190, 5.6), 0.25, shade=0.88)
        pad.text(14.5, y + 4.1, heading, 9, bold=True)
        y += 5.6
        for name, words in points.items():
            number += 1
            cells = [Box(a, y, b - a, 6.6) for a, b in pairwise(edges)]
            for cell in cells:
                pad.rect(cell, 0.25)
            pad.centred(17.5, y + 4.6, str(number), 9.5)
            pad.text(24, y + 4.6, words, 10)
            pad.choice(name, words, list(zip(("ok", "defect", "na"), cells[2:5], strict=True)), "cell")
            pad.fields.append(FormField(f"note.{name}", "text", "cell", cells[5], "Remarks"))
            y += 6.6
    _framed(pad, y + 3, 12, (("signature", "Operator signature", 95.0), ("foreman", "Foreman", 95.0)))
    return pad.form("crushing-plant", run)


def _framed(pad: Pad, y: float, high: float, places: tuple[tuple[str, str, float], ...]) -> None:
    """A row of frames side by side from 13 mm on, each with its label small in the corner and room under it."""
    x = 13.0
    for field_id, label, wide in places:
        pad.rect(Box(x, y, wide, high), 0.25)
        pad.text(x + 1.2, y + 3.2, label, 7.5)
        pad.zone(field_id, label, Box(x + 1, y + 4, wide - 2, high - 4.4))
        x += wide
