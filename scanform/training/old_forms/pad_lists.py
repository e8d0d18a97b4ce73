"""Old forms as lists of items with tick boxes, drawn with reportlab. All names are invented."""

from __future__ import annotations

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.pad import Pad
from scanform.training.old_forms.wording import item, items

__all__ = ["boxes_left", "boxes_right", "small_print"]

_A4 = (210.0, 297.0)
_LETTER = (215.9, 279.4)


def boxes_right(run: str) -> DrawnForm:
    """Three tick boxes right of each item, dotted writing lines, a comb for the hours. The newer run moved down.

    In run "b" the list begins 6 mm lower, is set a little wider apart, and has one more item at its end.
    """
    newer = run == "b"
    pad = Pad(*_A4)
    pad.text(18, 20, "OSSENBY AGGREGATES", 15, bold=True)
    pad.text(18, 26, "Loading shovel - operator's daily check" + (" (rev. 3)" if newer else ""), 11)
    pad.text(150, 20, "Form OA 27" + ("/3" if newer else "/2"), 8)
    top = 42.0 if newer else 37.0
    pad.writing_line("unit", "Machine No.", 18, top, 84, dots=True)
    pad.writing_line("date", "Date", 90, top, 130, dots=True)
    pad.writing_line("operator", "Operator", 136, top, 192, dots=True)
    pad.text(18, top + 11, "Hour meter", 9)
    pad.comb("hours", "Hour meter", 38, top + 6, 6, (6.0, 7.0), "digits")
    pad.writing_line("site", "Location", 100, top + 11, 192, dots=True)
    first, pitch = (66.0, 7.5) if newer else (60.0, 7.2)
    columns = {"ok": 140.0, "defect": 160.0, "na": 180.0}
    for answer, words in (("ok", "OK"), ("defect", "DEFECT"), ("na", "N/A")):
        pad.centred(columns[answer] + 2.25, first - 2, words, 8, bold=True)
    names = items(22 if newer else 21)
    for k, name in enumerate(names):
        y = first + k * pitch
        pad.text(18, y + 3.6, f"{k + 1}.", 9)
        pad.text(26, y + 3.6, item(name), 9.5)
        pad.choice(name, item(name), [(a, Box(x, y, 4.5, 4.5)) for a, x in columns.items()], "box")
    y = first + len(names) * pitch + 7
    pad.text(18, y, "Defects / remarks", 9, bold=True)
    pad.bare_lines("remarks", 18, y + 9.5, 192, 3, 8)
    pad.writing_line("signature", "Signed", 18, y + 37, 100, high=9)
    pad.text(110, y + 37, "Hand this sheet in at the weighbridge.", 8)
    return pad.form("boxes-right", run)


def boxes_left(run: str) -> DrawnForm:
    """One box left of each item, items in two columns: a tick is good, a cross wants attention."""
    pad = Pad(*_LETTER, face="Times")
    pad.centred(108, 18, "Trebrack Lime", 20, bold=True)
    pad.centred(108, 25, "MOBILE EQUIPMENT PRE-SHIFT EXAMINATION", 12, bold=True)
    pad.line(15, 28, 201, 28, 0.6)
    pad.writing_line("date", "Date:", 15, 37, 70)
    pad.writing_line("unit", "Equipment #:", 78, 37, 138)
    pad.writing_line("hours", "Meter reading:", 146, 37, 201)
    pad.writing_line("operator", "Name (print):", 15, 46, 112)
    pad.writing_line("shift", "Shift:", 120, 46, 150)
    pad.text(
        15, 55, "Mark each box:   \u2013 or N/A = does not apply      X = needs attention      check mark = good", 9.5
    )
    names = items(36, start=3)
    for k, name in enumerate(names):
        x, y = 15.0 + 95 * (k // 18), 61 + 7.6 * (k % 18)
        pad.mark(f"item.{name}", item(name, 1), Box(x, y, 5, 5), "box")
        pad.text(x + 8, y + 3.9, item(name, 1), 11)
    pad.text(15, 206, "Describe anything marked X:", 10, bold=True)
    pad.bare_lines("remarks", 15, 216, 201, 4, 8.5)
    pad.writing_line("signature", "Operator's signature", 15, 258, 110, high=10)
    pad.writing_line("told", "Reported to", 118, 258, 201, high=10)
    pad.text(15, 268, "Printed by Pellgate Forms, stock no. 4471", 6.5)
    legend = {"tick": "ok", "cross": "defect", "dash": "na", "letters": "na"}
    return pad.form("boxes-left", run, legend)


def small_print(run: str) -> DrawnForm:
    """Forty-two long items in 6.5 pt over two columns, boxes of 3 mm in front of the words; combs in the head."""
    pad = Pad(*_A4)
    pad.rect(Box(10, 10, 190, 14), 0.4, shade=0.85)
    pad.text(13, 19, "QUILLANE QUARRY PRODUCTS  \u2013  VEHICLE AND PLANT INSPECTION RECORD", 12, bold=True)
    pad.text(12, 31, "Fleet no.", 7)
    pad.comb("unit", "Fleet no.", 25, 27, 5, (5.5, 6.5), "alnum")
    pad.text(60, 31, "Date  D D M M Y Y", 7)
    pad.comb("date", "Date", 84, 27, 6, (5.5, 6.5), "digits")
    pad.text(125, 31, "Hours", 7)
    pad.comb("hours", "Hours", 135, 27, 6, (5.5, 6.5), "digits")
    pad.writing_line("operator", "Driver", 12, 42, 90, high=7)
    pad.writing_line("site", "Face / haul road", 98, 42, 200, high=7)
    names = items(42, start=7, step=1)
    for side in (0, 1):
        x = 12.0 + 96 * side
        for j, words in enumerate(("OK", "Def", "N/A")):
            pad.centred(x + 1.5 + 7 * j, 49, words, 5.5)
        for k in range(21):
            name = names[side * 21 + k]
            y = 51 + 8.2 * k
            boxes = [(a, Box(x + 7 * j, y, 3.0, 3.0)) for j, a in enumerate(("ok", "defect", "na"))]
            pad.choice(name, item(name, 2), boxes, "box")
            pad.text(x + 22, y + 2.4, f"{side * 21 + k + 1:2d}  {item(name, 2)}", 6.5)
            pad.line(x, y + 5.6, x + 92, y + 5.6, 0.1)
    pad.text(12, 232, "Remarks", 7, bold=True)
    pad.rect(Box(12, 234, 188, 30), 0.25)
    pad.zone("remarks", "Remarks", Box(12, 234, 188, 30))
    pad.writing_line("signature", "Signature", 12, 278, 90, high=10)
    pad.text(98, 278, "White copy: workshop.  Yellow copy: stays in the book.", 6.5)
    return pad.form("small-print", run)
