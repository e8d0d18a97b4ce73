"""Set J, forms drawn with reportlab or typed: a haul truck, a mill's forklift, a bucket truck, light towers.

All are invented.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from reportlab.pdfbase.pdfmetrics import registerFont
from reportlab.pdfbase.ttfonts import TTFont

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import first_page
from scanform.training.old_forms.pad import Pad
from scanform.training.old_forms.unseen.points_j_roads import BUCKET_TRUCK, HAUL_TRUCK
from scanform.training.old_forms.unseen.points_j_yards import FORKLIFT, LIGHT_TOWER
from scanform.training.old_forms.unseen.roff import level_rules, typeset, upright_rules

__all__ = ["bucket_truck", "haul_truck", "light_tower_typed", "mill_forklift"]

_LIBERATION = Path("/usr/share/fonts/truetype/liberation")  # Debian's fonts-liberation-sans-narrow
_ANSWERS, _SHIFTS = ("ok", "defect", "na"), ("first", "second", "third")


def haul_truck(run: str) -> DrawnForm:
    """A stationer's pad: combs for truck, date and meter, boxes for the shift, two columns of three boxes each."""
    pad = Pad(215.9, 279.4)
    pad.text(14, 18, "HAUL TRUCK PRE-SHIFT INSPECTION", 15, bold=True)
    pad.text(14, 23.5, "Cold Ridge Aggregates", 9)
    pad.text(168, 18, "Form HT-4", 8)
    pad.text(14, 34.5, "Truck No.", 9)
    pad.comb("unit", "Truck No.", 30, 29, 4, (6.0, 8.0), "alnum")
    pad.text(62, 34.5, "Date", 9)
    _date_comb(pad, 71, 29)
    pad.text(125, 34.5, "Hour Meter", 9)
    pad.comb("hours", "Hour Meter", 145, 29, 7, (6.5, 8.0), "digits")
    pad.writing_line("operator", "Operator", 14, 49, 104)
    pad.writing_line("site", "Pit", 109, 49, 152)
    pad.text(157, 49, "Shift", 9)
    shifts = []
    for answer, x in (("day", 167.0), ("night", 183.0)):
        shifts.append((answer, Box(x, 45.3, 4.5, 4.5)))
        pad.rect(shifts[-1][1], 0.25)
        pad.text(x + 5.8, 49, answer.capitalize(), 9)
    whole = shifts[0][1].union(shifts[1][1])
    pad.fields.append(FormField("shift", "choice", "box", whole, "Shift", answers=tuple(shifts)))
    for left, sections in ((14.0, HAUL_TRUCK[0]), (111.0, HAUL_TRUCK[1])):
        y = 56.0
        for heading, points in sections.items():
            pad.rect(Box(left, y, 91, 6.6), 0.3, shade=0.82)
            pad.text(left + 1.5, y + 4.7, heading, 9.5, bold=True)
            for k, words in enumerate(("OK", "DEFECT", "N/A")):
                pad.centred(left + 60 + 13 * k, y + 4.6, words, 7.5, bold=True)
            y += 7.6
            for name, words in points.items():
                pad.text(left + 1.5, y + 4.6, words, 9.5)
                boxes = [(a, Box(left + 57.6 + 13 * k, y + 0.8, 4.8, 4.8)) for k, a in enumerate(_ANSWERS)]
                pad.choice(name, words, boxes, "box")
                pad.line(left, y + 7.2, left + 91, y + 7.2, 0.1)
                y += 7.6
            y += 1.4
    pad.text(14, 189, "Describe each defect:", 9, bold=True)
    pad.bare_lines("remarks", 14, 198, 202, 5, 8.0)
    pad.writing_line("signature", "Operator's signature", 14, 246, 112, high=8.5)
    pad.writing_line("told", "Reported to", 117, 246, 202, high=8.5)
    pad.writing_line("foreman", "Foreman's signature", 14, 259, 112, high=8.5)
    pad.writing_line("time-reported", "Time reported", 117, 259, 202, high=8.5)
    return pad.form("haul-truck", run)


def _date_comb(pad: Pad, x: float, y: float) -> None:
    """Month, day and year, two cells each, a stroke between them and what they are for below."""
    cells = []
    for k, words in enumerate(("MONTH", "DAY", "YEAR")):
        for _ in range(2):
            cells.append(Box(x, y, 6.0, 8.0))
            pad.rect(cells[-1], 0.2)
            x += 6.0
        pad.centred(x - 6.0, y + 10.6, words, 5.5)
        if k < 2:
            pad.text(x + 0.7, y + 6.0, "/", 13)
            x += 2.8
    pad.fields.append(FormField("date", "comb", "comb", cells[0].union(cells[-1]), "Date", tuple(cells), "digits"))


