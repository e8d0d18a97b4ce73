"""A sheet filled in by one writer, and what it then truly says."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal

import numpy as np

from scanform.form.geometry import Box
from scanform.form.layout import Field, FieldKind, Layout
from scanform.simulate.complaints import complaint_about
from scanform.simulate.hand import PastedDigit, RealDigits, sign, write_comb, write_text
from scanform.simulate.pens import DPI
from scanform.simulate.signs import draw_sign, sign_habits
from scanform.simulate.ticks import NON_MARKS, draw_mark
from scanform.simulate.writer import Writer

__all__ = ["SheetTruth", "Value", "answer_mark", "as_written", "fill", "random_truth"]

Value = str | bool | None

# Shares of sheets and boxes; no outside source, chosen so that every case occurs often enough to be measured.
SHARE_NA = 0.05
DEFECTS_A_SHEET = (0.60, 0.28, 0.12)
SHARE_STRAY_INK = 0.002  # of boxes that should be empty
SHARE_ODD_MARK = 0.03  # of answers: shifted or faint


@dataclass(frozen=True)
class SheetTruth:
    """What one sheet says.

    ``values``: field id to value as ``scanform read --json`` gives it: unit as text, date ISO 8601, hours as a
    decimal string, a choice's answer, an item number without leading zeros, text as written, True or False for a
    signature, None where nothing is written. ``troubles``: what went wrong on the sheet, by name. ``unclear``: fields
    on which the ink alone does not decide (both answers marked); no value is right there. ``pasted``: the real digits
    in each comb that has any.
    """

    template: str
    version: int
    serial: str
    values: dict[str, Value]
    troubles: tuple[str, ...] = ()
    unclear: frozenset[str] = field(default=frozenset())
    pasted: Mapping[str, tuple[PastedDigit, ...]] = field(default_factory=dict)

    @property
    def taken_back(self) -> frozenset[str]:
        """Fields on which an answer was struck out and another one given."""
        return frozenset(t.removeprefix("struck out: ") for t in self.troubles if t.startswith("struck out: "))


def random_truth(
    layout: Layout,
    rng: np.random.Generator,
    units: Sequence[str],
    crew: Sequence[str],
    on: date,
    hours: Decimal | None = None,
    serial: str = "",
) -> SheetTruth:
    """A plausible day's sheet: most items OK, some N/A, up to two defects with words, parked if one is critical."""
    template = layout.template
    values: dict[str, Value] = {f.id: None for f in layout.fields}
    for f in layout.fields:
        if f.kind is FieldKind.SIGNATURE:
            values[f.id] = f.id == "signature"
    choices = [f for f in layout.fields if f.kind is FieldKind.CHOICE]
    numbers = {f"item.{item.name}": item.number for item in template.items}
    for f in choices:
        values[f.id] = "na" if rng.random() < SHARE_NA and not f.critical else "ok"
    lines = sum(1 for f in layout.fields if f.id.startswith("defect.") and f.id.count(".") == 1)
    wanted = min(int(rng.choice(3, p=DEFECTS_A_SHEET)), lines, len(choices))
    bad = sorted(int(k) for k in rng.choice(len(choices), wanted, replace=False))
    for n, k in enumerate(bad, start=1):
        f = choices[k]
        values[f.id] = "defect"
        values[f"defect.{n}.item"] = str(numbers.get(f.id, k + 1))
        values[f"defect.{n}"] = complaint_about(f.id.removeprefix("item."), rng)
    values["unit"] = str(rng.choice(list(units)))
    values["date"] = on.isoformat()
    if hours is None:
        whole = len(layout.field("hours").cells_mm) - 1
        digits = int(rng.integers(3, whole + 1))
        hours = Decimal(int(rng.integers(0, 10 ** (digits + 1)))) / 10
    values["hours"] = f"{hours:.1f}"
    values["operator"] = str(rng.choice(list(crew)))
    values["fit"] = "parked" if any(choices[k].critical for k in bad) else "fit"
    if bad and rng.random() < 0.8:
        values["told"] = str(rng.choice(list(crew)))
    return SheetTruth(template.name, template.version, serial, values)


