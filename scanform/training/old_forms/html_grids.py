"""Old forms as tables and grids, in HTML: a month, a shaded report, words to circle. All names are invented."""

from __future__ import annotations

from html import escape

from scanform.training.old_forms.chromium import printed_form
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.html_parts import answers, line, marked, writing
from scanform.training.old_forms.wording import item, items

__all__ = ["circled_in_table", "month_grid", "shaded_report"]


def month_grid(run: str) -> DrawnForm:
    """A month across the page, days 1 to 31, code letters in small bare cells, the letters' meaning below."""
    css = """body { font: 8.5pt 'Liberation Sans Narrow'; } .page { padding: 9mm 10mm }
    h1 { font-size: 13pt; margin: 0 }
    table { border-collapse: collapse; table-layout: fixed; width: 276.5mm; margin: 2mm 0 }
    td, th { border: 0.2mm solid #000; height: 7.6mm; padding: 0 0.8mm; font-weight: normal; text-align: center }
    td:first-child { text-align: left } th { background: #ddd }"""
    days = range(1, 32)
    head = "".join(f"<th>{day}</th>" for day in days)
    columns = '<col style="width:44.5mm">' + '<col style="width:7.484mm">' * 31
    rows = []
    for name in items(14, start=1, step=3):
        cells = "".join(f"<td {marked(f'item.{name}.{day}', 'mark', 'cell', item(name))}></td>" for day in days)
        rows.append(f"<tr><td>{escape(item(name))}</td>{cells}</tr>")
    initials = "".join(f"<td {marked(f'initials.{day}', 'text', 'cell', 'Initials')}></td>" for day in days)
    body = (
        "<h1>BRANDRIGG LIMESTONE &ndash; MONTHLY PLANT CARD</h1><div style='margin-top:2mm'>"
        + writing("unit", "Plant no.", 40, thick_mm=0.2)
        + writing("month", "Month and year", 50, thick_mm=0.2)
        + writing("hours", "Hours at month end", 45, thick_mm=0.2)
        + f"</div><table>{columns}<tr><th>Day</th>{head}</tr>{''.join(rows)}"
        f"<tr><td>Initials</td>{initials}</tr></table>"
        "<div>S = serviceable &nbsp; R = repair needed &nbsp; N = not fitted</div><div style='margin-top:2mm'>"
        + writing("remarks.1", "Remarks", 240, thick_mm=0.2)
        + "</div>"
    )
    return printed_form("month-grid", run, (297.0, 210.0), css, body, {"S": "ok", "R": "defect", "N": "na"})


def shaded_report(run: str) -> DrawnForm:
    """Every second row grey, rounded boxes to tick, header fields as cells with their label small in the corner."""
    css = """body { font: 9.5pt 'DejaVu Sans Condensed', 'DejaVu Sans'; } .page { padding: 11mm 13mm }
    h1 { font-size: 16pt; margin: 0 0 3mm; background: #333; color: #fff; padding: 1.5mm 3mm }
    .row { height: 7.4mm; display: flex; align-items: center; padding: 0 2mm }
    .row:nth-child(even) { background: #e4e4e4 } .i { flex: 1 }
    .b { width: 5mm; height: 5mm; border: 0.3mm solid #222; border-radius: 1mm; background: #fff; margin: 0 6.5mm }
    .h { width: 18mm; text-align: center; font-weight: bold } .head { display: flex; margin-bottom: 2mm }
    .cell { border: 0.3mm solid #444; height: 13mm; flex: 1; font-size: 6.5pt; padding: 0.6mm 1mm; position: relative;
    margin-right: -0.3mm } .in { position: absolute; left: 1mm; right: 1mm; top: 4mm; bottom: 0.4mm }"""

    def cell(field_id: str, label: str, flex: float = 1) -> str:
        inner = f'<div class="in" {marked(field_id, "text", "area", label)}></div>'
        return f'<div class="cell" style="flex:{flex}">{label}{inner}</div>'

    rows = [
        '<div class="row"><span class="i"></span>'
        + "".join(f'<span class="h">{w}</span>' for w in ("Pass", "Fail", "N/A"))
        + "</div>"
    ]
    for name in items(24, start=15, step=5):
        boxes = "".join(answers(name, item(name), "box", ("",) * 3, '<span class="b" {at}></span>'))
        rows.append(f'<div class="row"><span class="i">{escape(item(name, 1))}</span>{boxes}</div>')
    body = (
        "<h1>Pre-use inspection</h1>"
        '<div class="head">'
        + cell("unit", "Asset number")
        + cell("date", "Date of inspection")
        + cell("hours", "Hours / km")
        + '</div><div class="head">'
        + cell("operator", "Inspected by", 2)
        + cell("site", "Location")
        + "</div>"
        + f"<div>{''.join(rows)}</div>"
        + '<div class="cell" style="height:26mm;margin-top:2mm">Defects found'
        + f'<div class="in" {marked("remarks", "text", "area", "Defects found")}></div></div>'
        + '<div class="head" style="margin-top:2mm">'
        + cell("signature", "Signature", 2)
        + cell("told", "Reported to")
        + "</div>"
        + '<div style="font-size:6pt">Stannery Business Forms, Dunmarrow</div>'
    )
    return printed_form("shaded-report", run, (210.0, 297.0), css, body)


def circled_in_table(run: str) -> DrawnForm:
    """A ruled table whose last column has the words to circle, parted by strokes: OK / Fix / N.A."""
    css = """body { font: 10pt 'Nimbus Sans', 'Liberation Sans'; } .page { padding: 12mm 15mm }
    table { border-collapse: collapse; width: 180mm; table-layout: fixed } td { border: 0.25mm solid #000;
    height: 7.7mm; padding: 0 2mm } .w { padding: 0 1.2mm } h1 { font-size: 14pt; margin: 0 0 2mm }
    .f { height: 10mm }"""
    rows = []
    for k, name in enumerate(items(22, start=30, step=7)):
        element = '<span class="w"><span {at}>{word}</span></span>'
        choice = " / ".join(answers(name, item(name), "word", ("OK", "Fix", "N.A."), element))
        rows.append(f"<tr><td>{k + 1}</td><td>{escape(item(name, 1))}</td><td>{choice}</td></tr>")

    def written(field_id: str, label: str) -> str:
        return f'<td class="f">{label}</td><td class="f" {marked(field_id, "text", "area", label)}></td>'

    columns = '<col style="width:11mm"><col style="width:115mm"><col style="width:54mm">'
    quarters = '<col style="width:30mm"><col style="width:60mm">' * 2
    body = (
        "<h1>Gravelstock Haulage &ndash; driver&rsquo;s vehicle report</h1><table>"
        + quarters
        + f"<tr>{written('unit', 'Vehicle')}{written('date', 'Date')}</tr>"
        + f"<tr>{written('operator', 'Driver')}{written('hours', 'Hour clock')}</tr></table>"
        + f'<div style="margin:2mm 0">Circle your answer.</div><table>{columns}{"".join(rows)}</table>'
        + '<div style="margin-top:3mm">Remarks</div>'
        + "".join(line(f"remarks.{k}", 8, "0.3mm dotted #000") for k in (1, 2, 3))
        + f'<table style="margin-top:3mm">{quarters}<tr>'
        + f"{written('signature', 'Signature')}{written('told', 'Told')}</tr></table>"
    )
    return printed_form("circled-in-table", run, (210.0, 297.0), css, body)
