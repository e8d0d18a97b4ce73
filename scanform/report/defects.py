"""The defects of a sheet: ticked items and written lines brought together by the item's number."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Protocol

from scanform.binder import Binder, ItemLabel, RecordedPage
from scanform.form import DAYS, date_of, day_place, parted
from scanform.report.remarks import Remark, Written, note_beside, remarks_on, weakest
from scanform.settle import goes_on
from scanform.settle.short_form import ShortForm, short_form
from scanform.settle.ties import clear_item
from scanform.settle.types import Outcome, State
from scanform.settle.vocabulary import Vocabulary, vocabulary_for

__all__ = [
    *("DefectEntry", "Labels", "Said", "defects_of", "defects_said", "in_order_of_danger", "marked_again", "standing"),
]

DEFECT = "defect"
# The same words stand on many sheets of a record of years.
_short_form = lru_cache(maxsize=8_192)(short_form)
_clear_item = lru_cache(maxsize=8_192)(clear_item)
_LINE = re.compile(r"defect\.(\d+)(?:\.(item|day|repair))?")
_FEWEST_LETTERS = 3  # of a complaint; less on a line without an item is dirt more often than words


@dataclass(frozen=True)
class DefectEntry:
    """One defect of one sheet.

    ``date`` is the day on which it was found, on a week's sheet too. ``item_number``, ``item`` (field id) and
    ``item_text`` are None where a line names no item; ``words`` is empty where an item is ticked and nothing is
    written. ``repair`` is ``repaired``, ``not-needed`` or None. ``critical`` is None where it cannot be told which item
    is meant. ``state`` is that of the weakest part.
    ``original``: the line as the ink says it letter by letter, None where nothing was read by machine. ``part``,
    ``position``, ``complaint``: the words' short form, empty where they do not say. ``tied_by``: "number" if a number
    before the line says which item is meant, "words" if only the words do, "tick" if it is the one line left for the
    one item answered Defect, "row" if it stands beside the item, None if nothing does. ``field``: the line, or the
    answer where the item has none. ``repair_state``: of the workshop's answer, None where there is none.
    ``item_state``: of what says which item is meant, the weakest of the line's number, its day and the answer;
    ``words_state``: of the words; None where there are none. ``may_be_dirt``: nothing but an item number that nobody
    has confirmed speaks for it: no words, and no answer Defect that another line does not explain.
    """

    sheet: int
    unit: str | None
    date: dt.date | None
    item_number: int | None
    item: str | None
    item_text: str | None
    critical: bool | None
    words: str
    repair: str | None
    state: State
    original: str | None = None
    part: str = ""
    position: str = ""
    complaint: str = ""
    tied_by: str | None = None
    field: str = ""
    repair_state: State | None = None
    item_state: State | None = None
    words_state: State | None = None
    may_be_dirt: bool = False

    @property
    def ref(self) -> str:
        """What a person types for this report, such as ``12.defect.1``."""
        return f"{self.sheet}.{self.field}"


class Said(Written, Protocol):
    """What a field of a sheet says, as far as defects need it."""

    @property
    def critical(self) -> bool:
        """Whether it is about a safety-critical item."""


class Labels:
    """The item labels of a binder's templates, fetched once each."""

    def __init__(self, binder: Binder) -> None:
        self._binder = binder
        self._kept: dict[tuple[str | None, int | None], dict[str, ItemLabel]] = {}
        self._vocabularies: dict[tuple[str | None, int | None], Vocabulary] = {}
        self._words = binder.words()

    def of(self, page: RecordedPage) -> dict[str, ItemLabel]:
        """Labels by field id; empty where the template was never remembered."""
        return self.of_template(page.record.template, page.record.version)

    def of_template(self, template: str | None, version: int | None) -> dict[str, ItemLabel]:
        """The same by the template's name and version."""
        key = template, version
        if key not in self._kept:
            known = template is not None and version is not None
            items = self._binder.items(template, version) if known else []  # type: ignore[arg-type]
            self._kept[key] = {label.field_id: label for label in items}
        return self._kept[key]

    def vocabulary(self, page: RecordedPage) -> Vocabulary:
        """The words that were known when its lines were read, or are by now."""
        return self.vocabulary_of_template(page.record.template, page.record.version)

    def vocabulary_of_template(self, template: str | None, version: int | None) -> Vocabulary:
        """The same by the template's name and version."""
        key = template, version
        if key not in self._vocabularies:
            texts = tuple(label.text for label in self.of_template(template, version).values())
            self._vocabularies[key] = vocabulary_for(self._words, texts)
        return self._vocabularies[key]

    def defects(self, page: RecordedPage) -> list[DefectEntry]:
        """The defects of a sheet, as :func:`defects_of` gives them."""
        return defects_of(page, self.of(page), self.vocabulary(page))


def defects_of(page: RecordedPage, labels: dict[str, ItemLabel], vocabulary: Vocabulary) -> list[DefectEntry]:
    """The defects of a sheet in the order of its items, lines without an item last; none if it was not read."""
    if page.record.outcome != Outcome.READ:
        return []
    return defects_said(page.number, page.record.unit, page.record.date, page.record.fields, labels, vocabulary)


