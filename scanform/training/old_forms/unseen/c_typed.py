"""Set C, forms typed or drawn by whoever had the time: a loader's in groff, a tipper's by hand. All are invented."""

from __future__ import annotations

import io

import numpy as np

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import first_page
from scanform.training.old_forms.unseen.by_hand import Sketch
from scanform.training.old_forms.unseen.points_c import TIPPER
from scanform.training.old_forms.unseen.roff import level_rules, typeset, upright_rules
from scanform.training.old_forms.wording import item, items

__all__ = ["loader_typeset", "tipper_by_hand"]


def loader_typeset(run: str) -> DrawnForm:
    """A boxed table from a terminal: item, OK, Not OK, remark; rules to write on are drawn after each label."""
    size = (215.9, 279.4)
    names = items(24, start=9, step=5)
    rows = "\n".join(f"{k}\t{item(name)}\t\t\t" for k, name in enumerate(names, start=1))
    document = f""".po 0.7i
.ll 7.1i
.nf
.sp |0.6i
.ft B
.ps 14
PRE-OPERATION CHECK, WHEEL LOADERS
.ps 10
.ft R
Stonehope Aggregates   -   file in the green binder
.vs 24
Machine ID \\l'1.5i'  Date \\l'1.3i'  Meter reading \\l'1.4i'
Employee \\l'2.4i'  Shift (D/N) \\l'0.7i'
.sp 0.3
.vs 17
.TS
allbox;
cB cB cB cB cB
n l c c lw(2.3i).
No.\tCheck\tOK\tNot OK\tRemark
{rows}
.TE
.vs 24
Employee signature \\l'2.4i'  Given to \\l'1.9i'
"""
    pdf = typeset(document, size)
    page = first_page(pdf)
    levels, uprights = level_rules(page), upright_rules(page)
    ys = sorted({round(y, 2) for left, right, y in levels if right - left > 120})
    xs = sorted({round(x, 2) for top, bottom, x in uprights if bottom - top > 100})
    short = [(left, right, y) for left, right, y in levels if right - left < 100]
    labels: tuple[tuple[str, str], ...] = (
        ("unit", "Machine ID"),
        ("date", "Date"),
        ("hours", "Meter reading"),
        ("operator", "Employee"),
    )
    labels += (("shift", "Shift (D/N)"), ("signature", "Employee signature"), ("told", "Given to"))
    fields = []
    for (field_id, label), (left, right, y) in zip(labels, sorted(short, key=_reading_order), strict=True):
        kind = "signature" if field_id == "signature" else "text"
        fields.append(FormField(field_id, kind, "rule", Box(left, y - 6, right - left, 6), label))
    for k, name in enumerate(names, start=1):
        high = ys[k + 1] - ys[k]
        cells = [(a, Box(xs[j], ys[k], xs[j + 1] - xs[j], high)) for a, j in (("ok", 2), ("defect", 3))]
        whole = cells[0][1].union(cells[1][1])
        fields.append(FormField(f"item.{name}", "choice", "cell", whole, item(name), answers=tuple(cells)))
    return DrawnForm("loader-typeset", run, pdf, *size, tuple(fields), {})


def _reading_order(rule: tuple[float, float, float]) -> tuple[int, float]:
    left, _, y = rule
    return round(y), left


def tipper_by_hand(run: str) -> DrawnForm:
    """A5, drawn with a mouse: no box quite where its neighbour is, labels under lines, boxes after words."""
    rng = np.random.default_rng(9_790_001)
    sheet = Sketch(148.0, 210.0)
    sheet.text(10, 14, "TIPPER CHECK", 15)
    sheet.text(10, 20, "Gosforth & Daughter, muckaway - one sheet per lorry per day", 7.5)
    for field_id, label, x, y, end in (
        ("unit", "lorry reg", 10.0, 32.0, 48.0),
        ("date", "date", 54, 32, 92),
        ("odometer", "miles", 98, 32, 138),
        ("operator", "driver", 10, 45, 80),
        ("trailer", "trailer", 86, 45, 138),
    ):
        sheet.line(x, y, end, y)
        sheet.text(x, y + 3.6, label, 7.5)
        sheet.fields.append(FormField(field_id, "text", "rule", Box(x, y - 7, end - x, 7), label))
    sheet.text(51, 57, "ok", 8.5)
    sheet.text(61, 57, "bad", 8.5)
    sheet.text(121, 57, "ok", 8.5)
    sheet.text(131, 57, "bad", 8.5)
    for k, (name, words) in enumerate(TIPPER.items()):
        left, y = 10.0 + 70 * (k // 8), 60.0 + 9.5 * (k % 8)
        sheet.text(left, y + 4.2, words, 10)
        boxes = []
        for answer, at in (("ok", 41.0), ("defect", 51.0)):
            x0, y0, w, h = rng.normal([left + at, y, 5.5, 5.2], [0.35, 0.35, 0.15, 0.15])
            boxes.append((answer, Box(float(x0), float(y0), float(w), float(h))))
            sheet.rect(boxes[-1][1])
        whole = boxes[0][1].union(boxes[1][1])
        sheet.fields.append(FormField(f"item.{name}", "choice", "box", whole, words, answers=tuple(boxes)))
    sheet.text(10, 142, "What's wrong:", 9)
    sheet.rect(Box(10, 144, 128, 30))
    sheet.fields.append(FormField("remarks", "text", "area", Box(10, 144, 128, 30), "What's wrong:"))
    sheet.line(10, 190, 70, 190)
    sheet.text(10, 193.6, "driver's signature", 7.5)
    sheet.fields.append(FormField("signature", "signature", "rule", Box(10, 181, 60, 9), "driver's signature"))
    sheet.line(80, 190, 138, 190)
    sheet.text(80, 193.6, "seen by yard", 7.5)
    sheet.fields.append(FormField("seen-by-yard", "text", "rule", Box(80, 181, 58, 9), "seen by yard"))
    stream = io.BytesIO()
    sheet.write(stream)
    return DrawnForm("tipper-by-hand", run, stream.getvalue(), 148.0, 210.0, tuple(sheet.fields), {})
