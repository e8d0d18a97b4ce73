"""Set L, forms in HTML: a warehouse's questions, a farm's list. All are invented."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from scanform.training.old_forms.chromium import printed_form
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.html_parts import answers, line, marked
from scanform.training.old_forms.unseen.points_l import FARM_HANDLER, FORKLIFT

__all__ = ["farm_handler", "warehouse_forklift"]


def warehouse_forklift(run: str) -> DrawnForm:
    """Letter: numbered questions in a table, bare cells under Yes and No; frames beside labels, boxes for the date."""
    css = """body { font: 9.5pt 'Nimbus Sans' } .page { padding: 11mm 15mm } h1 { font-size: 16pt; margin: 0;
    text-align: center } .firm { text-align: center; font-size: 9pt; border-bottom: 0.7mm solid #000;
    padding-bottom: 1.5mm } .head { display: grid; grid-template-columns: 63mm 72mm 43.9mm; gap: 2.4mm 3.5mm;
    margin: 3.5mm 0 } .f { display: flex; align-items: center; gap: 1.5mm; white-space: nowrap }
    .f > i { flex: 1; height: 7.6mm; border: 0.25mm solid #000 } .r { display: flex; align-items: center }
    .c { width: 5.6mm; height: 7.6mm;
    border: 0.25mm solid #000; margin-left: -0.25mm } .c:nth-child(odd) { margin-left: 1.2mm }
    .s { width: 4.6mm; height: 4.6mm; border: 0.25mm solid #000; margin: 0 1mm 0 3mm }
    table { border-collapse: collapse; width: 185.9mm; table-layout: fixed } td, th { border: 0.2mm solid #000 }
    th { background: #444; color: #fff; font-size: 9pt; height: 6mm; padding: 0 1.5mm } th:first-child { text-align:
    left } td { height: 8.4mm; padding: 0 1.5mm } .n { width: 9mm; text-align: center } .a { width: 17mm }
    .out { font-weight: bold; margin: 2.5mm 0 0 } .sign { display: grid; grid-template-columns: 1fr 1fr; gap: 6mm }
    .sign div { display: flex; align-items: flex-end; gap: 1.5mm; height: 11mm }
    .sign i { flex: 1; height: 8mm; border-bottom: 0.25mm solid #000 }"""

    def framed(field_id: str, label: str) -> str:
        return f'<div class="f">{label}<i {marked(field_id, "text", "box", label)}></i></div>'

    def signed(field_id: str, label: str) -> str:
        return f"<div>{label}<i {marked(field_id, 'text', 'rule', label)}></i></div>"

    label = "Date (MM/DD/YY)"
    cell = f'<i class="c" {marked("date", "comb", "comb", label, charset="digits")}></i>'
    shifts = "".join(
        f'<i class="s" {marked("shift", "choice", "box", "Shift", answer=answer)}></i>{word}'
        for answer, word in (("day", "Day"), ("swing", "Swing"), ("night", "Night"))
    )
    rows, number = [], 0
    for heading, points in FORKLIFT.items():
        rows.append(f'<tr><th colspan="2">{heading}</th><th class="a">YES</th><th class="a">NO</th></tr>')
        for name, words in points.items():
            number += 1
            cells = "".join(answers(name, words, "cell", ("", ""), '<td class="a" {at}></td>'))
            rows.append(f'<tr><td class="n">{number}</td><td>{escape(words)}</td>{cells}</tr>')
    body = (
        "<h1>Forklift Operator&rsquo;s Daily Checklist</h1>"
        '<div class="firm">Harlan Crossing Distribution Center &ndash; sit-down LP trucks</div><div class="head">'
        + framed("unit", "Truck #")
        + f'<div class="f">{label}<span class="r">{cell * 6}</span></div>'
        + framed("hours", "Hours")
        + framed("operator", "Operator")
        + f'<div class="f">Shift<span class="r">{shifts}</span></div>'
        + framed("site", "Dock")
        + '</div><table><colgroup><col class="n"><col><col class="a"><col class="a"></colgroup>'
        + "".join(rows)
        + '</table><div class="out">Any NO: park the truck, take the key, tell your lead. Describe the problem:</div>'
        + "".join(line(f"remarks.{k}", 8) for k in (1, 2, 3))
        + f'<div class="sign">{signed("signature", "Operator signature")}{signed("told", "Reported to")}</div>'
    )
    return printed_form("warehouse-forklift", run, (215.9, 279.4), css, body)


def farm_handler(run: str) -> DrawnForm:
    """Two open columns, dots from each point to one box for a sign; the clock and the fuel at the end of the second."""
    css = """body { font: 11pt 'P052' } .page { padding: 15mm 17mm } h1 { font: 20pt 'P052'; margin: 0 }
    .top { display: flex; justify-content: space-between; align-items: baseline; margin-bottom: 3mm }
    .f { display: flex; align-items: flex-end; gap: 1.5mm; height: 9mm } .f i { flex: 1; height: 7mm;
    border-bottom: 0.35mm dotted #000 } .head { display: grid; grid-template-columns: 1fr 0.7fr 1.1fr; gap: 4mm }
    .key { margin: 5mm 0 1mm; font-style: italic } .cols { display: grid; grid-template-columns: 1fr 1fr; gap: 12mm }
    h2 { font-size: 12pt; margin: 4mm 0 1.5mm; border-bottom: 0.3mm solid #000 } .p { display: flex;
    align-items: center; height: 8.7mm } .p u { flex: 1; border-bottom: 0.3mm dotted #777; margin: 2.6mm 1.5mm 0;
    height: 0 } .p i { width: 5.5mm; height: 5.5mm; border: 0.3mm solid #000 }
    .free { border: 0.3mm solid #000; height: 42mm; margin: 1.5mm 0 4mm } .two { display: grid; gap: 8mm;
    grid-template-columns: 1fr 1fr }"""

    def dotted(field_id: str, label: str) -> str:
        return f'<div class="f">{label}<i {marked(field_id, "text", "dots", label)}></i></div>'

    def part(heading: str) -> str:
        rows = (
            f'<div class="p">{escape(words)}<u></u><i {marked(f"item.{name}", "mark", "box", words)}></i></div>'
            for name, words in FARM_HANDLER[heading].items()
        )
        return f"<h2>{heading}</h2>{''.join(rows)}"

    def column(parts: Iterable[str], more: str = "") -> str:
        return f"<div>{''.join(map(part, parts))}{more}</div>"

    today = (
        "<h2>Today</h2>"
        + dotted("hours-start", "Clock at start")
        + dotted("hours-end", "Clock at finish")
        + dotted("fuel-put-in", "Fuel put in (litres)")
    )
    body = (
        '<div class="top"><h1>Telehandler &ndash; daily check</h1><span>Whinbarrow Farms</span></div><div class="head">'
        + dotted("unit", "Machine")
        + dotted("date", "Date")
        + dotted("operator", "Driver")
        + '</div><div class="key">&#10003; all right &nbsp;&nbsp; &#10007; wants attention &nbsp;&nbsp; &ndash; not on '
        + 'this machine</div><div class="cols">'
        + column(("Under the bonnet", "Walk round"))
        + column(("In the cab", "Moving off"), today)
        + '</div><div style="margin-top:6mm">What wants attention</div>'
        + f'<div class="free" {marked("remarks", "text", "area", "What wants attention")}></div>'
        + f'<div class="two">{dotted("signature", "Signed")}{dotted("told", "Told")}</div>'
    )
    legend = {"tick": "ok", "cross": "defect", "dash": "na"}
    return printed_form("farm-handler", run, (210.0, 297.0), css, body, legend)
