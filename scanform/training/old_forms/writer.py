"""Letters as flat OpenDocument text: paragraph styles, tabs with leaders, ruled tables."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["cell", "fodt", "paragraph", "tab", "table"]


def paragraph(name: str, size_pt: float, above_mm: float, tabs: str = "", bold: bool = False, centred: str = "") -> str:
    """A paragraph style in Liberation Serif; ``centred`` is "center" or nothing."""
    weight = ' fo:font-weight="bold"' if bold else ""
    align = f' fo:text-align="{centred}"' if centred else ""
    return (
        f'<style:style style:name="{name}" style:family="paragraph"><style:paragraph-properties '
        f'fo:margin-top="{above_mm}mm" fo:margin-bottom="0mm"{align}><style:tab-stops>{tabs}</style:tab-stops>'
        f'</style:paragraph-properties><style:text-properties fo:font-family="Liberation Serif" '
        f'fo:font-size="{size_pt}pt"{weight}/></style:style>'
    )


def tab(at_mm: float, sign: str = "") -> str:
    """A tab stop; with a ``sign`` the way there is filled with it."""
    drawn = {".": "dotted", "_": "solid"}
    leader = f' style:leader-style="{drawn[sign]}" style:leader-text="{sign}"' if sign else ""
    return f'<style:tab-stop style:position="{at_mm}mm"{leader}/>'


def cell(name: str, border: str) -> str:
    """A table cell's style; ``border``: its attributes, such as ``fo:border-bottom="0.5pt solid #000000"``."""
    return (
        f'<style:style style:name="{name}" style:family="table-cell"><style:table-cell-properties {border} '
        f'fo:padding="0.5mm" style:vertical-align="middle"/></style:style>'
    )


def table(
    name: str, widths_mm: Sequence[float], row_mm: float, rows: Sequence[Sequence[str]], cell_style: str
) -> tuple[str, str]:
    """The styles of a table and its body; ``rows`` hold the paragraphs of each cell as XML."""
    styles = (
        f'<style:style style:name="{name}" style:family="table"><style:table-properties '
        f'style:width="{sum(widths_mm)}mm" table:align="left" fo:margin-top="3mm"/></style:style>'
        f'<style:style style:name="{name}r" style:family="table-row"><style:table-row-properties '
        f'style:row-height="{row_mm}mm"/></style:style>'
    ) + "".join(
        f'<style:style style:name="{name}{k}" style:family="table-column"><style:table-column-properties '
        f'style:column-width="{width}mm"/></style:style>'
        for k, width in enumerate(widths_mm)
    )
    columns = "".join(f'<table:table-column table:style-name="{name}{k}"/>' for k in range(len(widths_mm)))
    body = "".join(
        f'<table:table-row table:style-name="{name}r">'
        + "".join(f'<table:table-cell table:style-name="{cell_style}">{words}</table:table-cell>' for words in row)
        + "</table:table-row>"
        for row in rows
    )
    return styles, f'<table:table table:name="{name}" table:style-name="{name}">{columns}{body}</table:table>'


def fodt(body: str, styles: str, size_mm: tuple[float, float]) -> str:
    """The document; a text style "g", in DejaVu Sans of 14 pt, is there for box characters."""
    width, height = size_mm
    spaces = " ".join(
        f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
        for name in ("office", "style", "table", "text")
    )
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
