"""Set F, six forms: a mower, a grain store, vans, a tower light, a depot, a beach rake. All are invented."""

from __future__ import annotations

from html import escape

from scanform.form.geometry import Box
from scanform.training.old_forms.calc import Cell, fods, grid_of
from scanform.training.old_forms.chromium import printed_form
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.html_parts import answers, marked
from scanform.training.old_forms.office import converted
from scanform.training.old_forms.pad import Pad
from scanform.training.old_forms.wording import item, items

__all__ = ["beach_rake", "depot_letters", "grain_groups", "heath_shaded", "tower_light", "van_week"]


def heath_shaded(run: str) -> DrawnForm:
    """A list between dashed lines; what is written in the head goes on grey patches that have no frame."""
    css = """body { font: 10pt 'Nimbus Sans' } .page { padding: 13mm 15mm } h1 { font-size: 16pt; margin: 0 0 3mm }
    .h { display: grid; grid-template-columns: 30mm 58mm 30mm 58mm; gap: 2mm 1.5mm; align-items: center }
    .h i { background: #e3e3e3; height: 8mm } table { border-collapse: collapse; width: 180mm; table-layout: fixed;
    margin: 4mm 0 } td, th { border: 0.25mm dashed #222; height: 7.4mm; padding: 0 1.5mm; font-weight: normal }
    .n { background: #e3e3e3; height: 24mm }"""

    def pair(field_id: str, label: str) -> str:
        return f"<span>{label}</span><i {marked(field_id, 'text', 'area', label)}></i>"

    rows = []
    for k, name in enumerate(items(20, start=10, step=9), start=1):
        cells = "".join(answers(name, item(name), "cell", ("",) * 3, "<td {at}></td>"))
        rows.append(f"<tr><td>{k}</td><td>{escape(item(name))}</td>{cells}</tr>")
    columns = "".join(f'<col style="width:{w}mm">' for w in (10, 119, 17, 17, 17))
    body = (
        f"<h1>Heathland mower: daily inspection</h1><div class='h'>{pair('unit', 'Mower no.')}{pair('date', 'Date')}"
        f"{pair('operator', 'Operator')}{pair('hours', 'Hours')}</div><table>{columns}<tr><th></th><th>Inspect</th>"
        f"<th>Sat.</th><th>Unsat.</th><th>N.A.</th></tr>{''.join(rows)}</table>Remarks"
        f"<div class='n' {marked('remarks', 'text', 'area', 'Remarks')}></div><div class='h' style='margin-top:3mm'>"
        f"{pair('signature', 'Signature')}{pair('foreman', 'Warden')}</div>"
    )
    return printed_form("heath-shaded", run, (210.0, 297.0), css, body)


def grain_groups(run: str) -> DrawnForm:
    """Landscape: four framed groups abreast with their names in the upper edge, small boxes before the words."""
    css = """body { font: 9pt 'C059' } .page { padding: 9mm 10mm } h1 { font-size: 15pt; margin: 0 }
    .g { display: grid; grid-template-columns: repeat(4, 1fr); gap: 3mm; margin: 3mm 0 } fieldset { border: 0.3mm solid
    #000; padding: 1mm 2mm; margin: 0 } .r { display: flex; gap: 2mm; align-items: center; height: 6.6mm }
    .b { width: 3.2mm; height: 3.2mm; border: 0.25mm solid #000 } .f { display: flex; gap: 4mm; align-items: flex-end;
    margin-top: 2mm } .f i { flex: 1; height: 7mm; border-bottom: 0.2mm solid #000 }"""

    def line(field_id: str, label: str) -> str:
        return f"{label}<i {marked(field_id, 'text', 'rule', label)}></i>"

    names, groups = items(36, start=2, step=5), []
    for k, heading in enumerate(("Intake", "Elevators", "Drier", "Out-loading")):
        rows = "".join(
            f'<div class="r"><i class="b" {marked(f"item.{name}", "mark", "box", item(name, 0))}></i>'
            f"{item(name, 0)}</div>"
            for name in names[9 * k : 9 * k + 9]
        )
        groups.append(f"<fieldset><legend>{heading}</legend>{rows}</fieldset>")
    body = (
        f"<h1>Grain store start-up</h1><div class='f'>{line('unit', 'Plant')}{line('date', 'Date')}"
        f"{line('time', 'Time')}{line('operator', 'Name')}</div><div style='margin-top:2mm'>Tick each when seen "
        f"and in order. Leave a box empty if it is not, and say so below.</div><div class='g'>{''.join(groups)}</div>"
        + "".join(
            f'<div style="height:7.5mm;border-bottom:0.2mm solid #000" {marked(f"remarks.{k}", "text", "rule")}></div>'
            for k in (1, 2, 3)
        )
        + f"<div class='f'>{line('signature', 'Signed')}{line('foreman', 'Manager')}</div>"
    )
    return printed_form("grain-groups", run, (297.0, 210.0), css, body)


