"""Set M, forms in HTML: a hire firm's scissor lift, a landfill's bulldozer. All are invented."""

from __future__ import annotations

from html import escape

from scanform.training.old_forms.chromium import printed_form
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.html_parts import line, marked
from scanform.training.old_forms.unseen.points_m import DOZER, SCISSOR

__all__ = ["dozer_landfill", "scissor_hired"]


def scissor_hired(run: str) -> DrawnForm:
    """Shaded labels beside cells; "Yes" and "No", each with its box, at the end of every numbered row."""
    # Whole pixels throughout: Chromium moves borders to the nearest, and says where they would lie if it did not.
    css = """body { font: 8.5pt/16px 'DejaVu Sans' } .page { padding: 42px 53px }
    h1 { margin: 0; font: bold 15pt/24px 'DejaVu Sans' }
    .top { display: flex; justify-content: space-between; align-items: flex-end; margin-bottom: 9px }
    table { border-collapse: collapse; table-layout: fixed } .top, table, h2, .row, .ends { width: 688px }
    td, th { border: 1px solid #000; height: 30px } th { background: #e4e4e4; text-align: left; font-weight: normal;
    padding: 0 6px; width: 117px } h2 { font-size: 9pt; margin: 10px 0 0; padding: 3px 8px; background: #333;
    color: #fff } .row { display: flex; align-items: center; height: 24px; border-bottom: 1px solid #999 }
    .row b { width: 30px; text-align: right; padding-right: 8px; font-weight: normal } .row u { flex: 1;
    text-decoration: none } .row s { width: 28px; text-decoration: none; text-align: right } .row i { width: 15px;
    height: 15px; border: 1px solid #000; margin: 0 22px 0 6px } .warn { font-weight: bold; margin: 9px 0 5px }
    .ends { display: flex; gap: 23px; margin-top: 15px } .ends span { display: flex; align-items: flex-end; flex: 1 }
    .ends i { flex: 1; height: 30px; margin-left: 6px; border-bottom: 1px solid #000 }"""

    def pair(field_id: str, label: str) -> str:
        return f"<th>{label}</th><td {marked(field_id, 'text', 'cell', label)}></td>"

    def answered(name: str, label: str) -> str:
        yes = marked(f"item.{name}", "choice", "box", label, answer="ok")
        no = marked(f"item.{name}", "choice", "box", label, answer="defect")
        return f"<s>Yes</s><i {yes}></i><s>No</s><i {no}></i>"

    def signed(field_id: str, label: str) -> str:
        return f"<span>{label}<i {marked(field_id, 'text', 'rule', label)}></i></span>"

    parts, number = [], 0
    for heading, points in SCISSOR.items():
        parts.append(f"<h2>{heading}</h2>")
        for name, words in points.items():
            number += 1
            parts.append(f'<div class="row"><b>{number}</b><u>{escape(words)}</u>{answered(name, words)}</div>')
    body = (
        '<div class="top"><h1>Scissor lift &ndash; daily check</h1><span>Tolmere Access Hire</span></div>'
        f"<table><tr>{pair('unit', 'Fleet number')}{pair('date', 'Date')}</tr>"
        f"<tr>{pair('hours', 'Hour meter')}{pair('contract-no', 'Contract no.')}</tr>"
        f"<tr>{pair('operator', 'Operator')}{pair('site', 'Site')}</tr></table>{''.join(parts)}"
        '<div class="warn">Any &ldquo;No&rdquo;: do not use the lift, take the key out and ring the hire desk.</div>'
        f"<div>Details of faults</div>{line('remarks.1', 7.41)}{line('remarks.2', 7.41)}{line('remarks.3', 7.41)}"
        f'<div class="ends">{signed("signature", "Operator&rsquo;s signature")}{signed("told", "Reported to")}</div>'
    )
    return printed_form("scissor-hired", run, (210.0, 297.0), css, body)


