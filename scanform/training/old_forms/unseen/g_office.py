"""Set G, forms from office programs and a typesetter: a tower crane, a pump, a dozer. All are invented."""

from __future__ import annotations

from html import escape

from scanform.form.geometry import Box
from scanform.training.old_forms.calc import Cell, fods, grid_of
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted, first_page, glyph_boxes_on, leader
from scanform.training.old_forms.unseen.points_g import DOZER, PUMP, TOWER_CRANE
from scanform.training.old_forms.unseen.roff import level_rules, typeset, upright_rules
from scanform.training.old_forms.writer import fodt, paragraph, tab

__all__ = ["dozer_pairs", "pump_docket", "tower_crane_clauses"]


def tower_crane_clauses(run: str) -> DrawnForm:
    """Spreadsheet with numbered clauses, S and U/S and N/A, then a comment; a label and its room share each cell."""
    margin, size = 12.0, (210.0, 297.0)
    widths = (40.0, 220.0, 32.0, 32.0, 32.0, 171.0)
    labels = (
        (("unit", "Crane No.:"), ("project", "Project:")),
        (("date", "Date checked:"), ("wind", "Max wind (m/s):")),
        (("operator", "Crane operator:"), ("hours", "Hoist hrs:")),
    )
    rows: list[tuple[float, list[Cell]]] = [(32, [Cell("Tower crane: start of day", "title", 6)])]
    rows += [(22, [Cell(a, "ruled", 2), Cell(b, "ruled", 4)]) for (_, a), (_, b) in labels]
    rows.append((12, [Cell("", "plain", 6)]))
    rows.append((18, [Cell(words, "head") for words in ("Ref", "Check", "S", "U/S", "N/A", "Comment")]))
    at: dict[tuple[str, str], int] = {}
    for heading, points in TOWER_CRANE.items():
        rows.append((17, [Cell(heading, "label", 6)]))
        for k, (name, words) in enumerate(points.items(), start=1):
            at[name, words] = len(rows)
            ref = f"{heading[:2]}{k}"
            rows.append((19, [Cell(ref, "middle"), Cell(words), Cell(), Cell(), Cell(), Cell()]))
    rows.append((14, [Cell("S = serviceable, U/S = unserviceable, N/A = not applicable", "plain", 6)]))
    foot = len(rows)
    rows.append((40, [Cell("Defects raised:", "ruled", 6)]))
    rows.append((28, [Cell("Operator sign-off:", "ruled", 2), Cell("Appointed person:", "ruled", 4)]))
    pdf = converted(fods(size, margin, widths, rows), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 1)
    fields = []
    for row, pair in enumerate(labels, start=1):
        for (field_id, label), (a, b) in zip(pair, ((0, 2), (2, 6)), strict=True):
            fields.append(FormField(field_id, "text", "cell", grid.box(row, a, b), label))
    for (name, words), row in at.items():
        cells = tuple((a, grid.box(row, k, k + 1)) for k, a in enumerate(("ok", "defect", "na"), start=2))
        whole = cells[0][1].union(cells[2][1])
        fields.append(FormField(f"item.{name}", "choice", "cell", whole, words, answers=cells))
    fields.append(FormField("remarks", "text", "cell", grid.box(foot, 0, 6), "Defects raised:"))
    fields.append(FormField("signature", "signature", "cell", grid.box(foot + 1, 0, 2), "Operator sign-off:"))
    fields.append(FormField("appointed-person", "text", "cell", grid.box(foot + 1, 2, 6), "Appointed person:"))
    return DrawnForm("tower-crane-clauses", run, pdf, *size, tuple(fields), {})


