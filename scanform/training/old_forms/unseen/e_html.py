"""Set E, forms in HTML: a sawmill, a dairy, a kiln, a gritter depot, a tunnel. All are invented."""

from __future__ import annotations

from html import escape

from scanform.form import DAYS
from scanform.training.old_forms.chromium import printed_form
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.html_parts import answers, marked
from scanform.training.old_forms.wording import item, items

__all__ = ["dairy_tanker", "depot_sidebar", "kiln_scores", "sawmill_questions", "tunnel_week"]


def sawmill_questions(run: str) -> DrawnForm:
    """Questions of two lines, a hollow square before Yes and before No at their end; the date between two strokes."""
    css = """body { font: 10.5pt 'Nimbus Roman' } .page { padding: 14mm 18mm } h1 { font-size: 16pt; margin: 0 }
    .q { display: flex; min-height: 10.4mm; align-items: flex-start; margin-top: 0.8mm } .q p { margin: 0; flex: 1;
    padding-right: 14mm } .a { width: 19mm } .g { font: 13pt 'DejaVu Sans'; line-height: 1 } .r { margin-top: 5mm }
    .r i { display: inline-block; height: 6.5mm; border-bottom: 0.25mm solid #000; vertical-align: bottom }"""
    ask = ("Is the {} in order, complete, and free of damage, as far as can be seen without tools?", "{}: in order?")
    rows = []
    for k, name in enumerate(items(14, start=11, step=5), start=1):
        words = ask[k % 2].format(item(name).lower() if k % 2 == 0 else item(name))
        element = '<span class="a"><span class="g" data-glyph {at}>\u25a1</span> {word}</span>'
        boxes = "".join(answers(name, words, "glyph", ("Yes", "No"), element))
        rows.append(f'<div class="q"><p>{k}. {escape(words)}</p>{boxes}</div>')

    def room(field_id: str, label: str, wide: float) -> str:
        return f'{label} <i style="width:{wide}mm" {marked(field_id, "text", "rule", label)}></i> '

    date = (
        f'Date <span {marked("date", "text", "rule", "Date")}><i style="width:12mm"></i>/<i style="width:12mm"></i>/'
        '<i style="width:16mm"></i></span>'
    )
    body = (
        "<h1>Log loader &ndash; questions before work</h1><div>Fernhollow Sawmill, yard department</div><div class='r'>"
        + room("unit", "Loader No.", 35)
        + date
        + "</div><div class='r'>"
        + room("operator", "Operator", 60)
        + room("hours", "Hours on clock", 35)
        + f"</div><div style='margin-top:5mm'>{''.join(rows)}</div><div class='r'>"
        + "If any answer is No, say what is wrong:</div>"
        + "".join(
            f'<div style="height:8mm;border-bottom:0.25mm solid #000" {marked(f"remarks.{k}", "text", "rule")}></div>'
            for k in (1, 2, 3)
        )
        + "<div class='r'>"
        + room("signature", "Signature", 60)
        + room("told", "Told", 50)
        + "</div>"
    )
    return printed_form("sawmill-questions", run, (210.0, 297.0), css, body)