def mill_forklift(run: str) -> DrawnForm:
    """A day's three shifts beside each other, bare cells for a sign each; meter and initials of each shift below."""
    pad = Pad(215.9, 279.4, face="Times")
    pad.centred(108, 20, "FORKLIFT DAILY CHECK LIST", 16, bold=True)
    pad.centred(108, 26, "Grizzly Fork Lumber - Planer Mill and Shipping", 10.5)
    pad.writing_line("unit", "Forklift No.", 18, 38, 78)
    pad.writing_line("date", "Date", 83, 38, 132)
    pad.writing_line("site", "Area", 137, 38, 198)
    edges, top, pitch = (18.0, 27.0, 117.0, 144.0, 171.0, 198.0), 45.0, 7.3
    foot = (("hours-start", "Hour meter, start"), ("hours-end", "Hour meter, end"), ("initials", "Operator's initials"))
    last = len(FORKLIFT) + 1
    rows = last + len(foot)
    for x in edges:
        pad.line(x, top, x, top + (last if x == edges[1] else rows) * pitch, 0.35)
    for k in range(rows + 1):
        pad.line(edges[0], top + k * pitch, edges[-1], top + k * pitch, 0.7 if k in (0, 1, last, rows) else 0.2)
    pad.text(edges[1] + 2, top + 5, "Check at the start of the shift", 10.5, bold=True)
    for k, words in enumerate(("1st Shift", "2nd Shift", "3rd Shift"), start=2):
        pad.centred((edges[k] + edges[k + 1]) / 2, top + 5, words, 10.5, bold=True)
    for row, (name, words) in enumerate(FORKLIFT.items(), start=1):
        pad.centred((edges[0] + edges[1]) / 2, top + row * pitch + 5, str(row), 10.5)
        pad.text(edges[1] + 2, top + row * pitch + 5, words, 10.5)
        for k, shift in enumerate(_SHIFTS, start=2):
            box = Box(edges[k], top + row * pitch, edges[k + 1] - edges[k], pitch)
            pad.mark(f"item.{name}-{shift}", words, box, "cell")
    for row, (field_id, words) in enumerate(foot, start=last):
        pad.text(edges[0] + 2, top + row * pitch + 5, words, 10.5, bold=True)
        for k, shift in enumerate(_SHIFTS, start=2):
            box = Box(edges[k], top + row * pitch, edges[k + 1] - edges[k], pitch)
            pad.fields.append(FormField(f"{field_id}-{shift}", "text", "cell", box, words))
    below = top + rows * pitch
    pad.text(18, below + 5.5, "Check mark = OK     X = needs repair, see below     NA = does not apply", 10)
    pad.text(18, below + 13, "Repairs needed:", 10.5, bold=True)
    pad.bare_lines("remarks", 18, below + 21, 198, 3, 7.5)
    pad.writing_line("foreman", "Foreman", 18, below + 46, 104, high=7)
    pad.writing_line("mechanic", "Mechanic", 110, below + 46, 198, high=7)
    return pad.form("mill-forklift", run, {"tick": "ok", "cross": "defect", "letters": "na"})


def bucket_truck(run: str) -> DrawnForm:
    """A utility's card in a narrow type: labelled cells above, two columns with a box for a sign before every point."""
    for name, file in (("Narrow", "Regular"), ("Narrow-Bold", "Bold")):
        registerFont(TTFont(name, str(_LIBERATION / f"LiberationSansNarrow-{file}.ttf")))
    pad = Pad(215.9, 279.4, face="Narrow")
    pad.rect(Box(15, 13, 186, 14), 0.5)
    pad.text(19, 22, "BUCKET TRUCK DAILY INSPECTION", 17, bold=True)
    pad.text(140, 19, "Prairie Junction Electric Cooperative", 10)
    pad.text(140, 24, "Keep in truck, turn in every Friday", 9)
    _labelled(pad, 27, (("unit", "Truck #"), ("date", "Date"), ("odometer", "Odometer"), ("hours", "PTO hours")))
    _labelled(pad, 39, (("operator", "Operator"), ("site", "Work location")))
    pad.text(15, 58, "In every box:", 10.5, bold=True)
    pad.line(38, 56.4, 39, 57.8, 0.4)
    pad.line(39, 57.8, 41.2, 54.8, 0.4)
    pad.text(42.5, 58, "= good          X  = needs repair, explain below          NA  = not on this truck", 10.5)
    for left, sections in ((15.0, BUCKET_TRUCK[0]), (112.0, BUCKET_TRUCK[1])):
        y = 63.0
        for heading, points in sections.items():
            pad.text(left, y + 5, heading, 12, bold=True)
            pad.line(left, y + 6.6, left + 89, y + 6.6, 0.5)
            y += 8.5
            for name, words in points.items():
                pad.mark(f"item.{name}", words, Box(left, y, 9.0, 6.2), "box")
                pad.text(left + 12, y + 4.6, words, 11)
                y += 8.4
            y += 3
    pad.text(15, 189, "What needs repair", 10.5, bold=True)
    pad.rect(Box(15, 191, 186, 36), 0.25)
    pad.zone("remarks", "What needs repair", Box(15, 191, 186, 36))
    _labelled(pad, 231, (("signature", "Operator's signature"), ("told", "Reported to")), 14)
    _labelled(pad, 245, (("repaired-by", "Repaired by"), ("date-repaired", "Date repaired")), 14)
    return pad.form("bucket-truck", run, {"tick": "ok", "cross": "defect", "letters": "na"})


