"""Set H, forms from office programs and a typesetter: a coach, a rock drill, a landfill compactor. All are invented."""

from __future__ import annotations

from html import escape

from scanform.form.geometry import Box
from scanform.training.old_forms.calc import Cell, fods, grid_of
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted, first_page, glyph_boxes_on, leader
from scanform.training.old_forms.unseen.roff import level_rules, typeset
from scanform.training.old_forms.writer import fodt, paragraph, tab

__all__ = ["coach_three_blocks", "compactor_rings", "rock_drill_typed"]
_MM = 25.4 / 72

_COACH = {
    "tyres": "Tyres, wheels, markers",
    "doors": "Doors and flaps",
    "exits": "Emergency exits, hammers",
    "belts": "Passenger belts",
    "first-aid": "First aid box",
    "extinguisher": "Extinguisher",
    "lights": "Lights inside and out",
    "ramp": "Ramp or lift",
    "mirrors": "Mirrors",
    "wipers": "Wipers, washers",
    "horn": "Horn",
    "brakes": "Brakes, air pressure",
    "steering": "Steering",
    "tacho": "Tachograph",
    "leaks": "Leaks",
    "seats": "Seats fixed",
    "glass": "Glass",
    "exhaust": "Exhaust",
    "coolant": "Coolant",
    "oil": "Oil",
    "adblue": "Reagent",
    "heating": "Heating",
    "luggage": "Luggage straps",
    "clean": "Clean",
}
_COMPACTOR = {
    "teeth": "Wheel teeth and scrapers",
    "blade": "Blade and trunnions",
    "cab-filter": "Cab pressure and filter",
    "fire-system": "Fire suppression armed",
    "radiator": "Radiator screens blown out",
    "belly-guards": "Belly guards clear of rubbish",
    "oscillation": "Oscillation pins",
    "brakes": "Service and park brake",
    "camera": "Camera",
    "belt": "Belt",
    "alarm": "Reverse alarm",
    "glass": "Glass",
    "steps": "Steps",
}
_ROCK_DRILL = {
    "feed": "Feed beam, hoses, drum",
    "centralizer": "Centralizer jaws",
    "dust": "Dust hood curtain",
    "rods": "Rod carousel grippers",
    "compressor": "Compressor blow-down",
    "tracks": "Track frames",
    "stops": "Emergency stops, all",
    "winch": "Winch rope",
    "mast-lock": "Mast lock pins",
    "fuel": "Fuel, isolated",
    "lamps": "Work lamps",
    "cage": "Cage door cut-out",
}


