"""Settle a sheet of a form that scanform did not print: whatever fields it has, by what they hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

from scanform.form import Field, FieldKind, Layout, date_of, day_title, parted
from scanform.read import Reading
from scanform.settle.calibration import Calibration
from scanform.settle.combs import CombResult, settle_unit
from scanform.settle.hours import HoursWindow, hours_window
from scanform.settle.names import settle_name
from scanform.settle.old.calibration import old_calibration_for
from scanform.settle.old.combs import settle_date_cells, settle_hours_cells
from scanform.settle.old.dates import knows_days, settle_written_date, settle_written_month
from scanform.settle.old.numbers import settle_hours_between, settle_written_hours, settle_written_number
from scanform.settle.old.periods import as_week
from scanform.settle.old.units import settle_written_unit
from scanform.settle.types import Known, MeterReading, SettledField
from scanform.settle.verdict import Verdict, settled, trust_in, verdict_on
from scanform.settle.vocabulary import vocabulary_for
from scanform.settle.words import settle_words

__all__ = ["day_either_way", "hours_by_ink", "old_verdicts", "settle_old_sheet"]

_ANSWERED = (FieldKind.CHOICE, FieldKind.DECISION, FieldKind.MARK, FieldKind.CIRCLE)
_DATES = ("date", "week")
# A meter beside no other reading. None is accepted: digits alone are now and then misread at any confidence (12282.0
# as 12202.0 at 0.9936, on a page that nothing was fitted on), and beside others it shows.
_ALONE = "written-hours-free"
_NAMES = ("operator", "told", "name")
# How often a date is right that a reason bars: 53 in 100 of 120 in free writing on pages for fitting (seeds from
# 5,822,000), 63 in 100 of 160 units; what is left of that once a few hundred are all that was seen.
_BARRED_RIGHT = 0.5
_BETWEEN_HOURS = 60  # of a window between readings some days before and after
_CLEARLY = 50  # dates of one order after which nobody doubts it
_FEWEST_SIGNS = 2  # on one day, from which its empty boxes are missed answers: one may be dirt


def settle_old_sheet(layout: Layout, readings: Sequence[Reading], known: Known) -> tuple[SettledField, ...]:
    """All fields of a sheet, in the layout's order."""
    chosen = old_calibration_for(known)
    verdicts = old_verdicts(layout, readings, known)
    for verdict in verdicts.values():
        if verdict.calibrated_as == _ALONE and verdict.value is not None and not verdict.reasons:
            verdict.doubt("no other reading of this unit's meter is known that this one could be checked by")
    return tuple(settled(verdicts[spec.id], chosen) for spec in layout.fields)


def old_verdicts(
    layout: Layout, readings: Sequence[Reading], known: Known, filed: tuple[str, date] | None = None
) -> dict[str, Verdict]:
    """What settling thinks of each field before the threshold; calibration is fitted on these.

    ``filed``: unit and date of the sheet where they are known for sure; None to go by what stands on it.
    """
    by_id = {reading.field_id: reading for reading in readings}
    verdicts: dict[str, Verdict] = {}
    for spec in layout.fields:
        if not _is_meter(spec):
            verdicts[spec.id] = _alone(layout, spec, by_id[spec.id], known)
    _answers(verdicts, layout)
    _hours(verdicts, layout, by_id, known, filed)
    _signed(verdicts, layout)
    return verdicts


