"""Set H, forms in HTML, from reportlab and by hand: a bucket truck, a concrete pump, a barge crane, a quad bike.

All are invented.
"""

from __future__ import annotations

import io
from html import escape

import numpy as np

from scanform.form import DAYS
from scanform.form.geometry import Box
from scanform.training.old_forms.chromium import printed_form
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.html_parts import answers, marked
from scanform.training.old_forms.pad import Pad
from scanform.training.old_forms.unseen.by_hand import Sketch

__all__ = ["barge_crane_strip", "bucket_truck_buttons", "concrete_pump_card", "quad_by_hand"]

_BUCKET_TRUCK = {
    "boom": "Boom, pins and welds",
    "liner": "Bucket liner, no cracks",
    "lanyard": "Lanyard anchor and harness",
    "outriggers": "Outriggers and pads",
    "lower-controls": "Lower controls override",
    "upper-controls": "Upper controls, dead man",
    "insulator": "Insulating section wiped clean",
    "hydraulics": "Hydraulic lines and rotary joint",
    "tyres": "Tires and lug nuts",
    "lamps": "Strobe, arrow board, lamps",
    "chocks": "Wheel chocks on board",
    "cones": "Cones and signs on board",
    "rescue": "Rescue kit",
    "radio": "Radio heard by dispatch",
}
_CONCRETE_PUMP = {
    "hopper": "Hopper grate locked",
    "agitator": "Agitator stops with the grate",
    "pipes": "Delivery pipe wall measured",
    "clamps": "Clamps pinned",
    "end-hose": "End hose and safety chain",
    "boom-joints": "Boom joints",
    "legs": "Legs, pads, timber",
    "remote": "Radio remote and its stop",
    "water": "Wash-out water",
    "oil": "Oils",
    "bolts": "Slew bolts",
    "overhead": "Overhead lines kept clear of",
}
_BARGE_CRANE = {
    "pawl": "Boom pawl",
    "wires": "Hoist and boom wires",
    "sheaves": "Sheaves and keepers",
    "block": "Block and hook",
    "swing-lock": "Swing lock",
    "list-gauge": "List gauge",
    "tie-down": "Tie-downs",
    "fire-pump": "Fire pump",
    "bilge": "Bilge dry",
    "anchor-lights": "Anchor lights",
    "ring-buoys": "Ring buoys",
    "gangway": "Gangway",
}
_QUAD = {
    "throttle": "throttle springs back",
    "brakes": "brakes, both levers",
    "tyres": "tyre pressures",
    "bars": "roll bar",
    "racks": "racks tight",
    "chain": "chain or shaft",
    "lights": "lights",
    "fuel": "fuel",
    "helmet": "helmet carried",
    "oil": "oil",
}


def bucket_truck_buttons(run: str) -> DrawnForm:
    """Two cells that touch at the end of every row, their word in each, one to be struck through; a frame in colour."""
    css = """body { font: 10pt 'Nimbus Sans' } .page { padding: 12mm 14mm } h1 { font-size: 15pt; margin: 0 0 3mm }
    .o { border: 0.5mm solid #246; border-radius: 3mm; padding: 4mm 5mm } .g { display: grid; grid-template-columns:
    1fr 1fr; gap: 3mm 8mm } .g div { display: flex; align-items: flex-end; gap: 2mm } .g i { flex: 1; height: 7mm;
    border-bottom: 0.4mm solid #246 } .r { display: flex; align-items: center; height: 9mm; border-bottom: 0.1mm solid
    #9ab } .r p { flex: 1; margin: 0 } .b { display: flex } .b span { width: 16mm; height: 6.4mm; border: 0.25mm solid
    #246; font-size: 8pt; text-align: center; line-height: 5.8mm } .b span + span { border-left: 0 } .n { border: 0.4mm
    solid #246; height: 24mm }"""

    def line(field_id: str, label: str) -> str:
        return f"<div>{label}<i {marked(field_id, 'text', 'rule', label)}></i></div>"

    rows = []
    for name, words in _BUCKET_TRUCK.items():
        cells = "".join(answers(name, words, "cell", ("PASS", "FAIL"), "<span {at}>{word}</span>"))
        rows.append(f'<div class="r"><p>{escape(words)}</p><div class="b">{cells}</div></div>')
    body = (
        "<h1>AERIAL BUCKET TRUCK &ndash; BEFORE FIRST LIFT</h1><div class='o'><div class='g'>"
        + line("unit", "Truck unit #")
        + line("date", "Work date")
        + line("operator", "Completed by (print name)")
        + line("hours", "PTO hours")
        + line("site", "Job location")
        + line("odometer", "Odometer reading")
        + f"</div></div><div style='margin:3mm 0 1mm'>Strike through what is not true.</div>{''.join(rows)}"
        + "<div style='margin-top:3mm'>Items needing attention</div>"
        + f"<div class='n' {marked('remarks', 'text', 'area', 'Items needing attention')}></div>"
        + "<div class='g' style='margin-top:4mm'>"
        + line("signature", "Signature of lineman")
        + line("foreman", "Crew leader")
        + "</div>"
    )
    return printed_form("bucket-truck-buttons", run, (215.9, 279.4), css, body)


