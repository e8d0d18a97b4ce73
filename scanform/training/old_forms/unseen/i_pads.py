"""Set I, forms drawn with reportlab or typed: a hauler's pad, a paver, a port's tug, a quarry's screener.

All are invented.
"""

from __future__ import annotations

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import first_page
from scanform.training.old_forms.pad import Pad
from scanform.training.old_forms.unseen.points_i_plant import HAULER, PAVER, SCREENER
from scanform.training.old_forms.unseen.points_i_yard import TUG
from scanform.training.old_forms.unseen.roff import level_rules, typeset, upright_rules

__all__ = ["hauler_pad", "paver_columns", "screener_typed", "tug_grades"]

_THREE = ("ok", "defect", "na")


def hauler_pad(run: str) -> DrawnForm:
    """A stationer's pad: combs for fleet number, date and hours, two columns of numbered points with two boxes each."""
    pad = Pad(210.0, 297.0)
    pad.text(14, 20, "ARTICULATED DUMP TRUCK", 15, bold=True)
    pad.text(14, 26, "Daily pre-start check  -  top copy to plant office, book copy stays in cab", 9)
    pad.line(14, 29, 196, 29, 0.6)
    for x, words in ((14.0, "Fleet No."), (83.0, "Date (DD MM YY)"), (152.0, "Hour meter")):
        pad.text(x, 35, words, 9)
    pad.comb("unit", "Fleet No.", 14, 36.5, 6, (7.0, 8.0), "alnum")
    pad.comb("date", "Date (DD MM YY)", 83, 36.5, 6, (7.0, 8.0), "digits")
    pad.comb("hours", "Hour meter", 152, 36.5, 6, (7.0, 8.0), "digits")
    pad.writing_line("operator", "Operator", 14, 55, 100)
    pad.writing_line("site", "Site", 106, 55, 196)
    top, pitch, half = 70.0, 8.3, len(HAULER) // 2
    for column in range(2):
        left = 14.0 + 95.0 * column
        pad.centred(left + 68.5, top - 3, "OK", 8.5, bold=True)
        pad.centred(left + 80.5, top - 3, "Defect", 8.5, bold=True)
        for k, (name, words) in enumerate(HAULER[half * column : half * column + half]):
            y = top + pitch * k
            pad.text(left, y + 3.9, str(half * column + k + 1), 9.5)
            pad.text(left + 7, y + 3.9, words, 9.5)
            boxes = [(answer, Box(left + x, y, 5.0, 5.0)) for answer, x in (("ok", 66.0), ("defect", 78.0))]
            pad.choice(name, words, boxes, "box")
    end = top + pitch * half
    pad.text(14, end + 7, "Defects (give item number)", 9.5, bold=True)
    pad.bare_lines("remarks", 14, end + 17, 196, 5, 8.0)
    pad.writing_line("signature", "Operator's signature", 14, end + 62, 104, high=8)
    pad.writing_line("told", "Reported to", 110, end + 62, 196, high=8)
    return pad.form("hauler-pad", run)


def paver_columns(run: str) -> DrawnForm:
    """Landscape, three framed columns under headings, a box before each point; a framed area for remarks."""
    pad = Pad(297.0, 210.0)
    pad.rect(Box(12, 11, 273, 12), 0.4, shade=0.85)
    pad.text(16, 19, "ASPHALT PAVER DAILY INSPECTION", 14, bold=True)
    pad.text(240, 19, "Coolabarra Surfacing", 11)
    for y, places in (
        (33.0, (("unit", "Paver No.", 12.0, 84.0), ("date", "Date", 90.0, 142.0), ("site", "Site", 148.0, 285.0))),
        (43.0, (("operator", "Operator", 12.0, 84.0), ("screedman", "Screedman", 90.0, 172.0))),
    ):
        for field_id, label, x, right in places:
            pad.writing_line(field_id, label, x, y, right)
    pad.writing_line("hours-start", "Start hours", 178, 43, 230)
    pad.writing_line("hours-end", "Finish hours", 236, 43, 285)
    pad.text(12, 52, "Tick = OK        X = fault, write it below        N = not fitted", 9, bold=True)
    for column, (heading, points) in enumerate(PAVER.items()):
        left = 12.0 + 92.0 * column
        pad.rect(Box(left, 55, 89, 84), 0.4)
        pad.rect(Box(left, 55, 89, 7), 0.4, shade=0.85)
        pad.text(left + 3, 60, heading, 10, bold=True)
        for k, (name, words) in enumerate(points.items()):
            y = 64.5 + 8.2 * k
            pad.mark(f"item.{name}", words, Box(left + 4, y, 5.5, 5.5), "box")
            pad.text(left + 13, y + 4.2, words, 10)
    pad.text(12, 146, "Faults and comments", 9, bold=True)
    pad.rect(Box(12, 148, 273, 32), 0.4)
    pad.zone("remarks", "Faults and comments", Box(12, 148, 273, 32))
    pad.writing_line("signature", "Signed (operator)", 12, 194, 140, high=8)
    pad.writing_line("foreman", "Foreman", 150, 194, 285, high=8)
    return pad.form("paver-columns", run, {"tick": "ok", "cross": "defect", "N": "na"})