def _alone(layout: Layout, spec: Field, reading: Reading, known: Known) -> Verdict:
    """A field by itself; the hour meter, which leans on unit and date, comes later."""
    stem = spec.id.partition(".")[0]
    best = reading.alternatives[0]
    if spec.kind in _ANSWERED:
        kind = {FieldKind.CIRCLE: "circle", FieldKind.MARK: "mark"}.get(spec.kind, "choice")
        verdict = _with_evidence(Verdict(spec, reading, best.value, best.probability, kind))
        if spec.kind is FieldKind.CIRCLE and best.value is None and not verdict.reasons and not _day_of(spec.id):
            verdict.doubt("no answer is marked")  # a pale tick across a word is easily not seen
        return verdict
    if spec.kind is FieldKind.SIGNATURE:
        return Verdict(spec, reading, best.value, best.probability, "signature")
    if spec.kind is FieldKind.DATE:
        kind = "written-date" if knows_days(known) else "written-date-free"
        return _verdict(spec, reading, _written_date(layout, spec, reading, known), kind)
    if spec.kind is FieldKind.COMB and (stem in _DATES or "d" in spec.pattern):
        return _verdict(spec, reading, _date_cells(layout, spec, reading, known), "date")
    if spec.kind is FieldKind.COMB:
        return _verdict(
            spec, reading, settle_unit(reading, known), "unit" if known.units and stem == "unit" else "unit-free"
        )
    if stem == "unit":
        kind = "written-unit" if known.units else "written-unit-free"
        return _verdict(spec, reading, settle_written_unit(reading, known), kind)
    if spec.kind is FieldKind.NUMBER:
        return _verdict(spec, reading, _or_nothing(settle_written_number(reading)), "written-number")
    if stem in _NAMES:
        return _verdict(spec, reading, _or_nothing(settle_name(reading, known)), "name")
    vocabulary = vocabulary_for(known.words, tuple(item.text for item in layout.template.items))
    return _verdict(spec, reading, settle_words(reading, vocabulary), "words")


def _written_date(layout: Layout, spec: Field, reading: Reading, known: Known) -> CombResult:
    """A date; on a week's sheet its Monday and on a month's the first, under which the sheet is filed."""
    if spec.id in _DATES and layout.template.covers == "month":
        return settle_written_month(reading, known)
    result = settle_written_date(reading, known, spec.pattern)
    return as_week(result, spec.label) if spec.id in _DATES and layout.template.covers == "week" else result


def day_either_way(layout: Layout, readings: Sequence[Reading], known: Known) -> tuple[date | None, date | None]:
    """The day of a sheet's date in free writing if days come first on its site, and if months do; None if it has no
    such date or stands for more than a day.
    """
    spec = next((spec for spec in layout.fields if spec.id == "date" and spec.kind is FieldKind.DATE), None)
    if spec is None or layout.template.covers != "day":
        return None, None
    reading = next(reading for reading in readings if reading.field_id == spec.id)
    found = []
    for day_first, month_first in ((_CLEARLY, 0), (0, _CLEARLY)):
        one_order = replace(known, day_first=day_first, month_first=month_first, filed=())
        value = settle_written_date(reading, one_order).value
        found.append(date.fromisoformat(str(value)) if value is not None else None)
    return found[0], found[1]


def _date_cells(layout: Layout, spec: Field, reading: Reading, known: Known) -> CombResult:
    result = settle_date_cells(reading, spec.pattern, known)
    return as_week(result, spec.label) if spec.id in _DATES and layout.template.covers == "week" else result


def _or_nothing(result: CombResult) -> CombResult:
    """A field that may be left empty: that it is empty is no reason to doubt it."""
    if result.value is None:
        result.reasons.clear()
    return result


def _with_evidence(verdict: Verdict) -> Verdict:
    for evidence in verdict.reading.evidence:
        verdict.doubt(evidence)
    return verdict


def _verdict(spec: Field, reading: Reading, result: CombResult, calibrated_as: str) -> Verdict:
    return _with_evidence(verdict_on(spec, reading, result, calibrated_as))


def _answers(verdicts: dict[str, Verdict], layout: Layout) -> None:
    """An item without an answer is a doubt, on a form of many days only on those that were filled in."""
    answered = [spec for spec in layout.fields if spec.kind in _ANSWERED and spec.id.startswith("item.")]
    counts: dict[str, int] = {}
    for spec in answered:
        day = _day_of(spec.id)
        counts[day] = counts.get(day, 0) + (verdicts[spec.id].value is not None)
    for spec in answered:
        verdict, day = verdicts[spec.id], _day_of(spec.id)
        if verdict.value is None and not verdict.reasons and (not day or counts[day] >= _FEWEST_SIGNS):
            verdict.doubt(
                f"no answer is marked for {day_title(day)}, a day with other entries" if day else "no answer is marked"
            )