def _labelled(pad: Pad, y: float, cells: Sequence[tuple[str, str]], high: float = 12.0) -> None:
    """A row of equal cells as wide as the card, each with its label in the corner."""
    wide = 186.0 / len(cells)
    for k, (field_id, label) in enumerate(cells):
        x = 15 + k * wide
        pad.rect(Box(x, y, wide, high), 0.25)
        pad.text(x + 1, y + 3.2, label, 7.5)
        pad.zone(field_id, label, Box(x + 1, y + 4, wide - 2, high - 4.5))


def light_tower_typed(run: str) -> DrawnForm:
    """A4, from a branch overseas: typed, a boxed table of two lists beside each other; rules drawn after labels."""
    size = (210.0, 297.0)
    points = list(LIGHT_TOWER.items())
    half = len(points) // 2
    head = "Check\tPass\tFail\tN/A"
    rows = "\n".join(
        f"{left}\t\t\t\t{right}\t\t\t" for (_, left), (_, right) in zip(points[:half], points[half:], strict=True)
    )
    document = f""".fam H
.po 0.75i
.ll 6.8i
.nf
.sp |0.7i
.ft B
.ps 16
LIGHT TOWER CHECK-IN INSPECTION
.ps 10
.ft R
Bluestem Rentals International, Yard 3
.vs 26
Unit No. \\l'1.5i'  Date \\l'1.4i'  Hour Meter \\l'1.3i'
Technician \\l'2.2i'  Customer \\l'2.4i'
.sp 0.4
.vs 18
.TS
allbox;
lB cB cB cB lB cB cB cB
lw(1.6i) cw(0.32i) cw(0.32i) cw(0.32i) lw(1.6i) cw(0.32i) cw(0.32i) cw(0.32i).
{head}\t{head}
{rows}
.TE
.sp 0.6
Repairs or parts needed
.vs 24
\\l'6.7i'
\\l'6.7i'
\\l'6.7i'
\\l'6.7i'
.sp 0.5
Technician signature \\l'2.4i'  Yard foreman \\l'1.9i'
"""
    pdf = typeset(document, size)
    page = first_page(pdf)
    uprights = upright_rules(page)
    xs, (top, bottom, _) = sorted(x for _, _, x in uprights), uprights[0]
    levels = sorted(level_rules(page), key=lambda rule: (round(rule[2]), rule[0]))
    ys = [y for _, _, y in levels if top - 0.5 < y < bottom + 0.5]
    rules = [rule for rule in levels if rule[2] not in ys]
    labels: tuple[tuple[str, str], ...] = (
        ("unit", "Unit No."),
        ("date", "Date"),
        ("hours", "Hour Meter"),
        ("operator", "Technician"),
        ("customer", "Customer"),
    )
    labels += tuple((f"remarks.{k}", "Repairs or parts needed") for k in (1, 2, 3, 4))
    labels += (("signature", "Technician signature"), ("foreman", "Yard foreman"))
    fields = []
    for (field_id, label), (left, right, y) in zip(labels, rules, strict=True):
        kind = "signature" if field_id == "signature" else "text"
        fields.append(FormField(field_id, kind, "rule", Box(left, y - 6.5, right - left, 6.5), label))
    for k, (name, words) in enumerate(points):
        first, row = (1, k + 1) if k < half else (5, k - half + 1)
        cells = tuple(
            (answer, Box(xs[j], ys[row], xs[j + 1] - xs[j], ys[row + 1] - ys[row]))
            for j, answer in enumerate(_ANSWERS, start=first)
        )
        whole = cells[0][1].union(cells[2][1])
        fields.append(FormField(f"item.{name}", "choice", "cell", whole, words, answers=cells))
    return DrawnForm("light-tower-typed", run, pdf, *size, tuple(fields), {})
