"""Set L, forms from an office program: a small builder's, a quarry contractor's, a parks week. All are invented."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from scanform.form.days import DAY_TITLES, DAYS
from scanform.form.geometry import Box
from scanform.training.old_forms.calc import Cell, fods, grid_of
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted, first_page, glyph_boxes_on, leader, runs_of
from scanform.training.old_forms.unseen.points_l import DUMP_TRUCK, PARKS, SHOVEL
from scanform.training.old_forms.writer import cell, fodt, paragraph, tab, table

__all__ = ["builder_shovel", "parks_tractor_week", "quarry_rigid"]

_ANSWERS = ("ok", "defect", "na")
_MM = 25.4 / 72
_SAME_RULE_MM = 0.5


def builder_shovel(run: str) -> DrawnForm:
    """A letter with a ruled table: box characters under OK, Defect and N/A, a comment to each; underscores above."""
    size = (210.0, 297.0)
    shown = [f'<text:p text:style-name="{style}">{words}</text:p>' for style, words in _SHOVEL_HEADS]
    box = '<text:p text:style-name="m"><text:span text:style-name="g">\u2610</text:span></text:p>'
    rows = [shown]
    for k, words in enumerate(SHOVEL.values(), start=1):
        texts = f'<text:p text:style-name="m">{k}</text:p>', f'<text:p text:style-name="l">{escape(words)}</text:p>'
        rows.append([*texts, box, box, box, '<text:p text:style-name="l"/>'])
    table_styles, body = table("t", (10.0, 65.0, 15.0, 15.0, 15.0, 58.0), 7.8, rows, "c")
    line = '<text:p text:style-name="d"><text:tab/></text:p>'
    document = (
        '<text:p text:style-name="h">Loading Shovel &#8211; Daily Check</text:p>'
        '<text:p text:style-name="s">H. Dunmallet &amp; Son, Builders. Fill in before first use, leave in the cab tray.'
        '</text:p><text:p text:style-name="f">Machine <text:tab/> Date <text:tab/></text:p>'
        '<text:p text:style-name="f">Driver <text:tab/> Hours <text:tab/></text:p>'
        f'<text:p text:style-name="f">Site <text:tab/></text:p>{body}'
        f'<text:p text:style-name="b">Defects and what was done about them:</text:p>{line}{line}{line}'
        '<text:p text:style-name="e">Driver\u2019s signature <text:tab/> Reported to <text:tab/></text:p>'
    )
    styles = (
        paragraph("h", 17, 0, bold=True, centred="center")
        + paragraph("s", 10, 1, centred="center")
        + paragraph("f", 11, 5.2, tab(108, "_") + tab(178, "_"))
        + paragraph("l", 10.5, 0)
        + paragraph("m", 10.5, 0, centred="center")
        + paragraph("k", 10.5, 0, bold=True)
        + paragraph("n", 10.5, 0, bold=True, centred="center")
        + paragraph("b", 11, 4, bold=True)
        + paragraph("d", 11, 4.2, tab(178, "_"))
        + paragraph("e", 11, 6, tab(108, "_") + tab(178, "_"))
        + cell("c", 'fo:border="0.5pt solid #000000"')
        + table_styles.replace("fo:margin-top", 'table:border-model="collapsing" fo:margin-top')
    )
    pdf = converted(fodt(document, styles, size), ".fodt")
    page = first_page(pdf)
    labels = (("unit", "Machine"), ("date", "Date"), ("operator", "Driver"), ("hours", "Hours"), ("site", "Site"))
    fields = [FormField(name, "text", "rule", leader(page, f"{label} ", 6.5, "_"), label) for name, label in labels]
    xs = _rules([edge["x0"] * _MM for edge in page.edges if edge["orientation"] == "v"])
    ys = _rules([edge["top"] * _MM for edge in page.edges if edge["orientation"] == "h"])
    found = glyph_boxes_on(page, "\u2610")
    for k, (name, words) in enumerate(SHOVEL.items()):
        boxes = found[3 * k : 3 * k + 3]
        answers = tuple(zip(_ANSWERS, boxes, strict=True))
        whole = boxes[0].union(boxes[2])
        fields.append(FormField(f"item.{name}", "choice", "glyph", whole, words, answers=answers))
        comment = Box(xs[5], ys[k + 1], xs[6] - xs[5], ys[k + 2] - ys[k + 1])
        fields.append(FormField(f"note.{name}", "text", "cell", comment, "Comment"))
    for k, room in enumerate((r for r in runs_of(page, "_", 7.0) if r.w_mm > 170), start=1):
        fields.append(FormField(f"remarks.{k}", "text", "rule", room, "Defects and what was done about them:"))
    for name, label, kind in (("signature", "Driver\u2019s signature", "signature"), ("told", "Reported to", "text")):
        fields.append(FormField(name, kind, "rule", leader(page, f"{label} ", 8.0, "_"), label))
    return DrawnForm("builder-shovel", run, pdf, *size, tuple(fields), {})


_SHOVEL_HEADS = (("n", "No."), ("k", "Check"), ("n", "OK"), ("n", "Defect"), ("n", "N/A"), ("k", "Comment"))


def _rules(places: Sequence[float]) -> list[float]:
    """The middle of every rule whose two edges, or pieces' edges, lie at those places."""
    groups: list[list[float]] = []
    for place in sorted(places):
        if groups and place - groups[-1][-1] < _SAME_RULE_MM:
            groups[-1].append(place)
        else:
            groups.append([place])
    return [(group[0] + group[-1]) / 2 for group in groups]