def as_written(text: str, writer: Writer) -> str:
    """The words in the capitals or small letters that the writer uses."""
    if writer.letters == "upper":
        return text.upper()
    if writer.letters == "lower":
        return text.lower()
    return text[:1].upper() + text[1:]


def fill(
    layout: Layout,
    blank: np.ndarray,
    truth: SheetTruth,
    writer: Writer,
    rng: np.random.Generator,
    real_digits: RealDigits | None = None,
    printed: Collection[str] = (),
    dpi: float = DPI,
) -> tuple[np.ndarray, SheetTruth]:
    """Write ``truth`` on a copy of ``blank`` (uint8 raster of the printed sheet at ``dpi``).

    ``printed``: ids of fields that the press has filled in already. Gives the page and the truth with its words as
    this writer spelt them. ValueError if a value does not fit its comb.
    """
    page = blank.copy()
    values = dict(truth.values)
    pasted: dict[str, tuple[PastedDigit, ...]] = {}
    for f in layout.fields:
        value = values.get(f.id)
        if f.kind in (FieldKind.CHOICE, FieldKind.DECISION):
            _answer(page, f, value, writer, rng, dpi)
        elif f.kind is FieldKind.MARK:
            _sign(page, f.box_mm, value, writer, rng, dpi)
        elif f.id in printed or value is None or value is False:
            continue
        elif f.kind is FieldKind.COMB:
            text = _comb_text(f, str(value), writer)
            pasted[f.id] = write_comb(page, f.cells_mm, text, writer, rng, dpi, real_digits)
        elif f.kind is FieldKind.TEXT:
            values[f.id] = as_written(str(value), writer)
            write_text(page, f.box_mm, str(values[f.id]), writer, rng, dpi)
        elif f.id.startswith("initials."):
            initials = "".join(word[0] for word in str(values.get("operator") or "N N").split())
            write_text(page, f.box_mm, initials, writer, rng, dpi)
        else:
            sign(page, f.box_mm, writer, rng, dpi)
    return page, replace(truth, values=values, pasted=pasted)


def answer_mark(writer: Writer, rng: np.random.Generator) -> str:
    """The kind of mark this writer makes in a box just now."""
    if rng.random() < SHARE_ODD_MARK:
        return str(rng.choice(["shifted tick", "faint tick", "faint cross"]))
    names, shares = zip(*writer.marks, strict=True)
    return str(names[int(rng.choice(len(names), p=np.array(shares) / sum(shares)))])


def _answer(page: np.ndarray, f: Field, value: Value, writer: Writer, rng: np.random.Generator, dpi: float) -> None:
    for answer in f.answers:
        if answer.answer == value:
            draw_mark(page, answer.box_mm, answer_mark(writer, rng), writer.pen, rng, dpi)
        elif rng.random() < SHARE_STRAY_INK:
            draw_mark(page, answer.box_mm, str(rng.choice(NON_MARKS)), writer.pen, rng, dpi)


def _sign(page: np.ndarray, box: Box, value: Value, writer: Writer, rng: np.random.Generator, dpi: float) -> None:
    """One box that holds a sign: tick for OK, cross for a defect, dash or letters for not applicable."""
    if value == "na":
        sign = "dash" if rng.random() < sign_habits(writer).dash_share else "letters"
    elif value in ("ok", "defect"):
        sign = "tick" if value == "ok" else "cross"
    else:
        return
    draw_sign(page, box, sign, writer, rng, dpi)


def _comb_text(f: Field, value: str, writer: Writer) -> str:
    """The characters by cell: dates and hours without their signs, numbers to the right."""
    cells = len(f.cells_mm)
    if f.id == "date" or f.id.endswith(".date"):
        return value.replace("-", "")
    if f.id.partition(".")[0] == "hours":
        digits = str(int(Decimal(value) * 10)).zfill(2)
        return digits.rjust(cells, "0" if writer.zero_padded else " ")
    if f.id.endswith(".item"):
        return value.rjust(cells, "0" if writer.zero_padded else " ")
    # A comb has no cells for hyphens and spaces: "WL-07" is written WL07.
    return "".join(c for c in value.upper() if c.isalnum())
