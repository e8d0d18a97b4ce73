"""Old forms that somebody typed as a letter: tabs with leaders, box characters. All names are invented."""

from __future__ import annotations

from html import escape

from pdfplumber.page import Page as PdfPage

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted, first_page, glyph_boxes_on, leader, runs_of
from scanform.training.old_forms.trades import LORRY
from scanform.training.old_forms.wording import item, items
from scanform.training.old_forms.writer import cell, fodt, paragraph, tab, table

__all__ = ["initialled_list", "lorry_table", "typed_letter"]

_BOX = "\u2610"
_SIZE = (215.9, 279.4)
_FIELDS = (("unit", "Machine:"), ("date", "Date:"), ("hours", "Hrs:"), ("operator", "Your name:"), ("shift", "Shift:"))


def typed_letter(run: str) -> DrawnForm:
    """Item, then OK and a box, Bad and a box, set by tabs; no rules at all; dots to write on."""
    names = items(24, start=6, step=17)
    rows = "".join(
        f'<text:p text:style-name="i">{escape(item(name))}<text:tab/>OK '
        f'<text:span text:style-name="g">{_BOX}</text:span>'
        f'<text:tab/>Bad <text:span text:style-name="g">{_BOX}</text:span></text:p>'
        for name in names
    )
    remarks = "".join(f'<text:p text:style-name="d">{label}<text:tab/></text:p>' for label in ("Trouble:", "More:"))
    body = (
        '<text:p text:style-name="h">Daily machine check</text:p>'
        '<text:p text:style-name="s">Wexmoor Gritstone, to be left in the tray at the shop door</text:p>'
        '<text:p text:style-name="f">Machine:<text:tab/>Date:<text:tab/>Hrs:<text:tab/></text:p>'
        '<text:p text:style-name="n">Your name:<text:tab/>Shift:<text:tab/></text:p>'
        f"{rows}{remarks}"
        '<text:p text:style-name="d">Sign here:<text:tab/></text:p>'
    )
    styles = (
        paragraph("h", 18, 0, bold=True)
        + paragraph("s", 10, 1)
        + paragraph("f", 11, 7, tab(62, ".") + tab(122, ".") + tab(180, "."))
        + paragraph("n", 11, 5, tab(110, ".") + tab(180, "."))
        + paragraph("i", 11, 1.3, tab(110) + tab(145))
        + paragraph("d", 11, 5, tab(180, "."))
    )
    pdf = converted(fodt(body, styles, _SIZE), ".fodt")
    page = first_page(pdf)
    fields = [FormField(f, "text", "dots", leader(page, label, 7.0), label) for f, label in _FIELDS]
    boxes = glyph_boxes_on(page, _BOX)
    if len(boxes) != 2 * len(names):
        raise ValueError(f"{len(boxes)} boxes for {len(names)} items")
    for k, name in enumerate(names):
        good, bad = boxes[2 * k : 2 * k + 2]
        fields.append(_choice(name, item(name), good, bad))
    for k, label in enumerate(("Trouble:", "More:"), start=1):
        fields.append(FormField(f"remarks.{k}", "text", "dots", leader(page, label, 7.5), label))
    fields.append(FormField("signature", "signature", "dots", leader(page, "Sign here:", 7.5), "Sign here:"))
    return DrawnForm("typed-letter", run, pdf, *_SIZE, tuple(fields), {})


def lorry_table(run: str) -> DrawnForm:
    """A table with rules under its rows alone, box characters under "Sat." and "Unsat."; underscores to write on."""
    size = (210.0, 297.0)
    box = f'<text:p text:style-name="c"><text:span text:style-name="g">{_BOX}</text:span></text:p>'
    rows = [
        [f'<text:p text:style-name="{"b" if k == 0 else "c"}">{words}</text:p>' for k, words in enumerate(heads)]
        for heads in (("Look at", "Sat.", "Unsat."),)
    ] + [[f'<text:p text:style-name="t">{escape(words)}</text:p>', box, box] for words in LORRY.values()]
    look_styles, look = table("a", (128, 25, 25), 7, rows, "under")
    empty = '<text:p text:style-name="t"/>'
    defect_rows = [
        [f'<text:p text:style-name="b">{words}</text:p>' for words in ("Defects to be put right", "Done by")]
    ]
    defect_styles, defects = table("d", (138, 40), 8.5, [*defect_rows, *([empty] * 2 for _ in range(3))], "ruled")
    body = (
        '<text:p text:style-name="h">Lorry walk-round</text:p>'
        '<text:p text:style-name="s">Kestering Haulage, before the first load of the day</text:p>'
        '<text:p text:style-name="f">Registration no.<text:tab/> Date<text:tab/> Odometer<text:tab/></text:p>'
        '<text:p text:style-name="n">Driver<text:tab/> Trailer<text:tab/></text:p>'
        f'{look}{defects}<text:p text:style-name="d">Driver\u2019s signature<text:tab/> Passed to<text:tab/></text:p>'
    )
    styles = (
        paragraph("h", 17, 0, bold=True, centred="center")
        + paragraph("s", 10, 1, centred="center")
        + paragraph("f", 11, 6, tab(72, "_") + tab(122, "_") + tab(178, "_"))
        + paragraph("n", 11, 5, tab(110, "_") + tab(178, "_"))
        + paragraph("d", 11, 9, tab(100, "_") + tab(178, "_"))
        + paragraph("t", 10.5, 0)
        + paragraph("b", 10.5, 0, bold=True)
        + paragraph("c", 10.5, 0, centred="center")
        + cell("under", 'fo:border-bottom="0.5pt solid #000000"')
        + cell("ruled", 'fo:border="0.5pt solid #000000"')
        + look_styles
        + defect_styles
    )
    pdf = converted(fodt(body, styles, size), ".fodt")
    page = first_page(pdf)
    labels = (("unit", "Registration no."), ("date", "Date"), ("odometer", "Odometer"), ("operator", "Driver"))
    fields = [
        FormField(f, "text", "rule", leader(page, label, 7.0, "_"), label)
        for f, label in (*labels, ("trailer", "Trailer"))
    ]
    boxes = glyph_boxes_on(page, _BOX)
    for k, (name, words) in enumerate(LORRY.items()):
        fields.append(_choice(name, words, *boxes[2 * k : 2 * k + 2]))
    levels, left, right = _levels(page), 16.0, 16.0 + 138
    for k, (top, bottom) in enumerate(zip(levels[-4:], levels[-3:], strict=False), start=1):
        fields.append(FormField(f"remarks.{k}", "text", "cell", Box(left, top, right - left, bottom - top), ""))
    signed, told = "Driver\u2019s signature", "Passed to"
    fields.append(FormField("signature", "signature", "rule", leader(page, signed, 8.0, "_"), signed))
    fields.append(FormField("told", "text", "rule", leader(page, told, 8.0, "_"), told))
    return DrawnForm("lorry-table", run, pdf, *size, tuple(fields), {})