def van_week(run: str) -> DrawnForm:
    """Monday to Friday in a ruled table, a small square inside every cell, initials in a row of their own."""
    css = """body { font: 9.5pt 'Liberation Sans' } .page { padding: 11mm 13mm } h1 { font-size: 15pt; margin: 0 }
    table { border-collapse: collapse; width: 189mm; table-layout: fixed; margin: 3mm 0 } td, th { border: 0.25mm solid
    #000; height: 8mm; padding: 0 1.5mm } .c { text-align: center } .b { display: inline-block; width: 4.4mm;
    height: 4.4mm; border: 0.25mm solid #000; vertical-align: middle } .k { height: 12mm; font-size: 7pt;
    vertical-align: top }"""
    days = (("mon", "Mon"), ("tue", "Tue"), ("wed", "Wed"), ("thu", "Thu"), ("fri", "Fri"))
    rows = []
    for name in items(18, start=7, step=13):
        cells = "".join(
            f'<td class="c"><i class="b" {marked(f"item.{name}.{day}", "mark", "box", item(name))}></i></td>'
            for day, _ in days
        )
        rows.append(f"<tr><td>{escape(item(name))}</td>{cells}</tr>")
    initials = "".join(f"<td {marked(f'initials.{day}', 'text', 'cell', 'Initials')}></td>" for day, _ in days)
    heads = "".join(f"<th>{words}</th>" for _, words in days)
    columns = "".join(f'<col style="width:{w}mm">' for w in (79, 22, 22, 22, 22, 22))

    def inside(field_id: str, label: str) -> str:
        return f'<td class="k" {marked(field_id, "text", "cell", label)}>{label}</td>'

    body = (
        "<h1>Van check, weekdays</h1><table><tr>"
        + inside("unit", "Van reg.")
        + inside("week", "Week commencing")
        + inside("operator", "Driver")
        + f"</tr></table><table>{columns}<tr><th></th>{heads}</tr>{''.join(rows)}<tr><td>Initials</td>{initials}</tr>"
        + "</table>\u2713 fine &nbsp; X wants attention &nbsp; N/A not on this van<table><tr><td class='k' "
        + f"style='height:26mm' {marked('remarks', 'text', 'cell', 'Wants attention: what?')}>Wants attention: what?"
        + "</td></tr></table>"
    )
    legend = {"tick": "ok", "cross": "defect", "letters": "na"}
    return printed_form("van-week", run, (215.9, 279.4), css, body, legend)


def tower_light(run: str) -> DrawnForm:
    """Short lines after the words OK and Repair on every row, to be initialled on the one that is true."""
    css = """body { font: 11pt 'Nimbus Roman' } .page { padding: 15mm 18mm } h1 { font-size: 17pt; margin: 0 }
    .r { display: flex; height: 8.6mm; align-items: flex-end } .r p { flex: 1; margin: 0 } .a { width: 38mm }
    .a i { display: inline-block; width: 16mm; height: 6.5mm; border-bottom: 0.25mm solid #000; vertical-align: bottom }
    .f { display: flex; gap: 5mm; align-items: flex-end; margin-top: 4mm } .f i { flex: 1; height: 7mm;
    border-bottom: 0.25mm solid #000 }"""

    def line(field_id: str, label: str) -> str:
        return f"{label}<i {marked(field_id, 'text', 'rule', label)}></i>"

    rows = []
    for name in items(16, start=12, step=11):
        boxes = "".join(
            answers(name, item(name), "rule", ("OK", "Repair"), '<span class="a">{word} <i {at}></i></span>')
        )
        rows.append(f"<div class='r'><p>{escape(item(name))}</p>{boxes}</div>")
    body = (
        "<h1>Light tower, before dark</h1><div>Initial on the line that is true.</div>"
        f"<div class='f'>{line('unit', 'Tower No.')}{line('date', 'Date')}{line('hours', 'Hours')}</div>"
        f"<div class='f' style='margin-bottom:4mm'>{line('site', 'Location')}{line('operator', 'Inspector')}</div>"
        f"{''.join(rows)}<div class='f'>{line('remarks', 'Remarks')}</div>"
        f"<div class='f'>{line('signature', 'Inspector signature')}</div>"
    )
    return printed_form("tower-light", run, (215.9, 279.4), css, body)


