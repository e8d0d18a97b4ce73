"""Settle one sheet: every reading becomes a field that is accepted, or doubtful with reasons."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from scanform.form import DAYS, Field, FieldKind, Layout, unit_characters
from scanform.read import EMPTY, Reading
from scanform.settle.calibration import Calibration, calibration_for
from scanform.settle.combs import (
    clean_share,
    log_likelihoods,
    settle_date,
    settle_item_number,
    settle_unit,
)
from scanform.settle.hours import hours_window, settle_hours
from scanform.settle.names import settle_name
from scanform.settle.old import settle_old_sheet
from scanform.settle.rules import apply_rules
from scanform.settle.ties import number_and_words
from scanform.settle.types import Known, SettledField
from scanform.settle.verdict import Verdict, settled, trust_in, verdict_on
from scanform.settle.vocabulary import vocabulary_for
from scanform.settle.week_rules import apply_week_rules
from scanform.settle.weeks import days_used, settle_day_number, week_verdicts
from scanform.settle.words import settle_words

__all__ = ["number_verdicts", "settle_sheet", "verdicts_of"]

# A printed character is the network's easiest; below this somebody has written over the print.
_PRINT_STANDS_LOG = -7.0
# A unit or a date that nothing but a reason bars from being accepted is right so often at least: the exact 95 % lower
# bound of 43 in 43, those among 1,100 simulated pages (seeds from 6,600,000) whose own confidence was above 0.8.
_BARRED_RIGHT = 0.93


def settle_sheet(layout: Layout, readings: Sequence[Reading], known: Known) -> tuple[SettledField, ...]:
    """All fields of a sheet, in the layout's order."""
    if layout.blank_png:
        return settle_old_sheet(layout, readings, known)
    verdicts = verdicts_of(layout, readings, known)
    chosen = _calibration(known)
    return tuple(settled(verdicts[spec.id], chosen) for spec in layout.fields)


def _calibration(known: Known) -> Calibration:
    return calibration_for(known.silent_error_target, known.thresholds)


def verdicts_of(layout: Layout, readings: Sequence[Reading], known: Known) -> dict[str, Verdict]:
    """What settling thinks of each field before the threshold; calibration is fitted on these."""
    by_id = {reading.field_id: reading for reading in readings}
    verdicts: dict[str, Verdict] = {}
    for spec in layout.fields:
        reading = by_id[spec.id]
        if spec.kind in (FieldKind.CHOICE, FieldKind.DECISION):
            verdicts[spec.id] = _choice(spec, reading)
        elif spec.kind is FieldKind.SIGNATURE:
            verdicts[spec.id] = _signature(spec, reading)
    verdicts |= number_verdicts(layout, by_id, known)
    weekly = layout.template.covers == "week"
    if weekly:
        unit, monday = _sure(verdicts["unit"], known), _day(_sure(verdicts["date"], known))
        verdicts |= week_verdicts(layout, by_id, known, unit, monday)
    _defect_lines(verdicts, layout, by_id, known)
    for name in ("operator", "told"):
        spec, reading = layout.field(name), by_id[name]
        result = settle_name(reading, known)
        if name == "told" and result.value is None:
            result.reasons.clear()  # nobody needs telling when nothing is wrong
        verdicts[name] = verdict_on(spec, reading, result, "name")
    if weekly:
        used, today = days_used(layout, by_id), known.today or date.today()
        apply_week_rules(verdicts, layout.template, used, _day(_sure(verdicts["date"], known)), today)
    else:
        apply_rules(verdicts, layout.template)
    return verdicts


def number_verdicts(layout: Layout, by_id: Mapping[str, Reading], known: Known) -> dict[str, Verdict]:
    """Unit, date, the workshop's date and, on a sheet of one day, the hour meter, which lean on no other field."""
    verdicts: dict[str, Verdict] = {}
    _head(verdicts, layout, by_id, known)
    if layout.template.covers == "day":
        _hours(verdicts, layout, by_id, known)
    return verdicts


def _choice(spec: Field, reading: Reading) -> Verdict:
    best = reading.alternatives[0]
    changed = reading.taken_back is not None
    verdict = Verdict(spec, reading, best.value, best.probability, "choice-changed" if changed else "choice")
    if changed and spec.kind is FieldKind.DECISION:
        verdict.doubt("a decision that was changed is for a person to see")
    elif changed and spec.critical and reading.taken_back == "defect":
        verdict.doubt("a defect taken back on a safety-critical item is for a person to see")
    for evidence in reading.evidence:
        verdict.doubt(evidence)
    if best.value is None and spec.kind is FieldKind.CHOICE and not verdict.reasons:
        verdict.doubt("no answer is marked")
    return verdict


def _signature(spec: Field, reading: Reading) -> Verdict:
    best = reading.alternatives[0]
    return Verdict(spec, reading, best.value, best.probability, "signature")