def dairy_tanker(run: str) -> DrawnForm:
    """Two lists in one table of pale hairlines, a tick and a cross over the cells; labels over lines."""
    css = """body { font: 9pt 'Liberation Sans' } .page { padding: 12mm 14mm } h1 { font-size: 14pt; margin: 0 }
    table { border-collapse: collapse; width: 182mm; table-layout: fixed; margin: 4mm 0 } td, th { height: 8.2mm;
    border: 0.15mm solid #9a9a9a; padding: 0 1.5mm } th { border-bottom: 0.4mm solid #555; font: 12pt 'DejaVu Sans' }
    .h { display: grid; grid-template-columns: 1fr 1fr 1fr; gap: 3mm 6mm; margin-top: 4mm } .h div { font-size: 7pt;
    color: #444 } .h i { display: block; height: 7.5mm; border-bottom: 0.5mm solid #bbb } .gap { border: 0; width:
    6mm }"""

    def over(field_id: str, label: str) -> str:
        return f"<div>{label}<i {marked(field_id, 'text', 'rule', label)}></i></div>"

    names = items(28, start=9, step=7)
    rows = []
    for a, b in zip(names[:14], names[14:], strict=True):
        left, right = (
            f"<td>{escape(item(n))}</td>" + "".join(answers(n, item(n), "cell", ("", ""), "<td {at}></td>"))
            for n in (a, b)
        )
        rows.append(f"<tr>{left}<td class='gap'></td>{right}</tr>")
    columns = "".join(f'<col style="width:{w}mm">' for w in (64, 12, 12, 6, 64, 12, 12))
    heads = (
        "<tr><th></th><th>\u2713</th><th>\u2717</th><td class='gap'></td><th></th><th>\u2713</th><th>\u2717</th></tr>"
    )
    body = (
        "<h1>Milk tanker &ndash; driver&rsquo;s daily check</h1><div class='h'>"
        + over("unit", "Vehicle reg.")
        + over("trailer", "Trailer no.")
        + over("date", "Date")
        + over("operator", "Driver name")
        + over("odometer", "Odometer (km)")
        + over("route", "Route")
        + f"</div><table>{columns}{heads}{''.join(rows)}</table>Remarks"
        + f'<div style="height:26mm;border:0.15mm solid #9a9a9a" {marked("remarks", "text", "area", "Remarks")}></div>'
        + f"<div class='h'>{over('signature', 'Driver signature')}{over('told', 'Reported to')}</div>"
    )
    return printed_form("dairy-tanker", run, (210.0, 297.0), css, body)


def kiln_scores(run: str) -> DrawnForm:
    """A figure to ring for each point: 1, 2 or 3, that the form explains itself; sections in bold without rules."""
    css = """body { font: 11pt 'Liberation Sans' } .page { padding: 15mm 20mm } h1 { font-size: 15pt; margin: 0 0 2mm }
    .row { display: flex; height: 8.4mm; align-items: center } .row p { flex: 1; margin: 0 } .w { width: 16mm;
    text-align: center } .f { margin: 4mm 0; display: flex; gap: 5mm; align-items: flex-end } .f i { flex: 1;
    border-bottom: 0.3mm solid #000; height: 7mm } .n { border: 0.3mm solid #000; height: 25mm }"""
    rows, names = [], items(18, start=3, step=11)
    for k, name in enumerate(names):
        if k % 6 == 0:
            rows.append(f"<b>{('Outside', 'Burner floor', 'Control room')[k // 6]}</b>")
        element = '<span class="w"><span {at}>{word}</span></span>'
        figures = "".join(answers(name, item(name), "word", ("1", "2", "3"), element))
        rows.append(f'<div class="row"><p>{escape(item(name))}</p>{figures}</div>')

    def line(field_id: str, label: str) -> str:
        return f"{label}<i {marked(field_id, 'text', 'rule', label)}></i>"

    body = (
        "<h1>LIME KILN ROUND</h1><div>Ring one: 1 = in order, 2 = needs repair, 3 = not running</div>"
        f"<div class='f'>{line('unit', 'Kiln')}{line('date', 'Date')}{line('shift', 'Shift')}</div>"
        f"<div class='f'>{line('operator', 'Burner')}{line('hours', 'Fan hours')}</div>{''.join(rows)}"
        f"<div style='margin-top:3mm'>Repairs</div><div class='n' {marked('remarks', 'text', 'area', 'Repairs')}></div>"
        f"<div class='f'>{line('signature', 'Signed')}{line('told', 'Handed over to')}</div>"
    )
    return printed_form("kiln-scores", run, (210.0, 297.0), css, body)


