"""Set C, forms in HTML: a ski lift, a council, a hire firm, a mowing crew. All are invented."""

from __future__ import annotations

from html import escape

from scanform.training.old_forms.chromium import printed_form
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.html_parts import answers, marked
from scanform.training.old_forms.unseen.points_c import CHAIRLIFT, GULLY, HIRED, MOWER

__all__ = ["chairlift_opening", "council_gully", "hire_condition", "mowing_crew"]


def chairlift_opening(run: str) -> DrawnForm:
    """Banners in black, two times of the day as rounded boxes right of the words, a line for what was seen."""
    css = """body { font: 9.5pt 'Nimbus Sans' } .page { padding: 10mm 13mm } h1 { font-size: 19pt; margin: 0 }
    .top { display: flex; justify-content: space-between; align-items: flex-end; border-bottom: 0.8mm solid #000 }
    .head { display: grid; grid-template-columns: 1.3fr 1fr 1fr 1fr; gap: 2mm; margin: 3mm 0 }
    .f { border: 0.3mm solid #555; border-radius: 1.8mm; height: 12.5mm; padding: 0.6mm 1.6mm; font-size: 6.5pt;
         text-transform: uppercase; color: #333; position: relative } .f i { position: absolute; inset: 3.6mm 1mm
    0.6mm }
    .bar { background: #111; color: #fff; font-weight: bold; padding: 1mm 2mm; margin-top: 2.4mm; display: flex }
    .bar span:first-child, .row span:first-child { flex: 1 } .t { width: 22mm; text-align: center }
    .bar .s, .row .s { width: 52mm; margin-left: 3mm }
    .row { display: flex; align-items: center; height: 8mm; border-bottom: 0.15mm solid #aaa; padding-left: 2mm }
    .b { display: inline-block; width: 5.4mm; height: 5.4mm; border: 0.35mm solid #000; border-radius: 1.2mm }
    .s { height: 6.4mm; border-bottom: 0.2mm solid #000 } .bar .s { border: 0; height: auto }
    .key { font-size: 8.5pt; margin-top: 2mm } .free { height: 22mm; border: 0.3mm solid #555; border-radius: 1.8mm }
    .two { display: grid; grid-template-columns: 1fr 1fr; gap: 8mm; margin-top: 3mm }"""

    def inside(field_id: str, label: str) -> str:
        return f'<div class="f">{label}<i {marked(field_id, "text", "area", label)}></i></div>'

    rows = []
    for heading, points in CHAIRLIFT.items():
        rows.append(
            f'<div class="bar"><span>{heading}</span><span class="t">07:30</span><span class="t">12:30</span>'
            '<span class="s">Seen</span></div>'
        )
        for name, words in points.items():
            boxes = "".join(
                f'<span class="t"><i class="b" {marked(f"item.{name}-{time}", "mark", "box", words)}></i></span>'
                for time in ("early", "noon")
            )
            rows.append(f'<div class="row"><span>{escape(words)}</span>{boxes}<span class="s"></span></div>')
    body = (
        '<div class="top"><h1>Chairlift opening check</h1><span>Skarnhorn Lifts</span></div><div class="head">'
        + inside("unit", "Lift")
        + inside("date", "Date")
        + inside("hours", "Drive hours")
        + inside("operator", "Checked by")
        + f'</div>{"".join(rows)}<div class="key">&#10003; in order &nbsp;&nbsp; / not needed today &nbsp;&nbsp; '
        "X stop, call the lift engineer</div><div style='margin-top:2mm'>Notes</div>"
        + f'<div class="free" {marked("remarks", "text", "area", "Notes")}></div><div class="two">'
        + inside("signature", "Signature")
        + inside("told", "Reported to")
        + "</div>"
    )
    legend = {"tick": "ok", "slash": "na", "cross": "defect"}
    return printed_form("chairlift-opening", run, (210.0, 297.0), css, body, legend)


