"""A small old form in two print runs, another one, and filled copies: a quarter of a page, so that tests are quick."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from scanform.form import Box
from scanform.training.old_forms import DrawnForm, Listed, OldCopy, make_copy, master
from scanform.training.old_forms.pad import Pad
from scanform.training.old_forms.wording import item, items

SEED = 8_980_000
SIZE = (105.0, 148.0)
ANSWERS = (("ok", 62.0), ("defect", 76.0), ("na", 90.0))


def shovel_card(run: str) -> DrawnForm:
    """Boxes in three columns; the newer run's list stands lower and wider apart."""
    top, pitch = (50.0, 8.4) if run == "b" else (44.0, 7.6)
    pad = Pad(*SIZE)
    pad.text(8, 12, "Ossenby Aggregates", 12, bold=True)
    pad.text(8, 18, "Loading shovel: look round before work", 9)
    pad.writing_line("unit", "Unit", 8, 28, 46)
    pad.writing_line("date", "Date", 52, 28, 98)
    pad.writing_line("operator", "Name", 8, 37, 98)
    for answer, x in ANSWERS:
        pad.centred(x + 2.2, top - 2, {"ok": "OK", "defect": "Defect", "na": "N/A"}[answer], 7, bold=True)
    for k, name in enumerate(items(9)):
        y = top + k * pitch
        pad.text(8, y + 3.4, item(name), 9)
        pad.choice(name, item(name), [(answer, Box(x, y, 4.4, 4.4)) for answer, x in ANSWERS], "box")
    pad.text(8, top + 9 * pitch + 5, "Remarks", 8)
    pad.bare_lines("remarks", 8, top + 9 * pitch + 13, 98, 1, 7)
    return pad.form("shovel-card", run)


def crane_card(run: str) -> DrawnForm:
    """Another form: a ruled table with bare cells."""
    pad = Pad(*SIZE, face="Times")
    pad.centred(52, 13, "Weekly crane card", 14, bold=True)
    pad.writing_line("unit", "Crane", 8, 24, 50)
    pad.writing_line("date", "Checked on", 54, 24, 98)
    for x in (8.0, 70.0, 84.0, 98.0):
        pad.line(x, 30, x, 120, 0.3)
    for k, name in enumerate(["", *items(9, start=20)]):
        pad.line(8, 30 + 9 * k, 98, 30 + 9 * k, 0.3)
        if name:
            pad.text(10, 36 + 9 * k, item(name, 2)[:38], 8)
            cells = (("ok", Box(70, 30 + 9 * k, 14, 9)), ("defect", Box(84, 30 + 9 * k, 14, 9)))
            pad.choice(name, item(name, 2), cells, "cell")
    pad.line(8, 120, 98, 120, 0.3)
    pad.text(72, 36, "Good", 8)
    pad.text(86, 36, "Repair", 8)
    pad.writing_line("signature", "Signed", 8, 134, 70, high=9)
    return pad.form("crane-card", run)


@cache
def copies(draw: str, run: str, numbers: tuple[int, ...], grade: str = "office") -> tuple[OldCopy, ...]:
    """Filled copies by their numbers; made once."""
    maker = {"shovel": shovel_card, "crane": crane_card}[draw]
    form = maker(run)
    listed = Listed(form.name, "reportlab", "fitting", maker)
    blank = master(form, 0, SEED)
    return tuple(make_copy(listed, form, blank, grade, SEED, number) for number in numbers)


def kept_in(folder: Path, pages: tuple[OldCopy, ...], stem: str = "copy") -> list[Path]:
    """The copies as files."""
    folder.mkdir(exist_ok=True)
    paths = []
    for page in pages:
        paths.append(folder / f"{stem}-{page.form.run}-{page.number:02d}{page.suffix}")
        paths[-1].write_bytes(page.encoded)
    return paths
