"""One sheet as evidence shows it: where it came from, what it says, and the ink of what was doubtful or confirmed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from scanform.binder import Binder, Decision, ItemLabel, RecordedPage
from scanform.errors import ScanformError
from scanform.form import day_title, parted
from scanform.intake import load_page
from scanform.report.defects import Labels
from scanform.report.pictures import ink_of
from scanform.report.wording import place_in_words, value_in_words
from scanform.settle import SettledField, State

__all__ = ["FieldStory", "SheetStory", "sheet_stories"]

_AT_ONCE = 50  # sheets held in memory at a time
_PICTURE_LONG_SIDE_PX = 1800  # about 160 dpi on A4: every mark can be seen, and a quarter's pages fit in an e-mail
_PICTURE_QUALITY = 70
_HEAD = ("unit", "date", "hours", "operator", "fit", "told", "signature")
_ANSWERS = {"ok": "OK", "na": "N/A", "defect": "Defect", None: "No answer"}


@dataclass(frozen=True)
class FieldStory:
    """A field that was doubtful or that a person decided. ``ink_png`` is None where its page is not in the archive."""

    ref: str
    label: str
    read: str | bool | None
    confidence: float
    stands: str
    why: str
    ink_png: bytes | None
    ink_size: tuple[int, int]


@dataclass(frozen=True)
class SheetStory:
    """A sheet. ``picture`` is the name of its page's picture, ``picture_jpeg`` that picture, ``scale`` how large it is
    beside the scan. ``fields`` are all of them as they stand.
    """

    number: int
    unit: str | None
    date: str | None
    template: str
    source: str
    page: int
    place: str
    sha256: str
    note: str
    head: Sequence[tuple[str, str]]
    answers: Sequence[str]
    defects: Sequence[Sequence[str]]
    looked_at: Sequence[FieldStory]
    fields: Sequence[SettledField]
    picture: str
    picture_jpeg: bytes | None
    scale: float


def sheet_stories(
    binder: Binder, sheets: Sequence[int], decisions: Mapping[int, Sequence[Decision]]
) -> Iterator[SheetStory]:
    """The sheets in the order given, a few in memory at a time."""
    labels = Labels(binder)
    for start in range(0, len(sheets), _AT_ONCE):
        for page in binder.pages_numbered(sheets[start : start + _AT_ONCE]):
            yield _story(binder, page, labels, decisions.get(page.number, ()))


def _story(binder: Binder, page: RecordedPage, labels: Labels, decisions: Sequence[Decision]) -> SheetStory:
    record, items = page.record, labels.of(page)
    pixels = _pixels(binder, page)
    name = f"{page.number:06d}-{Path(record.source).stem}-{record.page_number:03d}.jpg"
    factor = 1.0 if pixels is None else min(1.0, _PICTURE_LONG_SIDE_PX / max(pixels.shape))
    residual = f"located to {record.residual_mm:.2f} mm" if record.residual_mm is not None else "residual not known"
    note = "; ".join(filter(None, (residual, f"serial {record.serial}" if record.serial else "", record.reason)))
    by_id = {field.id: field for field in record.fields}
    return SheetStory(
        number=page.number,
        unit=record.unit,
        date=record.date.isoformat() if record.date else None,
        template=f"{record.template} {record.version}",
        source=Path(record.source).name,
        place=place_in_words(record.source, record.page_number, record.part, record.parts),
        page=record.page_number,
        sha256=record.sha256,
        note=note,
        head=[(name_, _said(by_id[name_])) for name_ in _HEAD if name_ in by_id],
        answers=_answers(record.fields, items),
        defects=[
            [
                *(entry.ref, str(entry.date or "?")),
                f"{entry.item_number or '?'} {entry.item_text or ''}",
                *(
                    entry.words or "(ticked, no words)",
                    (entry.repair or "-").replace("not-needed", "repair not needed"),
                    entry.state.value,
                ),
            ]
            for entry in labels.defects(page)
        ],
        looked_at=_looked_at(page, pixels, items, decisions),
        fields=record.fields,
        picture=name,
        picture_jpeg=_jpeg(pixels, factor) if pixels is not None else None,
        scale=factor,
    )


def _pixels(binder: Binder, page: RecordedPage) -> np.ndarray | None:
    archived = binder.archived(page.record.sha256)
    if archived is None:
        return None
    try:
        return load_page(archived, page.record.page_number).pixels
    except ScanformError:  # the pack says "no picture" and the check of the archive says why
        return None


def _jpeg(pixels: np.ndarray, factor: float) -> bytes:
    small = cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA) if factor < 1 else pixels
    return cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, _PICTURE_QUALITY])[1].tobytes()


def _said(field: SettledField) -> str:
    mark = {State.DOUBTFUL: " (doubtful)", State.CONFIRMED: " (confirmed)", State.ACCEPTED: ""}[field.state]
    return value_in_words(field.value) + mark


def _answers(fields: Sequence[SettledField], items: Mapping[str, ItemLabel]) -> list[str]:
    """The items by what is answered, on a week's sheet day by day; doubtful ones with a question mark."""
    by_day: dict[str | None, dict[str | None, list[str]]] = defaultdict(lambda: defaultdict(list))
    for field in fields:
        item, day = parted(field.id)
        if item.startswith("item."):
            label = items.get(item)
            number = str(label.number) if label else item.removeprefix("item.")
            answer = str(field.value) if field.value else None
            by_day[day][answer].append(number + ("?" if field.state is State.DOUBTFUL else ""))
    lines = []
    for day, answered in by_day.items():
        said = [
            f"{words}: items {_ranges(answered[answer])}" for answer, words in _ANSWERS.items() if answered.get(answer)
        ]
        lines.append((f"{day_title(day).capitalize()}. " if day else "") + ". ".join(said) + ".")
    return lines


def _ranges(numbers: Sequence[str]) -> str:
    """Item numbers with neighbours drawn together: ``1 to 5, 7, 9?``."""
    runs: list[list[str]] = []
    for number in numbers:
        if runs and number.isdecimal() and runs[-1][-1].isdecimal() and int(number) == int(runs[-1][-1]) + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(run[0] if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs)


def _looked_at(
    page: RecordedPage, pixels: np.ndarray | None, items: Mapping[str, ItemLabel], decisions: Sequence[Decision]
) -> list[FieldStory]:
    by_field: dict[str, list[Decision]] = defaultdict(list)
    for decision in decisions:
        by_field[decision.ref.partition(".")[2]].append(decision)
    found = []
    for field in page.record.fields:
        made = by_field.get(field.id, [])
        if field.state is not State.DOUBTFUL and not made:
            continue
        crop = ink_of(pixels, field.polygon_px) if pixels is not None and len(field.polygon_px) == 4 else None
        label = items.get(parted(field.id)[0])
        who = [
            f"{d.initials} {d.at:%Y-%m-%d %H:%M} (entry {d.seq})" + (", taken back" if d.undone_by else "")
            for d in made
        ]
        why = "; ".join([*field.reasons, *who])
        read = made[0].old_value if made else field.value
        found.append(
            FieldStory(
                ref=f"{page.number}.{field.id}",
                label=label.text if label else "",
                read=read,
                confidence=field.confidence,
                stands=_said(field),
                why=why,
                ink_png=cv2.imencode(".png", crop)[1].tobytes() if crop is not None else None,
                ink_size=(crop.shape[1], crop.shape[0]) if crop is not None else (1, 1),
            )
        )
    return found