def initialled_list(run: str) -> DrawnForm:
    """A short rule before every item to put a tick or a cross on, in two columns by tabs; no box and no table."""
    names = items(30, start=13, step=7)
    half = len(names) // 2
    rule = "_" * 6
    rows = "".join(
        f'<text:p text:style-name="i">{rule} {escape(item(a))}<text:tab/>{rule} {escape(item(b))}</text:p>'
        for a, b in zip(names[:half], names[half:], strict=True)
    )
    lines = "".join('<text:p text:style-name="d"><text:tab/></text:p>' for _ in range(3))
    body = (
        '<text:p text:style-name="h">Pre-start inspection, tracked machines</text:p>'
        '<text:p text:style-name="s">\u2713 = satisfactory    X = unsatisfactory    NA = not applicable</text:p>'
        '<text:p text:style-name="f">Machine number:<text:tab/> Date:<text:tab/> Hour meter:<text:tab/></text:p>'
        '<text:p text:style-name="n">Operator:<text:tab/> Location:<text:tab/></text:p>'
        f'<text:p text:style-name="s"/>{rows}<text:p text:style-name="b">Comments:</text:p>{lines}'
        '<text:p text:style-name="n">Signature:<text:tab/> Supervisor:<text:tab/></text:p>'
    )
    styles = (
        paragraph("h", 16, 0, bold=True)
        + paragraph("s", 10.5, 3)
        + paragraph("f", 11, 7, tab(72, "_") + tab(122, "_") + tab(180, "_"))
        + paragraph("n", 11, 6, tab(100, "_") + tab(180, "_"))
        + paragraph("i", 11, 2.4, tab(95))
        + paragraph("b", 11, 5, bold=True)
        + paragraph("d", 11, 4, tab(180, "_"))
    )
    pdf = converted(fodt(body, styles, _SIZE), ".fodt")
    page = first_page(pdf)
    labels = (("unit", "Machine number:"), ("date", "Date:"), ("hours", "Hour meter:"), ("operator", "Operator:"))
    ends = (("site", "Location:", 7.0), ("signature", "Signature:", 8.0), ("foreman", "Supervisor:", 8.0))
    fields = [FormField(f, "text", "rule", leader(page, label, 7.0, "_"), label) for f, label in labels]
    for f, label, high in ends:
        kind = "signature" if f == "signature" else "text"
        fields.append(FormField(f, kind, "rule", leader(page, label, high, "_"), label))
    runs = runs_of(page, "_", 7.0)
    short, long = [r for r in runs if r.w_mm < 20], [r for r in runs if r.w_mm > 150]
    for k, name in enumerate(names):
        box = short[2 * (k % half) + k // half]
        fields.append(FormField(f"item.{name}", "mark", "rule", box, item(name)))
    fields += [FormField(f"remarks.{k}", "text", "rule", box, "Comments:") for k, box in enumerate(long, start=1)]
    legend = {"tick": "ok", "cross": "defect", "letters": "na"}
    return DrawnForm("initialled-list", run, pdf, *_SIZE, tuple(fields), legend)


def _levels(page: PdfPage) -> list[float]:
    """Where the level rules lie, mm, those of one table row taken as one."""
    levels: list[float] = []
    for top in sorted(edge["top"] * 25.4 / 72 for edge in page.edges if edge["orientation"] == "h"):
        if not levels or top - levels[-1] > 2:
            levels.append(top)
    return levels


def _choice(name: str, words: str, good: Box, bad: Box) -> FormField:
    answers = (("ok", good), ("defect", bad))
    return FormField(f"item.{name}", "choice", "glyph", good.union(bad), words, answers=answers)
