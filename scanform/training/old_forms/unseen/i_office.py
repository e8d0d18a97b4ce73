"""Set I, forms from a word processor: a council depot's roller, a hired excavator. All are invented."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from pdfplumber.page import Page as PdfPage

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted, first_page, glyph_boxes_on, leader, runs_of
from scanform.training.old_forms.unseen.points_i_plant import EXCAVATOR, ROLLER
from scanform.training.old_forms.unseen.roff import level_rules, upright_rules
from scanform.training.old_forms.writer import cell, fodt, paragraph, tab, table

__all__ = ["excavator_hired", "roller_depot"]

_A4 = (210.0, 297.0)
_SAME_MM = 1.0  # neighbouring cells' rules, drawn one beside the other, are one rule
_SCORE_MM = 0.55  # how far under its baseline an underscore of 11 pt Liberation Sans is printed
_BALLOT = "\u2610"


def roller_depot(run: str) -> DrawnForm:
    """A council depot's letter: underscores to write on, a ruled table with Yes, No and N/A, two lines for faults."""
    heads = [f'<text:p text:style-name="k">{word}</text:p>' for word in ("No.", "Check", "Yes", "No", "N/A")]
    empty = '<text:p text:style-name="t"/>'
    rows = [heads] + [
        [f'<text:p text:style-name="c">{k}</text:p>', f'<text:p text:style-name="t">{escape(words)}</text:p>']
        + [empty] * 3
        for k, words in enumerate(ROLLER.values(), start=1)
    ]
    table_styles, checks = table("a", (12, 106, 20, 20, 20), 7.6, rows, "ruled")
    line = '<text:p text:style-name="d"><text:tab/></text:p>'
    body = (
        '<text:p text:style-name="h">ROLLER \u2013 DAILY USER CHECKS</text:p>'
        '<text:p text:style-name="s">Highways Depot, Marlinghoe District Council</text:p>'
        '<text:p text:style-name="f">Plant number: <text:tab/> Date: <text:tab/></text:p>'
        '<text:p text:style-name="f">Name of driver: <text:tab/> Hour meter: <text:tab/></text:p>'
        '<text:p text:style-name="o">Place of work: <text:tab/></text:p>'
        f'{checks}<text:p text:style-name="b">If \u201cNo\u201d to any of the above, give details:</text:p>{line}{line}'
        '<text:p text:style-name="f">Signature: <text:tab/> Given to: <text:tab/></text:p>'
    )
    styles = (
        paragraph("h", 15, 0, bold=True, centred="center")
        + paragraph("s", 11, 1, centred="center")
        + paragraph("f", 11, 5, tab(100, "_") + tab(178, "_"))
        + paragraph("o", 11, 5, tab(178, "_"))
        + paragraph("b", 11, 4, bold=True)
        + paragraph("d", 11, 4, tab(178, "_"))
        + paragraph("t", 11, 0)
        + paragraph("c", 11, 0, centred="center")
        + paragraph("k", 11, 0, bold=True, centred="center")
        + cell("ruled", 'fo:border="0.75pt solid #000000"')
        + table_styles
    )
    pdf = converted(fodt(body, styles, _A4).replace("Liberation Serif", "Liberation Sans"), ".fodt")
    page = first_page(pdf)
    labels = (
        ("unit", "Plant number:"),
        ("date", "Date:"),
        ("operator", "Name of driver:"),
        ("hours", "Hour meter:"),
        ("site", "Place of work:"),
    )
    fields = [FormField(f, "text", "rule", _over_score(leader(page, label, 6.5, "_")), label) for f, label in labels]
    xs, ys = _table_edges(page)
    for k, (name, words) in enumerate(ROLLER.items(), start=1):
        boxes = [Box(xs[j], ys[k], xs[j + 1] - xs[j], ys[k + 1] - ys[k]) for j in (2, 3, 4)]
        answers = tuple(zip(("ok", "defect", "na"), boxes, strict=True))
        whole = boxes[0].union(boxes[-1])
        fields.append(FormField(f"item.{name}", "choice", "cell", whole, words, answers=answers))
    details = [_over_score(box) for box in runs_of(page, "_", 6.5) if box.x_mm < 20 and box.w_mm > 150]
    fields += [FormField(f"remarks.{k}", "text", "rule", box, "give details:") for k, box in enumerate(details, 1)]
    for field_id, label, kind in (("signature", "Signature:", "signature"), ("told", "Given to:", "text")):
        fields.append(FormField(field_id, kind, "rule", _over_score(leader(page, label, 7.0, "_")), label))
    return DrawnForm("roller-depot", run, pdf, *_A4, tuple(fields), {})


