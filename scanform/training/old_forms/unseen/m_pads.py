"""Set M, forms drawn with reportlab: a batching plant's mixer lorry, a surfacing gang's roller. All are invented."""

from __future__ import annotations

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.pad import Pad
from scanform.training.old_forms.unseen.points_m import MIXER, ROLLER

__all__ = ["mixer_lorry", "roller_gang"]


def mixer_lorry(run: str) -> DrawnForm:
    """Two columns of shaded banners, three boxes right of every point; date, odometer and drum hours in combs."""
    pad = Pad(210.0, 297.0)
    pad.text(14, 19, "CONCRETE MIXER LORRY", 15, bold=True)
    pad.text(14, 24.5, "Driver's daily check", 11)
    pad.text(150, 19, "Orrinsdale Readymix", 10, bold=True)
    pad.text(150, 24, "White: office    Pink: driver", 7.5)
    pad.line(14, 28, 196, 28, 0.6)
    pad.writing_line("unit", "Lorry no.", 14, 38, 66)
    pad.writing_line("operator", "Driver", 70, 38, 140)
    pad.writing_line("site", "Depot", 144, 38, 196)
    pad.text(14, 51, "Date", 9)
    _date_comb(pad, 24.0, 45.5)
    pad.text(73, 51, "Odometer km", 9)
    pad.comb("odometer", "Odometer km", 94, 45.5, 7, (5.5, 7.0), "digits")
    pad.text(140, 51, "Drum hours", 9)
    pad.comb("hours", "Drum hours", 160, 45.5, 6, (5.5, 7.0), "digits")
    for left, headings in ((14.0, ("CAB", "MIXER")), (108.0, ("OUTSIDE", "LEVELS"))):
        y = 59.0
        for heading in headings:
            y = _part(pad, left, y, heading) + 3.0
    pad.text(14, 204, "Defects and other remarks", 9, bold=True)
    pad.bare_lines("remarks", 14, 214, 196, 5, 8.5)
    pad.text(14, 258, "I have checked this lorry and entered all defects that I found.", 8)
    pad.writing_line("signature", "Driver's signature", 14, 270, 112, high=8)
    pad.writing_line("told", "Handed to", 117, 270, 196, high=8)
    return pad.form("mixer-lorry", run)


def _date_comb(pad: Pad, left: float, top: float) -> None:
    """Eight cells in a row, a small letter over each saying what goes in."""
    cells = []
    for k, letter in enumerate("DDMMYYYY"):
        cells.append(Box(left + 5.5 * k, top, 5.5, 7.0))
        pad.rect(cells[-1], 0.2)
        pad.centred(cells[-1].x_mm + 2.75, top - 0.8, letter, 5.5)
    whole = cells[0].union(cells[-1])
    pad.fields.append(FormField("date", "comb", "comb", whole, "Date", tuple(cells), "digits"))


def _part(pad: Pad, left: float, y: float, heading: str) -> float:
    """One banner and its points, 88 mm wide; gives where it ends."""
    pad.rect(Box(left, y, 88, 6), 0.25, shade=0.85)
    pad.text(left + 2, y + 4.2, heading, 9, bold=True)
    columns = (("ok", "OK", 61.0), ("defect", "Def", 70.0), ("na", "N/A", 79.0))
    for _, head, x in columns:
        pad.centred(left + x + 2.25, y + 4.2, head, 8)
    y += 6
    for name, words in MIXER[heading].items():
        pad.text(left + 2, y + 5, words, 9)
        pad.choice(name, words, [(answer, Box(left + x, y + 1.5, 4.5, 4.5)) for answer, _, x in columns], "box")
        y += 7.5
    return y


def roller_gang(run: str) -> DrawnForm:
    """A4 on its side in Times: three framed lists, one box right of every point; dotted lines to write on."""
    pad = Pad(297.0, 210.0, face="Times")
    pad.text(15, 18, "Roller - daily check before work", 17, bold=True)
    pad.text(282 - pad.width_of("Penhallow Surfacing", 11), 18, "Penhallow Surfacing", 11)
    pad.writing_line("unit", "Roller no.", 15, 29, 80, dots=True)
    pad.writing_line("date", "Date", 86, 29, 138, dots=True)
    pad.writing_line("operator", "Driver", 144, 29, 216, dots=True)
    pad.writing_line("hours", "Hour clock", 222, 29, 282, dots=True)
    pad.writing_line("site", "Job / site", 15, 40, 138, dots=True)
    pad.writing_line("gang", "Gang", 144, 40, 192, dots=True)
    pad.text(200, 40, "Shift", 9)
    shifts = []
    for x, word in ((212.0, "Day"), (229.0, "Night")):
        box = Box(pad.text(x, 40, word, 9) + 2, 36, 5, 5)
        pad.rect(box, 0.3)
        shifts.append((word.lower(), box))
    whole = shifts[0][1].union(shifts[1][1])
    pad.fields.append(FormField("shift", "choice", "box", whole, "Shift", answers=tuple(shifts)))
    pad.text(15, 51, "Put a tick if in order, X if defective, N/A if not fitted.", 10)
    for column, (heading, points) in enumerate(ROLLER.items()):
        left = 15.0 + 91.0 * column
        pad.rect(Box(left, 55, 85, 88), 0.4)
        pad.line(left, 62, left + 85, 62, 0.4)
        pad.centred(left + 42.5, 60, heading, 11, bold=True)
        for k, (name, words) in enumerate(points.items()):
            y = 63.5 + 7.9 * k
            pad.text(left + 3, y + 4.5, words, 11)
            pad.mark(f"item.{name}", words, Box(left + 75, y + 0.4, 6, 6), "box")
    pad.text(15, 149, "Defects, and what was done about them", 10, bold=True)
    pad.rect(Box(15, 151, 267, 26), 0.4)
    pad.zone("remarks", "Defects, and what was done about them", Box(15, 151, 267, 26))
    pad.writing_line("fuel-added", "Fuel added (litres)", 15, 191, 88, dots=True, high=8)
    pad.writing_line("signature", "Driver's signature", 94, 191, 190, dots=True, high=8)
    pad.writing_line("foreman", "Foreman", 196, 191, 282, dots=True, high=8)
    return pad.form("roller-gang", run, {"tick": "ok", "cross": "defect", "letters": "na"})
