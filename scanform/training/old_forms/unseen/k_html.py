"""Set K, forms in HTML: a mobile crane, a mine's ambulance, a works bakkie, a week of a scissor lift. All invented."""

from __future__ import annotations

from html import escape

from scanform.form.days import DAY_TITLES, DAYS
from scanform.training.old_forms.chromium import printed_form
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.html_parts import answers, line, marked, writing
from scanform.training.old_forms.unseen.points_k import AMBULANCE, BAKKIE, MOBILE_CRANE, SCISSOR

__all__ = ["mobile_crane_remarks", "scissor_week", "works_ambulance", "works_bakkie"]

_A4, _A4_ACROSS, _LETTER = (210.0, 297.0), (297.0, 210.0), (215.9, 279.4)


def mobile_crane_remarks(run: str) -> DrawnForm:
    """A ruled table with a remark beside every item, parts on tinted rows; the head is a table of labels and rooms."""
    css = """body { font: 9pt 'Liberation Sans' } .page { padding: 11mm 14mm } h1 { font-size: 14pt; margin: 0;
    text-align: center } h2 { font-size: 10pt; margin: 0 0 2.5mm; font-weight: normal; text-align: center }
    table { border-collapse: collapse; width: 182mm; table-layout: fixed; margin-bottom: 3mm }
    td, th { border: 0.25mm solid #000; height: 6.3mm; padding: 0 1.4mm; text-align: left }
    .head td { height: 8mm } .head .l, th { background: #e4e9f0 } .l { width: 27mm; font-weight: bold }
    .c { width: 17mm; text-align: center; padding: 0 } .n { width: 9mm; text-align: center; padding: 0 }
    .part { background: #e4e9f0; font-weight: bold } .b { display: inline-block; width: 4mm; height: 4mm;
    border: 0.25mm solid #000; vertical-align: middle; margin-right: 1.5mm } .free { height: 15mm }
    .sign td { height: 11mm }"""

    def room(field_id: str, label: str) -> str:
        return f'<td class="l">{label}</td><td {marked(field_id, "text", "cell", label)}></td>'

    shift = " &nbsp; ".join(
        f'<i class="b" {marked("shift", "choice", "box", "Shift", answer=answer)}></i>{answer.capitalize()}'
        for answer in ("day", "night")
    )
    rows, number = [], 0
    for heading, points in MOBILE_CRANE.items():
        rows.append(f'<tr><td colspan="6" class="part">{heading}</td></tr>')
        for name, words in points.items():
            number += 1
            cells = "".join(answers(name, words, "cell", ("", "", ""), '<td class="c" {at}></td>'))
            rows.append(
                f'<tr><td class="n">{number}</td><td>{escape(words)}</td>{cells}'
                f"<td {marked(f'note.{name}', 'text', 'cell', 'Remarks')}></td></tr>"
            )
    body = (
        "<h1>DAILY CHECKLIST - MOBILE CRANE</h1><h2>Bukit Merbau Lifting Pte. Ltd. &nbsp; Form ML/07 Rev 3</h2>"
        f'<table class="head"><tr>{room("unit", "Crane no.")}{room("date", "Date")}</tr>'
        f"<tr>{room('operator', 'Operator')}{room('hours', 'Hour meter')}</tr>"
        f'<tr>{room("site", "Worksite")}<td class="l">Shift</td><td>{shift}</td></tr></table>'
        '<table><tr><th class="n">No.</th><th style="width:69mm">Item</th><th class="c">Good</th>'
        f'<th class="c">Not good</th><th class="c">N.A.</th><th>Remarks</th></tr>{"".join(rows)}</table>'
        "<div>Defects reported and action taken:</div><table><tr>"
        f'<td class="free" {marked("remarks", "text", "area", "Defects reported and action taken:")}></td></tr></table>'
        f'<table class="sign"><tr>{room("signature", "Operator signature")}'
        f"{room('foreman', 'Lifting supervisor')}</tr></table>"
    )
    return printed_form("mobile-crane-remarks", run, _A4, css, body)