def depot_letters(run: str) -> DrawnForm:
    """Boxes with a pale letter in each, as on forms for a machine to read; all of the head in cells."""
    pad = Pad(210.0, 297.0)
    pad.text(15, 20, "DEPOT VEHICLE CHECK", 15, bold=True)
    pad.text(15, 26, "Fill in one box in each row: Y = yes, in order; N = no", 9)
    for field_id, label, x, y, cells, charset in (
        ("unit", "FLEET NUMBER", 15.0, 33.0, 6, "alnum"),
        ("date", "DATE (YYYYMMDD)", 70.0, 33.0, 8, "digits"),
        ("odometer", "ODOMETER", 140.0, 33.0, 7, "digits"),
    ):
        pad.text(x, y, label, 7)
        pad.comb(field_id, label, x, y + 1.5, cells, (7.0, 8.5), charset)
    pad.text(15, 50, "DRIVER", 7)
    pad.rect(Box(15, 51.5, 90, 9), 0.2)
    pad.zone("operator", "DRIVER", Box(15, 51.5, 90, 9))
    for k, name in enumerate(items(22, start=9, step=3)):
        y = 67.0 + 8.0 * k
        pad.text(15, y + 4.2, f"{k + 1:02d}  {item(name, 2)}", 9)
        boxes = [(a, Box(x, y, 6.0, 6.0)) for a, x in (("ok", 175.0), ("defect", 187.0))]
        pad.choice(name, item(name, 2), boxes, "box")
        for (_, box), letter in zip(boxes, "YN", strict=True):
            pad.centred(box.centre_mm[0], y + 4.2, letter, 8)
    pad.text(15, 248, "DETAILS OF ANY N", 7)
    pad.rect(Box(15, 249.5, 180, 20), 0.2)
    pad.zone("remarks", "DETAILS OF ANY N", Box(15, 249.5, 180, 20))
    pad.text(15, 274, "SIGNATURE", 7)
    pad.rect(Box(15, 275.5, 90, 10), 0.2)
    pad.zone("signature", "SIGNATURE", Box(15, 275.5, 90, 10))
    return pad.form("depot-letters", run)


def beach_rake(run: str) -> DrawnForm:
    """Yes left of the point and No right of it, then a remark to each; who and when stand at the foot."""
    margin, size = 14.0, (210.0, 297.0)
    widths = (40.0, 250.0, 40.0, 180.0)
    names = items(20, start=28, step=9)
    rows: list[tuple[float, list[Cell]]] = [
        (30, [Cell("BEACH CLEANER - IN ORDER?", "title", 4)]),
        (19, [Cell("Yes", "head"), Cell("What", "head"), Cell("No", "head"), Cell("Remark", "head")]),
    ]
    rows += [(20, [Cell(), Cell(item(name)), Cell(), Cell()]) for name in names]
    rows += [
        (12, [Cell("", "plain", 4)]),
        (24, [Cell("Unit", "label"), Cell(""), Cell("Date", "label"), Cell("")]),
        (24, [Cell("Driver", "label"), Cell(""), Cell("Hours", "label"), Cell("")]),
        (30, [Cell("Signed", "label"), Cell(""), Cell("Seen", "label"), Cell("")]),
    ]
    pdf = converted(fods(size, margin, widths, rows), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 1)
    fields = []
    for row, name in enumerate(names, start=2):
        cells = (("ok", grid.box(row, 0, 1)), ("defect", grid.box(row, 2, 3)))
        whole = cells[0][1].union(cells[1][1])
        fields.append(FormField(f"item.{name}", "choice", "cell", whole, item(name), answers=cells))
    foot = 3 + len(names)
    for row, left, right in ((foot, "unit", "date"), (foot + 1, "operator", "hours"), (foot + 2, "signature", "seen")):
        for field_id, column in ((left, 1), (right, 3)):
            kind = "signature" if field_id == "signature" else "text"
            label = {"unit": "Unit", "date": "Date", "operator": "Driver", "hours": "Hours"}.get(field_id, "")
            label = label or {"signature": "Signed", "seen": "Seen"}[field_id]
            fields.append(FormField(field_id, kind, "cell", grid.box(row, column, column + 1), label))
    return DrawnForm("beach-rake", run, pdf, *size, tuple(fields), {})
