"""Set D, forms in HTML: a mine's loader, an airport tug, a drill, a hoist's log, a pocket book. All are invented."""

from __future__ import annotations

from html import escape

from scanform.training.old_forms.chromium import printed_form
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.html_parts import answers, marked
from scanform.training.old_forms.wording import item, items

__all__ = ["airport_tug", "drill_tiles", "hoist_log", "mine_loader", "pocket_book"]


def mine_loader(run: str) -> DrawnForm:
    """Groups named in a cell that spans their rows; Pass and Fail, then who repairs it and when."""
    css = """body { font: 8.5pt 'Nimbus Sans Narrow' } .page { padding: 10mm } table { border-collapse: collapse;
    width: 195.9mm; table-layout: fixed } td, th { border: 0.25mm solid #000; height: 6.9mm; padding: 0 1.2mm }
    h1 { font-size: 13pt; margin: 0; text-align: center } .l { font-weight: bold; background: #eee }
    th { background: #ddd } .g { font-weight: bold; text-align: center } .c { text-align: center }"""
    groups = (("WALK AROUND", 7), ("ENGINE BAY", 6), ("OPERATOR COMPARTMENT", 7), ("FUNCTION TEST", 5))
    names, at, rows = items(25, start=4, step=3), 0, []
    for heading, count in groups:
        for k, name in enumerate(names[at : at + count]):
            group = f'<td class="g" rowspan="{count}">{heading}</td>' if k == 0 else ""
            cells = "".join(answers(name, item(name), "cell", ("", ""), "<td {at}></td>"))
            rows.append(f"<tr>{group}<td>{escape(item(name))}</td>{cells}<td></td><td></td></tr>")
        at += count
    widths = (31.9, 74, 14, 14, 36, 26)
    columns = "".join(f'<col style="width:{w}mm">' for w in widths)
    heads = "".join(f"<th>{h}</th>" for h in ("Group", "Inspect", "Pass", "Fail", "Repaired by", "Date repaired"))

    def pair(field_id: str, label: str) -> str:
        return f'<td class="l">{label}</td><td {marked(field_id, "text", "cell", label)}></td>'

    body = (
        "<h1>UNDERGROUND LOADER &ndash; PRE-SHIFT EXAMINATION</h1><div class='c'>Yarrowdale Gypsum</div>"
        "<table style='margin:2mm 0'><col style='width:24mm'><col><col style='width:24mm'><col><col style='width:24mm'>"
        f"<col><tr>{pair('unit', 'LHD #')}{pair('date', 'DATE')}{pair('shift', 'SHIFT')}</tr>"
        f"<tr>{pair('operator', 'OPERATOR')}{pair('hours-start', 'START HRS')}{pair('hours-end', 'END HRS')}</tr>"
        "</table>"
        f"<table>{columns}<tr>{heads}</tr>{''.join(rows)}</table><table style='margin-top:2mm'>"
        f"<tr><td class='l'>HAZARDS / DEFECTS NOTED</td></tr><tr><td style='height:20mm' "
        f"{marked('remarks', 'text', 'area', 'HAZARDS / DEFECTS NOTED')}></td></tr></table>"
        f"<table style='margin-top:2mm'><col style='width:36mm'><col><col style='width:36mm'><col>"
        "<tr style='height:9mm'>"
        f"{pair('signature', 'OPERATOR SIGNATURE')}{pair('foreman', 'SHIFT SUPERVISOR')}</tr></table>"
    )
    return printed_form("mine-loader", run, (215.9, 279.4), css, body)


