"""The sheets of a large record: its fleet, one picture a template, and values as a reader would have left them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np

from scanform.binder import Binder
from scanform.binder.rows import field_rows, journal_field
from scanform.form import Box, FieldKind, Layout, Paper, find_template, lay_out
from scanform.press import pad_sheets, sheets_pdf
from scanform.read.types import Alternative
from scanform.settle.types import SettledField, State
from scanform.simulate import CREW, fill, random_truth, random_writer, render_pdf
from scanform.simulate.complaints import complaint_about

__all__ = ["FLEET", "SampleForm", "archived_blank", "sample_forms", "sheet_values"]

_DPI = 200.0
_PX_PER_MM = _DPI / 25.4
# Sixty units of an invented quarry, each with the sheet that its machine is looked over by.
FLEET: tuple[tuple[str, str], ...] = tuple(
    (f"{letters}-{n:02d}", template)
    for letters, count, template in (
        ("WL", 14, "site-machine"),
        ("EX", 10, "site-machine"),
        ("DZ", 6, "site-machine"),
        ("HT", 12, "site-machine"),
        ("FL", 8, "forklift"),
        ("RT", 10, "road-truck"),
    )
    for n in range(1, count + 1)
)
# Chosen so that a sheet has about one doubt, as the benchmark's office scans do.
_SHARE_HOURS_DOUBTFUL, _SHARE_ITEM_DOUBTFUL, _SHARE_WORDS_DOUBTFUL = 0.17, 0.004, 0.5
_SHARE_DEFECT, _SHARE_NA = 0.015, 0.03
_REASONS = {"hours": "Cell 3 may be a 3 or an 8.", "item": "OK is struck out and Defect marked instead"}
_SURE, _UNSURE = 0.9991, 0.83


@dataclass(frozen=True, eq=False)
class SampleForm:
    """A template with the one picture that all its sheets share; pages are ``width_px`` by ``height_px``."""

    layout: Layout
    sha256: str
    width_px: int
    height_px: int

    def read(self, field_id: str, value: str | bool | None, doubtful: bool) -> tuple[dict[str, Any], dict[str, Any]]:
        """The row and the journal's words of a field that was read so."""
        position = next(n for n, spec in enumerate(self.layout.fields) if spec.id == field_id)
        spec = self.layout.fields[position]
        reason = _REASONS.get(field_id.partition(".")[0], "the words are not clear")
        settled = SettledField(
            spec.id,
            spec.kind.value,
            value,
            State.DOUBTFUL if doubtful else State.ACCEPTED,
            _UNSURE if doubtful else _SURE,
            (reason,) if doubtful else (),
            _corners_px(spec.box_mm),
            (Alternative(value, _UNSURE if doubtful else _SURE), Alternative(None, 0.0004)),
            spec.critical,
        )
        (row,) = field_rows(0, [settled])
        row["position"] = position
        return row, journal_field(row)


def sample_forms(binder: Binder, rng: np.random.Generator) -> dict[str, SampleForm]:
    """The fleet's templates, remembered, each with a picture of one filled sheet in the archive."""
    forms = {}
    for name in dict.fromkeys(template for _, template in FLEET):
        template = find_template(name)
        binder.remember_template(template)
        layout = lay_out(template, Paper.A4)
        day = dt.date(2026, 11, 16)
        sheet = pad_sheets(template, "a4", "F7K2QD", unit="WL-07", days=(day,), copies=1)
        blank = render_pdf(sheets_pdf(layout, sheet), _DPI)[0]
        truth = random_truth(layout, rng, ["WL-07"], CREW, day)
        page, _ = fill(layout, blank, truth, random_writer(rng), rng, printed=("unit", "date"), dpi=_DPI)
        forms[name] = SampleForm(layout, _archived(binder, page), page.shape[1], page.shape[0])
    return forms


def archived_blank(binder: Binder) -> tuple[str, str]:
    """SHA-256 of an empty back and of a page that is cut off, both in the archive."""
    paper = np.full((2339, 1654), 246, np.uint8)
    return _archived(binder, paper), _archived(binder, paper[:400])


def sheet_values(
    form: SampleForm, unit: str, on: dt.date, hours: float, rng: np.random.Generator
) -> dict[str, tuple[str | bool | None, bool]]:
    """By field id: what was read on a day's sheet, and whether it is doubtful."""
    fields = form.layout.fields
    chance = rng.random(len(fields))
    found: dict[str, tuple[str | bool | None, bool]] = {}
    defects = []
    numbers = {f"item.{item.name}": item.number for item in form.layout.template.items}
    for spec, at in zip(fields, chance, strict=True):
        value: str | bool | None = spec.id == "signature" if spec.kind is FieldKind.SIGNATURE else None
        if spec.kind is FieldKind.CHOICE:
            value = "defect" if at < _SHARE_DEFECT else "na" if at > 1 - _SHARE_NA else "ok"
            if value == "defect":
                defects.append(spec.id)
        found[spec.id] = value, spec.kind is FieldKind.CHOICE and 0.5 < at < 0.5 + _SHARE_ITEM_DOUBTFUL
    for line, item in enumerate(defects[: form.layout.template.defect_lines], start=1):
        found[f"defect.{line}.item"] = str(numbers[item]), False
        words = complaint_about(item.removeprefix("item."), rng)
        found[f"defect.{line}"] = words, bool(rng.random() < _SHARE_WORDS_DOUBTFUL)
    found["unit"], found["date"] = (unit, False), (on.isoformat(), False)
    found["hours"] = f"{hours:.1f}", bool(rng.random() < _SHARE_HOURS_DOUBTFUL)
    found["operator"] = str(rng.choice(CREW)), False
    found["fit"] = ("parked" if defects else "fit"), False
    return found


def _archived(binder: Binder, page: np.ndarray) -> str:
    return binder.archive(cv2.imencode(".jpg", page, [cv2.IMWRITE_JPEG_QUALITY, 80])[1].tobytes(), ".jpg")


def _corners_px(box: Box) -> tuple[tuple[float, float], ...]:
    x, y, w, h = (side * _PX_PER_MM for side in box)
    return ((x, y), (x + w, y), (x + w, y + h), (x, y + h))