def council_gully(run: str) -> DrawnForm:
    """Two languages, one under the other; a tinted row in two; boxes in cells under Yes, No and N/A; labels above."""
    css = """body { font: 8.5pt 'C059' } .page { padding: 9mm 14mm } h1 { font-size: 14pt; margin: 0 }
    .logo { float: right; width: 17mm; height: 17mm } .head { display: grid; grid-template-columns: repeat(4, 1fr);
    gap: 2mm 4mm; margin: 3mm 0; clear: both } .f i { display: block; height: 8.5mm; border: 0.25mm solid #000 }
    table { border-collapse: collapse; width: 182mm; table-layout: fixed } th { font-size: 8pt }
    td { height: 9.6mm; padding: 0 1.5mm; line-height: 1.1 } tr:nth-child(even) td { background: #e6e6e6 }
    .c { text-align: center; width: 17mm; padding: 0 } small { font-style: italic; font-size: 7.5pt }
    .b { display: inline-block; width: 6mm; height: 4.6mm; border: 0.3mm solid #000; background: #fff;
    vertical-align: middle } .l { border-bottom: 0.25mm solid #000; height: 8mm }
    thead td, thead th { border-bottom: 0.5mm solid #000 }"""

    def over(field_id: str, english: str, irish: str) -> str:
        label = f"{english} / {irish}"
        return f'<div class="f">{label}<i {marked(field_id, "text", "area", label)}></i></div>'

    rows = []
    for number, (name, (english, irish)) in enumerate(GULLY.items(), start=1):
        element = '<td class="c"><i class="b" {at}></i></td>'
        boxes = "".join(answers(name, english, "box", ("", "", ""), element))
        rows.append(
            f'<tr><td style="width:9mm">{number}</td><td>{escape(english)}<br><small>{escape(irish)}</small></td>'
            f"{boxes}</tr>"
        )
    heads = "".join(f'<th class="c">{words}</th>' for words in ("Yes<br>Tá", "No<br>Níl", "N/A<br>-"))
    logo = (
        '<svg class="logo" viewBox="0 0 40 40"><circle cx="20" cy="20" r="18" fill="none" stroke="#000" '
        'stroke-width="2"/><path d="M6 26 L15 13 L22 22 L28 15 L35 26 Z" fill="#777"/></svg>'
    )
    body = (
        f"{logo}<h1>Gully emptier: daily check<br>Folúsóir gullaí: seiceáil laethúil</h1>"
        "<div>Ballyshrone District Works. Is each point in good order?</div><div class='head'>"
        + over("unit", "Vehicle no.", "Uimh. feithicle")
        + over("date", "Date", "Dáta")
        + over("odometer", "Kilometres", "Ciliméadair")
        + over("hours", "Pump hours", "Uaireanta")
        + over("operator", "Driver", "Tiománaí")
        + over("site", "Area", "Ceantar")
        + over("shift", "Shift", "Seal")
        + over("helper", "Helper", "Cúntóir")
        + f"</div><table><thead><tr><th style='width:9mm'></th><th></th>{heads}</tr></thead>{''.join(rows)}</table>"
        + "<div style='margin-top:3mm'>Defects / Lochtanna</div>"
        + "".join(f'<div class="l" {marked(f"remarks.{k}", "text", "rule")}></div>' for k in (1, 2, 3))
        + "<div class='head' style='grid-template-columns:1fr 1fr'>"
        + over("signature", "Signature", "Síniú")
        + over("foreman", "Supervisor", "Maoirseoir")
        + "</div>"
    )
    return printed_form("council-gully", run, (210.0, 297.0), css, body)


