"""Old forms as lists, in HTML: a typewriter's brackets, box characters, words to circle. All names are invented."""

from __future__ import annotations

from html import escape

from scanform.training.old_forms.chromium import printed_form
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.html_parts import answers, line, marked, writing
from scanform.training.old_forms.wording import item, items

__all__ = ["brackets", "circled_words", "glyph_boxes"]


def brackets(run: str) -> DrawnForm:
    """Typewritten: [ ] OK  [ ] BAD  [ ] N/A after each item, lines of underscores, no rule anywhere."""
    css = "body { font: 10.5pt 'Liberation Mono'; } .page { padding: 14mm 16mm; } pre { margin: 0; font: inherit; }"
    rows = []
    for k, name in enumerate(items(26, start=2)):
        boxes = "  ".join(answers(name, item(name), "bracket", ("OK", "BAD", "N/A"), "[<span {at}>  </span>] {word}"))
        rows.append(f'<pre style="line-height:6.7mm">{k + 1:2d}. {escape(item(name)):32.32s} {boxes}</pre>')
    head = (
        '<pre style="line-height:6mm">TARNWELL SAND + GRAVEL                  CHECK SHEET NO 9</pre>'
        '<pre style="line-height:8mm">BEFORE YOU START: WALK ROUND, THEN FILL IN</pre>'
        + _underscored(("unit", "MACHINE", 12), ("date", "DATE", 14), ("hours", "HOURS", 12))
        + _underscored(("operator", "OPERATOR", 26), ("shift", "SHIFT", 8))
    )
    foot = (
        '<pre style="line-height:8mm;margin-top:3mm">WHAT IS WRONG:</pre>'
        + "".join(_underscored((f"remarks.{k}", "", 76)) for k in (1, 2, 3))
        + _underscored(("signature", "SIGNED", 30))
    )
    return printed_form("brackets", run, (215.9, 279.4), css, head + "".join(rows) + foot)


def _underscored(*parts: tuple[str, str, int]) -> str:
    """Labels with runs of underscores to write on, on one typewritten line."""
    made = []
    room = "position:absolute;left:0;right:0;bottom:0.25mm;height:6.5mm"
    for field_id, label, count in parts:
        made.append(
            f'{label + " " if label else ""}<span style="position:relative">{"_" * count}'
            f'<i {marked(field_id, "text", "rule", label)} style="{room}"></i></span>'
        )
    return f'<pre style="height:9.5mm;line-height:9.5mm">{"  ".join(made)}</pre>'


def glyph_boxes(run: str) -> DrawnForm:
    """Box characters of a typeface before each answer word, the answers in front of the item; dotted lines."""
    css = """body { font: 10pt 'DejaVu Sans'; } .page { padding: 13mm 14mm; } h1 { font-size: 15pt; margin: 0 0 1mm }
    .g { font-size: 15pt; line-height: 1; } .row { height: 8.1mm; display: flex; align-items: center; }
    .a { width: 23mm; } .i { margin-left: 4mm }"""
    rows = []
    for name in items(22, start=12):
        element = '<span class="a"><span class="g" data-glyph {at}>\u2610</span> {word}</span>'
        choice = "".join(answers(name, item(name), "glyph", ("Good", "Fix", "None"), element))
        rows.append(f'<div class="row">{choice}<span class="i">{escape(item(name, 1))}</span></div>')
    head = (
        "<h1>Excavator walk-round</h1><div>Carrowden Dimension Stone &middot; keep in the cab folder</div>"
        '<div style="margin:4mm 0">'
        + writing("unit", "Unit", 40, "dots")
        + writing("date", "Date", 45, "dots")
        + writing("hours", "Hours", 40, "dots")
        + "</div><div style='margin:3mm 0'>"
        + writing("operator", "Name", 70, "dots")
        + writing("site", "Bench", 45, "dots")
        + "</div>"
    )
    foot = (
        "<div style='margin-top:3mm'>Notes for the workshop</div>"
        + "".join(line(f"remarks.{k}", 8) for k in (1, 2, 3))
        + "<div style='margin-top:5mm'>"
        + writing("signature", "Signature", 70, "dots", 9)
        + "</div>"
    )
    return printed_form("glyph-boxes", run, (210.0, 297.0), css, head + "".join(rows) + foot)


def circled_words(run: str) -> DrawnForm:
    """ "Circle one": the words OK, Repair and NA after each item, no table and no box."""
    css = """body { font: 11pt 'Liberation Serif'; } .page { padding: 12mm 18mm; } h1 { font-size: 17pt; margin: 0;
    text-align: center } .row { height: 8.3mm; display: flex; align-items: center } .i { width: 100mm }
    .w { width: 24mm; text-align: center }"""
    rows = []
    for name in items(20, start=20):
        element = '<span class="w"><span {at}>{word}</span></span>'
        words = "".join(answers(name, item(name), "word", ("OK", "Repair", "NA"), element))
        rows.append(f'<div class="row"><span class="i">{escape(item(name, 1))}</span>{words}</div>')
    head = (
        "<h1>Operator&rsquo;s Daily Report</h1><div style='text-align:center'>Hazelmoor Crushing, Inc. (circle one for "
        "each line)</div><div style='margin:5mm 0 3mm'>"
        + writing("date", "Date", 42)
        + writing("unit", "Unit No.", 36)
        + writing("hours", "Hours", 36)
        + "</div><div style='margin:0 0 4mm'>"
        + writing("operator", "Operator", 80)
        + "</div>"
    )
    foot = (
        "<div style='margin-top:4mm'><b>Remarks</b></div>"
        + "".join(line(f"remarks.{k}", 8.5) for k in (1, 2, 3))
        + "<div style='margin-top:4mm'>"
        + writing("signature", "Signed", 75, "rule", 9)
        + "</div>"
    )
    return printed_form("circled-words", run, (215.9, 279.4), css, head + "".join(rows) + foot)