def concrete_pump_card(run: str) -> DrawnForm:
    """A5, two columns of cards: three rings under each point's words, each before its answer."""
    css = """body { font: 9pt 'DejaVu Sans' } .page { padding: 8mm 9mm } h1 { font-size: 12pt; margin: 0 0 2mm }
    table { border-collapse: collapse; width: 130mm; table-layout: fixed } td { border: 0.25mm solid #333; height: 6mm;
    padding: 0 1mm; font-size: 7.5pt } .v { height: 8mm } .k { background: #e9e9e9 } .c { display: grid;
    grid-template-columns: 1fr 1fr; gap: 1.4mm 4mm; margin: 2mm 0 } .c > div { border: 0.2mm solid #777; height: 13.6mm;
    padding: 0.8mm 1.5mm; font-size: 8pt } .w { display: flex; gap: 5mm; margin-top: 1mm; font-size: 7pt } .w span {
    display: flex; gap: 1mm; align-items: center } .o { width: 4.4mm; height: 4.4mm; border: 0.25mm solid #000;
    border-radius: 50% }"""
    top = (("unit", "Eqpt. No."), ("date", "Date used"), ("hours", "Pump hr mtr"), ("site", "Pour / site"))
    heads = "".join(f'<td class="k">{label}</td>' for _, label in top)
    rooms = "".join(f'<td class="v" {marked(f, "text", "cell", label)}></td>' for f, label in top)
    foot = (("operator", "Name of operator"), ("signature", "Operator to sign"), ("foreman", "Authorised by"))
    foot_heads = "".join(f'<td class="k">{label}</td>' for _, label in foot)
    foot_rooms = "".join(f'<td class="v" {marked(f, "text", "cell", label)}></td>' for f, label in foot)
    cards = []
    for name, words in _CONCRETE_PUMP.items():
        own = "".join(
            answers(name, words, "box", ("Safe", "Unsafe", "N/A"), "<span><i class='o' {at}></i>{word}</span>")
        )
        cards.append(f"<div>{escape(words)}<div class='w'>{own}</div></div>")
    body = (
        f"<h1>Concrete pump set-up card</h1><table><tr>{heads}</tr><tr>{rooms}</tr></table>"
        f"<div class='c'>{''.join(cards)}</div><div>Unsafe: what, and what was done</div>"
        + "".join(
            f'<div style="height:6.5mm;border-bottom:0.2mm solid #000" {marked(f"remarks.{k}", "text", "rule")}></div>'
            for k in (1, 2, 3)
        )
        + f"<table style='margin-top:3mm'><tr>{foot_heads}</tr><tr>{foot_rooms}</tr></table>"
    )
    return printed_form("concrete-pump-card", run, (148.0, 210.0), css, body)