def airport_tug(run: str) -> DrawnForm:
    """Rings to tick before each answer's word, under the item, in two columns; lines with their labels below."""
    css = """body { font: 10pt 'Liberation Sans' } .page { padding: 14mm 16mm } h1 { font-size: 16pt; margin: 0 0 4mm;
    border-left: 3mm solid #000; padding-left: 3mm } .two { display: grid; grid-template-columns: 1fr 1fr; gap: 1mm
    12mm }
    .u { display: flex; gap: 8mm; margin-bottom: 2mm } .u div { flex: 1; font-size: 7.5pt; color: #333 } .u i { display:
    block; height: 8mm; border-bottom: 0.3mm solid #000 } .it { height: 14.5mm } .a { display: flex; gap: 9mm;
    margin-top: 1.4mm; font-size: 9pt } .a span { display: flex; align-items: center; gap: 1.6mm }
    .o { width: 4.8mm; height: 4.8mm; border-radius: 50%; border: 0.3mm solid #000 } .d i { border-bottom-style:
    dotted }"""

    def under(field_id: str, label: str) -> str:
        style = marked(field_id, "text", "rule", label)
        return f"<div><i {style}></i>{label}</div>"

    cards = []
    for name in items(22, start=8, step=5):
        choice = "".join(
            answers(name, item(name), "box", ("OK", "Not OK", "N/A"), '<span><i class="o" {at}></i>{word}</span>')
        )
        cards.append(f'<div class="it">{escape(item(name))}<div class="a">{choice}</div></div>')
    body = (
        '<h1>Baggage tug daily check</h1><div class="u">'
        + under("unit", "Tug no.")
        + under("date", "Date (day / month / year)")
        + under("hours", "Hourmeter")
        + '</div><div class="u">'
        + under("operator", "Your name")
        + under("stand", "Stand")
        + under("shift", "Shift")
        + f'</div><div class="two">{"".join(cards)}</div><b>Faults found</b>'
        + "".join(
            f'<div style="height:8mm;border-bottom:0.3mm dotted #000" {marked(f"remarks.{k}", "text", "dots")}></div>'
            for k in (1, 2, 3)
        )
        + '<div class="u" style="margin-top:3mm">'
        + under("signature", "Signature")
        + under("told", "Handed to")
        + "</div>"
    )
    return printed_form("airport-tug", run, (210.0, 297.0), css, body)


def drill_tiles(run: str) -> DrawnForm:
    """Landscape, grey tiles four abreast, each with its words and two white boxes at its right end under tiny words."""
    css = """body { font: 9.5pt 'DejaVu Sans Condensed' } .page { padding: 10mm 12mm } h1 { font-size: 15pt; margin: 0 }
    .t { display: grid; grid-template-columns: repeat(4, 1fr); gap: 2mm; margin: 3mm 0 } .c { background: #e2e2e2;
    height: 14mm; padding: 1.5mm 2mm; display: flex; justify-content: space-between } .c p { margin: 0; width: 36mm }
    .b { display: flex; gap: 3mm } .b span { font-size: 6pt; text-align: center } .b i { display: block; width: 7mm;
    height: 7mm; border: 0.3mm solid #000; background: #fff } .h { display: flex; gap: 5mm; margin-top: 3mm }
    .h div { flex: 1; display: flex; align-items: center; gap: 2mm } .h i { flex: 1; height: 8mm; border: 0.25mm
    solid #000 }
    .n { height: 24mm; border: 0.25mm solid #000 }"""

    def framed(field_id: str, label: str) -> str:
        return f"<div>{label}<i {marked(field_id, 'text', 'area', label)}></i></div>"

    tiles = []
    for name in items(28, start=2, step=9):
        boxes = "".join(answers(name, item(name), "box", ("OK", "FAULT"), "<span>{word}<i {at}></i></span>"))
        tiles.append(f'<div class="c"><p>{escape(item(name))}</p><div class="b">{boxes}</div></div>')
    body = (
        '<h1>Drill rig start-up</h1><div class="h">'
        + framed("unit", "Rig no.")
        + framed("date", "Date")
        + framed("hours", "Percussion hours")
        + '</div><div class="h">'
        + framed("operator", "Driller")
        + framed("site", "Bench")
        + framed("pattern-no", "Pattern no.")
        + f'</div><div class="t">{"".join(tiles)}</div>Comments<div class="n" '
        + f'{marked("remarks", "text", "area", "Comments")}></div><div class="h">'
        + framed("signature", "Signature")
        + framed("told", "Told to")
        + "</div>"
    )
    return printed_form("drill-tiles", run, (297.0, 210.0), css, body)