def pump_docket(run: str) -> DrawnForm:
    """A service docket, typed: three box characters a point, the answers' words once at the top of their columns."""
    size = (210.0, 297.0)
    box = '<text:span text:style-name="g">\u2610</text:span>'
    points = "".join(
        f'<text:p text:style-name="i">{escape(words)}<text:tab/>{box}<text:tab/>{box}<text:tab/>{box}</text:p>'
        for words in PUMP.values()
    )
    body = (
        '<text:p text:style-name="h">SERVICE DOCKET - PUMPING STATION</text:p>'
        '<text:p text:style-name="f">Docket for pump set<text:tab/><text:tab/>Attended on<text:tab/></text:p>'
        '<text:p text:style-name="f">Fitter<text:tab/><text:tab/>Hrs run (from meter)<text:tab/></text:p>'
        '<text:p text:style-name="f">Client\u2019s station<text:tab/><text:tab/>Job no.<text:tab/></text:p>'
        '<text:p text:style-name="c"><text:tab/>Left good<text:tab/>Needs work<text:tab/>Not seen</text:p>'
        f"{points}"
        '<text:p text:style-name="f">Parts used<text:tab/><text:tab/></text:p>'
        '<text:p text:style-name="f">Further work advised<text:tab/><text:tab/></text:p>'
        '<text:p text:style-name="f">Fitter\u2019s signature<text:tab/><text:tab/>For the client<text:tab/></text:p>'
    )
    leaders = tab(84, "_") + tab(90) + tab(176, "_")
    styles = (
        paragraph("h", 16, 0, bold=True)
        + paragraph("f", 11, 4.0, leaders)
        + paragraph("c", 9, 5.0, tab(104) + tab(128) + tab(154))
        + paragraph("i", 11, 1.6, tab(108) + tab(134) + tab(158))
    )
    pdf = converted(fodt(body, styles, size), ".fodt")
    page = first_page(pdf)
    labels = (
        ("unit", "Docket for pump set"),
        ("date", "Attended on"),
        ("operator", "Fitter"),
        ("hours", "Hrs run (from meter)"),
        ("site", "Client\u2019s station"),
        ("job-no", "Job no."),
        ("parts-used", "Parts used"),
        ("further-work-advised", "Further work advised"),
        ("signature", "Fitter\u2019s signature"),
        ("for-the-client", "For the client"),
    )
    fields = []
    for field_id, label in labels:
        kind = "signature" if field_id == "signature" else "text"
        fields.append(FormField(field_id, kind, "rule", leader(page, label, 7.0, "_"), label))
    boxes = glyph_boxes_on(page, "\u2610")
    for k, (name, words) in enumerate(PUMP.items()):
        own = tuple(zip(("ok", "defect", "na"), boxes[3 * k : 3 * k + 3], strict=True))
        fields.append(FormField(f"item.{name}", "choice", "glyph", own[0][1].union(own[2][1]), words, answers=own))
    return DrawnForm("pump-docket", run, pdf, *size, tuple(fields), {})


def dozer_pairs(run: str) -> DrawnForm:
    """Typeset: two points to a row in a table ruled all over, one cell each for a letter; the head is such a table."""
    size = (215.9, 279.4)
    names = list(DOZER.items())
    rows = "\n".join(f"{a[1]}\t\t{b[1]}\t" for a, b in zip(names[:9], names[9:], strict=True))
    document = f""".po 1.9c
.ll 17.8c
.nf
.sp |1.5c
.ps 16
.ft HB
DOZER SHIFT CARD
.ps 10
.ft H
.vs 20
.sp 0.3
.TS
allbox;
lw(2.4c) lw(5.6c) lw(2.8c) lw(5c).
M/C No.\t\tDay/Night shift\t
Op.\t\tMeter on\t
Dt.\t\tMeter off\t
.TE
.sp 0.6
G = good    R = repair soon    X = stop
.sp 0.4
.TS
allbox;
lB cB lB cB
lw(6c) cw(2c) lw(6c) cw(2c).
Walk round\tMark\tIn the seat\tMark
{rows}
.TE
.sp 0.6
Comments / action required
.TS
allbox;
lw(16.8c).
\\v'2c'\\ \\v'-2c'
.TE
.sp 1
Signature of operator \\l'4.5c'   Shift boss \\l'4.5c'
"""
    pdf = typeset(document, size)
    page = first_page(pdf)
    levels, uprights = level_rules(page), upright_rules(page)
    wide = [y for left, right, y in levels if right - left > 100]
    ys = sorted({round(y, 1) for y in wide})
    xs = [sorted({round(x, 1) for top, bottom, x in uprights if top - 0.5 <= y <= bottom + 0.5}) for y in ys]
    head, table = ys[:4], ys[4:15]
    fields = []
    ids: tuple[tuple[tuple[str, str], tuple[str, str]], ...] = (
        (("unit", "M/C No."), ("shift", "Day/Night shift")),
        (("operator", "Op."), ("hours-start", "Meter on")),
    )
    ids += ((("date", "Dt."), ("hours-end", "Meter off")),)
    for k, row in enumerate(ids):
        for (field_id, label), j in zip(row, (1, 3), strict=True):
            x = xs[0]
            box = Box(x[j], head[k], x[j + 1] - x[j], head[k + 1] - head[k])
            fields.append(FormField(field_id, "text", "cell", box, label))
    for k, (name, words) in enumerate(names):
        line, j, x = 1 + k % 9, 1 + 2 * (k // 9), xs[4]
        box = Box(x[j], table[line], x[j + 1] - x[j], table[line + 1] - table[line])
        fields.append(FormField(f"item.{name}", "mark", "cell", box, words))
    room = Box(xs[-1][0], ys[15], xs[-1][-1] - xs[-1][0], ys[16] - ys[15])
    fields.append(FormField("remarks", "text", "area", room, "Comments / action required"))
    short = sorted((left, right, y) for left, right, y in levels if 20 < right - left < 60 and y > ys[16] + 3)
    for (field_id, label), (left, right, y) in zip(
        (("signature", "Signature of operator"), ("foreman", "Shift boss")), short, strict=True
    ):
        kind = "signature" if field_id == "signature" else "text"
        fields.append(FormField(field_id, kind, "rule", Box(left, y - 6.5, right - left, 6.5), label))
    return DrawnForm("dozer-pairs", run, pdf, *size, tuple(fields), {"G": "ok", "R": "defect", "cross": "defect"})
