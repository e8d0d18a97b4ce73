"""Set N, forms drawn with reportlab: a hired crawler crane, a surfacing gang's paver. All are invented."""

from __future__ import annotations

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.pad import Pad
from scanform.training.old_forms.unseen.points_n import CRAWLER_CRANE, PAVER

__all__ = ["crawler_crane_hire", "paver_gang"]


def crawler_crane_hire(run: str) -> DrawnForm:
    """A4: combs and labelled frames, two columns of points with three boxes each, dotted lines to write on."""
    pad = Pad(210.0, 297.0)
    pad.text(12, 19, "CRAWLER CRANE - DAILY CHECK", 15, bold=True)
    pad.text(
        12, 25, "Ostmere Crane Hire. One sheet for each day on hire; white copy to the depot, yellow stays in crane."
    )
    pad.line(12, 28, 198, 28, 0.7)
    pad.text(12, 37.5, "Crane no.", 9)
    pad.comb("unit", "Crane no.", 28, 32, 5, (6.0, 8.0), "alnum")
    pad.text(66, 37.5, "Date", 9)
    _date_comb(pad, 75.0, 32.0)
    for k, words in enumerate(("day", "month", "year")):
        pad.centred(81 + 14 * k, 42.6, words, 6)
    pad.text(140, 37.5, "Hours", 9)
    pad.comb("hours", "Hours", 152, 32, 6, (6.0, 8.0), "digits")
    frames = (
        (("operator", "Operator", 62.0), ("hirer", "Hirer", 62.0), ("site", "Site", 62.0)),
        (
            ("boom-length", "Boom length (m)", 40.0),
            ("falls", "Falls of rope", 40.0),
            ("wind", "Wind at start (m/s)", 40.0),
        )
        + (("ground", "Ground / mats", 66.0),),
    )
    for r, row in enumerate(frames):
        x, y = 12.0, 46.0 + 12.0 * r
        for field_id, label, wide in row:
            pad.rect(Box(x, y, wide, 12.0), 0.25)
            pad.text(x + 1.2, y + 3.4, label, 7)
            pad.zone(field_id, label, Box(x + 1, y + 4.2, wide - 2, 7.4))
            x += wide
    bottom = 0.0
    for column, parts in enumerate(CRAWLER_CRANE):
        left, y = 12.0 + 96.0 * column, 79.0
        for heading, points in parts.items():
            pad.text(left, y, heading, 10, bold=True)
            for k, words in enumerate(("OK", "Def.", "N/A")):
                pad.centred(left + 64.5 + 9.0 * k, y, words, 7.5)
            pad.line(left, y + 1.6, left + 90, y + 1.6, 0.4)
            y += 4.0
            for name, words in points.items():
                pad.text(left, y + 3.9, words, 9.5)
                boxes = [(a, Box(left + 62.2 + 9.0 * k, y, 4.6, 4.6)) for k, a in enumerate(("ok", "defect", "na"))]
                pad.choice(name, words, boxes, "box")
                y += 8.0
            y += 7.0
        bottom = max(bottom, y)
    fit = "Is the crane fit for work today?"
    pad.text(12, bottom + 1, fit, 10, bold=True)
    pad.text(84, bottom + 1, "Yes", 9.5)
    pad.text(108, bottom + 1, "No", 9.5)
    yes_no = [(a, Box(x, bottom - 2.7, 4.6, 4.6)) for a, x in (("ok", 92.0), ("defect", 115.0))]
    pad.choice("fit-for-work", fit, yes_no, "box")
    bottom += 11.0
    pad.text(12, bottom + 1, "Defects found and what was done about them", 9.5, bold=True)
    for k in range(4):
        y = bottom + 10 + 8.0 * k
        pad.line(12, y, 198, y, 0.35, dots=True)
        pad.fields.append(FormField(f"remarks.{k + 1}", "text", "dots", Box(12, y - 7, 186, 7)))
    y = bottom + 44.0
    for field_id, label, x, wide in (
        ("signature", "Operator's signature", 12.0, 70.0),
        ("told", "Reported to (name)", 82.0, 70.0),
        ("time", "Time", 152.0, 46.0),
    ):
        pad.rect(Box(x, y, wide, 14.0), 0.25)
        pad.text(x + 1.2, y + 3.4, label, 7)
        pad.zone(field_id, label, Box(x + 1, y + 4.2, wide - 2, 9.4))
    pad.text(12, 287, "Form CC/2", 7)
    return pad.form("crawler-crane-hire", run)


def _date_comb(pad: Pad, x: float, y: float) -> None:
    """Three pairs of cells with a gap after each pair."""
    cells = [Box(x + 6.0 * k + 2.0 * (k // 2), y, 6.0, 8.0) for k in range(6)]
    for box in cells:
        pad.rect(box, 0.2)
    pad.fields.append(FormField("date", "comb", "comb", cells[0].union(cells[-1]), "Date", tuple(cells), "digits"))


def paver_gang(run: str) -> DrawnForm:
    """A4 across: three columns under grey banners, a box for the sign before each point, plain lines to write on."""
    pad = Pad(297.0, 210.0, face="Times")
    pad.text(14, 20, "PAVER - START OF SHIFT", 18, bold=True)
    pad.text(229, 20, "Moorgill Surfacing Ltd   Gang sheet 4", 10)
    pad.writing_line("unit", "Paver no.", 14, 32, 66)
    pad.writing_line("date", "Date", 71, 32, 116)
    pad.writing_line("shift", "Shift", 121, 32, 154)
    pad.writing_line("hours", "Engine hours", 159, 32, 212)
    pad.writing_line("job-no", "Job no.", 217, 32, 283)
    pad.writing_line("operator", "Driver", 14, 42, 92)
    pad.writing_line("screedman", "Screedman", 97, 42, 180)
    pad.writing_line("site", "Road / site", 185, 42, 283)
    pad.text(14, 51, "Tick = in order", 10)
    pad.text(52, 51, "X = defect", 10)
    pad.text(84, 51, "-  = not fitted or not used today", 10)
    for column, (heading, points) in enumerate(PAVER):
        left, y = 14.0 + 91.0 * column, 55.0
        pad.rect(Box(left, y, 87, 6.5), 0.25, shade=0.82)
        pad.text(left + 2, y + 4.7, heading, 11, bold=True)
        y += 9.0
        for name, words in points.items():
            pad.mark(f"item.{name}", words, Box(left + 1, y, 5.5, 5.5), "box")
            pad.text(left + 9.5, y + 4.2, words, 11)
            y += 8.4
    pad.text(14, 154, "Defects, and anything the fitter should know:", 10, bold=True)
    pad.bare_lines("remarks", 14, 164, 283, 3, 8.0)
    pad.writing_line("signature", "Driver's signature", 14, 194, 115, high=9)
    pad.writing_line("told", "Fitter told", 121, 194, 200, high=9)
    pad.writing_line("foreman", "Foreman", 206, 194, 283, high=9)
    legend = {"tick": "ok", "cross": "defect", "dash": "na"}
    return pad.form("paver-gang", run, legend)