def hoist_log(run: str) -> DrawnForm:
    """A month with a row to each day: the points stand over the columns, upright, then hours, name and remarks."""
    css = """body { font: 8pt 'Liberation Sans' } .page { padding: 9mm 11mm } table { border-collapse: collapse;
    width: 188mm; table-layout: fixed; margin-top: 3mm } td, th { border: 0.2mm solid #000; height: 6.6mm; padding: 0;
    text-align: center; font-weight: normal } .v { height: 30mm; vertical-align: bottom } .v span { writing-mode:
    vertical-rl; transform: rotate(180deg); white-space: nowrap; padding: 1mm 0 } h1 { font-size: 15pt; margin: 0 }
    .f { display: flex; gap: 6mm; margin-top: 3mm; align-items: flex-end } .f i { flex: 1; height: 7mm; border-bottom:
    0.25mm solid #000 }"""
    names = items(10, start=15, step=4)
    columns = "".join(f'<col style="width:{w}mm">' for w in (10, *((9,) * 10), 22, 26, 40))
    heads = "".join(f'<th class="v"><span>{escape(item(name))}</span></th>' for name in names)
    rows = []
    for day in range(1, 32):
        cells = "".join(f"<td {marked(f'item.{name}.{day}', 'mark', 'cell', item(name))}></td>" for name in names)
        cells += f"<td {marked(f'hours.{day}', 'text', 'cell', 'Hours')}></td>"
        cells += f"<td {marked(f'initials.{day}', 'text', 'cell', 'Initials')}></td><td></td>"
        rows.append(f"<tr><td>{day}</td>{cells}</tr>")

    def line(field_id: str, label: str) -> str:
        return f"{label} <i {marked(field_id, 'text', 'rule', label)}></i>"

    body = (
        f'<h1>Goods hoist &ndash; log for one month</h1><div class="f">{line("unit", "Hoist no.")}'
        f"{line('month', 'Month')}{line('site', 'Site')}</div><table>{columns}<tr><th>Day</th>{heads}"
        f"<th>Hours</th><th>Initials</th><th>Remarks</th></tr>{''.join(rows)}</table>"
        "<div style='margin-top:2mm'>\u2713 = in order, X = not in order, \u2013 = not checked (not in use)</div>"
        f'<div class="f">{line("foreman", "Site manager")}{line("date", "Date checked")}</div>'
    )
    legend = {"tick": "ok", "cross": "defect", "dash": "na"}
    return printed_form("hoist-log", run, (210.0, 297.0), css, body, legend)


def pocket_book(run: str) -> DrawnForm:
    """A5 on its side, a page of a duplicate book: boxes at both sides of the words, number printed, a big frame."""
    css = """body { font: 9pt 'Nimbus Roman' } .page { padding: 7mm 9mm } .no { position: absolute; right: 9mm; top:
    7mm;
    font: bold 14pt 'Liberation Mono' } h1 { font-size: 13pt; margin: 0 } .r { display: flex; gap: 4mm;
    align-items: flex-end; margin-top: 1.5mm } .r i { flex: 1; height: 7mm; border-bottom: 0.4mm dotted #000 }
    .two { display: grid; grid-template-columns: 1fr 1fr; gap: 0 10mm; margin-top: 2mm } .i { display: flex; height:
    7.2mm;
    align-items: center; gap: 2mm } .i span { flex: 1; text-align: center; border-bottom: 0.2mm dotted #777 }
    .b { width: 4.6mm; height: 4.6mm; border: 0.25mm solid #000 } .h { display: flex; justify-content: space-between;
    font-size: 7.5pt } .n { height: 22mm; border: 0.4mm solid #000; margin-top: 1.5mm; padding: 0.5mm 1mm }"""

    def dotted(field_id: str, label: str) -> str:
        return f"{label}<i {marked(field_id, 'text', 'dots', label)}></i>"

    rows = []
    for name in items(16, start=1, step=7):
        good, bad = answers(name, item(name, 0), "box", ("", ""), '<i class="b" {at}></i>')
        rows.append(f'<div class="i">{good}<span>{escape(item(name, 0))}</span>{bad}</div>')
    head = '<div class="h"><b>Good</b><b>Bad</b></div>'
    inner = marked("remarks", "text", "area", "Defects, or write NIL")
    body = (
        f"<div class='no'>00417</div><h1>Lorry &amp; plant defect book</h1><div class='r'>{dotted('unit', 'Reg. No.')}"
        f"{dotted('odometer', 'Mileage')}{dotted('date', 'Date')}</div><div class='two'>{head}{head}"
        f"<div>{''.join(rows[:8])}</div><div>{''.join(rows[8:])}</div></div><div class='n'>Defects, or write NIL"
        f"<div style='height:17mm' {inner}></div></div><div class='r'>{dotted('operator', 'Driver (block capitals)')}"
        f"{dotted('signature', 'Signed')}</div>"
    )
    return printed_form("pocket-book", run, (210.0, 148.0), css, body)
