"""Set G, forms in HTML: a lift truck, a standby generator, an excavator, a plant register. All are invented."""

from __future__ import annotations

from html import escape

from scanform.form import DAYS
from scanform.training.old_forms.chromium import printed_form
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.html_parts import answers, marked
from scanform.training.old_forms.unseen.points_g import EXCAVATOR, GENSET, LIFT_TRUCK

__all__ = ["excavator_striped", "genset_tinted", "hire_register", "lift_truck_turns"]


def lift_truck_turns(run: str) -> DrawnForm:
    """A column for the mark of each of three turns of a day; meter and initials stand in the list's last rows."""
    css = """body { font: 9pt 'Liberation Sans' } .page { padding: 10mm 12mm } h1 { font-size: 13pt; margin: 0; color:
    #fff; background: #333; padding: 1.5mm 3mm } table { border-collapse: collapse; width: 191.9mm; table-layout: fixed;
    margin: 3mm 0 0 } td, th { border: 0.25mm solid #444; height: 7.8mm; padding: 0 2mm; font-weight: normal }
    th { font-weight: bold; text-align: center } .l { font-size: 7pt; vertical-align: top; padding-top: 0.8mm }
    .t td { height: 11mm } .foot td { background: none; font-weight: bold }"""

    def inside(field_id: str, label: str) -> str:
        return f'<td class="l" {marked(field_id, "text", "cell", label)}>{label}</td>'

    turns = ("1", "2", "3")
    rows = []
    for k, (name, words) in enumerate(LIFT_TRUCK.items(), start=1):
        cells = "".join(f"<td {marked(f'item.{name}-{turn}', 'mark', 'cell', words)}></td>" for turn in turns)
        rows.append(f"<tr><td>{k}</td><td>{escape(words)}</td>{cells}</tr>")
    for field_id, words in (("hours", "Hour meter at start of turn"), ("operator", "Operator's initials")):
        cells = "".join(f"<td {marked(f'{field_id}.{turn}', 'text', 'cell', words)}></td>" for turn in turns)
        rows.append(f"<tr class='foot'><td></td><td>{words}</td>{cells}</tr>")
    columns = "".join(f'<col style="width:{w}mm">' for w in (10, 106.9, 25, 25, 25))
    body = (
        "<h1>LIFT TRUCK: OPERATOR'S CHECKS</h1><table class='t'><tr>"
        + inside("unit", "Truck ident.")
        + inside("date", "Dated")
        + inside("site", "Warehouse / bay")
        + inside("foreman", "Charge hand")
        + f"</tr></table><table>{columns}<tr><th></th><th>Point</th><th>1st turn</th><th>2nd turn</th>"
        + f"<th>3rd turn</th></tr>{''.join(rows)}</table><div style='margin:2mm 0'>Write \u2713 if fit for use, X if "
        + "not, N/A if not fitted. A truck with an X stays parked until the charge hand has seen it.</div>"
        + "<table style='margin:0'><tr><td class='l' style='height:30mm' "
        + f"{marked('remarks', 'text', 'cell', 'What is wrong, and who was told')}>What is wrong, and who was told"
        + "</td></tr></table>"
    )
    legend = {"tick": "ok", "cross": "defect", "letters": "na"}
    return printed_form("lift-truck-turns", run, (215.9, 279.4), css, body, legend)


def genset_tinted(run: str) -> DrawnForm:
    """Landscape week of tinted cells with white gutters between, no line anywhere; days as single letters."""
    css = """body { font: 9.5pt 'Nimbus Sans' } .page { padding: 12mm 14mm } h1 { font-size: 17pt; margin: 0 0 3mm;
    color: #145 } .h { display: grid; grid-template-columns: 1fr 1fr 1fr 1fr; gap: 2mm 4mm } .h div { font-size: 7.5pt }
    .h i { display: block; height: 8.5mm; background: #dce8ef } .g { display: grid; grid-template-columns: 100mm
    repeat(7, 22mm); gap: 1.2mm; margin: 4mm 0 } .g p { margin: 0; height: 7.2mm; line-height: 7.2mm; padding-left: 2mm;
    background: #eef3f6 } .g b { text-align: center; height: 6mm } .g i { background: #dce8ef; height: 7.2mm }
    .n { height: 16mm; background: #dce8ef }"""

    def over(field_id: str, label: str) -> str:
        return f"<div>{label}<i {marked(field_id, 'text', 'area', label)}></i></div>"

    rows = "<b></b>" + "".join(f"<b>{letter}</b>" for letter in "MTWTFSS")
    for name, words in GENSET.items():
        rows += f"<p>{escape(words)}</p>"
        rows += "".join(f"<i {marked(f'item.{name}.{day}', 'mark', 'cell', words)}></i>" for day in DAYS)
    body = (
        "<h1>Standby generator &ndash; weekly log</h1><div class='h'>"
        + over("unit", "Genset tag")
        + over("week", "Week beginning (Monday)")
        + over("site", "Building")
        + over("hours", "Total run hrs")
        + f"</div><div class='g'>{rows}</div><div style='margin-bottom:2mm'>\u2713 = OK &nbsp; \u2717 = attention "
        + "&nbsp; \u2013 = not done</div>Observations"
        + f"<div class='n' {marked('remarks', 'text', 'area', 'Observations')}></div><div class='h'>"
        + over("operator", "Caretaker")
        + over("signature", "Sig.")
        + "</div>"
    )
    return printed_form(
        "genset-tinted", run, (297.0, 210.0), css, body, {"tick": "ok", "cross": "defect", "dash": "na"}
    )


