"""Set C, forms from an office program: a farm's week, a compressor's month, a harvester's list. All are invented."""

from __future__ import annotations

from html import escape

from scanform.training.old_forms.calc import Cell, fods, grid_of
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.office import converted, first_page, leader, runs_of
from scanform.training.old_forms.unseen.points_c import COMPRESSOR, HARVESTER, TRACTOR
from scanform.training.old_forms.unseen.printed_words import words_on
from scanform.training.old_forms.writer import fodt, paragraph, tab

__all__ = ["compressor_month", "harvester_list", "tractor_week"]

_SIX_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat")


def tractor_week(run: str) -> DrawnForm:
    """Six days of a farm, every second row tinted, labels and the room for them in one cell each."""
    margin, size = 18.0, (210.0, 297.0)
    widths = (158.0, *((55.0,) * 6))
    rows: list[tuple[float, list[Cell]]] = [
        (34, [Cell("Overbeck Farm - tractor safety sheet", "title", 7)]),
        (26, [Cell("Tractor:"), Cell("Week beginning Monday:", "ruled", 3), Cell("Driver:", "ruled", 3)]),
        (20, [Cell("", "plain", 7)]),
        (
            20,
            [Cell("Look at", "label"), *(Cell(day.capitalize(), "middle") for day in ("M", "T", "W", "Th", "F", "S"))],
        ),
    ]
    for k, words in enumerate(TRACTOR.values()):
        style = "label" if k % 2 else "ruled"
        rows.append((21, [Cell(words, style), *(Cell("", style) for _ in _SIX_DAYS)]))
    rows += [
        (24, [Cell("Clock hours at night"), *(Cell() for _ in _SIX_DAYS)]),
        (20, [Cell("OK = fine, R = repair wanted, leave empty if not used", "plain", 7)]),
        (60, [Cell("Repairs wanted:", "label"), Cell("", "ruled", 6)]),
        (26, [Cell("Signed:", "label"), Cell("", "ruled", 6)]),
    ]
    pdf = converted(fods(size, margin, widths, rows), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 1)
    fields = [
        FormField("unit", "text", "cell", grid.box(1, 0, 1), "Tractor:"),
        FormField("week", "text", "cell", grid.box(1, 1, 4), "Week beginning Monday:"),
        FormField("operator", "text", "cell", grid.box(1, 4, 7), "Driver:"),
    ]
    for row, (name, words) in enumerate(TRACTOR.items(), start=4):
        for k, day in enumerate(_SIX_DAYS, start=1):
            fields.append(FormField(f"item.{name}.{day}", "mark", "cell", grid.box(row, k, k + 1), words))
    end = 4 + len(TRACTOR)
    for k, day in enumerate(_SIX_DAYS, start=1):
        fields.append(FormField(f"hours.{day}", "text", "cell", grid.box(end, k, k + 1), "Clock hours at night"))
    fields.append(FormField("remarks", "text", "area", grid.box(end + 2, 1, 7), "Repairs wanted:"))
    fields.append(FormField("signature", "signature", "cell", grid.box(end + 3, 1, 7), "Signed:"))
    return DrawnForm("tractor-week", run, pdf, *size, tuple(fields), {"tick": "ok", "R": "defect"})