def works_ambulance(run: str) -> DrawnForm:
    """Letter, two columns, two boxes before the words of each point; the date in a comb of year, month and day."""
    css = """body { font: 9.5pt 'Nimbus Sans' } .page { padding: 12mm 15mm } h1 { font-size: 17pt; margin: 0 }
    .top { border-bottom: 0.6mm solid #000; padding-bottom: 1.5mm; margin-bottom: 3mm }
    .f { display: flex; align-items: flex-end; gap: 5mm; margin-bottom: 2mm } .f span { display: flex; flex: 1;
    align-items: flex-end; gap: 1.5mm; white-space: nowrap } .f span i { flex: 1; height: 7mm;
    border-bottom: 0.25mm solid #000 } .f .comb { flex: none } .f .comb i { flex: none; width: 6mm; height: 7mm;
    border: 0.25mm solid #000; margin-left: -0.8mm } .comb b { font-weight: normal; margin-right: 1mm }
    .two { display: grid; grid-template-columns: 1fr 1fr; gap: 10mm } h2 { font-size: 10pt; margin: 3mm 0 0.6mm;
    border-bottom: 0.25mm solid #000; display: flex } h2 u { width: 10mm; text-align: center; text-decoration: none;
    font-size: 8pt; font-weight: normal } h2 em { font-style: normal; margin-left: 2mm }
    .row { display: flex; align-items: center; height: 7.6mm } .row u { width: 10mm; display: flex;
    justify-content: center } .b { width: 4.4mm; height: 4.4mm; border: 0.3mm solid #000 }
    .row em { font-style: normal; margin-left: 2mm } .note { margin-top: 3mm }"""

    def blank(field_id: str, label: str, share: float = 1) -> str:
        return f'<span style="flex:{share}">{label}<i {marked(field_id, "text", "rule", label)}></i></span>'

    def part(heading: str, second: str, bad: str) -> str:
        rows = []
        for name, words in AMBULANCE[heading].items():
            boxes = "".join(
                f'<u><i class="b" {marked(f"item.{name}", "choice", "box", words, answer=answer)}></i></u>'
                for answer in ("ok", bad)
            )
            rows.append(f'<div class="row">{boxes}<em>{escape(words)}</em></div>')
        return f"<h2><u>OK</u><u>{second}</u><em>{heading}</em></h2>{''.join(rows)}"

    digits = [f"<i {marked('date', 'comb', 'comb', 'Date', charset='digits')}></i>" for _ in range(8)]
    comb = f"{''.join(digits[:4])}<b>-</b>{''.join(digits[4:6])}<b>-</b>{''.join(digits[6:])}"
    outside, hood, cab = (part(heading, "Defect", "defect") for heading in ("Outside", "Under the hood", "Cab"))
    comments = "".join(
        f'<div class="f" style="margin:0"><span>{label}<i {marked(f"remarks.{k}", "text", "rule", "Comments")}></i>'
        "</span></div>"
        for k, label in enumerate(("Comments", "", ""), start=1)
    )
    body = (
        '<div class="top"><h1>Ambulance check, start of shift</h1>Silver Tamarack Mine &ndash; First Aid &ndash; give '
        f'to the shift boss when complete</div><div class="f">{blank("unit", "Unit no.")}<span class="comb">Date '
        f"(y-m-d) &nbsp;{comb}</span>{blank('shift', 'Shift', 0.7)}</div>"
        f'<div class="f">{blank("operator", "Attendant", 1.5)}{blank("odometer", "Odometer")}</div>'
        f'<div class="f">{blank("oxygen-main", "Oxygen, main (psi)")}'
        f"{blank('oxygen-portable', 'Oxygen, portable (psi)')}</div>"
        f'<div class="two"><div>{part("Patient compartment", "Low", "low")}{hood}</div><div>{outside}{cab}'
        f'</div></div><div class="note">{comments}</div><div class="f" style="margin-top:3mm">'
        f"{blank('signature', 'Attendant signature')}{blank('foreman', 'Shift boss')}</div>"
    )
    return printed_form("works-ambulance", run, _LETTER, css, body)