def hire_condition(run: str) -> DrawnForm:
    """A5: a hire firm's card, going out and coming back, ballot boxes of a typeface for good and damaged."""
    css = """body { font: 8pt 'Liberation Sans Narrow' } .page { padding: 7mm 8mm } h1 { font-size: 13pt; margin: 0 }
    .f { display: flex; align-items: flex-end; height: 7.6mm } .f i { flex: 1; border-bottom: 0.25mm solid #000;
    height: 6.4mm; margin: 0 2mm 0 1.2mm } table { border-collapse: collapse; width: 132mm; margin: 2.5mm 0 }
    td, th { border: 0.2mm solid #000; height: 6.9mm; padding: 0 1.2mm; font-weight: normal; text-align: left }
    .m { text-align: center; width: 19mm } .g { font: 11pt 'DejaVu Sans'; line-height: 1 }"""

    def line(field_id: str, label: str, share: float = 1) -> str:
        style = marked(field_id, "text", "rule", label)
        return f'<span style="flex:{share}" class="f">{label}<i {style}></i></span>'

    rows = []
    for name, words in HIRED.items():
        element = '<td class="m"><span class="g" data-glyph {at}>\u2610</span></td>'
        out = "".join(answers(f"{name}-out", words, "glyph", ("", ""), element))
        back = "".join(answers(f"{name}-back", words, "glyph", ("", ""), element))
        rows.append(f"<tr><td>{escape(words)}</td>{out}{back}</tr>")
    body = (
        "<h1>CONDITION OF PLANT ON HIRE</h1><div>Larkfold Plant Hire &ndash; top copy to customer</div>"
        f'<div class="f">{line("unit", "Fleet no.")}{line("hours", "SMU")}{line("contract", "Contract no.")}</div>'
        f'<div class="f">{line("date", "Date out")}{line("date-back", "Date back")}</div>'
        f'<div class="f">{line("customer", "Customer", 2)}{line("site", "Site", 1.5)}</div>'
        "<table><tr><th rowspan=2>Part</th><th colspan=2 style='text-align:center'>Going out</th>"
        "<th colspan=2 style='text-align:center'>Coming back</th></tr><tr>"
        + '<th class="m">Good</th><th class="m">Damaged</th>' * 2
        + f"</tr>{''.join(rows)}</table><div>Damage found:</div>"
        + "".join(
            f'<div style="height:7.5mm;border-bottom:0.2mm dashed #000" {marked(f"remarks.{k}", "text", "rule")}></div>'
            for k in (1, 2)
        )
        + f'<div class="f" style="margin-top:2mm">{line("operator", "Inspected by")}{line("signature", "Signed")}</div>'
    )
    return printed_form("hire-condition", run, (148.0, 210.0), css, body)


def mowing_crew(run: str) -> DrawnForm:
    """Letter, landscape: three columns under tinted banners, a tick box before every point; a row of labelled cells."""
    css = """body { font: 10pt 'URW Gothic' } .page { padding: 11mm 12mm } h1 { font-size: 18pt; margin: 0 }
    table { border-collapse: collapse; width: 255mm; margin: 3mm 0 } td, th { border: 0.3mm solid #2a5a2a }
    th { background: #cfe3cf; font-size: 8pt; height: 6mm } td { height: 9.5mm }
    .three { display: grid; grid-template-columns: repeat(3, 1fr); gap: 7mm } h2 { font-size: 11pt; margin: 0 0 1.5mm;
    background: #cfe3cf; padding: 0.8mm 2mm } .row { display: flex; align-items: center; gap: 3mm; height: 8.4mm }
    .b { width: 5mm; height: 5mm; border: 0.3mm solid #2a5a2a } .n { display: flex; align-items: flex-end; gap: 2mm }
    .n i { flex: 1; height: 9mm; border-bottom: 0.3mm solid #2a5a2a }"""
    columns: tuple[tuple[str, str], ...] = (
        ("unit", "Tractor asset #"),
        ("mower-asset", "Mower asset #"),
        ("date", "Date"),
        ("hours", "Engine hours"),
    )
    columns += (("operator", "Operator"), ("route", "Route"))
    head = "".join(f"<th>{label}</th>" for _, label in columns)
    cells = "".join(f"<td {marked(field_id, 'text', 'cell', label)}></td>" for field_id, label in columns)
    parts = []
    for heading, points in MOWER.items():
        rows = "".join(
            f'<div class="row"><i class="b" {marked(f"item.{name}-{heading[0].lower()}", "mark", "box", words)}></i>'
            f"{escape(words)}</div>"
            for name, words in points.items()
        )
        parts.append(f"<div><h2>{heading}</h2>{rows}</div>")
    notes = "".join(
        f'<div class="n"><i {marked(f"remarks.{k}", "text", "rule", "Comments")}></i></div>' for k in (1, 2)
    )
    body = (
        "<h1>Roadside mowing &mdash; pre-trip</h1><div>County of Aldermoss, Road Department. Check mark if OK, X if it "
        f"needs repair, NA if not on this unit.</div><table><tr>{head}</tr><tr>{cells}</tr></table>"
        f'<div class="three">{"".join(parts)}</div><div style="margin-top:4mm">Comments</div>{notes}'
        '<div class="three" style="margin-top:3mm"><div class="n">'
        f"Signature<i {marked('signature', 'text', 'rule', 'Signature')}>"
        f'</i></div><div class="n">Lead worker<i {marked("foreman", "text", "rule", "Lead worker")}></i></div></div>'
    )
    legend = {"tick": "ok", "cross": "defect", "letters": "na"}
    return printed_form("mowing-crew", run, (279.4, 215.9), css, body, legend)
