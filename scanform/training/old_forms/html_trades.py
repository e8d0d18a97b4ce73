"""Old forms of single trades, in HTML: a crane's ledger in dots, cards with round boxes. All names are invented."""

from __future__ import annotations

from html import escape

from scanform.training.old_forms.chromium import printed_form
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.html_parts import answers, marked
from scanform.training.old_forms.trades import CRANE, SMALL_PLANT
from scanform.training.old_forms.wording import item, items

__all__ = ["crane_ledger", "loader_groups", "plant_cards", "sweeper_pairs"]


def crane_ledger(run: str) -> DrawnForm:
    """A table in dotted lines, answer cells left of the item, shaded headings; labels small under their lines."""
    css = """body { font: 9.5pt 'Liberation Serif' } .page { padding: 11mm 14mm }
    h1 { font-size: 16pt; margin: 0; letter-spacing: 0.6mm } .row { display: flex; gap: 6mm; margin-top: 1.5mm }
    .f { flex: 1; font-size: 7pt } .f i { display: block; height: 8mm; border-bottom: 0.25mm solid #000 }
    table { border-collapse: collapse; width: 187.9mm; table-layout: fixed; margin: 3mm 0 }
    td, th { border: 0.35mm dotted #000; height: 6.7mm; padding: 0 1.5mm; font-weight: normal }
    .s { background: #d4d4d4; font-weight: bold; text-align: left } .n { text-align: right }
    .free { border: 0.25mm solid #000; height: 27mm; font-size: 7pt; padding: 0.6mm 1mm }
    .free i { display: block; height: 22mm }"""

    def under(field_id: str, label: str, share: float = 1) -> str:
        style = marked(field_id, "text", "rule", label)
        return f'<div class="f" style="flex:{share}"><i {style}></i>{label}</div>'

    number, rows = 0, []
    for heading, points in CRANE.items():
        rows.append(f'<tr><td class="s" colspan="5">{heading}</td></tr>')
        for name, words in points.items():
            number += 1
            cells = "".join(answers(name, words, "cell", ("",) * 3, "<td {at}></td>"))
            rows.append(f'<tr>{cells}<td class="n">{number}</td><td>{escape(words)}</td></tr>')
    columns = "".join(f'<col style="width:{w}mm">' for w in (15, 15, 15, 10, 132.9))
    free = marked("remarks", "text", "area", "Faults: what, and where")
    body = (
        "<h1>CRANE LOG</h1><div>Thornwick Lifting - one page a shift, kept in the cab for a week</div>"
        f'<div class="row">{under("unit", "Crane no.")}{under("date", "Date")}{under("hours", "Hour meter")}'
        f'{under("shift", "Shift", 0.6)}</div><div class="row">{under("operator", "Operator (print name)", 2)}'
        f"{under('site', 'Job site', 1.4)}</div>"
        f"<table>{columns}<tr><th>OK</th><th>Fault</th><th>N/A</th><th></th><th></th></tr>{''.join(rows)}</table>"
        f'<div class="free">Faults: what, and where<i {free}></i></div>'
        f'<div class="row">{under("signature", "Operator&#39;s signature")}{under("told", "Reported to")}</div>'
    )
    return printed_form("crane-ledger", run, (215.9, 279.4), css, body)


def plant_cards(run: str) -> DrawnForm:
    """Cards in three columns, under each item's words three round boxes; the date in a comb, labels in the cells."""
    css = """body { font: 9pt 'Liberation Sans' } .page { padding: 12mm } h1 { font-size: 15pt; margin: 0 0 2mm }
    .head { display: flex; gap: 3mm; margin-bottom: 3mm; align-items: center }
    .cell { border: 0.3mm solid #000; height: 11mm; flex: 1; display: flex; align-items: center; padding-left: 1mm }
    .cell i { flex: 1; height: 10mm; margin: 0 1mm } .comb { display: flex }
    .comb i { width: 6mm; height: 8mm; border: 0.25mm solid #000; margin-right: -0.25mm }
    .cards { display: grid; grid-template-columns: repeat(3, 1fr); gap: 2.5mm }
    .card { border: 0.2mm solid #888; height: 18.5mm; padding: 1mm 2mm; border-radius: 1.5mm }
    .a { display: flex; justify-content: space-between; margin-top: 2.5mm; font-size: 8pt }
    .a span { display: flex; align-items: center; gap: 1mm }
    .o { width: 4.4mm; height: 4.4mm; border: 0.3mm solid #000; border-radius: 50% }"""

    def cell(field_id: str, label: str, share: float = 1) -> str:
        return f'<div class="cell" style="flex:{share}">{label}<i {marked(field_id, "text", "area", label)}></i></div>'

    cards = []
    for number, (name, words) in enumerate(SMALL_PLANT.items(), start=1):
        element = '<span><i class="o" {at}></i>{word}</span>'
        choice = "".join(answers(name, words, "box", ("Good", "Needs work", "Not fitted"), element))
        cards.append(f'<div class="card"><b>{number}</b> {escape(words)}<div class="a">{choice}</div></div>')
    comb = f"<i {marked('date', 'comb', 'comb', 'Date', charset='digits')}></i>" * 6
    body = (
        "<h1>Site plant - start-up card</h1><div class='head'>"
        + cell("unit", "Plant no.")
        + cell("hours", "Hours")
        + f'<div>Date (DDMMYY)</div><div class="comb">{comb}</div></div><div class="head">'
        + cell("operator", "Operator", 2)
        + cell("site", "Location")
        + f'</div><div class="cards">{"".join(cards)}</div><div class="head" style="margin-top:3mm">'
        + '<div class="cell" style="height:16mm">Remarks'
        + f'<i style="height:15mm" {marked("remarks", "text", "area", "Remarks")}></i></div></div>'
        + f'<div class="head">{cell("signature", "Signed")}{cell("told", "Foreman told")}</div>'
    )
    return printed_form("plant-cards", run, (210.0, 297.0), css, body)


