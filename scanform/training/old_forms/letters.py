"""An old form that somebody typed as a letter: tabs with dotted leaders, box characters after the words."""

from __future__ import annotations

from html import escape

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted, dot_leader, first_page, glyph_boxes_on
from scanform.training.old_forms.wording import item, items

__all__ = ["typed_letter"]

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
    pdf = converted(_fodt(body), ".fodt")
    page = first_page(pdf)
    fields = [FormField(f, "text", "dots", dot_leader(page, label, 7.0), label) for f, label in _FIELDS]
    boxes = glyph_boxes_on(page, _BOX)
    if len(boxes) != 2 * len(names):
        raise ValueError(f"{len(boxes)} boxes for {len(names)} items")
    for k, name in enumerate(names):
        good, bad = boxes[2 * k : 2 * k + 2]
        fields.append(_choice(name, good, bad))
    for k, label in enumerate(("Trouble:", "More:"), start=1):
        fields.append(FormField(f"remarks.{k}", "text", "dots", dot_leader(page, label, 7.5), label))
    fields.append(FormField("signature", "signature", "dots", dot_leader(page, "Sign here:", 7.5), "Sign here:"))
    return DrawnForm("typed-letter", run, pdf, *_SIZE, tuple(fields), {})


def _choice(name: str, good: Box, bad: Box) -> FormField:
    answers = (("ok", good), ("defect", bad))
    return FormField(f"item.{name}", "choice", "glyph", good.union(bad), item(name), answers=answers)


def _fodt(body: str) -> str:
    def paragraph(name: str, size_pt: float, above_mm: float, tabs: str = "", bold: bool = False) -> str:
        weight = ' fo:font-weight="bold"' if bold else ""
        return (
            f'<style:style style:name="{name}" style:family="paragraph"><style:paragraph-properties '
            f'fo:margin-top="{above_mm}mm" fo:margin-bottom="0mm"><style:tab-stops>{tabs}</style:tab-stops>'
            f'</style:paragraph-properties><style:text-properties fo:font-family="Liberation Serif" '
            f'fo:font-size="{size_pt}pt"{weight}/></style:style>'
        )

    def tab(at_mm: float, dots: bool = False) -> str:
        leader = ' style:leader-style="dotted" style:leader-text="."' if dots else ""
        return f'<style:tab-stop style:position="{at_mm}mm"{leader}/>'

    styles = (
        paragraph("h", 18, 0, bold=True)
        + paragraph("s", 10, 1)
        + paragraph("f", 11, 7, tab(62, True) + tab(122, True) + tab(180, True))
        + paragraph("n", 11, 5, tab(110, True) + tab(180, True))
        + paragraph("i", 11, 1.3, tab(110) + tab(145))
        + paragraph("d", 11, 5, tab(180, True))
    )
    spaces = " ".join(
        f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"' for name in ("office", "style", "text")
    )
    width, height = _SIZE
    return f"""<?xml version="1.0" encoding="UTF-8"?>
<office:document {spaces} xmlns:fo="urn:oasis:names:tc:opendocument:xmlns:xsl-fo-compatible:1.0"
 office:version="1.3" office:mimetype="application/vnd.oasis.opendocument.text">
<office:automatic-styles>{styles}<style:style style:name="g" style:family="text"><style:text-properties
 fo:font-family="DejaVu Sans" style:font-family-asian="DejaVu Sans" style:font-family-complex="DejaVu Sans"
 fo:font-size="14pt" style:font-size-asian="14pt"/></style:style>
<style:page-layout style:name="p"><style:page-layout-properties fo:page-width="{width}mm" fo:page-height="{height}mm"
 fo:margin="16mm"/></style:page-layout></office:automatic-styles>
<office:master-styles><style:master-page style:name="Standard" style:page-layout-name="p"/></office:master-styles>
<office:body><office:text>{body}</office:text></office:body></office:document>"""