def barge_crane_strip(run: str) -> DrawnForm:
    """Seven squares after each point, the day's letter small in each; a comb with a printed point."""
    pad = Pad(279.4, 215.9, face="Times")
    pad.text(14, 16, "BARGE CRANE - WEEK CARD", 15, bold=True)
    for field_id, label, x, end in (("unit", "Barge / crane", 14.0, 90.0), ("week", "Wk. commencing", 96.0, 165.0)):
        pad.writing_line(field_id, label, x, 27, end)
    pad.text(171, 27, "SMR hrs", 9)
    pad.comb("hours", "SMR hrs", 188, 21.5, 6, (6.0, 7.0), "digits")
    pad.text(14, 35, "Sign each square: X all well, O defect, - not looked at.", 9)
    for k, (name, words) in enumerate(_BARGE_CRANE.items()):
        x, y = 14.0 + 128 * (k // 6), 42.0 + 12.0 * (k % 6)
        pad.text(x, y + 6, words, 10)
        for d, (day, letter) in enumerate(zip(DAYS, "MTWTFSS", strict=True)):
            box = Box(x + 46 + 10.4 * d, y, 9.0, 9.0)
            pad.mark(f"item.{name}.{day}", words, box, "box")
            pad.text(box.x_mm + 0.8, box.y_mm + 2.6, letter, 6)
    pad.text(14, 122, "Defects / damage noted", 10, bold=True)
    pad.bare_lines("remarks", 14, 131, 265, 4, 8.5)
    pad.writing_line("operator", "Crane operator", 14, 175, 100)
    pad.writing_line("signature", "Sign", 106, 175, 180)
    pad.writing_line("foreman", "Mate or master (sign)", 186, 175, 265)
    return pad.form("barge-crane-strip", run, {"cross": "ok", "O": "defect", "dash": "na"})


def quad_by_hand(run: str) -> DrawnForm:
    """Uneven squares left of small words, two columns; labels end in dots to write on, on a narrow card."""
    rng = np.random.default_rng(9_790_008)
    sheet = Sketch(140.0, 216.0, "URW Bookman")
    sheet.text(12, 18, "Farm quad - look before you ride", 14)
    for field_id, label, y in (
        ("unit", "which quad", 30.0),
        ("date", "day and date", 40.0),
        ("operator", "rider", 50.0),
        ("site", "going where", 60.0),
    ):
        sheet.text(12, y, label, 10)
        start = 46.0
        sheet.line(start, y + 0.6, 128, y + 0.6, 0.4, ":")
        sheet.fields.append(FormField(field_id, "text", "dots", Box(start, y - 6.4, 128 - start, 7), label))
    for k, (name, words) in enumerate(_QUAD.items()):
        x, y = 12.0 + 60.0 * (k % 2), 72.0 + 14.0 * (k // 2)
        side = 6.0 + float(rng.normal(0, 0.15))
        box = Box(x + float(rng.normal(0, 0.3)), y + float(rng.normal(0, 0.3)), side, side)
        sheet.rect(box, 0.45)
        sheet.text(x + 9, y + 4.4, words, 10)
        sheet.fields.append(FormField(f"item.{name}", "mark", "box", box, words))
    sheet.text(12, 148, "not right:", 10)
    for k in range(3):
        y = 157.0 + 9 * k
        sheet.line(12, y, 128, y, 0.4, ":")
        sheet.fields.append(FormField(f"remarks.{k + 1}", "text", "dots", Box(12, y - 8, 116, 8)))
    sheet.text(12, 194, "sign", 10)
    sheet.line(24, 194.6, 70, 194.6, 0.4, ":")
    sheet.fields.append(FormField("signature", "signature", "dots", Box(24, 187.6, 46, 7), "sign"))
    sheet.text(74, 194, "boss", 10)
    sheet.line(86, 194.6, 128, 194.6, 0.4, ":")
    sheet.fields.append(FormField("foreman", "text", "dots", Box(86, 187.6, 42, 7), "boss"))
    stream = io.BytesIO()
    sheet.write(stream)
    return DrawnForm("quad-by-hand", run, stream.getvalue(), 140.0, 216.0, tuple(sheet.fields), {})