def _over_score(box: Box) -> Box:
    """The room over a row of underscores, given the same over their baseline."""
    return box._replace(y_mm=box.y_mm + _SCORE_MM)


def _table_edges(page: PdfPage) -> tuple[list[float], list[float]]:
    """The columns' and the rows' edges of all tables on the page, mm, from the left and from above."""
    return _once(x for _, _, x in upright_rules(page)), _once(y for _, _, y in level_rules(page))


def _once(places: Iterable[float]) -> list[float]:
    """The places in order, those of one rule as their middle."""
    rules: list[list[float]] = []
    for place in sorted(places):
        if rules and place - rules[-1][0] < _SAME_MM:
            rules[-1].append(place)
        else:
            rules.append([place])
    return [(rule[0] + rule[-1]) / 2 for rule in rules]


def excavator_hired(run: str) -> DrawnForm:
    """A hire firm's letter: a table for the header, then points by tabs with box characters before the answers' words.

    Remarks and signatures go on dotted lines.
    """
    label = '<text:p text:style-name="k">{}</text:p>'
    empty = '<text:p text:style-name="t"/>'
    header = (
        (("unit", "Fleet no."), ("date", "Date")),
        (("make-model", "Make / model"), ("hours", "Hours")),
        (("operator", "Operator"), ("card-no", "Card no.")),
        (("site", "Site"), ("order-no", "Order no.")),
    )
    rows = [[label.format(left[1]), empty, label.format(right[1]), empty] for left, right in header]
    table_styles, head = table("a", (30, 64, 30, 54), 8, rows, "ruled")
    answers = "".join(
        f'<text:tab/><text:span text:style-name="g">{_BALLOT}</text:span> {word}' for word in ("OK", "Defect", "N/A")
    )
    parts = "".join(
        f'<text:p text:style-name="b">{part}</text:p>'
        + "".join(f'<text:p text:style-name="i">{escape(words)}{answers}</text:p>' for words in points.values())
        for part, points in EXCAVATOR.items()
    )
    line = '<text:p text:style-name="d"><text:tab/></text:p>'
    body = (
        '<text:p text:style-name="h">360\u00b0 Excavator pre-use inspection</text:p>'
        f'{head}{parts}<text:p text:style-name="b">Defects found / action taken</text:p>{line}{line}'
        '<text:p text:style-name="f">Operator signature <text:tab/> Supervisor <text:tab/></text:p>'
    )
    styles = (
        paragraph("h", 18, 0, bold=True)
        + paragraph("f", 10.5, 5, tab(104, ".") + tab(178, "."))
        + paragraph("i", 10.5, 1, tab(100) + tab(124) + tab(152))
        + paragraph("b", 10.5, 3, bold=True)
        + paragraph("d", 10.5, 4, tab(178, "."))
        + paragraph("t", 10.5, 0)
        + paragraph("k", 10.5, 0)
        + cell("ruled", 'fo:border="0.5pt solid #000000"')
        + table_styles
    )
    pdf = converted(fodt(body, styles, _A4).replace('fo:font-size="14pt"', 'fo:font-size="13pt"'), ".fodt")
    page = first_page(pdf)
    xs, ys = _table_edges(page)
    fields = []
    for row, pair in enumerate(header):
        for column, (field_id, words) in zip((1, 3), pair, strict=True):
            box = Box(xs[column], ys[row], xs[column + 1] - xs[column], ys[row + 1] - ys[row])
            fields.append(FormField(field_id, "text", "cell", box, words))
    boxes = iter(glyph_boxes_on(page, _BALLOT))
    for points in EXCAVATOR.values():
        for name, words in points.items():
            three = [next(boxes) for _ in range(3)]
            choice = tuple(zip(("ok", "defect", "na"), three, strict=True))
            whole = three[0].union(three[-1])
            fields.append(FormField(f"item.{name}", "choice", "glyph", whole, words, answers=choice))
    lines = [box for box in runs_of(page, ".", 6.5) if box.w_mm > 150]
    fields += [FormField(f"remarks.{k}", "text", "dots", box, "Defects found") for k, box in enumerate(lines, 1)]
    for field_id, words, kind in (("signature", "Operator signature", "signature"), ("foreman", "Supervisor", "text")):
        fields.append(FormField(field_id, kind, "dots", leader(page, words, 7.0), words))
    return DrawnForm("excavator-hired", run, pdf, *_A4, tuple(fields), {})
