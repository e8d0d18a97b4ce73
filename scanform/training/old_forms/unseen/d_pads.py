"""Set D, forms drawn with reportlab: a snow plough, two shifts of a crusher. All are invented."""

from __future__ import annotations

from itertools import pairwise

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.pad import Pad
from scanform.training.old_forms.wording import item, items

__all__ = ["crusher_shifts", "plough_card"]


def plough_card(run: str) -> DrawnForm:
    """A box before each point and a line after it; cells with small letters in them for date and times."""
    pad = Pad(215.9, 279.4)
    pad.rect(Box(0, 0, 215.9, 22), 0.1, shade=0.9)
    pad.text(14, 11, "WINTER SERVICE", 16, bold=True)
    pad.text(14, 17.5, "Plough and spreader: check before you roll", 10)
    for field_id, label, x, guide in (("date", "DATE", 14.0, "DDMMYY"), ("out", "TIME OUT", 85.0, "HHMM")):
        pad.text(x, 29, label, 7, bold=True)
        cells = [Box(x + 7.2 * k, 30.5, 7.2, 9.0) for k in range(len(guide))]
        for cell, letter in zip(cells, guide, strict=True):
            pad.rect(cell, 0.25)
            pad.text(cell.x_mm + 0.6, cell.y_mm + 2.4, letter, 5)
        whole = cells[0].union(cells[-1])
        pad.fields.append(FormField(field_id, "comb", "comb", whole, label, tuple(cells), "digits"))
    for field_id, label, x, wide in (("unit", "TRUCK", 130.0, 30.0), ("route", "ROUTE", 164.0, 38.0)):
        pad.text(x, 29, label, 7, bold=True)
        pad.rect(Box(x, 30.5, wide, 9.0), 0.25)
        pad.zone(field_id, label, Box(x, 30.5, wide, 9.0))
    pad.writing_line("operator", "DRIVER", 14, 50, 90)
    pad.writing_line("hours", "ENGINE HRS", 95, 50, 145)
    pad.writing_line("odometer", "MILES", 150, 50, 202)
    pad.text(14, 59, "Tick if in order. If not, leave the box empty and say what is wrong on the line.", 9)
    for k, name in enumerate(items(20, start=5, step=11)):
        y = 63 + 8.2 * k
        box = Box(14, y, 5.4, 5.4)
        pad.mark(f"item.{name}", item(name), box, "box")
        pad.rect(box, 0.25)
        pad.text(22, y + 4, item(name), 10)
        pad.line(90, y + 5.2, 202, y + 5.2, 0.15)
    pad.text(14, 234, "ANYTHING ELSE", 8, bold=True)
    pad.bare_lines("remarks", 14, 242, 202, 2, 8)
    pad.writing_line("signature", "DRIVER SIGNATURE", 14, 262, 110, high=9)
    pad.writing_line("foreman", "CHARGEHAND", 115, 262, 202, high=9)
    return pad.form("plough-card", run)


def crusher_shifts(run: str) -> DrawnForm:
    """Landscape table, two answers for the day shift and two for the night shift; a rule down between the shifts."""
    pad = Pad(297.0, 210.0, face="Times")
    pad.centred(148, 16, "JAW CRUSHER & SCREENS - SHIFT SHEET", 15, bold=True)
    for field_id, label, x, end in (
        ("unit", "Plant:", 14.0, 80.0),
        ("date", "Date:", 86, 140),
        ("hours", "Hours:", 146, 200),
    ):
        pad.writing_line(field_id, label, x, 26, end)
    pad.writing_line("weather", "Weather:", 206, 26, 283)
    names = items(14, start=20, step=5)
    top, pitch, left = 33.0, 8.0, 14.0
    edges = (14.0, 24.0, 160.0, 178.0, 196.0, 214.0, 232.0, 283.0)
    heads = ("", "", "Day shift", "Night shift", "")
    spans = ((14.0, 24.0), (24.0, 160.0), (160.0, 196.0), (196.0, 232.0), (232.0, 283.0))
    for words, (a, b) in zip(heads, spans, strict=True):
        pad.rect(Box(a, top, b - a, 7), 0.3, shade=0.85)
        pad.centred((a + b) / 2, top + 5, words, 10, bold=True)
    second = ("No.", "Look, listen, feel", "OK", "Defect", "OK", "Defect", "Notes")
    for words, a, b in zip(second, edges, edges[1:], strict=False):
        pad.rect(Box(a, top + 7, b - a, 7), 0.3)
        pad.centred((a + b) / 2, top + 12, words, 9)
    for k, name in enumerate(names):
        y = top + 14 + pitch * k
        for a, b in pairwise(edges):
            pad.rect(Box(a, y, b - a, pitch), 0.3)
        pad.centred(19, y + 5.5, str(k + 1), 9)
        pad.text(26, y + 5.5, item(name, 2), 10)
        for shift, x in (("day", 160.0), ("night", 196.0)):
            cells = [(a, Box(x + 18.0 * j, y, 18.0, pitch)) for j, a in enumerate(("ok", "defect"))]
            pad.choice(f"{name}-{shift}", item(name, 2), cells, "cell")
    y = top + 14 + pitch * len(names) + 6
    for k, (label, field_id) in enumerate((("Day operator", "operator"), ("Night operator", "night-operator"))):
        pad.writing_line(field_id, label, left + 136 * k, y + 4, left + 130 + 139 * k)
    pad.text(left, y + 13, "Remarks", 9, bold=True)
    pad.rect(Box(left, y + 15, 269, 16), 0.3)
    pad.zone("remarks", "Remarks", Box(left, y + 15, 269, 16))
    return pad.form("crusher-shifts", run)
