"""Set E, forms drawn with reportlab or by hand: a dredger, a telehandler with its picture, a saw. All are invented."""

from __future__ import annotations

import io

import numpy as np

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.pad import Pad
from scanform.training.old_forms.unseen.by_hand import Sketch
from scanform.training.old_forms.wording import item, items

__all__ = ["chainsaw_table", "dredger_card", "telehandler_picture"]


def dredger_card(run: str) -> DrawnForm:
    """Dots from each point to one box at the right; header cells in one ruled strip, labels small at their feet."""
    pad = Pad(210.0, 297.0, face="Times")
    pad.text(20, 22, "Bucket dredger", 20, bold=True)
    pad.text(
        20, 29, "Mate's check before digging. Put a tick if right, a cross if wrong, a stroke if not on board.", 10
    )
    x = 20.0
    for field_id, label, wide in (
        ("unit", "Vessel", 45.0),
        ("date", "Date", 35.0),
        ("hours", "Main engine hours", 40.0),
        ("berth", "Berth", 25.0),
        ("weather", "Weather", 25.0),
    ):
        box = Box(x, 34, wide, 14)
        pad.rect(box, 0.4)
        pad.text(x + 1, 47.2, label, 6.5)
        pad.zone(field_id, label, Box(x + 1, 35, wide - 2, 9.6))
        x += wide
    for k, name in enumerate(items(22, start=13, step=5)):
        y = 56 + 8.0 * k
        end = pad.text(20, y + 4, f"{item(name)}", 11)
        pad.line(end + 2, y + 4, 176, y + 4, 0.3, dots=True)
        pad.mark(f"item.{name}", item(name), Box(180, y - 0.4, 6.0, 6.0), "box")
    pad.text(20, 239, "Wrong, and what was done", 10, bold=True)
    pad.bare_lines("remarks", 20, 248, 190, 3, 8)
    pad.writing_line("signature", "Mate's signature", 20, 280, 105, high=9)
    pad.writing_line("told", "Master informed", 110, 280, 190, high=9)
    legend = {"tick": "ok", "cross": "defect"}
    return pad.form("dredger-card", run, legend)


def telehandler_picture(run: str) -> DrawnForm:
    """Letter: a drawing of the machine in the middle, boxes for before and after at either side, codes explained."""
    pad = Pad(215.9, 279.4)
    pad.text(12, 16, "TELEHANDLER: OUT AND BACK", 14, bold=True)
    pad.text(12, 22, "G = good   S = scratched   B = broken   M = missing", 9)
    for field_id, label, x, end in (
        ("unit", "Machine no.", 12.0, 75.0),
        ("customer", "Customer", 80, 145),
        ("date", "Date out", 150, 204),
    ):
        pad.writing_line(field_id, label, x, 31, end)
    pad.writing_line("hours-out", "Hours out", 12, 40, 75)
    pad.writing_line("hours-back", "Hours back", 80, 40, 145)
    pad.writing_line("date-back", "Date back", 150, 40, 204)
    pad.rect(Box(78, 60, 60, 34), 0.6)
    pad.rect(Box(90, 66, 18, 18), 0.4)
    pad.line(78, 60, 138, 48, 1.0)
    for cx in (90, 126):
        for r in (8, 4):
            pad.ring(cx, 100, r, 0.6)
    names = items(24, start=1, step=5)
    for side, left in ((0, 12.0), (1, 144.0)):
        pad.centred(left + 42, 118, "OUT", 8, bold=True)
        pad.centred(left + 54, 118, "BACK", 8, bold=True)
        for k in range(12):
            name = names[12 * side + k]
            y = 121 + 8.4 * k
            pad.text(left, y + 4.4, item(name, 0), 10)
            for part, x in (("out", left + 39), ("back", left + 51)):
                pad.mark(f"item.{name}-{part}", item(name, 0), Box(x, y, 6.0, 6.0), "box")
    pad.text(12, 230, "Damage:", 10)
    pad.rect(Box(12, 232, 192, 20), 0.3)
    pad.zone("remarks", "Damage:", Box(12, 232, 192, 20))
    pad.writing_line("operator", "Checked out by", 12, 264, 100, high=9)
    pad.writing_line("signature", "Customer's signature", 106, 264, 204, high=9)
    return pad.form("telehandler-picture", run, {"G": "ok", "B": "defect", "M": "na"})


def chainsaw_table(run: str) -> DrawnForm:
    """A5: a table whose rules a hand drew, none quite level; three cells to a point, heads written over them."""
    rng = np.random.default_rng(9_790_003)
    sheet = Sketch(148.0, 210.0)
    sheet.text(12, 15, "CHAINSAWS & BRUSHCUTTERS", 13)
    for field_id, label, x, y, end in (("unit", "Saw no.", 12.0, 26.0, 60.0), ("date", "Date", 70, 26, 134)):
        sheet.text(x, y, label, 9)
        start = x + 2.2 * len(label)
        sheet.line(start, y + 1, end, y + 1)
        sheet.fields.append(FormField(field_id, "text", "rule", Box(start, y - 6, end - start, 7), label))
    sheet.text(12, 36, "Used by", 9)
    sheet.line(28, 37, 134, 37)
    sheet.fields.append(FormField("operator", "text", "rule", Box(28, 30, 106, 7), "Used by"))
    names = items(14, start=40, step=3)
    xs = [12.0, 92.0, 106.0, 120.0, 134.0]
    ys = [52.0 + 8.6 * k for k in range(len(names) + 1)]
    for y in ys:
        a, b = rng.normal(0, 0.12, 2)
        sheet.line(xs[0], y + a, xs[-1], y + b, 0.3)
    for x in xs:
        a, b = rng.normal(0, 0.12, 2)
        sheet.line(x + a, ys[0] - 0.2, x + b, ys[-1] + 0.2, 0.3)
    for words, x in (("good", 94), ("bad", 109), ("none", 122)):
        sheet.text(x, 50, words, 8)
    for k, name in enumerate(names):
        sheet.text(14, ys[k] + 5.8, item(name), 9.5)
        boxes = [(a, Box(xs[j], ys[k], 14.0, 8.6)) for a, j in (("ok", 1), ("defect", 2), ("na", 3))]
        whole = boxes[0][1].union(boxes[2][1])
        sheet.fields.append(FormField(f"item.{name}", "choice", "cell", whole, item(name), answers=tuple(boxes)))
    sheet.text(12, 180, "to do", 9)
    sheet.rect(Box(24, 176, 110, 14))
    sheet.fields.append(FormField("remarks", "text", "area", Box(24, 176, 110, 14), "to do"))
    sheet.text(12, 200, "sign", 9)
    sheet.line(24, 201, 80, 201)
    sheet.fields.append(FormField("signature", "signature", "rule", Box(24, 193, 56, 8), "sign"))
    stream = io.BytesIO()
    sheet.write(stream)
    return DrawnForm("chainsaw-table", run, stream.getvalue(), 148.0, 210.0, tuple(sheet.fields), {})