def tug_grades(run: str) -> DrawnForm:
    """A port's table in a serif face: four cells of an answer, parts under shaded bars; small labels in the header."""
    pad = Pad(210.0, 297.0, face="Times")
    pad.centred(105, 19, "TERMINAL TRACTOR CHECK SHEET", 16, bold=True)
    pad.centred(105, 25, "Pentarrow Docks Company  -  one sheet each shift", 10)
    rows = (
        (("unit", "Tractor no.", 45.0), ("date", "Date", 45.0), ("shift", "Shift", 35.0), ("hours", "Hours", 57.0)),
        (("operator", "Driver (print name)", 90.0), ("clock-no", "Clock no.", 35.0), ("berth", "Berth", 57.0)),
    )
    for r, row in enumerate(rows):
        x, y = 14.0, 30.0 + 12 * r
        for field_id, label, wide in row:
            pad.rect(Box(x, y, wide, 12), 0.2)
            pad.text(x + 1, y + 3.2, label, 7.5)
            pad.zone(field_id, label, Box(x + 1, y + 4, wide - 2, 7.6))
            x += wide
    left, first, wide, pitch, y = 14.0, 112.0, 21.0, 7.0, 58.0
    for part, points in TUG.items():
        pad.rect(Box(left, y, 182, pitch), 0.2, shade=0.9)
        pad.text(left + 2, y + 4.9, part, 10.5, bold=True)
        for j, head in enumerate(("OK", "Monitor", "Repair", "N/A")):
            pad.centred(first + (j + 0.5) * wide, y + 4.9, head, 9.5, bold=True)
        y += pitch
        for name, words in points.items():
            pad.rect(Box(left, y, first - left, pitch), 0.2)
            pad.text(left + 2, y + 4.9, words, 10.5)
            answers = [
                (answer, Box(first + j * wide, y, wide, pitch))
                for j, answer in enumerate(("ok", "monitor", "defect", "na"))
            ]
            for _, box in answers:
                pad.rect(box, 0.2)
            pad.choice(name, words, answers, "cell")
            y += pitch
    pad.text(left, y + 7, "Repairs needed:", 10.5, bold=True)
    pad.bare_lines("remarks", left, y + 15.5, 196, 2, 7.0)
    pad.writing_line("signature", "Driver's signature", left, y + 35, 104, high=8)
    pad.writing_line("foreman", "Shift foreman", 110, y + 35, 196, high=8)
    return pad.form("tug-grades", run)


def screener_typed(run: str) -> DrawnForm:
    """A boxed table from a terminal whose halves lie side by side, each with three cells; rules after each label."""
    size, half = (210.0, 297.0), len(SCREENER) // 2
    rows = "\n".join(
        f"{left}\t\t\t\t{right}\t\t\t" for (_, left), (_, right) in zip(SCREENER[:half], SCREENER[half:], strict=True)
    )
    document = f""".po 0.65i
.ll 7.0i
.nf
.fam H
.sp |0.7i
.ft B
.ps 15
MOBILE SCREENER - DAILY START-UP CHECK
.ps 10
.ft R
.vs 18
Gorsehill Sand and Gravel
.vs 26
Plant No. \\l'2.0i'  Date \\l'1.5i'  Hours \\l'1.5i'
Operator \\l'2.6i'  Pit / location \\l'2.4i'
.sp 0.4
.vs 22
.TS
allbox;
lB cB cB cB lB cB cB cB
lw(1.6i) cw(0.32i) cw(0.32i) cw(0.32i) lw(1.6i) cw(0.32i) cw(0.32i) cw(0.32i).
Check\tOK\tBad\tN/A\tCheck\tOK\tBad\tN/A
{rows}
.TE
.vs 24
What is bad, and what was done:
\\l'6.7i'
\\l'6.7i'
\\l'6.7i'
.sp 0.4
Signed \\l'2.6i'  Supervisor \\l'2.8i'
"""
    pdf = typeset(document, size)
    page = first_page(pdf)
    levels = level_rules(page)
    uprights = [(top, bottom, x) for top, bottom, x in upright_rules(page) if bottom - top > 50]
    top, bottom = min(t for t, _, _ in uprights), max(b for _, b, _ in uprights)
    xs = sorted({round(x, 2) for _, _, x in uprights})
    ys = sorted({round(y, 2) for _, _, y in levels if top - 0.5 < y < bottom + 0.5})
    labels = (
        ("unit", "Plant No."),
        ("date", "Date"),
        ("hours", "Hours"),
        ("operator", "Operator"),
        ("site", "Pit / location"),
        *((f"remarks.{k}", "What is bad, and what was done:") for k in (1, 2, 3)),
        ("signature", "Signed"),
        ("foreman", "Supervisor"),
    )
    rules = sorted((round(y), a, b, y) for a, b, y in levels if not top - 0.5 < y < bottom + 0.5)
    fields = []
    for (field_id, label), (_, start, end, y) in zip(labels, rules, strict=True):
        kind = "signature" if field_id == "signature" else "text"
        fields.append(FormField(field_id, kind, "rule", Box(start, y - 6.5, end - start, 6.5), label))
    for k, (name, words) in enumerate(SCREENER):
        row, column = k % half + 1, 1 + 4 * (k // half)
        boxes = [Box(xs[j], ys[row], xs[j + 1] - xs[j], ys[row + 1] - ys[row]) for j in range(column, column + 3)]
        whole = boxes[0].union(boxes[-1])
        answers = tuple(zip(_THREE, boxes, strict=True))
        fields.append(FormField(f"item.{name}", "choice", "cell", whole, words, answers=answers))
    return DrawnForm("screener-typed", run, pdf, *size, tuple(fields), {})