def depot_sidebar(run: str) -> DrawnForm:
    """All but the list stands in a tinted column at the right; small thick boxes at the left."""
    css = """body { font: 9.5pt 'URW Gothic' } .page { display: flex } .m { width: 140mm; padding: 12mm 8mm 0 14mm }
    .s { width: 70mm; background: #dfe6ee; height: 297mm; padding: 14mm 6mm } h1 { font-size: 17pt; margin: 0 0 3mm }
    .row { display: flex; align-items: center; height: 9.3mm; gap: 5mm; border-top: 0.1mm solid #888 } .row p {
    margin: 0 }
    .b { width: 3.6mm; height: 3.6mm; border: 0.7mm solid #000 } .x { width: 11mm; text-align: center; font-size: 7pt }
    .x .b { display: inline-block } .s div { font-size: 8pt; margin-bottom: 3mm } .s i { display: block; background:
    #fff;
    height: 9.5mm; border: 0.2mm solid #567 } .s .n { height: 70mm }"""

    def framed(field_id: str, label: str, cls: str = "") -> str:
        return f'<div>{label}<i class="{cls}" {marked(field_id, "text", "area", label)}></i></div>'

    rows = []
    for name in items(26, start=6, step=3):
        boxes = "".join(answers(name, item(name), "box", ("", ""), '<span class="x"><i class="b" {at}></i></span>'))
        rows.append(f'<div class="row">{boxes}<p>{escape(item(name))}</p></div>')
    body = (
        '<div class="m"><h1>Gritter check</h1><div style="display:flex;gap:5mm"><span class="x">OK</span>'
        f'<span class="x">Not OK</span></div>{"".join(rows)}</div><div class="s">'
        + framed("unit", "Gritter fleet number")
        + framed("date", "Date")
        + framed("hours", "Hours (spreader)")
        + framed("operator", "Driver")
        + framed("site", "Depot")
        + framed("remarks", "Defects and comments", "n")
        + framed("signature", "Driver's signature")
        + framed("foreman", "Supervisor")
        + "</div>"
    )
    return printed_form("depot-sidebar", run, (210.0, 297.0), css, body)


def tunnel_week(run: str) -> DrawnForm:
    """Landscape: a row to each day of the week, the points upright over narrow columns; hours and name by the day."""
    css = """body { font: 8.5pt 'Liberation Sans' } .page { padding: 12mm 14mm } table { border-collapse: collapse;
    width: 269mm; table-layout: fixed; margin: 4mm 0 } td, th { border: 0.3mm solid #000; height: 12mm; font-weight:
    normal;
    text-align: center; padding: 0 } th { background: #eee } .v { height: 42mm; vertical-align: bottom } .v span {
    writing-mode: vertical-rl; transform: rotate(180deg); white-space: nowrap; padding: 1mm 0 } h1 { font-size: 16pt;
    margin: 0 } .f { display: flex; gap: 6mm; margin-top: 3mm; align-items: flex-end } .f i { flex: 1; height: 7mm;
    border-bottom: 0.25mm solid #000 } .n { border: 0.3mm solid #000; height: 24mm }"""
    names = items(14, start=25, step=5)
    columns = "".join(f'<col style="width:{w}mm">' for w in (26, *((12,) * 14), 35, 40))
    heads = "".join(f'<th class="v"><span>{escape(item(name))}</span></th>' for name in names)
    rows = []
    for day in DAYS:
        cells = "".join(f"<td {marked(f'item.{name}.{day}', 'mark', 'cell', item(name))}></td>" for name in names)
        cells += f"<td {marked(f'hours.{day}', 'text', 'cell', 'Hour meter')}></td>"
        cells += f"<td {marked(f'operator.{day}', 'text', 'cell', 'Operator')}></td>"
        rows.append(f"<tr><td>{day.capitalize()}day</td>{cells}</tr>".replace("Tueday", "Tuesday").replace("Wedday",
                    "Wednesday").replace("Thuday", "Thursday").replace("Satday", "Saturday"))  # fmt: skip

    def line(field_id: str, label: str) -> str:
        return f"{label} <i {marked(field_id, 'text', 'rule', label)}></i>"

    body = (
        f'<h1>Tunnel locomotive &ndash; week sheet</h1><div class="f">{line("unit", "Loco number")}'
        f"{line('week', 'Week commencing')}{line('site', 'Section')}</div><table>{columns}<tr><th>Day</th>{heads}"
        f"<th>Hour meter</th><th>Operator</th></tr>{''.join(rows)}</table><div>Tick when good. X when it is not, and "
        f"write what is wrong:</div><div class='n' {marked('remarks', 'text', 'area', 'write what is wrong')}></div>"
    )
    return printed_form("tunnel-week", run, (297.0, 210.0), css, body, {"tick": "ok", "cross": "defect"})