def excavator_striped(run: str) -> DrawnForm:
    """Every other row on grey, no lines; round-cornered boxes; the rooms' names break the tops of their frames."""
    css = """body { font: 10pt 'DejaVu Sans Condensed' } .page { padding: 11mm 15mm } h1 { font-size: 15pt; margin: 0 }
    .h { display: grid; grid-template-columns: repeat(3, 1fr); gap: 2mm 4mm; margin: 3mm 0 } fieldset { border: 0.3mm
    solid #555; border-radius: 1.5mm; height: 12mm; margin: 0; padding: 0 2mm } legend { font-size: 7pt; padding: 0
    1mm } .r { display: flex; align-items: center; height: 8.6mm; padding: 0 3mm } .r:nth-child(even) { background:
    #e6e6e6 } .r p { margin: 0; flex: 1 } .b { width: 20mm; text-align: center; font-size: 8pt } .b i { display: block;
    margin: auto; width: 6mm; height: 6mm; border: 0.3mm solid #222; border-radius: 1mm; background: #fff }
    .k { width: 8mm; font-weight: bold }"""

    def framed(field_id: str, label: str, style: str = "") -> str:
        at = marked(field_id, "text", "area", label)
        return f"<fieldset style='{style}' {at}><legend>{label}</legend></fieldset>"

    rows = [
        "<div class='r'><span class='k'></span><p></p><span class='b'>Serviceable</span><span class='b'>Unserviceable"
        "</span><span class='b'>Not fitted</span></div>"
    ]
    for k, (name, words) in enumerate(EXCAVATOR.items()):
        boxes = "".join(answers(name, words, "box", ("",) * 3, "<span class='b'><i {at}></i></span>"))
        star = "*" if k % 4 == 1 else ""
        rows.append(f"<div class='r'><span class='k'>{star}</span><p>{escape(words)}</p>{boxes}</div>")
    body = (
        "<h1>Excavator pre-start inspection</h1><div>* Do not start work if unserviceable.</div><div class='h'>"
        + framed("unit", "Plant ID")
        + framed("date", "Date of inspection")
        + framed("hours", "SMU")
        + framed("operator", "Inspected by (print)")
        + framed("site", "Project")
        + framed("shift", "D/S or N/S")
        + f"</div><div>{''.join(rows)}</div><div style='height:3mm'></div>"
        + framed("remarks", "Faults reported", "height:22mm")
        + "<div class='h'>"
        + framed("signature", "Operator's sign.")
        + framed("foreman", "Supvr.")
        + framed("notification-no", "Notification No.")
        + "</div>"
    )
    return printed_form("excavator-striped", run, (210.0, 297.0), css, body)


def hire_register(run: str) -> DrawnForm:
    """A plant register: a row to each machine, two boxes, fuel and initials, between level lines only."""
    css = """body { font: 10pt 'P052' } .page { padding: 13mm 14mm } h1 { font-size: 16pt; margin: 0 0 2mm } table {
    border-collapse: collapse; width: 182mm; table-layout: fixed; margin: 4mm 0 } td, th { border-bottom: 0.25mm solid
    #000; height: 9mm; padding: 0 1mm; text-align: left; font-weight: normal } th { border-bottom: 0.6mm solid #000;
    font-style: italic } .b { display: inline-block; width: 5mm; height: 5mm; border: 0.3mm solid #000; vertical-align:
    middle } .f { display: flex; gap: 6mm; align-items: flex-end } .f i { flex: 1; height: 7mm; border-bottom: 0.25mm
    solid #000 }"""

    def line(field_id: str, label: str) -> str:
        return f"{label}<i {marked(field_id, 'text', 'rule', label)}></i>"

    machines = (
        "Roller 1, tandem",
        "Roller 2, padfoot",
        "Skid steer",
        "Dumper 3 t",
        "Dumper 6 t",
        "Dumper 9 t",
        "Telehandler",
        "Mini digger 1.5 t",
        "Mini digger 3 t",
        "Digger 8 t",
        "Wheeled digger",
        "Compressor",
        "Light mast A",
        "Light mast B",
        "Road saw",
        "Plate, large",
        "Water bowser",
        "Sweeper brush",
    )
    rows = []
    for k, words in enumerate(machines, start=1):
        boxes = "".join(answers(f"m{k}", words, "box", ("", ""), "<td><i class='b' {at}></i></td>"))
        rows.append(f"<tr><td>{escape(words)}</td>{boxes}<td></td><td></td></tr>")
    columns = "".join(f'<col style="width:{w}mm">' for w in (62, 22, 22, 36, 40))
    body = (
        "<h1>Compound register of plant</h1><div class='f'>"
        + line("date", "Day &amp; date")
        + line("site", "Yard")
        + line("operator", "Checked by (name)")
        + f"</div><table>{columns}<tr><th>Machine</th><th>Ready</th><th>Stood off</th><th>Fuel put in, L</th>"
        + f"<th>Initials</th></tr>{''.join(rows)}</table>Reason for standing off<div class='f'>"
        + f"<i {marked('remarks.1', 'text', 'rule')}></i></div><div class='f'><i {marked('remarks.2', 'text', 'rule')}>"
        + "</i></div><div class='f' style='margin-top:3mm'>"
        + line("signature", "Signed")
        + line("foreman", "Plant manager")
        + "</div>"
    )
    return printed_form("hire-register", run, (210.0, 297.0), css, body)
