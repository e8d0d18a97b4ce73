"""Set I, forms in HTML: a hired dumper, a port's stacker, a warehouse's week, a road job's water cart. All invented."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape

from scanform.form.days import DAY_TITLES, DAYS
from scanform.training.old_forms.chromium import printed_form
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.html_parts import answers, line, marked
from scanform.training.old_forms.unseen.points_i_plant import DUMPER, WATER_CART
from scanform.training.old_forms.unseen.points_i_yard import REACH_TRUCK, STACKER

__all__ = ["dumper_hire", "reach_truck_week", "stacker_berth", "water_cart_halves"]

_A4 = (210.0, 297.0)


def _lined(field_id: str, label: str, share: float = 1, within: str = "") -> str:
    """A label and, up to the end of its share of the row, a line to write on; ``within`` is printed over the line."""
    at = marked(field_id, "text", "rule", label)
    return f'<span class="f" style="flex:{share}">{escape(label)}<i {at}>{within}</i></span>'


def _celled(field_id: str, label: str, head: str = "", room: str = "") -> str:
    """A label's cell and the cell to write in; ``head`` and ``room`` are more attributes of the two."""
    return f"<th {head}>{escape(label)}</th><td {room} {marked(field_id, 'text', 'cell', label)}></td>"


def dumper_hire(run: str) -> DrawnForm:
    """A hire firm's: header cells beside shaded labels, one table in two parts, bare cells for three answers."""
    css = """body { font: 9.5pt 'Liberation Sans' } .page { padding: 12mm 15mm } h1 { font-size: 16pt; margin: 0 }
    .top { display: flex; justify-content: space-between; align-items: flex-end; margin-bottom: 3mm }
    table { border-collapse: collapse; width: 180mm; table-layout: fixed; margin-bottom: 3mm }
    td, th { border: 0.25mm solid #000; padding: 0 1.5mm; text-align: left } .head td, .head th { height: 8.5mm }
    .head th { background: #e4e4e4; font-weight: normal; width: 28mm } .list td { height: 7.4mm }
    .list .p { background: #e4e4e4; font-weight: bold } .n { width: 10mm; text-align: center }
    .list .a { width: 17mm; text-align: center; padding: 0 } .f { display: flex; align-items: flex-end }
    .f i { flex: 1; height: 7.5mm; margin-left: 2mm; border-bottom: 0.25mm solid #000 }"""
    rows, number = [], 0
    for part, points in DUMPER.items():
        heads = "".join(f'<td class="p a">{word}</td>' for word in ("OK", "Defect", "N/A"))
        rows.append(f'<tr><td class="p" colspan="2">{part}</td>{heads}</tr>')
        for name, words in points.items():
            number += 1
            cells = "".join(answers(name, words, "cell", ("", "", ""), '<td class="a" {at}></td>'))
            rows.append(f'<tr><td class="n">{number}</td><td>{escape(words)}</td>{cells}</tr>')
    body = (
        '<div class="top"><div><h1>Site Dumper - Daily Check</h1>Complete before use and leave in the cab pouch</div>'
        "<b>Thornwick Plant Hire Ltd</b></div><table class='head'>"
        f"<tr>{_celled('unit', 'Fleet No.')}{_celled('date', 'Date')}</tr>"
        f"<tr>{_celled('hours', 'Hour reading')}{_celled('operator', 'Operator')}</tr>"
        f"<tr>{_celled('customer', 'Customer')}{_celled('site', 'Site')}</tr></table>"
        '<table class="list"><colgroup><col style="width:10mm"><col><col style="width:17mm"><col style="width:17mm">'
        f'<col style="width:17mm"></colgroup>{"".join(rows)}</table><b>Details of defects</b>'
        + "".join(line(f"remarks.{k}", 7.5, "0.2mm solid #000") for k in (1, 2, 3))
        + '<div style="display:flex;gap:8mm;margin-top:4mm">'
        + _lined("signature", "Operator's signature")
        + _lined("told", "Reported to")
        + "</div>"
    )
    return printed_form("dumper-hire", run, _A4, css, body)


