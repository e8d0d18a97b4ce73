"""Set J, forms in HTML: a pit, a rental yard, a dump truck's driver, a warehouse. All are invented."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape

from scanform.form.days import DAY_TITLES, DAYS
from scanform.training.old_forms.chromium import printed_form
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.html_parts import answers, marked
from scanform.training.old_forms.unseen.points_j_roads import DUMP_TRUCK, PIT_LOADER
from scanform.training.old_forms.unseen.points_j_yards import BOOM_LIFT, REACH_TRUCK

__all__ = ["boom_rental", "dump_truck_driver", "pit_loader", "reach_week"]

_LETTER = (215.9, 279.4)


def pit_loader(run: str) -> DrawnForm:
    """Header cells with small labels, two ruled tables side by side, bare cells under OK, Repair and N/A."""
    css = """body { font: 9pt 'Liberation Sans' } .page { padding: 10mm 12mm } h1 { font-size: 15pt; margin: 0 }
    table { border-collapse: collapse } td, th { border: 0.25mm solid #000 } .head { width: 191.9mm; margin: 3mm 0
    4mm; table-layout: fixed } .head td { height: 11mm; padding: 0.5mm 1mm; vertical-align: top; font-size: 7pt }
    .head i { display: block; height: 6.5mm }
    .two { display: flex; justify-content: space-between; align-items: flex-start }
    .list { width: 93.5mm; table-layout: fixed } .list td { height: 7.1mm; padding: 0 1.2mm } .c { width: 11mm }
    .list th { background: #d4d4d4; height: 7.1mm; text-align: left; padding: 0 1.2mm; font-size: 9pt }
    .list .c { text-align: center; padding: 0; font-size: 7.5pt } .free { border: 0.25mm solid #000; height: 27mm }
    .sign { display: flex; gap: 8mm; margin-top: 5mm } .sign span { display: flex; align-items: flex-end; flex: 1 }
    .sign i { flex: 1; margin-left: 1.5mm; height: 7mm; border-bottom: 0.25mm solid #000 }"""

    def room(field_id: str, label: str) -> str:
        return f"<td>{label}<i {marked(field_id, 'text', 'area', label)}></i></td>"

    def table(sections: Mapping[str, Mapping[str, str]]) -> str:
        rows = []
        heads = "".join(f'<th class="c">{word}</th>' for word in ("OK", "Repair", "N/A"))
        for heading, points in sections.items():
            rows.append(f"<tr><th>{heading}</th>{heads}</tr>")
            for name, words in points.items():
                cells = "".join(answers(name, words, "cell", ("", "", ""), '<td class="c" {at}></td>'))
                rows.append(f"<tr><td>{escape(words)}</td>{cells}</tr>")
        return f'<table class="list">{"".join(rows)}</table>'

    body = (
        "<h1>Wheel Loader Daily Inspection</h1><div>Three Forks Sand &amp; Gravel &nbsp;&bull;&nbsp; complete before "
        'moving the machine, turn in at scale house</div><table class="head"><tr>'
        + room("unit", "Equipment No.")
        + room("date", "Date (MM/DD/YY)")
        + room("hours-start", "Hour Meter Start")
        + room("hours-end", "Hour Meter End")
        + "</tr><tr>"
        + room("operator", "Operator (print)")
        + room("site", "Pit / Plant")
        + room("shift", "Shift")
        + room("fuel-added", "Fuel Added (gal)")
        + f'</tr></table><div class="two">{table(PIT_LOADER[0])}{table(PIT_LOADER[1])}</div>'
        + '<div style="margin-top:3mm">Comments / repairs needed:</div><div class="free" '
        + f'{marked("remarks", "text", "area", "Comments / repairs needed:")}></div><div class="sign">'
        + f"<span>Operator Signature<i {marked('signature', 'text', 'rule', 'Operator Signature')}></i></span>"
        + f"<span>Foreman<i {marked('foreman', 'text', 'rule', 'Foreman')}></i></span></div>"
    )
    return printed_form("pit-loader", run, _LETTER, css, body)


def boom_rental(run: str) -> DrawnForm:
    """One column, dots up to three square boxes, a heading over each part; lines to fill in, a framed area."""
    css = """body { font: 9pt 'DejaVu Sans Condensed' } .page { padding: 42px 60px } h1 { font-size: 14pt; margin: 0;
    text-align: center; line-height: 24px }
    .sub { text-align: center; font-size: 8.5pt; margin-bottom: 4px; line-height: 15px }
    .f { display: flex; gap: 4mm } .f span { display: flex; align-items: flex-end; height: 28px }
    .f i { flex: 1; height: 6mm; border-bottom: 0.2mm solid #000; margin-left: 1mm }
    h2 { font-size: 9pt; margin: 0; flex: 1 } .row { display: flex; align-items: center; height: 22px }
    .bar { border-bottom: 0.4mm solid #000; margin-top: 3px } .c { width: 58px; text-align: center }
    .dots { flex: 1; border-bottom: 0.3mm dotted #777; height: 1.2mm; margin: 0 2mm }
    .c i { display: block; margin: auto; width: 16px; height: 16px; border: 0.3mm solid #000 }
    .free { border: 0.3mm solid #000; height: 19mm; margin: 0.5mm 0 2mm }"""

    def line(field_id: str, label: str, share: float = 1) -> str:
        at = marked(field_id, "text", "rule", label)
        return f'<span style="flex:{share}">{label}<i {at}></i></span>'

    heads = "".join(f'<span class="c">{word}</span>' for word in ("PASS", "FAIL", "N/A"))
    rows = []
    for heading, points in BOOM_LIFT.items():
        rows.append(f'<div class="row bar"><h2>{heading}</h2>{heads}</div>')
        for name, words in points.items():
            boxes = "".join(answers(name, words, "box", ("", "", ""), '<span class="c"><i {at}></i></span>'))
            rows.append(f'<div class="row">{escape(words)}<span class="dots"></span>{boxes}</div>')
    body = (
        '<h1>BOOM LIFT PRE-USE INSPECTION</h1><div class="sub">Copperline Equipment Rentals, Service Department</div>'
        f'<div class="f">{line("unit", "Unit #:")}{line("model", "Model:")}{line("serial", "Serial #:", 1.3)}</div>'
        f'<div class="f">{line("date", "Date:")}{line("hours", "Hour meter:")}{line("contract", "Contract #:")}</div>'
        f'<div class="f">{line("customer", "Customer:")}{line("site", "Jobsite:")}</div>{"".join(rows)}'
        '<div style="margin-top:2mm">Remarks:</div>'
        f'<div class="free" {marked("remarks", "text", "area", "Remarks:")}></div>'
        f'<div class="f">{line("operator", "Inspected by:")}{line("signature", "Signature:", 1.3)}</div>'
    )
    return printed_form("boom-rental", run, _LETTER, css, body)


def dump_truck_driver(run: str) -> DrawnForm:
    """A driver's report: a box before every part, to check where it is bad, three columns; two rounds of signing."""
    css = """body { font: 10.5pt 'Liberation Serif' } .page { padding: 45px 57px } h1 { font-size: 17pt; margin: 0;
    text-align: center; line-height: 28px }
    .co { text-align: center; margin-bottom: 8px; line-height: 18px } .f { display: flex; gap: 5mm }
    .f span { display: flex; align-items: flex-end; height: 36px } .f i { flex: 1; height: 7mm; margin-left: 1.2mm;
    border-bottom: 0.25mm solid #000 } .frame { border: 2px solid #000; padding: 8px 11px; margin: 15px 0 }
    .three { display: grid; grid-template-columns: repeat(3, 225px); margin-top: 8px; line-height: 18px }
    .k { display: flex; align-items: center; gap: 2.5mm; height: 33px }
    .b { width: 17px; height: 17px; border: 0.3mm solid #000 } .w { height: 34px; border-bottom: 0.25mm solid #000 }
    """

    def line(field_id: str, label: str, share: float = 1) -> str:
        at = marked(field_id, "text", "rule", label)
        return f'<span style="flex:{share}">{label}<i {at}></i></span>'

    def box(field_id: str, words: str) -> str:
        return f'<div class="k"><i class="b" {marked(field_id, "mark", "box", words)}></i>{escape(words)}</div>'

    columns = "".join(
        f"<div>{''.join(box(f'item.{name}', words) for name, words in column.items())}</div>" for column in DUMP_TRUCK
    )
    notes = "".join(f'<div class="w" {marked(f"remarks.{k}", "text", "rule", "Remarks:")}></div>' for k in (1, 2, 3))
    body = (
        '<h1>Driver&rsquo;s Vehicle Inspection Report</h1><div class="co">Pine Hollow Paving Co. &ndash; Dump Trucks'
        f'</div><div class="f">{line("unit", "Truck No.")}{line("trailer", "Trailer No.")}{line("date", "Date")}</div>'
        f'<div class="f">{line("operator", "Driver", 1.6)}{line("odometer", "Odometer")}{line("time", "Time", 0.6)}'
        '</div><div class="frame"><b>Check (&#10003;) only what is defective, and explain under Remarks.</b>'
        f'<div class="three">{columns}</div></div>Remarks:{notes}'
        + box("condition-satisfactory", "Condition of the above vehicle is satisfactory")
        + f'<div class="f">{line("signature", "Driver’s signature")}</div><div style="height:20px"></div>'
        + '<div class="frame">'
        + box("defects-corrected", "Above defects corrected")
        + box("correction-not-needed", "Above defects need not be corrected for safe operation")
        + f'<div class="f" style="margin-bottom:2mm">{line("mechanic", "Mechanic’s signature", 1.8)}'
        + f"{line('mechanic-date', 'Date')}</div></div>"
    )
    return printed_form("dump-truck-driver", run, _LETTER, css, body, {"tick": "defect"})


def reach_week(run: str) -> DrawnForm:
    """Letter on its side: a week of a warehouse, every second row tinted; hour meter and initials of each day."""
    css = """body { font: 8.5pt 'Nimbus Sans' } .page { padding: 9mm 11mm } h1 { font-size: 14pt; margin: 0 }
    .top { display: flex; justify-content: space-between; align-items: baseline } .f { display: flex; gap: 5mm;
    margin: 1mm 0 3mm } .f span { display: flex; align-items: flex-end; height: 8mm } .f i { flex: 1; height: 6.5mm;
    margin-left: 1.2mm; border-bottom: 0.25mm solid #000 } table { border-collapse: collapse; width: 257.4mm;
    table-layout: fixed } td, th { border: 0.18mm solid #000; height: 6.3mm; padding: 0 1.2mm } th { background: #222;
    color: #fff } .n { width: 7mm; text-align: center; padding: 0 } .p { width: 62mm; text-align: left }
    tbody tr:nth-child(even) td { background: #ececec } tfoot td { height: 7.5mm; font-weight: bold }
    tfoot { border-top: 0.6mm solid #000 } .w { display: flex; align-items: flex-end; height: 7.2mm }
    .w i { flex: 1; height: 7mm; margin-left: 1.2mm; border-bottom: 0.25mm solid #000 }"""

    def line(field_id: str, label: str, share: float = 1) -> str:
        at = marked(field_id, "text", "rule", label)
        return f'<span style="flex:{share}">{label}<i {at}></i></span>'

    def across(prefix: str, kind: str, words: str) -> str:
        return "".join(f"<td {marked(f'{prefix}.{day}', kind, 'cell', words)}></td>" for day in DAYS)

    rows = "".join(
        f'<tr><td class="n">{k}</td><td class="p">{escape(words)}</td>{across(f"item.{name}", "mark", words)}</tr>'
        for k, (name, words) in enumerate(REACH_TRUCK.items(), start=1)
    )
    foot = "".join(
        f'<tr><td colspan="2">{words}</td>{across(field_id, "text", words)}</tr>'
        for field_id, words in (("hours", "Hour meter"), ("initials", "Operator initials"))
    )
    days = "".join(f"<th>{day}</th>" for day in DAY_TITLES)
    body = (
        '<div class="top"><h1>Reach Truck &ndash; Weekly Operator Checklist</h1><span>Lakemoor Distribution Center'
        f'</span></div><div class="f">{line("unit", "Truck #")}{line("week", "Week ending")}{line("shift", "Shift")}'
        f"{line('department', 'Dept.')}</div><table><thead><tr><th class='n'>#</th><th class='p'>Check before use</th>"
        f"{days}</tr></thead><tbody>{rows}</tbody><tfoot>{foot}</tfoot></table>"
        '<div style="margin-top:1.5mm">&#10003; = OK &nbsp;&nbsp;&nbsp; X = do not use, tell the supervisor '
        "&nbsp;&nbsp;&nbsp; N/A = not on this truck</div>"
        f'<div class="w">Comments<i {marked("remarks.1", "text", "rule", "Comments")}></i></div>'
        f'<div class="w"><i style="margin-left:0" {marked("remarks.2", "text", "rule", "Comments")}></i></div>'
        f'<div class="w" style="width:110mm">Supervisor<i {marked("foreman", "text", "rule", "Supervisor")}></i></div>'
    )
    legend = {"tick": "ok", "cross": "defect", "letters": "na"}
    return printed_form("reach-week", run, (279.4, 215.9), css, body, legend)
