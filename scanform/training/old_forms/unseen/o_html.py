"""Set O, forms in HTML: a container terminal's reach stacker, a farm's tractor. All are invented."""

from __future__ import annotations

from html import escape

from scanform.training.old_forms.chromium import printed_form
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.html_parts import answers, marked
from scanform.training.old_forms.unseen.points_o import FARM_TRACTOR, STACKER

__all__ = ["terminal_stacker", "tractor_yard"]


def terminal_stacker(run: str) -> DrawnForm:
    """Labels in grey cells beside the room for them; two lists abreast, three boxes a point, dark bars."""
    css = """body { font: 10pt 'Liberation Sans Narrow' } .page { padding: 10mm 12mm }
    .title { display: flex; border: 0.35mm solid #000; height: 14mm; align-items: center }
    .title b { font-size: 15pt; flex: 1; text-align: center } .title span { padding: 0 3mm; line-height: 1.3 }
    .title span:first-child { font-size: 11pt; font-weight: bold }
    table { border-collapse: collapse } .head { width: 186mm; margin-top: 3mm; table-layout: fixed }
    .head td { border: 0.25mm solid #000; height: 8mm; padding: 0 1.5mm } .head .l { background: #e4e4e4; width: 24mm }
    .b { display: inline-block; width: 4.4mm; height: 4.4mm; border: 0.3mm solid #000; vertical-align: middle;
    background: #fff } .s { margin: 0 5mm 0 1mm }
    .two { display: flex; justify-content: space-between; margin-top: 3mm } .list { width: 91mm; table-layout: fixed }
    .list td { border: 0.15mm solid #777; height: 8mm; padding: 0 1.5mm } .list .bar td { background: #333;
    color: #fff; font-weight: bold; height: 6mm; border-color: #333 } .list .c { width: 10.5mm; padding: 0;
    text-align: center } .bar .c { font-weight: normal; font-size: 9pt }
    .notes { margin-top: 5mm; font-weight: bold } .l1 { height: 8mm; border-bottom: 0.2mm solid #000 }
    .fit { border: 0.35mm solid #000; padding: 0 3mm; margin-top: 4mm; height: 9mm; display: flex; align-items: center }
    .fit b { margin-right: 12mm }"""
    rows: tuple[tuple[tuple[str, str], ...], ...] = (
        (("unit", "Machine no."), ("date", "Date"), ("operator", "Operator")),
        (("hours-start", "Hours at start"), ("hours-end", "Hours at end"), ("site", "Yard block")),
    )
    head = "".join(f"<tr>{''.join(_labelled(*pair) for pair in row)}</tr>" for row in rows)
    shifts = "".join(
        f'{word}<i class="b s" {marked("shift", "choice", "box", "Shift", answer=word.lower())}></i>'
        for word in ("Day", "Late", "Night")
    )
    head += f'<tr><td class="l">Shift</td><td colspan="3">{shifts}</td>{_labelled("fuel-added", "Fuel added (l)")}</tr>'
    headings = list(STACKER)
    lists = "".join(_stacker_list(part) for part in (headings[:2], headings[2:]))
    fit = "".join(
        f'{word} <i class="b s" {marked("item.fit-for-use", "choice", "box", "Machine fit for use?", answer=answer)}>'
        "</i>"
        for word, answer in (("Yes", "ok"), ("No", "defect"))
    )
    body = (
        '<div class="title"><span>Skerrow<br>Terminals</span><b>Reach stacker daily check</b>'
        f'<span>Form YE-014<br>Rev. 3</span></div><table class="head">{head}</table>'
        f'<div class="two">{lists}</div><div class="notes">Defects found and action taken</div>'
        + "".join(f'<div class="l1" {marked(f"remarks.{k}", "text", "rule")}></div>' for k in (1, 2, 3, 4))
        + f'<div class="fit"><b>Machine fit for use?</b>{fit}</div><table class="head"><tr>'
        + _labelled("signature", "Signature")
        + _labelled("told", "Reported to")
        + _labelled("time", "Time")
        + "</tr></table>"
    )
    return printed_form("terminal-stacker", run, (210.0, 297.0), css, body)


