"""Old forms that somebody made in a spreadsheet. All names are invented."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

from scanform.form.days import DAY_TITLES, DAYS
from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted, first_page, snapped
from scanform.training.old_forms.wording import item, items

__all__ = ["sheet_columns", "sheet_week"]

_PT = 25.4 / 72
_ANSWERS = ("ok", "defect", "na")
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
class _Cell:
    text: str = ""
    style: str = "ruled"
    across: int = 1


def _fods(
    size_mm: tuple[float, float],
    margin_mm: float,
    widths_pt: Sequence[float],
    rows: Sequence[tuple[float, list[_Cell]]],
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


def _cell_xml(cell: _Cell) -> str:
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


class _Grid:
    """The finished table's edges; ``box`` gives the room of a cell that spans columns ``a`` to ``b`` of a row."""

    def __init__(self, xs: list[float], ys: list[float]) -> None:
        self.xs, self.ys = xs, ys

    def box(self, row: int, a: int, b: int) -> Box:
        return Box(self.xs[a], self.ys[row], self.xs[b] - self.xs[a], self.ys[row + 1] - self.ys[row])


def _grid(pdf: bytes, margin_mm: float, widths: Sequence[float], heights: Sequence[float], first_ruled: int) -> _Grid:
    """Edges as meant, those of the ruled rows taken from the PDF's own rules."""
    page = first_page(pdf)
    ys = _edges(margin_mm, heights)
    xs, ruled = snapped(page, _edges(margin_mm, widths), ys[first_ruled:])
    return _Grid(xs, ys[:first_ruled] + ruled)


def sheet_columns(run: str) -> DrawnForm:
    """A spreadsheet: header cells with their label shaded beside them, three answer columns, remarks merged."""
    margin, size = 14.0, (210.0, 297.0)
    widths = (26.0, 74.0, 180.0, 72.0, 52.0, 58.0, 52.0)
    names = items(24, start=8, step=11)
    rows: list[tuple[float, list[_Cell]]] = [
        (30, [_Cell("Plant check sheet", "title", 7)]),
        (18, [_Cell("Sallowby Roadstone  -  fill in before starting work", "plain", 7)]),
        (26, _written("Plant", 2, 1) + _written("Date", 1, 3)),
        (26, _written("Operator", 2, 1) + _written("Hours", 1, 3)),
        (20, [_Cell("", "head"), _Cell("Check", "head", 3), *(_Cell(w, "head") for w in ("OK", "Not OK", "N/A"))]),
    ]
    for k, name in enumerate(names, start=1):
        rows.append((19, [_Cell(str(k), "middle"), _Cell(item(name), "ruled", 3), *(_Cell() for _ in _ANSWERS)]))
    rows += [
        (18, [_Cell("Remarks", "label", 7)]),
        (72, [_Cell("", "ruled", 7)]),
        (30, _written("Signature", 2, 1) + _written("Foreman", 1, 3)),
    ]
    pdf = converted(_fods(size, margin, widths, rows), ".fods")
    grid = _grid(pdf, margin, widths, [height for height, _ in rows], 2)
    fields = [
        FormField("unit", "text", "cell", grid.box(2, 2, 3), "Plant"),
        FormField("date", "text", "cell", grid.box(2, 4, 7), "Date"),
        FormField("operator", "text", "cell", grid.box(3, 2, 3), "Operator"),
        FormField("hours", "text", "cell", grid.box(3, 4, 7), "Hours"),
    ]
    for k, name in enumerate(names, start=5):
        answers = tuple((a, grid.box(k, 4 + j, 5 + j)) for j, a in enumerate(_ANSWERS))
        whole = grid.box(k, 4, 7)
        fields.append(FormField(f"item.{name}", "choice", "cell", whole, item(name), answers=answers))
    end = 5 + len(names)
    fields += [
        FormField("remarks", "text", "area", grid.box(end + 1, 0, 7), "Remarks"),
        FormField("signature", "signature", "cell", grid.box(end + 2, 2, 3), "Signature"),
        FormField("told", "text", "cell", grid.box(end + 2, 4, 7), "Foreman"),
    ]
    return DrawnForm("sheet-columns", run, pdf, *size, tuple(fields), {})


def _written(label: str, label_across: int, across: int) -> list[_Cell]:
    """A shaded label and the cell to write in beside it."""
    return [_Cell(label, "label", label_across), _Cell("", "ruled", across)]


def sheet_week(run: str) -> DrawnForm:
    """A spreadsheet of a week on Letter across: day columns, a legend with a tick sign, hours and initials below."""
    margin, size = 11.0, (279.4, 215.9)
    widths = (162.0, *((80.0,) * 7))
    names = items(17, start=4, step=13)
    rows: list[tuple[float, list[_Cell]]] = [
        (26, [_Cell("Weekly loader report", "title", 8)]),
        (18, [_Cell("\u2713 = OK    X = needs repair    N/A = does not apply", "plain", 8)]),
        (26, [_Cell("Loader:", "label"), _Cell("", "ruled", 3), _Cell("Week of:", "label"), _Cell("", "ruled", 3)]),
        (18, [_Cell("Item", "head"), *(_Cell(day, "head") for day in DAY_TITLES)]),
    ]
    for name in names:
        rows.append((18, [_Cell(item(name)), *(_Cell() for _ in DAYS)]))
    rows += [
        (21, [_Cell("Hour meter", "label"), *(_Cell() for _ in DAYS)]),
        (21, [_Cell("Initials", "label"), *(_Cell() for _ in DAYS)]),
        (36, [_Cell("Repairs wanted", "label"), _Cell("", "ruled", 7)]),
    ]
    pdf = converted(_fods(size, margin, widths, rows), ".fods")
    grid = _grid(pdf, margin, widths, [height for height, _ in rows], 2)
    fields = [
        FormField("unit", "text", "cell", grid.box(2, 1, 4), "Loader:"),
        FormField("week", "text", "cell", grid.box(2, 5, 8), "Week of:"),
    ]
    for r, name in enumerate(names, start=4):
        for k, day in enumerate(DAYS):
            fields.append(FormField(f"item.{name}.{day}", "mark", "cell", grid.box(r, k + 1, k + 2), item(name)))
    end = 4 + len(names)
    for k, day in enumerate(DAYS):
        fields.append(FormField(f"hours.{day}", "text", "cell", grid.box(end, k + 1, k + 2), "Hour meter"))
        fields.append(FormField(f"initials.{day}", "text", "cell", grid.box(end + 1, k + 1, k + 2), "Initials"))
    fields.append(FormField("remarks", "text", "area", grid.box(end + 2, 1, 8), "Repairs wanted"))
    return DrawnForm("sheet-week", run, pdf, *size, tuple(fields), {"tick": "ok", "cross": "defect", "letters": "na"})
