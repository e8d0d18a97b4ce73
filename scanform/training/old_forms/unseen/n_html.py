"""Set N, forms in HTML: a quarry's water truck, a rental desk's boom lift. All are invented."""

from __future__ import annotations

from html import escape

from scanform.training.old_forms.chromium import printed_form
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.html_parts import line, marked
from scanform.training.old_forms.unseen.points_n import BOOM_LIFT, WATER_TRUCK

__all__ = ["boom_lift_desk", "water_truck_haul"]


def water_truck_haul(run: str) -> DrawnForm:
    """A4: labelled boxes and a date comb on top, one table with dark banners, cells for a sign and a comment."""
    css = """body { font: 10pt 'Liberation Sans Narrow' } .page { padding: 11mm 14mm } h1 { font-size: 17pt; margin: 0 }
    .top { display: flex; justify-content: space-between; align-items: baseline; margin-bottom: 2.5mm }
    .head { display: grid; grid-template-columns: 38mm 71.65mm 36mm 36mm; border-top: 0.35mm solid #000;
    border-left: 0.35mm solid #000 } .f { position: relative; height: 13.4mm; border: solid #000;
    border-width: 0 0.35mm 0.35mm 0 }
    .f b { position: absolute; left: 1.2mm; top: 0.8mm; font-size: 8pt; font-weight: normal }
    .f .r { position: absolute; left: 1mm; right: 1mm; top: 4.4mm; bottom: 0.6mm }
    .comb { position: absolute; left: 2mm; bottom: 1mm; display: flex }
    .comb i { width: 22px; height: 25px; border: 1px solid #000; margin-left: -1px } .comb i.g { margin-left: 7px }
    .shift { position: absolute; left: 1.5mm; bottom: 2mm; display: flex; gap: 2.6mm; align-items: center }
    .shift span { display: flex; align-items: center; gap: 1mm }
    .shift i { width: 15px; height: 15px; border: 1px solid #000 }
    table { border-collapse: collapse; width: 182mm; margin-top: 1.5mm; table-layout: fixed }
    td, th { border: 0.25mm solid #000; height: 6.5mm; padding: 0 1.5mm } th { font-size: 9pt; text-align: left }
    tr.s td { background: #333; color: #fff; font-weight: bold; height: 5.6mm } .n { width: 9mm } .m { width: 15mm }
    .c { width: 68mm } .key { margin: 3mm 0 0 } .free { height: 15mm; border: 0.35mm solid #000; margin-top: 1mm }
    .sign { display: grid; grid-template-columns: 80mm 60mm 41.65mm; margin-top: 3mm; border-top: 0.35mm solid #000;
    border-left: 0.35mm solid #000 }"""

    def inside(field_id: str, label: str) -> str:
        return f'<div class="f"><b>{label}</b><i class="r" {marked(field_id, "text", "area", label)}></i></div>'

    mark = marked("date", "comb", "comb", "Date (day / month / year)", charset="digits", cell="1")
    comb = "".join(f"<i {mark}{' class=g' if k in (2, 4) else ''}></i>" for k in range(8))
    shifts = "".join(
        f"<span><i {marked('shift', 'choice', 'box', 'Shift', answer=words.lower())}></i>{words}</span>"
        for words in ("Day", "Night")
    )
    rows, number = [], 0
    for heading, points in WATER_TRUCK.items():
        rows.append(f'<tr class="s"><td colspan="4">{heading}</td></tr>')
        for name, words in points.items():
            number += 1
            rows.append(
                f'<tr><td class="n">{number}</td><td>{escape(words)}</td>'
                f"<td {marked(f'item.{name}', 'mark', 'cell', words)}></td>"
                f"<td {marked(f'note.{name}', 'text', 'cell', 'Comment')}></td></tr>"
            )
    body = (
        '<div class="top"><h1>Water Truck Pre-Start</h1><span>Corran Tor Quarry &nbsp;|&nbsp; Mobile plant</span></div>'
        '<div class="head">'
        + inside("unit", "Truck no.")
        + f'<div class="f"><b>Date (day / month / year)</b><div class="comb">{comb}</div></div>'
        + inside("hours-start", "Hours start")
        + inside("hours-end", "Hours finish")
        + f'<div class="f"><b>Shift</b><div class="shift">{shifts}</div></div>'
        + inside("operator", "Operator")
        + inside("site", "Bench / haul road")
        + inside("loads", "Loads of water")
        + '</div><div class="key"><b>&#10003;</b> = OK &nbsp;&nbsp;&nbsp; <b>X</b> = Defect, comment and report '
        "&nbsp;&nbsp;&nbsp; <b>N/A</b> = Not fitted</div>"
        '<table><tr><th class="n">No.</th><th>Check</th><th class="m">&#10003; / X</th><th class="c">Comment</th></tr>'
        f'{"".join(rows)}</table><div style="margin-top:3mm">Anything else to be put right</div>'
        f'<div class="free" {marked("remarks.1", "text", "area", "Anything else to be put right")}></div>'
        '<div class="sign">'
        + inside("signature", "Operator's signature")
        + inside("foreman", "Shift supervisor")
        + inside("time", "Time")
        + "</div>"
    )
    legend = {"tick": "ok", "cross": "defect", "letters": "na"}
    return printed_form("water-truck-haul", run, (210.0, 297.0), css, body, legend)