def _labelled(field_id: str, label: str) -> str:
    """A grey cell with a label and the cell to write in beside it."""
    return f'<td class="l">{label}</td><td {marked(field_id, "text", "cell", label)}></td>'


def _stacker_list(headings: list[str]) -> str:
    """One of the two lists, a dark bar with the answers' heads over each part."""
    heads = "".join(f'<td class="c">{word}</td>' for word in ("OK", "Defect", "N/A"))
    box = '<td class="c"><i class="b" {at}></i></td>'
    rows = ""
    for heading in headings:
        rows += f'<tr class="bar"><td>{heading}</td>{heads}</tr>'
        for name, words in STACKER[heading].items():
            boxes = "".join(answers(name, words, "box", ("", "", ""), box))
            rows += f"<tr><td>{escape(words)}</td>{boxes}</tr>"
    return f'<div><table class="list">{rows}</table></div>'


def tractor_yard(run: str) -> DrawnForm:
    """A farm office's page: dotted lines after labels, a box before every point for a tick or a cross, two columns."""
    css = """body { font: 11pt 'P052' } .page { padding: 15mm 17mm } h1 { font-size: 20pt; margin: 0; font-weight:
    normal; text-align: center } .sub { text-align: center; font-style: italic; margin-bottom: 4mm }
    .f { display: flex; gap: 5mm } .f span { display: flex; align-items: flex-end; height: 9mm; white-space: nowrap }
    .f i { flex: 1; height: 7mm; margin-left: 1.5mm; border-bottom: 0.3mm dotted #000 }
    .key { margin: 5mm 0 1mm; border-top: 0.2mm solid #000; border-bottom: 0.2mm solid #000; padding: 1.2mm 0;
    text-align: center } .two { display: grid; grid-template-columns: 1fr 1fr; gap: 8mm }
    h2 { font-size: 12pt; margin: 4mm 0 1mm } .row { display: flex; align-items: center; height: 8.2mm; gap: 3mm }
    .b { width: 5.2mm; height: 5.2mm; border: 0.2mm solid #000 } h3 { font-size: 12pt; margin: 5mm 0 0 }
    .l { height: 8.5mm; border-bottom: 0.3mm dotted #000 }"""

    def after(field_id: str, label: str, share: float = 1) -> str:
        return f'<span style="flex:{share}">{label}<i {marked(field_id, "text", "dots", label)}></i></span>'

    columns = []
    for part in (list(FARM_TRACTOR)[:2], list(FARM_TRACTOR)[2:]):
        rows = ""
        for heading in part:
            rows += f"<h2>{heading}</h2>" + "".join(
                f'<div class="row"><i class="b" {marked(f"item.{name}", "mark", "box", words)}></i>'
                f"{escape(words)}</div>"
                for name, words in FARM_TRACTOR[heading].items()
            )
        columns.append(f"<div>{rows}</div>")
    body = (
        "<h1>Tractor check sheet</h1><div class='sub'>Nether Wendle Farms &ndash; one sheet per tractor per day</div>"
        f'<div class="f">{after("unit", "Tractor")}{after("date", "Date")}{after("hours", "Hours on clock")}</div>'
        f'<div class="f">{after("operator", "Driver", 1.4)}{after("implement", "Implement")}</div>'
        '<div class="key">&#10003; = good &nbsp;&nbsp;&nbsp; &#10007; = needs seeing to &nbsp;&nbsp;&nbsp; '
        "&ndash; = not fitted</div>"
        f'<div class="two">{"".join(columns)}</div><h3>Anything that needs seeing to</h3>'
        + "".join(f'<div class="l" {marked(f"remarks.{k}", "text", "dots")}></div>' for k in (1, 2, 3, 4))
        + f'<div class="f" style="margin-top:6mm">{after("signature", "Signed", 1.2)}{after("told", "Told to")}</div>'
    )
    legend = {"tick": "ok", "cross": "defect", "dash": "na"}
    return printed_form("tractor-yard", run, (210.0, 297.0), css, body, legend)