def defects_said(
    sheet: int,
    unit: str | None,
    date: dt.date | None,
    said: Sequence[Said],
    labels: dict[str, ItemLabel],
    vocabulary: Vocabulary,
) -> list[DefectEntry]:
    """The same from a sheet's fields alone; only its answers Defect, its defect lines and an old form's remarks need be
    among them.
    """
    fields = {f.id: f for f in said}
    by_number = {label.number: label for label in labels.values()}
    texts = tuple((label.number, label.text) for label in labels.values())
    lines, loose = _lines(said), _loose_repair(said, by_number)
    entries: list[DefectEntry] = []
    spoken_for: set[str] = set()
    ticked = _ticked(said)
    ties = [_tie(line, by_number, texts, vocabulary) for line in lines]
    ties = _one_left(lines, ties, ticked, by_number)
    for line, (number, tied_by) in sorted(zip(lines, ties, strict=True), key=lambda pair: not _words(pair[0])):
        label = by_number.get(number) if number is not None else None
        marks = ticked.get(label.field_id, []) if label is not None else []
        day = _day(line.get("day")) or (parted(marks[0].id)[1] if marks else None)
        parts = list(line.values())
        if label is not None:
            spoken_for.add(label.field_id)
            marked = f"{label.field_id}.{day}" if day is not None else label.field_id
            parts += [fields[marked]] if marked in fields else []
        entry = _entry(number, label, line, parts, _short_form(_words(line), vocabulary), tied_by)
        if not _words(line) and not _confirmed(line.get("item")):
            entry = replace(entry, may_be_dirt=not marks or any(e.item == entry.item and e.words for e in entries))
        entries.append(replace(entry, sheet=sheet, unit=unit, date=date_of(date, day)))
    wordless = {labels[item].number: labels[item].text for item in ticked if item in labels and item not in spoken_for}
    beside = {labels[item].number: note for item in ticked if item in labels and (note := note_beside(item, fields))}
    remarks = remarks_on({n: text for n, text in wordless.items() if n not in beside}, said, vocabulary) | beside
    for item, marks in ticked.items():
        if item not in spoken_for:
            label = labels.get(item) or _without_label(item, marks[0])
            # A defect that stands for days is one defect, of the day on which it was found.
            found_on = parted(marks[0].id)[1]
            entry = _ticked_entry(label, marks[0], remarks.get(label.number), vocabulary)
            if loose is not None:  # perhaps of this item: whose line it is was not read
                entry = replace(entry, repair=str(loose.value), repair_state=State.DOUBTFUL)
            entries.append(replace(entry, sheet=sheet, unit=unit, date=date_of(date, found_on)))
    return sorted(entries, key=lambda e: (e.item_number is None, e.item_number or 0))


def marked_again(
    sheet: int,
    unit: str | None,
    date: dt.date | None,
    said: Sequence[Said],
    labels: Mapping[str, ItemLabel],
    entries: Sequence[DefectEntry],
    vocabulary: Vocabulary,
) -> list[DefectEntry]:
    """The other days on which a week's or a month's sheet answers Defect, each a report without words of its own.

    ``entries``: what :func:`defects_said` makes of the sheet, one for each defect, with the day on which it was found.
    After a repair in between, a later day tells that it came back.
    """
    told = {(entry.item, entry.date) for entry in entries if not entry.may_be_dirt}
    found = []
    for item, marks in _ticked(said).items():
        label = labels.get(item) or _without_label(item, marks[0])
        for mark in marks:
            day = parted(mark.id)[1]
            on = date_of(date, day)
            if day is not None and on is not None and (item, on) not in told:
                entry = _ticked_entry(label, mark, None, vocabulary)
                found.append(replace(entry, sheet=sheet, unit=unit, date=on))
    return found


def _without_label(item: str, mark: Said) -> ItemLabel:
    """An item of a template that was never remembered."""
    return ItemLabel(item, 0, item.removeprefix("item."), mark.critical)


def _ticked_entry(label: ItemLabel, mark: Said, remark: Remark | None, vocabulary: Vocabulary) -> DefectEntry:
    """A defect that is answered on its item and has no line of its own; an old form's remarks may tell of it."""
    entry = _entry(
        label.number or None, label, {}, [mark], _short_form(remark.words if remark else "", vocabulary), None
    )
    if remark is None:
        return entry
    return replace(
        entry,
        words=remark.words,
        original=remark.original,
        words_state=remark.state,
        state=weakest((entry.state, remark.state)),
        tied_by=remark.tied_by,
    )


def _tie(
    line: dict[str, Said],
    by_number: Mapping[int, ItemLabel],
    texts: tuple[tuple[int, str], ...],
    vocabulary: Vocabulary,
) -> tuple[int | None, str | None]:
    """The item's number on a line or by its words, and which of the two says so."""
    number = _number(line.get("item"))
    if number in by_number:
        return number, "number"
    clear = _clear_item(_words(line), texts, vocabulary)
    return (clear[0], "words") if clear is not None else (number, None)


