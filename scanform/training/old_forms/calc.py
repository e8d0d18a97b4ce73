"""Spreadsheets as flat OpenDocument text with exact rows and columns, and where their cells lie once printed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

from scanform.form.geometry import Box
from scanform.training.old_forms.office import first_page, snapped

__all__ = ["Cell", "Grid", "fods", "grid_of"]

_PT = 25.4 / 72
# Cell styles by name: whether ruled, bold, centred, shaded, and the size of the print.
_STYLES: Mapping[str, tuple[bool, bool, bool, bool, float]] = {
    "plain": (False, False, False, False, 10),
    "title": (False, True, False, False, 16),
    "ruled": (True, False, False, False, 10),
    "middle": (True, False, True, False, 10),
    "head": (True, True, True, True, 10),
    "label": (True, True, False, True, 10),
}


@dataclass(frozen=True)
class Cell:
    """``style``: one of the names above; ``across``: how many columns it takes."""

    text: str = ""
    style: str = "ruled"
    across: int = 1


def fods(
    size_mm: tuple[float, float],
    margin_mm: float,
    widths_pt: Sequence[float],
    rows: Sequence[tuple[float, list[Cell]]],
) -> str:
    """A flat spreadsheet with exact widths and heights (pt), printed at its own size."""
    heights = sorted({height for height, _ in rows})
    columns = "".join(
        f'<style:style style:name="c{k}" style:family="table-column"><style:table-column-properties '
        f'style:column-width="{width}pt"/></style:style>'
        for k, width in enumerate(widths_pt)
    )
    rows_styles = "".join(
        f'<style:style style:name="r{height}" style:family="table-row"><style:table-row-properties '
        f'style:row-height="{height}pt" style:use-optimal-row-height="false"/></style:style>'
        for height in heights
    )
    cells = "".join(_cell_style(name, *style) for name, style in _STYLES.items())
    body = "".join(
        f'<table:table-row table:style-name="r{height}">{"".join(_cell_xml(c) for c in row)}</table:table-row>'
        for height, row in rows
    )
    used = "".join(f'<table:table-column table:style-name="c{k}"/>' for k in range(len(widths_pt)))
    width, height = size_mm
    orientation = "landscape" if width > height else "portrait"
    spaces = " ".join(
        f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{urn}:1.0"'
        for name, urn in (("office", "office"), ("style", "style"), ("table", "table"), ("text", "text"))
    )
    return f"""<?xml version="1.0" encoding="UTF-8"?>
<office:document {spaces} xmlns:fo="urn:oasis:names:tc:opendocument:xmlns:xsl-fo-compatible:1.0"
 office:version="1.3" office:mimetype="application/vnd.oasis.opendocument.spreadsheet">
<office:automatic-styles>{columns}{rows_styles}{cells}
<style:style style:name="t" style:family="table" style:master-page-name="m"/>
<style:page-layout style:name="p"><style:page-layout-properties fo:page-width="{width}mm" fo:page-height="{height}mm"
 style:print-orientation="{orientation}" fo:margin="{margin_mm}mm" style:scale-to="100%"/>
<style:header-style/><style:footer-style/></style:page-layout></office:automatic-styles>
<office:master-styles><style:master-page style:name="m" style:page-layout-name="p">
<style:header style:display="false"/><style:footer style:display="false"/></style:master-page></office:master-styles>
<office:body><office:spreadsheet><table:table table:name="f" table:style-name="t">{used}{body}</table:table>
</office:spreadsheet></office:body></office:document>"""


def _cell_style(name: str, ruled: bool, bold: bool, centred: bool, shaded: bool, size_pt: float) -> str:
    border = 'fo:border="0.6pt solid #000000"' if ruled else 'fo:border="none"'
    fill = ' fo:background-color="#d9d9d9"' if shaded else ""
    align = '<style:paragraph-properties fo:text-align="center"/>' if centred else ""
    weight = ' fo:font-weight="bold"' if bold else ""
    return (
        f'<style:style style:name="{name}" style:family="table-cell"><style:table-cell-properties {border}{fill} '
        f'style:vertical-align="middle" fo:padding="1.5pt" style:text-align-source="fix"/>{align}'
        f'<style:text-properties style:font-name="Liberation Sans" fo:font-family="Liberation Sans" '
        f'fo:font-size="{size_pt}pt"{weight}/></style:style>'
    )


def _cell_xml(cell: Cell) -> str:
    span = f' table:number-columns-spanned="{cell.across}"' if cell.across > 1 else ""
    words = f"<text:p>{escape(cell.text)}</text:p>" if cell.text else ""
    kind = ' office:value-type="string"' if cell.text else ""
    covered = "<table:covered-table-cell/>" * (cell.across - 1)
    return f'<table:table-cell table:style-name="{cell.style}"{kind}{span}>{words}</table:table-cell>{covered}'


def _edges(margin_mm: float, sizes_pt: Sequence[float]) -> list[float]:
    edges = [margin_mm]
    for size in sizes_pt:
        edges.append(edges[-1] + size * _PT)
    return edges


class Grid:
    """The finished table's edges; ``box`` gives the room of a cell that spans columns ``a`` to ``b`` of a row."""

    def __init__(self, xs: list[float], ys: list[float]) -> None:
        self.xs, self.ys = xs, ys

    def box(self, row: int, a: int, b: int) -> Box:
        """Its room in mm; ``b`` is the column after its last."""
        return Box(self.xs[a], self.ys[row], self.xs[b] - self.xs[a], self.ys[row + 1] - self.ys[row])


def grid_of(pdf: bytes, margin_mm: float, widths: Sequence[float], heights: Sequence[float], first_ruled: int) -> Grid:
    """Edges as meant, those of the ruled rows taken from the PDF's own rules."""
    page = first_page(pdf)
    ys = _edges(margin_mm, heights)
    xs, ruled = snapped(page, _edges(margin_mm, widths), ys[first_ruled:])
    return Grid(xs, ys[:first_ruled] + ruled)