def boom_lift_desk(run: str) -> DrawnForm:
    """Letter: lines after their labels, numbered questions with a box after Yes and one after No, three parts."""
    css = """body { font: 10pt 'Nimbus Sans' } .page { padding: 12mm 16mm } h1 { font-size: 16pt; margin: 0; text-align:
    center } .firm { text-align: center; font-size: 9pt; margin: 1mm 0 2mm } .f { display: flex; align-items: flex-end;
    gap: 5mm; height: 8.6mm } .f span { display: flex; align-items: flex-end } .f i { flex: 1; height: 6.6mm;
    margin-left: 1.5mm; border-bottom: 0.2mm solid #000 } h2 { font-size: 10.5pt; margin: 3.4mm 0 0;
    border-bottom: 0.5mm solid #000; padding-bottom: 0.6mm }
    .q { display: flex; align-items: center; height: 6.6mm; border-bottom: 0.1mm solid #999 }
    .q .w { flex: 1 } .q .a { width: 19mm; display: flex; align-items: center; justify-content: flex-end; gap: 1.6mm }
    .b { display: block; width: 16px; height: 16px; border: 1px solid #000 } .safe { margin-top: 4mm; font-weight:
    bold; border: 0.3mm solid #000; padding: 0 2.5mm; height: 9mm } .n { width: 7mm }"""

    def writing(field_id: str, label: str, share: float = 1) -> str:
        return f'<span style="flex:{share}">{label}<i {marked(field_id, "text", "rule", label)}></i></span>'

    def yes_no(name: str, words: str) -> str:
        return "".join(
            f'<div class="a">{said}'
            f'<i class="b" {marked(f"item.{name}", "choice", "box", words, answer=answer)}></i></div>'
            for said, answer in (("Yes", "ok"), ("No", "defect"))
        )

    parts, number = [], 0
    for heading, points in BOOM_LIFT.items():
        parts.append(f"<h2>{heading}</h2>")
        for name, words in points.items():
            number += 1
            parts.append(
                f'<div class="q"><div class="n">{number}.</div><div class="w">{escape(words)}</div>'
                f"{yes_no(name, words)}</div>"
            )
    safe = "Is this lift safe to use today?"
    body = (
        "<h1>Boom Lift Daily Inspection</h1>"
        '<div class="firm">Tamarisk Flats Equipment Rental &ndash; complete before each day of use</div>'
        f'<div class="f">{writing("unit", "Equipment #")}{writing("model", "Make / model", 1.3)}</div>'
        f'<div class="f">{writing("date", "Date (MM/DD/YYYY)", 1.3)}{writing("hours", "Hour meter")}</div>'
        f'<div class="f">{writing("operator", "Operator (print)", 1.2)}{writing("site", "Job site", 1.3)}</div>'
        f'{"".join(parts)}<div class="q safe"><div class="w">{safe}</div>{yes_no("safe-to-use", safe)}</div>'
        '<div style="margin-top:4mm">Explain every "No" and tag the lift out. Comments:</div>'
        + "".join(line(f"remarks.{k}", 7.4) for k in (1, 2, 3))
        + '<div class="f" style="height:11mm">'
        + writing("signature", "Operator signature", 1.4)
        + writing("told", "Reported to")
        + "</div>"
    )
    return printed_form("boom-lift-desk", run, (215.9, 279.4), css, body)