def dozer_landfill(run: str) -> DrawnForm:
    """Letter: labels over their room in one frame, a sign for every point and room for a comment beside it."""
    css = """body { font: 9pt/16px 'Liberation Sans' } .page { padding: 38px 49px } h1 { margin: 0; text-align: center;
    font: bold 14pt/22px 'Liberation Sans' } .sub { text-align: center; margin: 2px 0 9px } .head { display: grid;
    grid-template-columns: repeat(4, 179px); border: 0 solid #000; border-width: 2px 0 0 2px }
    .f { height: 42px; border: 0 solid #000; border-width: 0 1px 1px 0; font-size: 7pt; line-height: 12px;
    padding: 2px 4px; position: relative } .f > i { position: absolute; inset: 14px 2px 2px }
    .f:nth-child(4n) { border-right-width: 2px } .f:nth-child(n+5) { border-bottom-width: 2px }
    .shift { display: flex; gap: 5px; align-items: center; margin-top: 3px; font-size: 8.5pt; height: 16px }
    .shift i { width: 14px; height: 14px; border: 1px solid #000 } .shift span { width: 40px }
    .key { margin: 8px 0 4px } table { border-collapse: collapse; table-layout: fixed; border: 2px solid #000 }
    .head, table, .ends { width: 718px } td, th { border: 1px solid #000; height: 21px; padding: 0 6px;
    text-align: left } th { font-size: 8.5pt } .group td { font-weight: bold; font-size: 8pt; background: #ececec }
    .c { width: 76px; text-align: center } .n { width: 288px } .ends { display: flex; gap: 19px; margin-top: 9px }
    .ends span { display: flex; align-items: flex-end; flex: 1.4 } .ends span + span { flex: 1 }
    .ends i { flex: 1; height: 28px; margin-left: 6px; border-bottom: 1px solid #000 }"""

    def inside(field_id: str, label: str) -> str:
        return f'<div class="f">{label}<i {marked(field_id, "text", "area", label)}></i></div>'

    def signed(field_id: str, label: str) -> str:
        return f"<span>{label}<i {marked(field_id, 'text', 'rule', label)}></i></span>"

    shifts = "".join(
        f"<i {marked('shift', 'choice', 'box', 'Shift', answer=word.lower())}></i><span>{word}</span>"
        for word in ("Day", "Night")
    )
    rows = []
    for heading, points in DOZER.items():
        rows.append(f'<tr class="group"><td colspan="3">{heading}</td></tr>')
        for name, words in points.items():
            sign = marked(f"item.{name}", "mark", "cell", words)
            note = marked(f"note.{name}", "text", "cell", "Comments")
            rows.append(f'<tr><td>{escape(words)}</td><td class="c" {sign}></td><td class="n" {note}></td></tr>')
    body = (
        "<h1>DOZER DAILY INSPECTION</h1><div class='sub'>Harlan Flats Regional Landfill</div><div class='head'>"
        + inside("unit", "Dozer #")
        + inside("date", "Date")
        + inside("operator", "Operator")
        + f'<div class="f">Shift<div class="shift">{shifts}</div></div>'
        + inside("hours-start", "Hour meter start")
        + inside("hours-end", "Hour meter end")
        + inside("fuel-added", "Fuel added (gal)")
        + inside("site", "Location")
        + "</div><div class='key'>&#10003; = OK &nbsp;&nbsp;&nbsp; X = needs repair &nbsp;&nbsp;&nbsp; "
        "NA = does not apply</div><table><tr><th>Check</th><th class='c'>Condition</th><th class='n'>Comments</th></tr>"
        + f"{''.join(rows)}</table><div style='margin-top:8px'>Other repairs needed</div>{line('remarks.1', 5.56)}"
        + f"{line('remarks.2', 6.88)}<div class='ends'>{signed('signature', 'Operator signature')}"
        + f"{signed('foreman', 'Supervisor')}</div>"
    )
    legend = {"tick": "ok", "cross": "defect", "letters": "na"}
    return printed_form("dozer-landfill", run, (215.9, 279.4), css, body, legend)