def quarry_rigid(run: str) -> DrawnForm:
    """A spreadsheet in two blocks side by side, a shaded head with OK, Fault and N/A over every part of the round."""
    margin, size = 16.0, (210.0, 297.0)
    block = (68.0, 85.0, 31.0, 31.0, 31.0)
    widths = (*block, 12.0, *block)
    head = (
        (("unit", "Truck no."), ("date", "Date")),
        (("operator", "Operator"), ("shift", "Shift")),
        (("hours-start", "SMU start"), ("hours-end", "SMU finish")),
        (("site", "Quarry"), ("fuel-added", "Fuel added (L)")),
    )
    end = (("signature", "Operator sign"), ("foreman", "Supervisor"))
    gap = Cell("", "plain")
    columns = _blocks()
    rows: list[tuple[float, list[Cell]]] = [
        (30, [Cell("RIGID DUMP TRUCK \u2013 PRE-SHIFT INSPECTION", "title", 11)]),
        (20, [Cell("Garrowmoor Haulage Ltd. Mark one box per point. Report faults before you start.", "plain", 11)]),
    ]
    for (_, left), (_, right) in head:
        rows.append((23, [Cell(left, "label"), Cell("", "ruled", 4), gap, Cell(right, "label"), Cell("", "ruled", 4)]))
    rows.append((9, [Cell("", "plain", 11)]))
    for point, beside in zip(*columns, strict=True):
        rows.append((22, [*_block_row(*point), gap, *_block_row(*beside)]))
    rows.append((9, [Cell("", "plain", 11)]))
    rows.append((19, [Cell("Faults found and action taken", "label", 11)]))
    rows += [(23, [Cell("", "ruled", 11)])] * 4
    rows.append((9, [Cell("", "plain", 11)]))
    rows.append((30, [c for _, label in end for c in (Cell(label, "label"), Cell("", "ruled", 4), gap)][:-1]))
    document = fods(size, margin, widths, rows).replace("Liberation Sans", "Liberation Sans Narrow")
    pdf = converted(document.replace("0.6pt solid", "0.9pt solid"), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 2)
    fields = []
    for row, pair in enumerate(head, start=2):
        for (name, label), first in zip(pair, (1, 7), strict=True):
            fields.append(FormField(name, "text", "cell", grid.box(row, first, first + 4), label))
    for column, first in zip(columns, (2, 8), strict=True):
        for row, (name, words) in enumerate(column, start=7):
            if name:
                answers = tuple((a, grid.box(row, first + j, first + j + 1)) for j, a in enumerate(_ANSWERS))
                whole = grid.box(row, first, first + 3)
                fields.append(FormField(f"item.{name}", "choice", "cell", whole, words, answers=answers))
    below = 7 + len(columns[0]) + 2
    for k in range(4):
        room = grid.box(below + k, 0, 11)
        fields.append(FormField(f"remarks.{k + 1}", "text", "cell", room, "Faults found and action taken"))
    for (name, label), first in zip(end, (1, 7), strict=True):
        kind = "signature" if name == "signature" else "text"
        fields.append(FormField(name, kind, "cell", grid.box(len(rows) - 1, first, first + 4), label))
    return DrawnForm("quarry-rigid", run, pdf, *size, tuple(fields), {})