def stacker_berth(run: str) -> DrawnForm:
    """A port's: lines in the header, boxes for the shift, two columns of points with two boxes at the right of each."""
    css = """body { font: 9pt 'Nimbus Sans' } .page { padding: 11mm 14mm } h1 { font-size: 14pt; margin: 0 0 1mm;
    text-transform: uppercase } .r { display: flex; gap: 5mm } .f { display: flex; align-items: flex-end }
    .f i { flex: 1; height: 7mm; margin: 2.2mm 0 0 1.5mm; border-bottom: 0.3mm solid #000; white-space: pre;
    font-style: normal; padding: 3.2mm 0 0 15mm } h2 { font-size: 9.5pt;
    margin: 0; flex: 1 } .two { display: grid; grid-template-columns: 1fr 1fr; gap: 9mm; margin-top: 5mm }
    .bar { display: flex; border-bottom: 0.5mm solid #000; padding: 2.5mm 0 0.6mm } .row { display: flex; height: 9mm;
    align-items: center; border-bottom: 0.1mm solid #999 } .row span { flex: 1 } .c { width: 13mm; text-align: center }
    .b { display: inline-block; width: 4.4mm; height: 4.4mm; border: 0.3mm solid #000; vertical-align: middle }
    .free { height: 36mm; border: 0.3mm solid #000; margin: 1mm 0 3mm }"""
    day_or_night = "".join(
        f'&nbsp;&nbsp;{word}&nbsp;<b class="b" {marked("shift", "choice", "box", "Shift", answer=word.lower())}></b>'
        for word in ("Day", "Night")
    )

    def column(*parts: str) -> str:
        rows = []
        for part in parts:
            heads = '<span class="c">OK</span><span class="c">Fault</span>'
            rows.append(f'<div class="bar"><h2>{part}</h2>{heads}</div>')
            for name, words in STACKER[part].items():
                boxes = answers(name, words, "box", ("", ""), '<div class="c"><b class="b" {at}></b></div>')
                rows.append(f'<div class="row"><span>{escape(words)}</span>{"".join(boxes)}</div>')
        return f"<div>{''.join(rows)}</div>"

    body = (
        "<h1>Reach stacker pre-shift inspection</h1><div>Wrayhaven Container Terminal &ndash; Form ENG 14 rev. 3</div>"
        f'<div class="r">{_lined("unit", "Machine no.")}{_lined("date", "Date", within="/                  /")}'
        f'<span class="f">Shift:{day_or_night}</span></div>'
        f'<div class="r">{_lined("operator", "Driver", 1.6)}{_lined("hours-start", "Hours on")}'
        f'{_lined("hours-end", "Hours off")}</div><div class="two">'
        + column("Walk round", "Spreader")
        + column("Levels", "Cab and running")
        + '</div><div style="margin-top:5mm">Faults and damage (say where on the machine)</div>'
        + f'<div class="free" {marked("remarks", "text", "area", "Faults and damage")}></div><div class="r">'
        + _lined("signature", "Driver's signature")
        + _lined("foreman", "Shift foreman")
        + "</div>"
    )
    return printed_form("stacker-berth", run, _A4, css, body)


def reach_truck_week(run: str) -> DrawnForm:
    """A warehouse's week, landscape: seven columns of cells for a sign, readings and initials under them."""
    css = """body { font: 9.5pt 'Liberation Sans Narrow' } .page { padding: 10mm 13mm } h1 { font-size: 17pt;
    margin: 0 } .r { display: flex; gap: 6mm; margin: 2mm 0 3mm } .f { display: flex; align-items: flex-end }
    .f i { flex: 1; height: 7mm; margin-left: 1.5mm; border-bottom: 0.25mm solid #000 }
    table { border-collapse: collapse; width: 271mm; table-layout: fixed; border: 0.6mm solid #000 }
    td, th { border: 0.2mm solid #000; height: 6.7mm; padding: 0 1.5mm; text-align: left; font-weight: normal }
    thead th { background: #333; color: #fff; font-weight: bold; text-align: center } .n { width: 9mm }
    .w { width: 73mm } .k td, .k th { height: 7.6mm; background: #eee } .k td { background: none }"""
    rows = []
    for number, (name, words) in enumerate(REACH_TRUCK.items(), start=1):
        cells = "".join(f"<td {marked(f'item.{name}.{day}', 'mark', 'cell', words)}></td>" for day in DAYS)
        rows.append(f'<tr><th style="text-align:center">{number}</th><th>{words}</th>{cells}</tr>')
    for field_id, label in (("hours", "Hour meter at start"), ("initials", "Driver's initials")):
        cells = "".join(f"<td {marked(f'{field_id}.{day}', 'text', 'cell', label)}></td>" for day in DAYS)
        rows.append(f'<tr class="k"><th></th><th>{label}</th>{cells}</tr>')
    days = "".join(f"<th>{day}</th>" for day in DAY_TITLES)
    body = (
        "<h1>Reach Truck Daily Checks</h1>"
        f'<div class="r">{_lined("unit", "Truck No.")}{_lined("week", "Week commencing (Monday)", 1.5)}'
        f"{_lined('site', 'Warehouse', 1.2)}</div>"
        f'<table><thead><tr><th class="n"></th><th class="w">Check</th>{days}</tr></thead>{"".join(rows)}</table>'
        '<div style="margin-top:2mm">&#10003; = satisfactory &nbsp;&nbsp;&nbsp; X = defect, do not use, see supervisor '
        "&nbsp;&nbsp;&nbsp; N/A = not fitted</div>"
        + '<div class="r" style="margin:1mm 0 0">'
        + _lined("remarks.1", "Defects")
        + "</div>"
        + line("remarks.2", 7)
        + '<div class="r" style="margin:2mm 0 0">'
        + _lined("foreman", "Supervisor (print)")
        + _lined("signature", "Supervisor's signature")
        + "</div>"
    )
    legend: Mapping[str, str] = {"tick": "ok", "cross": "defect", "letters": "na"}
    return printed_form("reach-truck-week", run, (297.0, 210.0), css, body, legend)