def compressor_month(run: str) -> DrawnForm:
    """Thirty-one narrow columns for a month, initials and hours under them, header cells beside shaded labels."""
    margin, size = 9.0, (297.0, 210.0)
    widths = (20.0, 128.0, *((20.5,) * 31))
    label, room = "label", "ruled"
    rows: list[tuple[float, list[Cell]]] = [
        (28, [Cell("MONTHLY LOG - SCREW COMPRESSOR", "title", 33)]),
        (
            24,
            [Cell("Compressor", label, 2), Cell("", room, 7), Cell("Month", label, 3), Cell("", room, 5)]
            + [Cell("Year", label, 3), Cell("", room, 4), Cell("Depot", label, 3), Cell("", room, 6)],
        ),
        (18, [Cell("", "head"), Cell("Day of month", "head"), *(Cell(str(k), "head") for k in range(1, 32))]),
    ]
    for number, words in enumerate(COMPRESSOR.values(), start=1):
        rows.append((20, [Cell(str(number), "middle"), Cell(words), *(Cell() for _ in range(31))]))
    rows += [
        (36, [Cell("Hours run", label, 2), *(Cell() for _ in range(31))]),
        (24, [Cell("Initials", label, 2), *(Cell() for _ in range(31))]),
        (16, [Cell("Tick = done and in order.  A = adjusted.  F = fault, see remarks.", "plain", 33)]),
        (54, [Cell("Remarks", label, 2), Cell("", room, 31)]),
    ]
    pdf = converted(fods(size, margin, widths, rows), ".fods")
    grid = grid_of(pdf, margin, widths, [height for height, _ in rows], 1)
    fields = [
        FormField("unit", "text", "cell", grid.box(1, 2, 9), "Compressor"),
        FormField("month", "text", "cell", grid.box(1, 12, 17), "Month"),
        FormField("year", "text", "cell", grid.box(1, 20, 24), "Year"),
        FormField("site", "text", "cell", grid.box(1, 27, 33), "Depot"),
    ]
    for row, (name, words) in enumerate(COMPRESSOR.items(), start=3):
        for day in range(1, 32):
            fields.append(FormField(f"item.{name}.{day}", "mark", "cell", grid.box(row, day + 1, day + 2), words))
    end = 3 + len(COMPRESSOR)
    for day in range(1, 32):
        fields.append(FormField(f"hours.{day}", "text", "cell", grid.box(end, day + 1, day + 2), "Hours run"))
        fields.append(FormField(f"initials.{day}", "text", "cell", grid.box(end + 1, day + 1, day + 2), "Initials"))
    fields.append(FormField("remarks", "text", "area", grid.box(end + 3, 2, 33), "Remarks"))
    legend = {"tick": "ok", "A": "ok", "F": "defect"}
    return DrawnForm("compressor-month", run, pdf, *size, tuple(fields), legend)


def harvester_list(run: str) -> DrawnForm:
    """Typed: numbered points, dots up to three words of which one is ringed; underscores, labels after some of them."""
    size = (210.0, 297.0)
    rows = "".join(
        f'<text:p text:style-name="i">{k}. {escape(words)}<text:tab/>Good / Attend / None</text:p>'
        for k, words in enumerate(HARVESTER.values(), start=1)
    )
    line = '<text:p text:style-name="d"><text:tab/></text:p>'
    body = (
        '<text:p text:style-name="h">FOREST MACHINE, DAILY</text:p>'
        '<text:p text:style-name="s">Tannhaugh Timber Harvesting. Ring the word that is true.</text:p>'
        '<text:p text:style-name="f">Machine number<text:tab/> Engine hours<text:tab/></text:p>'
        '<text:p text:style-name="f">Operator<text:tab/> Date<text:tab/></text:p>'
        '<text:p text:style-name="f">Forest / compartment<text:tab/> Mobile signal?<text:tab/></text:p>'
        f'<text:p text:style-name="s"/>{rows}<text:p text:style-name="b">What needs attention</text:p>{line}{line}'
        '<text:p text:style-name="d">Operator signature<text:tab/> Told to<text:tab/></text:p>'
    )
    styles = (
        paragraph("h", 20, 0, bold=True)
        + paragraph("s", 11, 2)
        + paragraph("f", 12, 4, tab(105, "_") + tab(178, "_"))
        + paragraph("i", 12, 2, tab(128, "."))
        + paragraph("b", 12, 5, bold=True)
        + paragraph("d", 12, 5, tab(105, "_") + tab(178, "_"))
    )
    pdf = converted(fodt(body, styles, size), ".fodt")
    page = first_page(pdf)
    labels = (
        ("unit", "Machine number"),
        ("hours", "Engine hours"),
        ("operator", "Operator"),
        ("date", "Date"),
        ("site", "Forest / compartment"),
        ("mobile-signal", "Mobile signal?"),
    )
    fields = [FormField(f, "text", "rule", leader(page, label, 7.0, "_"), label) for f, label in labels]
    choices = zip(words_on(page, "Good"), words_on(page, "Attend"), words_on(page, "None"), strict=True)
    for (name, words), boxes in zip(HARVESTER.items(), choices, strict=True):
        answers = tuple(zip(("ok", "defect", "na"), boxes, strict=True))
        whole = boxes[0].union(boxes[2])
        fields.append(FormField(f"item.{name}", "choice", "word", whole, words, answers=answers))
    long = [run_ for run_ in runs_of(page, "_", 7.5) if run_.x_mm < 20 and run_.w_mm > 80]
    for k, box in enumerate(long[:2], start=1):
        fields.append(FormField(f"remarks.{k}", "text", "rule", box, "What needs attention"))
    for field_id, label, kind in (("signature", "Operator signature", "signature"), ("told", "Told to", "text")):
        fields.append(FormField(field_id, kind, "rule", leader(page, label, 8.0, "_"), label))
    return DrawnForm("harvester-list", run, pdf, *size, tuple(fields), {})