def _blocks() -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """Rows of the left and the right block, two parts of the round in each; a part's heading has no name."""
    parts = [[("", heading), *points.items()] for heading, points in DUMP_TRUCK.items()]
    return parts[0] + parts[1], parts[2] + parts[3]


def _block_row(name: str, words: str) -> list[Cell]:
    if name:
        return [Cell(words, "ruled", 2), *(Cell() for _ in _ANSWERS)]
    return [Cell(words, "label", 2), *(Cell(answer, "head") for answer in ("OK", "Fault", "N/A"))]


def parks_tractor_week(run: str) -> DrawnForm:
    """A week across A4, tractor and trailer under headings of their own; hours and initials at the foot of each day."""
    margin, size = 11.0, (297.0, 210.0)
    widths = (182.0, *((84.0,) * 7))
    rows: list[tuple[float, list[Cell]]] = [
        (28, [Cell("Tractor and trailer: weekly check sheet", "title", 8)]),
        (17, [Cell("Aldwell Borough Council, Parks and Open Spaces", "plain", 8)]),
        (22, _labelled(("Tractor no.", 2), ("Week beginning", 2), ("Depot", 1))),
        (22, _labelled(("Trailer no.", 2), ("Driver", 2), ("Team", 1))),
        (18, [Cell("Check daily before leaving the depot", "head"), *(Cell(day, "head") for day in DAY_TITLES)]),
    ]
    places: dict[int, tuple[str, str]] = {}
    for heading, points in PARKS.items():
        rows.append((15, [Cell(heading, "label", 8)]))
        for name, words in points.items():
            places[len(rows)] = (name, words)
            rows.append((16, [Cell(words), *(Cell() for _ in DAYS)]))
    foot = len(rows)
    daily = (("hours", "Hour clock at finish"), ("initials", "Driver's initials"))
    rows += [(18, [Cell(label, "label"), *(Cell() for _ in DAYS)]) for _, label in daily]
    rows += [
        (18, [Cell("\u2713 in order      X defect, write it below      N/A not fitted or not used", "plain", 8)]),
        (40, _labelled(("Defects (day and detail)", 7))),
        (24, _labelled(("Driver's signature", 3), ("Charge hand", 3))),
    ]
    document = fods(size, margin, widths, rows).replace("0.6pt solid #000000", "0.4pt solid #404040")
    pdf = converted(document.replace("#d9d9d9", "#e4ecd8"), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 2)
    fields = [
        FormField("unit", "text", "cell", grid.box(2, 1, 3), "Tractor no."),
        FormField("week", "text", "cell", grid.box(2, 4, 6), "Week beginning"),
        FormField("site", "text", "cell", grid.box(2, 7, 8), "Depot"),
        FormField("trailer-no", "text", "cell", grid.box(3, 1, 3), "Trailer no."),
        FormField("operator", "text", "cell", grid.box(3, 4, 6), "Driver"),
        FormField("team", "text", "cell", grid.box(3, 7, 8), "Team"),
    ]
    for row, (name, words) in places.items():
        for k, day in enumerate(DAYS, start=1):
            fields.append(FormField(f"item.{name}.{day}", "mark", "cell", grid.box(row, k, k + 1), words))
    for row, (name, label) in enumerate(daily, start=foot):
        for k, day in enumerate(DAYS, start=1):
            fields.append(FormField(f"{name}.{day}", "text", "cell", grid.box(row, k, k + 1), label))
    fields += [
        FormField("remarks", "text", "area", grid.box(foot + 3, 1, 8), "Defects (day and detail)"),
        FormField("signature", "signature", "cell", grid.box(foot + 4, 1, 4), "Driver's signature"),
        FormField("foreman", "text", "cell", grid.box(foot + 4, 5, 8), "Charge hand"),
    ]
    legend = {"tick": "ok", "cross": "defect", "letters": "na"}
    return DrawnForm("parks-tractor-week", run, pdf, *size, tuple(fields), legend)


def _labelled(*pairs: tuple[str, int]) -> list[Cell]:
    """Shaded labels, each with the cell to write in beside it over that many columns."""
    return [c for label, across in pairs for c in (Cell(label, "label"), Cell("", "ruled", across))]