def _head(
    verdicts: dict[str, Verdict],
    layout: Layout,
    by_id: Mapping[str, Reading],
    known: Known,
) -> None:
    """Unit and date first: the hours lean on them."""
    day = by_id["date"]
    verdicts["unit"] = _unit(layout, by_id["unit"], known)
    if day.printed is not None:
        verdicts["date"] = _printed(layout.field("date"), day, day.printed, day.printed.replace("-", ""))
        today = known.today or date.today()
        if date.fromisoformat(day.printed) > today:
            verdicts["date"].doubt(f"{day.printed} lies in the future; today is {today.isoformat()}")
    else:
        verdicts["date"] = verdict_on(layout.field("date"), day, settle_date(day, known), "date")
    workshop_day = by_id["workshop.date"]
    result = settle_date(workshop_day, known)
    if result.value is None:
        result.reasons.clear()  # most sheets have nothing to close
    verdicts["workshop.date"] = verdict_on(layout.field("workshop.date"), workshop_day, result, "date")
    for field_id in ("unit", "date", "workshop.date"):
        for evidence in by_id[field_id].evidence:
            if by_id[field_id].printed is None:
                verdicts[field_id].doubt(evidence)


def _unit(layout: Layout, unit: Reading, known: Known) -> Verdict:
    if unit.printed is None:
        return verdict_on(layout.field("unit"), unit, settle_unit(unit, known), "unit" if known.units else "unit-free")
    characters = unit_characters(unit.printed)
    verdict = _printed(layout.field("unit"), unit, _listed(unit.printed, known), characters)
    if known.units and verdict.value not in {u.unit for u in known.units}:
        verdict.doubt(f"unit {unit.printed} is printed on the sheet but not in the register")
    return verdict


def _hours(verdicts: dict[str, Verdict], layout: Layout, by_id: Mapping[str, Reading], known: Known) -> None:
    """The hour meter of a sheet of one day, by its unit and date so far as these can be trusted."""
    unit, day = verdicts["unit"], verdicts["date"]
    window = hours_window(known, unit.text, _day(day.text))
    chosen = _calibration(known)
    trust = trust_in(unit, chosen, _BARRED_RIGHT) * trust_in(day, chosen, _BARRED_RIGHT)
    hours = by_id["hours"]
    verdicts["hours"] = verdict_on(
        layout.field("hours"), hours, settle_hours(hours, window, trust), "hours" if window else "hours-free"
    )
    for evidence in hours.evidence:
        verdicts["hours"].doubt(evidence)


def _listed(unit: str, known: Known) -> str:
    """The register's spelling of a printed unit number (capitals and hyphens may differ)."""
    return next((u.unit for u in known.units if unit_characters(u.unit) == unit_characters(unit)), unit)


def _printed(spec: Field, reading: Reading, value: str, characters: str) -> Verdict:
    """A printed value stands unless somebody has written over it."""
    assert reading.cell_probabilities is not None
    cells = reading.cell_probabilities.shape[0]
    score = log_likelihoods(reading.cell_probabilities, [characters.ljust(cells, EMPTY)])[0]
    verdict = Verdict(spec, reading, value, 0.99999, "printed")
    if score < _PRINT_STANDS_LOG or clean_share(reading) < 0.3:
        verdict.raw = 0.5
        verdict.doubt(f"'{value}' is printed here, and something seems to be written over it")
    return verdict


def _sure(verdict: Verdict, known: Known) -> str | None:
    """The value if the field would be accepted as it stands; a doubtful unit must not choose the hours."""
    field = settled(verdict, _calibration(known))
    return str(field.value) if field.state == "accepted" and field.value else None


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _defect_lines(verdicts: dict[str, Verdict], layout: Layout, by_id: dict[str, Reading], known: Known) -> None:
    items = [(item.number, item.text) for item in layout.template.items]
    vocabulary = vocabulary_for(known.words, tuple(text for _, text in items))
    numbers = [item.number for item in layout.template.items]
    days = {
        item.number: _days_with_defect(verdicts, f"item.{item.name}", layout.template.covers)
        for item in layout.template.items
    }
    likely = {number for number, bad in days.items() if bad}
    for n in range(1, layout.template.defect_lines + 1):
        number, words = by_id[f"defect.{n}.item"], by_id[f"defect.{n}"]
        said = settle_words(words, vocabulary)
        result = number_and_words(settle_item_number(number, numbers, likely), said.value, items, vocabulary)
        verdicts[number.field_id] = verdict_on(layout.field(number.field_id), number, result, "item-number")
        verdicts[words.field_id] = verdict_on(layout.field(words.field_id), words, said, "words")
        day = by_id.get(f"defect.{n}.day")
        if day is not None:
            on = days.get(int(result.value), set()) if result.value and result.value.isdecimal() else set()
            verdicts[day.field_id] = verdict_on(
                layout.field(day.field_id), day, settle_day_number(day, on), "item-number"
            )


def _days_with_defect(verdicts: dict[str, Verdict], item: str, covers: str) -> set[int]:
    """Numbers of the days on which an item has a defect, 1 for Monday; {0} on a sheet of one day."""
    ids = {0: item} if covers == "day" else {n: f"{item}.{day}" for n, day in enumerate(DAYS, start=1)}
    return {n for n, field_id in ids.items() if verdicts[field_id].value == "defect"}