def loader_groups(run: str) -> DrawnForm:
    """Landscape: framed groups side by side, words before their boxes; white labels on dark beside header cells."""
    css = """body { font: 9.5pt 'DejaVu Sans' } .page { padding: 9mm 11mm } h1 { font-size: 14pt; margin: 0 0 2mm }
    .head { display: grid; grid-template-columns: 26mm 1fr 26mm 1fr 26mm 1fr; margin-bottom: 3mm }
    .l { background: #444; color: #fff; height: 9mm; padding: 2mm 1.5mm; border: 0.3mm solid #000 }
    .v { height: 9mm; border: 0.3mm solid #000; margin-left: -0.3mm }
    .groups { display: grid; grid-template-columns: 1fr 1fr; gap: 3mm 5mm }
    fieldset { border: 0.4mm solid #000; margin: 0; padding: 1mm 2.5mm } legend { font-weight: bold; padding: 0 1mm }
    .row { display: flex; height: 7.2mm; align-items: center; border-bottom: 0.15mm dotted #777 }
    .row:last-child { border: 0 } .i { flex: 1 } .a { display: flex; align-items: center; width: 24mm;
    justify-content: flex-end; gap: 1.5mm } .b { width: 4.2mm; height: 4.2mm; border: 0.3mm solid #000 }
    .free { height: 21mm; border: 0.3mm solid #000; margin-top: 1mm }"""

    def pair(field_id: str, label: str) -> str:
        return f'<div class="l">{label}</div><div class="v" {marked(field_id, "text", "cell", label)}></div>'

    names, groups = items(24, start=11, step=5), []
    for k, heading in enumerate(("Outside", "Engine", "Cab", "Moving")):
        rows = []
        for name in names[6 * k : 6 * k + 6]:
            element = '<span class="a">{word}<i class="b" {at}></i></span>'
            boxes = "".join(answers(name, item(name), "box", ("Fine", "Fault"), element))
            rows.append(f'<div class="row"><span class="i">{escape(item(name))}</span>{boxes}</div>')
        groups.append(f"<fieldset><legend>{heading}</legend>{''.join(rows)}</fieldset>")
    body = (
        '<h1>Face loader: start of shift</h1><div class="head">'
        + pair("unit", "Loader")
        + pair("date", "Date")
        + pair("hours", "Hours")
        + pair("operator", "Operator")
        + pair("site", "Bench")
        + pair("shift", "Shift")
        + f'</div><div class="groups">{"".join(groups)}</div><div style="margin-top:3mm">Description of faults</div>'
        + f'<div class="free" {marked("remarks", "text", "area", "Description of faults")}></div>'
        + f'<div class="head" style="margin:3mm 0 0">{pair("signature", "Signed")}{pair("told", "Reported to")}</div>'
    )
    return printed_form("loader-groups", run, (297.0, 210.0), css, body)


def sweeper_pairs(run: str) -> DrawnForm:
    """Two columns of items, each with Y and N to circle and boxed numbers; dotted lines in a frame for remarks."""
    css = """body { font: 10pt 'Liberation Sans' } .page { padding: 13mm 15mm } h1 { font-size: 15pt; margin: 0 }
    .two { display: grid; grid-template-columns: 1fr 1fr; gap: 0 10mm } .head { margin: 4mm 0 }
    .f { display: flex; height: 10mm; align-items: flex-end } .f i { flex: 1; height: 8mm; margin-left: 2mm;
    border-bottom: 0.3mm dotted #000 } .row { display: flex; height: 8mm; align-items: center }
    .row b { width: 6mm; height: 5mm; border: 0.2mm solid #000; text-align: center; font: 8pt 'Liberation Sans' }
    .i { flex: 1; margin-left: 2mm } .w { width: 9mm; text-align: center }
    .frame { border: 0.3mm solid #000; padding: 0 3mm 3mm; margin: 4mm 0 }"""

    def dotted(field_id: str, label: str) -> str:
        return f'<div class="f">{label}<i {marked(field_id, "text", "dots", label)}></i></div>'

    rows = []
    for number, name in enumerate(items(32, start=17, step=3), start=1):
        element = '<span class="w"><span {at}>{word}</span></span>'
        words = "".join(answers(name, item(name), "word", ("Y", "N"), element))
        rows.append(f'<div class="row"><b>{number}</b><span class="i">{escape(item(name))}</span>{words}</div>')
    blocks = "".join(f"<div>{''.join(rows[k : k + 16])}</div>" for k in (0, 16))
    lines = "".join(f'<div {marked(f"remarks.{k}", "text", "dots", "")} class="f"><i></i></div>' for k in (1, 2, 3))
    body = (
        "<h1>Road sweeper, daily</h1><div>Is it in order? Y = yes, N = no. Ring one.</div><div class='two head'>"
        + dotted("unit", "Sweeper no.")
        + dotted("date", "Date")
        + dotted("operator", "Name of driver")
        + dotted("hours", "Engine hours")
        + f'</div><div class="two">{blocks}</div><div class="frame"><div style="padding-top:1mm">Anything ringed N: '
        + f'what is wrong?</div>{lines}</div><div class="two">{dotted("signature", "Signature")}'
        + dotted("told", "Given to")
        + "</div>"
    )
    return printed_form("sweeper-pairs", run, (210.0, 297.0), css, body)