def _one_left(
    lines: Sequence[dict[str, Said]],
    ties: list[tuple[int | None, str | None]],
    ticked: Mapping[str, object],
    by_number: Mapping[int, ItemLabel],
) -> list[tuple[int | None, str | None]]:
    """The same, but one line with words and no item belongs to the one item that is answered Defect without a line."""
    spoken_for = {by_number[number].field_id for number, _ in ties if number is not None and number in by_number}
    left = [
        label.number for label in by_number.values() if label.field_id in ticked and label.field_id not in spoken_for
    ]
    loose = [
        n
        for n, (number, _) in enumerate(ties)
        if number not in by_number and len(_words(lines[n]).replace(" ", "")) >= _FEWEST_LETTERS
    ]
    if len(left) == len(loose) == 1:
        ties[loose[0]] = left[0], "tick"
    return ties


def _ticked(fields: Sequence[Said]) -> dict[str, list[Said]]:
    """The fields that say Defect, by item; a week's or a month's in the order of its days, however they come."""
    found: dict[str, list[Said]] = {}
    for field in fields:
        if field.id.startswith("item.") and field.value == DEFECT:
            found.setdefault(parted(field.id)[0], []).append(field)
    return {item: sorted(marks, key=_place_of) for item, marks in found.items()}


def _place_of(mark: Said) -> int:
    return day_place(parted(mark.id)[1])


def _day(field: Said | None) -> str | None:
    number = _number(field)
    return DAYS[number - 1] if number is not None and 1 <= number <= len(DAYS) else None


def standing(sheets: Sequence[RecordedPage]) -> list[RecordedPage]:
    """The sheets that lists go by: of a week's sheet that was scanned on several days, the scan with most on it."""
    by_serial: dict[str, list[RecordedPage]] = {}
    for sheet in sheets:
        by_serial.setdefault(sheet.record.serial or "", []).append(sheet)
    return [
        sheet
        for sheet in sheets
        if not sheet.record.serial
        or not any(goes_on(sheet.record.fields, other.record.fields) for other in by_serial[sheet.record.serial])
    ]


def in_order_of_danger(entries: Sequence[DefectEntry]) -> list[DefectEntry]:
    """Safety-critical defects first, then those of which it cannot be told, then the rest; by unit and date."""
    danger = {True: 0, None: 1, False: 2}
    return sorted(entries, key=lambda e: (danger[e.critical], e.unit or "", e.date or dt.date.min, e.sheet))


def _lines(fields: Sequence[Said]) -> list[dict[str, Said]]:
    """Defect lines on which anything is written, as ``{"words" | "item" | "day" | "repair": field}``."""
    lines: dict[int, dict[str, Said]] = {}
    for field in fields:
        match = _LINE.fullmatch(field.id)
        if match:
            lines.setdefault(int(match[1]), {})[match[2] or "words"] = field
    return [line for _, line in sorted(lines.items()) if any(_written(line.get(p)) for p in ("words", "item"))]


def _loose_repair(fields: Sequence[Said], items: Container[int]) -> Said | None:
    """The workshop's answer on a line of which it is not read what item it is about."""
    said = {field.id: field for field in fields if field.value}
    for field in fields:
        match = _LINE.fullmatch(field.id)
        if field.value and match is not None and match[2] == "repair":
            number = _number(said.get(field.id.removesuffix("repair") + "item"))
            if number not in items:
                return field
    return None


def _written(field: Said | None) -> bool:
    return field is not None and bool(field.value)


def _confirmed(field: Said | None) -> bool:
    return field is not None and field.state is State.CONFIRMED


def _words(line: dict[str, Said]) -> str:
    words = line.get("words")
    return str(words.value) if words is not None and words.value else ""


def _number(field: Said | None) -> int | None:
    said = str(field.value) if field is not None and field.value else ""
    return int(said) if said.isdecimal() else None


def _entry(
    number: int | None,
    label: ItemLabel | None,
    line: dict[str, Said],
    parts: Sequence[Said],
    short: ShortForm,
    tied_by: str | None,
) -> DefectEntry:
    """A defect without the sheet that it stands on; ``line`` is empty where an item is ticked and nothing written."""
    words, repair = line.get("words"), line.get("repair")
    tie = [part for part in parts if part is not words and part is not repair and part.value]
    return DefectEntry(
        sheet=0,
        unit=None,
        date=None,
        item_number=number,
        item=label.field_id if label else None,
        item_text=label.text if label else None,
        critical=label.critical if label else None,
        words=_words(line),
        repair=str(repair.value) if repair is not None and repair.value else None,
        state=weakest(f.state for f in parts) if parts else State.ACCEPTED,
        original=words.original if words is not None else None,
        part=short.part,
        position=short.position,
        complaint=short.complaint,
        tied_by=tied_by,
        field=(words or next(iter(line.values()))).id.removesuffix(".item") if line else parts[0].id,
        repair_state=repair.state if repair is not None and repair.value else None,
        item_state=weakest(part.state for part in tie) if tie else None,
        words_state=words.state if words is not None and words.value else None,
    )
