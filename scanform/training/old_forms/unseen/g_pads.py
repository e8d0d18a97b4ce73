"""Set G, forms drawn with reportlab and by hand: a lorry driver's pad, a water cart's card. Both are invented."""

from __future__ import annotations

import io

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.pad import Pad
from scanform.training.old_forms.unseen.by_hand import Sketch
from scanform.training.old_forms.unseen.points_g import LORRY, WATER_CART

__all__ = ["lorry_pad", "water_cart_lamps"]


def lorry_pad(run: str) -> DrawnForm:
    """A5 pad: three columns of points with one small box after each; date boxes in pairs with strokes between."""
    pad = Pad(148.0, 210.0)
    pad.rect(Box(8, 8, 132, 12), 0.5)
    pad.text(11, 16, "DRIVER'S DAILY DEFECT PAD", 13, bold=True)
    pad.text(108, 16, "No. 004317", 9)
    pad.text(10, 27, "Reg. mark", 8)
    pad.comb("unit", "Reg. mark", 28, 22, 7, (5.2, 7.0), "alnum")
    pad.text(74, 27, "Date", 8)
    cells = []
    for k in range(6):
        cells.append(Box(84 + 5.2 * k + 3.4 * (k // 2), 22, 5.2, 7.0))
        pad.rect(cells[-1], 0.2)
    for k in (0, 1):
        pad.text(84 + 10.4 + 13.8 * k + 1.1, 27.3, "/", 11)
    whole = cells[0].union(cells[-1])
    pad.fields.append(FormField("date", "comb", "comb", whole, "Date", tuple(cells), "digits"))
    pad.text(10, 37, "Odo. (km)", 8)
    pad.comb("odometer", "Odo. (km)", 28, 32, 7, (5.2, 7.0), "digits")
    pad.text(74, 37, "Trailer", 8)
    pad.rect(Box(86, 32, 54, 7.0), 0.2)
    pad.zone("trailer", "Trailer", Box(86, 32, 54, 7.0))
    pad.text(10, 46, "Tick each box when checked. Cross it if there is a defect.", 8)
    for k, (name, words) in enumerate(LORRY.items()):
        x, y = 10.0 + 45.0 * (k // 7), 51.0 + 8.5 * (k % 7)
        pad.text(x, y + 3.6, words, 8)
        box = Box(x + 35, y, 4.6, 4.6)
        pad.mark(f"item.{name}", words, box, "box")
    pad.text(10, 118, "Defects (write NIL if none)", 8, bold=True)
    pad.bare_lines("remarks", 10, 126, 138, 4, 8.0)
    pad.text(10, 160, "Put right by", 8)
    pad.line(30, 160.8, 78, 160.8)
    pad.zone("put-right-by", "Put right by", Box(30, 154, 48, 6.8))
    pad.text(82, 160, "on", 8)
    pad.line(88, 160.8, 138, 160.8)
    pad.zone("put-right-on", "on", Box(88, 154, 50, 6.8))
    pad.rect(Box(10, 168, 62, 16), 0.25)
    pad.text(12, 172, "Driver (block letters)", 6)
    pad.zone("operator", "Driver (block letters)", Box(10, 168, 62, 16))
    pad.rect(Box(76, 168, 62, 16), 0.25)
    pad.text(78, 172, "Driver's signature", 6)
    pad.zone("signature", "Driver's signature", Box(76, 168, 62, 16))
    pad.text(10, 192, "White copy: workshop. Yellow copy stays in the cab.", 7)
    return pad.form("lorry-pad", run, {"tick": "ok", "cross": "defect"})


def water_cart_lamps(run: str) -> DrawnForm:
    """Three rings like lamps at every point with G, A or R printed in each; rooms ruled with their names beneath."""
    sheet = Sketch(210.0, 297.0, "Liberation Sans")
    sheet.text(20, 24, "WATER CART", 20)
    sheet.text(20, 31, "colour in one lamp: G go, A watch it, R do not drive", 10)
    for field_id, label, x, y, wide in (
        ("unit", "fleet #", 20.0, 46.0, 50.0),
        ("date", "d / m / y", 80, 46, 50),
        ("hours", "hrs", 140, 46, 50),
        ("operator", "driver", 20, 62, 80),
        ("site", "haul road / area", 110, 62, 80),
    ):
        sheet.line(x, y, x + wide, y, 0.3)
        sheet.text(x, y + 3.6, label, 8)
        sheet.fields.append(FormField(field_id, "text", "rule", Box(x, y - 8, wide, 8), label))
    for k, (name, words) in enumerate(WATER_CART.items()):
        y = 84.0 + 11.0 * k
        sheet.text(20, y + 1.5, words, 12)
        answers = []
        for answer, letter, x in (("ok", "G", 150.0), ("watch", "A", 164.0), ("defect", "R", 178.0)):
            sheet.ring(x, y, 4.2, 0.35)
            sheet.text(x - 1.3, y + 1.3, letter, 10)
            answers.append((answer, Box(x - 4.2, y - 4.2, 8.4, 8.4)))
        whole = answers[0][1].union(answers[2][1])
        sheet.fields.append(FormField(f"item.{name}", "choice", "box", whole, words, answers=tuple(answers)))
    sheet.text(20, 234, "if A or R, why:", 10)
    for k in range(2):
        y = 244.0 + 9 * k
        sheet.line(20, y, 190, y, 0.3)
        sheet.fields.append(FormField(f"remarks.{k + 1}", "text", "rule", Box(20, y - 8.5, 170, 8.5)))
    sheet.line(20, 274, 90, 274, 0.3)
    sheet.text(20, 277.6, "sign here", 8)
    sheet.fields.append(FormField("signature", "signature", "rule", Box(20, 265, 70, 9), "sign here"))
    sheet.line(110, 274, 190, 274, 0.3)
    sheet.text(110, 277.6, "leading hand", 8)
    sheet.fields.append(FormField("foreman", "text", "rule", Box(110, 265, 80, 9), "leading hand"))
    stream = io.BytesIO()
    sheet.write(stream)
    return DrawnForm("water-cart-lamps", run, stream.getvalue(), 210.0, 297.0, tuple(sheet.fields), {})