def works_bakkie(run: str) -> DrawnForm:
    """Two columns of framed parts, one box right of the words of each point; header rooms with small labels inside."""
    css = """body { font: 10pt 'P052' } .page { padding: 13mm 16mm } h1 { font-size: 18pt; margin: 0 }
    .head { display: grid; grid-template-columns: 1.2fr 1fr 1fr; margin: 3mm 0 2.5mm; border-left: 0.3mm solid #000;
    border-top: 0.3mm solid #000 } .f { border-right: 0.3mm solid #000; border-bottom: 0.3mm solid #000; height: 13mm;
    font-size: 8pt; padding: 0.6mm 1.2mm; position: relative } .f i { position: absolute; inset: 4.6mm 0.8mm 0.4mm }
    .two { display: grid; grid-template-columns: 1fr 1fr; gap: 0 8mm; margin-top: 3mm; align-items: start }
    .part { border: 0.3mm solid #000; padding: 0 2.5mm 1.5mm; margin-bottom: 4mm } h2 { font-size: 11pt;
    margin: 1mm 0 0.5mm } .row { display: flex; align-items: center; justify-content: space-between; height: 8mm }
    .b { width: 6mm; height: 6mm; border: 0.3mm solid #000 } .free { border: 0.3mm solid #000; height: 29mm;
    margin: 1mm 0 3mm } .foot { grid-template-columns: 1fr 1fr }"""

    def inside(field_id: str, label: str) -> str:
        return f'<div class="f">{label}<i {marked(field_id, "text", "area", label)}></i></div>'

    def part(heading: str) -> str:
        rows = "".join(
            f'<div class="row">{escape(words)}<i class="b" {marked(f"item.{name}", "mark", "box", words)}></i></div>'
            for name, words in BAKKIE[heading].items()
        )
        return f'<div class="part"><h2>{heading}</h2>{rows}</div>'

    head = (
        inside("unit", "Registration no.")
        + inside("date", "Date")
        + inside("site", "Section")
        + inside("operator", "Driver (print name)")
        + inside("km-out", "Km out")
        + inside("km-in", "Km in")
    )
    body = (
        "<h1>BAKKIE INSPECTION</h1>Withoek Opencast Contractors &middot; every vehicle, every day, before leaving the "
        f'yard<div class="head">{head}</div><b>Mark each block:</b> &nbsp; &#10003; in order &nbsp;&nbsp; X defect '
        f'&nbsp;&nbsp; N/A not fitted<div class="two"><div>{part("Outside")}{part("Under the bonnet")}</div>'
        f"<div>{part('Inside')}{part('Carried')}</div></div>Defects"
        f'<div class="free" {marked("remarks", "text", "area", "Defects")}></div><div class="head foot">'
        f"{inside('signature', 'Signature of driver')}{inside('foreman', 'Foreman')}</div>"
    )
    legend = {"tick": "ok", "cross": "defect", "letters": "na"}
    return printed_form("works-bakkie", run, _A4, css, body, legend)


def scissor_week(run: str) -> DrawnForm:
    """A week on its side: shaded day heads and every other row tinted, hours and initials under the days."""
    css = """body { font: 9pt 'DejaVu Sans Condensed' } .page { padding: 10mm 13mm } h1 { font-size: 15pt; margin: 0 }
    .top { display: flex; justify-content: space-between; align-items: baseline } table { width: 271mm;
    border-collapse: collapse; table-layout: fixed; margin: 3mm 0 1.5mm } td, th { border: 0.2mm solid #444;
    height: 5.9mm; padding: 0 1.5mm; text-align: left } th { background: #d8d8d8; text-align: center }
    tr:nth-child(odd) td { background: #f1f1f1 } td.w, tr:nth-child(odd) td.w { background: #fff }
    .n { width: 9mm; text-align: center } .i { width: 108mm } .last td { height: 7.6mm; font-weight: bold }"""
    head = (
        writing("unit", "Lift no.", 38)
        + writing("hired-from", "Hired from", 52)
        + writing("site", "Job", 52)
        + writing("week", "Week starting", 38)
    )
    rows = []
    for number, (name, words) in enumerate(SCISSOR.items(), start=1):
        cells = "".join(f"<td {marked(f'item.{name}.{day}', 'mark', 'cell', words)}></td>" for day in DAYS)
        rows.append(f'<tr><td class="n">{number}</td><td>{escape(words)}</td>{cells}</tr>')
    for field_id, label in (("hours", "Hour meter"), ("initials", "Operator's initials")):
        cells = "".join(f'<td class="w" {marked(f"{field_id}.{day}", "text", "cell", label)}></td>' for day in DAYS)
        rows.append(f'<tr class="last"><td colspan="2" class="w">{label}</td>{cells}</tr>')
    days = "".join(f"<th>{day}</th>" for day in DAY_TITLES)
    body = (
        '<div class="top"><h1>Scissor lift: daily checks for the week</h1><span>Kowhai Ridge Interiors Ltd</span></div>'
        f'<div style="margin-top:1.5mm">{head}</div><table><tr><th class="n"></th><th class="i">Check</th>{days}</tr>'
        f"{''.join(rows)}</table><div>&#10003; = OK &nbsp;&nbsp;&nbsp; X = fault, tag out and tell the foreman "
        "&nbsp;&nbsp;&nbsp; &ndash; = not on this machine</div><div style='margin-top:2mm'>Faults found</div>"
        + line("remarks.1", 6.2)
        + line("remarks.2", 7)
        + f'<div style="margin-top:2mm">{writing("foreman", "Foreman", 70)}</div>'
    )
    legend = {"tick": "ok", "cross": "defect", "dash": "na"}
    return printed_form("scissor-week", run, _A4_ACROSS, css, body, legend)