def water_cart_halves(run: str) -> DrawnForm:
    """A road contractor's: one table whose halves lie side by side, cells under a tick, a cross and N/A."""
    css = """body { font: 8pt 'DejaVu Sans' } .page { padding: 10mm 12mm } h1 { font-size: 13pt; margin: 0 0 3mm;
    text-align: center; background: #f0dc9a; border: 0.35mm solid #000; padding: 1.5mm }
    table { border-collapse: collapse; width: 186mm; table-layout: fixed; margin-bottom: 3mm }
    td, th { border: 0.35mm solid #000; padding: 0 1.2mm; text-align: left; font-weight: normal; height: 9.4mm }
    .head th { width: 24mm; font-weight: bold } .head td { width: 38mm } .a { width: 10mm; text-align: center;
    padding: 0 } .list th { background: #f0dc9a; font-weight: bold; height: 6mm } .gap { width: 2mm; border: 0 }
    .list .gap { background: none; padding: 0 } .free { height: 42mm; vertical-align: top; padding-top: 1mm }
    .free div { height: 36mm; margin-top: 1mm }"""
    points = list(WATER_CART.items())
    half = len(points) // 2

    def cells(name: str, words: str) -> str:
        boxes = answers(name, words, "cell", ("", "", ""), '<td class="a" {at}></td>')
        return f"<td>{escape(words)}</td>{''.join(boxes)}"

    rows = [
        f"<tr>{cells(*left)}<td class='gap'></td>{cells(*right)}</tr>"
        for left, right in zip(points[:half], points[half:], strict=True)
    ]
    heads = "<th>Item</th>" + "".join(f'<th class="a">{sign}</th>' for sign in ("&#10003;", "&#10007;", "N/A"))
    body = (
        '<h1>WATER CART PRE-START CHECKLIST</h1><table class="head">'
        f"<tr>{_celled('unit', 'Plant No.')}{_celled('rego', 'Rego')}{_celled('date', 'Date')}</tr>"
        f"<tr>{_celled('hours', 'Hours')}{_celled('kilometres', 'Kilometres')}{_celled('shift', 'Shift')}</tr>"
        f"<tr>{_celled('operator', 'Operator', room='colspan=3')}{_celled('job-no', 'Job No.')}</tr></table>"
        f'<table class="list"><tr>{heads}<th class="gap"></th>{heads}</tr>{"".join(rows)}</table>'
        '<table><tr><td class="free">Faults / comments (fault is a &#10007;: tag out if unsafe and tell the supervisor)'
        f"<div {marked('remarks', 'text', 'area', 'Faults / comments')}></div></td></tr></table>"
        '<table class="head"><tr>'
        + _celled("signature", "Signature", room='style="width:69mm"')
        + _celled("foreman", "Supervisor", room='style="width:69mm"')
        + "</tr></table><div>Eastern Ranges Civil Pty Ltd &ndash; PM-F-022</div>"
    )
    return printed_form("water-cart-halves", run, _A4, css, body)