def coach_three_blocks(run: str) -> DrawnForm:
    """Landscape sheet of three blocks, one narrow cell for each point; names of the rooms in the row over them."""
    margin, size = 11.0, (297.0, 210.0)
    block = (146.0, 40.0, 68.0)
    widths = block * 3
    top = (("unit", "Reg'n / fleet no."), ("date", "Date of duty"), ("odometer", "Km start"))
    second = (("operator", "Driver's full name"), ("site", "Garage"), ("duty-no", "Duty no."))
    names = list(_COACH.items())
    rows: list[tuple[float, list[Cell]]] = [
        (30, [Cell("Coach: first use check", "title", 9)]),
        (15, [Cell(label, "head", 3) for _, label in top]),
        (22, [Cell("", "ruled", 3) for _ in top]),
        (15, [Cell(label, "head", 3) for _, label in second]),
        (22, [Cell("", "ruled", 3) for _ in second]),
        (14, [Cell("Tick what is right. Put a cross where it is not, and say what is wrong.", "plain", 9)]),
        (18, [Cell(words, "head") for words in ("Look at", "\u2713 / X", "Fault") * 3]),
    ]
    for a, b, c in zip(names[:8], names[8:16], names[16:], strict=True):
        rows.append((20, [Cell(a[1]), Cell(), Cell(), Cell(b[1]), Cell(), Cell(), Cell(c[1]), Cell(), Cell()]))
    foot = len(rows)
    rows += [
        (14, [Cell("", "plain", 9)]),
        (15, [Cell(label, "head", 3) for label in ("Notes to workshop", "Driver signs", "Fitter signs off")]),
        (34, [Cell("", "ruled", 3) for _ in range(3)]),
    ]
    pdf = converted(fods(size, margin, widths, rows), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 1)
    fields = []
    for row, labels in ((2, top), (4, second)):
        for k, (field_id, label) in enumerate(labels):
            fields.append(FormField(field_id, "text", "cell", grid.box(row, 3 * k, 3 * k + 3), label))
    for k, (name, words) in enumerate(names):
        row, column = 7 + k % 8, 1 + 3 * (k // 8)
        fields.append(FormField(f"item.{name}", "mark", "cell", grid.box(row, column, column + 1), words))
    for k, (field_id, label) in enumerate(
        (("remarks", "Notes to workshop"), ("signature", "Driver signs"), ("fitter", "Fitter signs off"))
    ):
        kind = "signature" if field_id == "signature" else "text"
        fields.append(FormField(field_id, kind, "cell", grid.box(foot + 2, 3 * k, 3 * k + 3), label))
    return DrawnForm("coach-three-blocks", run, pdf, *size, tuple(fields), {"tick": "ok", "cross": "defect"})


def compactor_rings(run: str) -> DrawnForm:
    """A letter with ring characters, two at the left of each point under Y and N."""
    size = (215.9, 279.4)
    ring = '<text:span text:style-name="g">\u25cb</text:span>'
    points = "".join(
        f'<text:p text:style-name="i"><text:tab/>{ring}<text:tab/>{ring}<text:tab/>{escape(words)}</text:p>'
        for words in _COMPACTOR.values()
    )
    body = (
        '<text:p text:style-name="h">Landfill compactor, pre-operation</text:p>'
        '<text:p text:style-name="f">Machine ID / call sign:<text:tab/><text:tab/>Dte:<text:tab/></text:p>'
        '<text:p text:style-name="f">Engine hour reading:<text:tab/><text:tab/>Shift A/B/C:<text:tab/></text:p>'
        '<text:p text:style-name="f">Working area:<text:tab/><text:tab/>Operative:<text:tab/></text:p>'
        '<text:p text:style-name="c"><text:tab/>Y<text:tab/>N<text:tab/>Fit for work?</text:p>'
        f"{points}"
        '<text:p text:style-name="f">Comments:<text:tab/><text:tab/></text:p>'
        '<text:p text:style-name="f">I have checked this machine (signature):<text:tab/><text:tab/></text:p>'
        '<text:p text:style-name="f">Line manager:<text:tab/><text:tab/></text:p>'
    )
    leaders = tab(104, "_") + tab(112) + tab(183, "_")
    styles = (
        paragraph("h", 17, 0, bold=True)
        + paragraph("f", 11, 3.6, leaders)
        + paragraph("c", 10, 5.0, tab(11) + tab(25) + tab(40), bold=True)
        + paragraph("i", 11, 1.8, tab(10) + tab(24) + tab(40))
    )
    pdf = converted(fodt(body, styles, size), ".fodt")
    page = first_page(pdf)
    labels = (
        ("unit", "Machine ID / call sign:"),
        ("date", "Dte:"),
        ("hours", "Engine hour reading:"),
        ("shift", "Shift A/B/C:"),
        ("site", "Working area:"),
        ("operator", "Operative:"),
        ("remarks", "Comments:"),
        ("signature", "I have checked this machine (signature):"),
        ("foreman", "Line manager:"),
    )
    fields = []
    for field_id, label in labels:
        kind = "signature" if field_id == "signature" else "text"
        fields.append(FormField(field_id, kind, "rule", leader(page, label, 7.0, "_"), label))
    boxes = glyph_boxes_on(page, "\u25cb")
    for (name, words), yes, no in zip(_COMPACTOR.items(), boxes[::2], boxes[1::2], strict=True):
        own = (("ok", yes), ("defect", no))
        fields.append(FormField(f"item.{name}", "choice", "glyph", yes.union(no), words, answers=own))
    return DrawnForm("compactor-rings", run, pdf, *size, tuple(fields), {})


def rock_drill_typed(run: str) -> DrawnForm:
    """A typewriter's page: round brackets before OK, REP and N/F, their meanings told over the list."""
    size = (210.0, 297.0)
    rows = "\n".join(f"{words}\t(   ) OK   (   ) REP   (   ) N/F" for words in _ROCK_DRILL.values())
    document = f""".po 2c
.ll 17c
.nf
.sp |2c
.ps 13
.ft CB
ROCK DRILL - SHIFT REPORT
.ps 10
.ft CR
.vs 22
DRILL REG. \\l'5c'  SHIFT DATE \\l'4c'
NAME OF CHECKER \\l'5c'  CREW \\l'3c'
PERC. HRS (START) \\l'3c'  BENCH NO. \\l'4c'
.vs 14
.sp 0.6
OK = FIT TO RUN   REP = REPAIR   N/F = NOT FITTED
.vs 20
.sp 0.4
.ta 8c
{rows}
.vs 22
.sp 0.4
REMARKS
\\l'17c'
\\l'17c'
CHECKER'S SIGNATURE \\l'5c'  SHIFTBOSS \\l'4c'
"""
    pdf = typeset(document, size)
    page = first_page(pdf)
    rules = sorted((round(y), left, right, y) for left, right, y in level_rules(page) if right - left > 15)
    labels: tuple[tuple[str, str], ...] = (
        ("unit", "DRILL REG."),
        ("date", "SHIFT DATE"),
        ("operator", "NAME OF CHECKER"),
        ("shift", "CREW"),
        ("hours", "PERC. HRS (START)"),
        ("site", "BENCH NO."),
    )
    labels += (("remarks.1", ""), ("remarks.2", ""), ("signature", "CHECKER'S SIGNATURE"), ("foreman", "SHIFTBOSS"))
    fields = []
    for (field_id, label), (_, left, right, y) in zip(labels, rules, strict=True):
        kind = "signature" if field_id == "signature" else "text"
        fields.append(FormField(field_id, kind, "rule", Box(left, y - 6.5, right - left, 6.5), label))
    opening = sorted(
        (c for c in page.chars if c["text"] == "(" and c["matrix"][4] > 250),
        key=lambda c: (-round(c["matrix"][5]), c["x0"]),
    )
    for k, (name, words) in enumerate(_ROCK_DRILL.items()):
        own = []
        for answer, sign in zip(("ok", "defect", "na"), opening[3 * k : 3 * k + 3], strict=True):
            base, wide = (float(page.height) - sign["matrix"][5]) * _MM, sign["size"] * 0.6 * _MM
            left = sign["matrix"][4] * _MM + wide
            own.append((answer, Box(left, base - 0.76 * sign["size"] * _MM, 3 * wide, 0.98 * sign["size"] * _MM)))
        whole = own[0][1].union(own[2][1])
        fields.append(FormField(f"item.{name}", "choice", "bracket", whole, words, answers=tuple(own)))
    return DrawnForm("rock-drill-typed", run, pdf, *size, tuple(fields), {})
