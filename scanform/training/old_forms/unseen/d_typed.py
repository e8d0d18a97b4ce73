"""Set D, forms typed or drawn by whoever had the time: a ferry ramp's in groff, a pump's by hand. All are invented."""

from __future__ import annotations

import io

import numpy as np

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import first_page
from scanform.training.old_forms.unseen.by_hand import Sketch
from scanform.training.old_forms.unseen.roff import level_rules, typeset
from scanform.training.old_forms.wording import item, items

__all__ = ["pump_by_hand", "ramp_typeset"]
_MM = 25.4 / 72


def ramp_typeset(run: str) -> DrawnForm:
    """Two columns of points in a typewriter's letters, brackets before each; what is written goes on rules."""
    size = (210.0, 297.0)
    names = items(28, start=18, step=5)
    half = len(names) // 2
    rows = "\n".join(f"[   ]  {item(a)}\t[   ]  {item(b)}" for a, b in zip(names[:half], names[half:], strict=True))
    document = f""".po 1.8c
.ll 17.5c
.nf
.sp |1.6c
.ps 13
.ft CB
FERRY RAMP AND LINKSPAN - DAILY
.ps 10
.ft CR
.vs 22
RAMP \\l'4c'  DATE \\l'4c'
TIME \\l'3c'  TIDE \\l'3c'
CHECKED BY \\l'6c'
.vs 16
.sp 0.5
X = OK      O = FAULT, REPORT IT      - = NOT CHECKED
.sp 0.5
.vs 19
.ta 9c
{rows}
.vs 22
.sp 0.5
FAULTS AND WHAT WAS DONE
\\l'17c'
\\l'17c'
\\l'17c'
SIGNED \\l'6c'  HARBOUR MASTER \\l'5c'
"""
    pdf = typeset(document, size)
    page = first_page(pdf)
    rules = sorted((round(y), left, right, y) for left, right, y in level_rules(page) if right - left > 15)
    labels: tuple[tuple[str, str], ...] = (
        ("unit", "RAMP"),
        ("date", "DATE"),
        ("time", "TIME"),
        ("tide", "TIDE"),
        ("operator", "CHECKED BY"),
    )
    labels += (("remarks.1", ""), ("remarks.2", ""), ("remarks.3", ""), ("signature", "SIGNED"))
    labels += (("harbour-master", "HARBOUR MASTER"),)
    fields = []
    for (field_id, label), (_, left, right, y) in zip(labels, rules, strict=True):
        kind = "signature" if field_id == "signature" else "text"
        fields.append(FormField(field_id, kind, "rule", Box(left, y - 6.5, right - left, 6.5), label))
    opening = sorted((c for c in page.chars if c["text"] == "["), key=lambda c: (c["x0"] > 250, -c["matrix"][5]))
    for name, sign in zip(names, opening, strict=True):
        base, wide = (float(page.height) - sign["matrix"][5]) * _MM, sign["size"] * 0.6 * _MM
        left = sign["matrix"][4] * _MM + wide
        # From one bracket's advance to the other's; as high as a letter of this size.
        box = Box(left, base - 0.76 * sign["size"] * _MM, 3 * wide, 0.98 * sign["size"] * _MM)
        fields.append(FormField(f"item.{name}", "mark", "bracket", box, item(name)))
    return DrawnForm("ramp-typeset", run, pdf, *size, tuple(fields), {"cross": "ok", "O": "defect", "dash": "na"})


def pump_by_hand(run: str) -> DrawnForm:
    """Rings to tick, each with its word under it; labels over the rooms, that are boxes with one corner missing."""
    rng = np.random.default_rng(9_790_002)
    sheet = Sketch(215.9, 279.4, "Nimbus Sans")
    sheet.text(20, 22, "Dewatering pump - look it over", 17)
    sheet.line(20, 25, 196, 25, 0.8)
    for field_id, label, x, y, wide in (
        ("unit", "Pump", 20.0, 32.0, 40.0),
        ("date", "Date", 66, 32, 40),
        ("hours", "Run hours", 112, 32, 40),
        ("site", "Sump", 158, 32, 38),
        ("operator", "Who looked", 20, 50, 86),
        ("discharge-pressure", "Discharge pressure", 112, 50, 84),
    ):
        sheet.text(x, y, label, 8)
        sheet.rounded(Box(x, y + 1.5, wide, 9), 2.0)
        sheet.fields.append(FormField(field_id, "text", "area", Box(x, y + 1.5, wide, 9), label))
    names = items(15, start=14, step=11)
    for k, name in enumerate(names):
        y = 72.0 + 9.6 * k
        sheet.text(20, y + 1.4, f"{k + 1}", 10)
        sheet.text(28, y + 1.4, item(name), 11)
        sheet.line(20, y + 5.4, 196, y + 5.4, 0.15, ":")
        answers = []
        for answer, word, x in (("ok", "good", 140.0), ("defect", "poor", 160.0), ("na", "n/a", 180.0)):
            cx, cy = float(x + rng.normal(0, 0.25)), float(y - 1 + rng.normal(0, 0.2))
            sheet.ring(cx, cy, 2.6)
            sheet.text(cx - 2.6, cy + 5.2, word, 6)
            answers.append((answer, Box(cx - 2.6, cy - 2.6, 5.2, 5.2)))
        whole = answers[0][1].union(answers[2][1])
        sheet.fields.append(FormField(f"item.{name}", "choice", "box", whole, item(name), answers=tuple(answers)))
    sheet.text(20, 222, "Tell the shift boss about:", 10)
    for k in range(3):
        y = 231.0 + 8 * k
        sheet.line(20, y, 196, y, 0.25)
        sheet.fields.append(FormField(f"remarks.{k + 1}", "text", "rule", Box(20, y - 7.5, 176, 7.5)))
    sheet.line(20, 262, 90, 262, 0.25)
    sheet.text(20, 265.5, "signature", 7.5)
    sheet.fields.append(FormField("signature", "signature", "rule", Box(20, 253, 70, 9), "signature"))
    stream = io.BytesIO()
    sheet.write(stream)
    return DrawnForm("pump-by-hand", run, stream.getvalue(), 215.9, 279.4, tuple(sheet.fields), {})