def _day_of(field_id: str) -> str:
    """The day column of ``item.NAME.DAY``; empty for a form of one day."""
    parts = field_id.split(".")
    return parts[2] if len(parts) > 2 else ""


def _hours(
    verdicts: dict[str, Verdict],
    layout: Layout,
    by_id: Mapping[str, Reading],
    known: Known,
    filed: tuple[str, date] | None,
) -> None:
    """Hour meters, each bounded by the binder's other readings and by those of the sheet's days before it."""
    chosen = old_calibration_for(known)
    under, dated = verdicts.get("unit"), next((verdicts[name] for name in _DATES if name in verdicts), None)
    unit, first = filed if filed is not None else (_text(under), _date(dated))
    trust = 1.0 if filed is not None else _trust(under, chosen) * _trust(dated, chosen)
    if unit is not None and known.recall is not None:  # once for all days of the sheet
        known = replace(known, readings=(*known.readings, *known.recall(unit)), recall=None)
    for spec in layout.fields:
        if not _is_meter(spec):
            continue
        _, day = parted(spec.id)
        on = date_of(first, day)
        window = hours_window(known, unit, on)
        between = trust == 1.0 and _is_between(known, unit, on, window)
        verdict = _one_meter(spec, by_id[spec.id], window, trust, between)
        if day is not None and verdict.value is None:
            verdict.reasons.clear()
        verdicts[spec.id] = verdict
        hours = settled(verdict, chosen)
        sure = hours.state == "accepted" and trust == 1.0 and verdict.calibrated_as != _ALONE
        if unit and on is not None and hours.value is not None and sure:
            reading = MeterReading(unit, on, Decimal(str(hours.value)))
            known = replace(known, readings=(*known.readings, reading))


def _is_meter(spec: Field) -> bool:
    return spec.id.partition(".")[0] == "hours" and spec.kind in (FieldKind.COMB, FieldKind.NUMBER)


def _one_meter(spec: Field, reading: Reading, window: HoursWindow | None, trust: float, between: bool) -> Verdict:
    if spec.kind is FieldKind.NUMBER:
        if between:
            return _verdict(spec, reading, settle_hours_between(reading, window), "written-hours-between")
        written = settle_written_hours(reading, window, trust)
        return _verdict(spec, reading, written, "written-hours" if window else _ALONE)
    cells = settle_hours_cells(reading, spec.pattern, window, trust)
    return _verdict(spec, reading, cells, "hours" if window else "hours-free")


def _is_between(known: Known, unit: str | None, on: date | None, window: HoursWindow | None) -> bool:
    """Whether a unit's readings before and after a day leave its meter little room."""
    if window is None or on is None or window.low is None or window.high is None:
        return False
    days = [reading.on for reading in known.readings if reading.unit == unit]
    return min(days) < on < max(days) and window.high - window.low <= _BETWEEN_HOURS


def hours_by_ink(spec: Field, reading: Reading) -> tuple[tuple[Decimal, float], ...]:
    """What a meter's place may say, whatever is known of the unit: numbers with their probabilities."""
    if spec.kind is FieldKind.NUMBER:
        result = settle_written_hours(reading, None)
    else:
        result = settle_hours_cells(reading, spec.pattern, None)
    if result.value is None:
        return ()
    return tuple((Decimal(str(other.value)), other.probability) for other in result.alternatives)


def _trust(verdict: Verdict | None, chosen: Calibration) -> float:
    """As for our own sheets; a form may have no place for a unit or a date."""
    return trust_in(verdict, chosen, _BARRED_RIGHT) if verdict is not None else 0.0


def _text(verdict: Verdict | None) -> str | None:
    return verdict.text if verdict is not None else None


def _date(verdict: Verdict | None) -> date | None:
    text = _text(verdict)
    return date.fromisoformat(text) if text else None


def _signed(verdicts: dict[str, Verdict], layout: Layout) -> None:
    for spec in layout.fields:
        if spec.id == "signature" and verdicts[spec.id].value is False:
            verdicts[spec.id].doubt("the sheet is not signed")
