"""Rules between the fields of a week's sheet; what a sheet of one day has too is in :mod:`scanform.settle.rules`."""

from __future__ import annotations

from datetime import date

from scanform.form import DAY_TITLES, DAYS, Template, date_of
from scanform.settle.rules import line_numbers, signed, workshop
from scanform.settle.verdict import Verdict

__all__ = ["apply_week_rules"]

_ANSWERED = {"ok": "answered OK", "na": "answered N/A", "defect": "answered Defect"}


def apply_week_rules(
    verdicts: dict[str, Verdict], template: Template, used: frozenset[str], monday: date | None, today: date
) -> None:
    """Add a reason to every field that breaks a rule together with others.

    ``used``: the days with entries; ``monday``: the week's first day, None where it is doubtful.
    """
    _begins_on_a_monday(verdicts["date"])
    _nothing_from_the_future(verdicts, used, monday, today)
    _lines_and_signs(verdicts, template)
    _signed_and_used(verdicts, used)
    _fit_for_use(verdicts, template, used)
    workshop(verdicts)


def _begins_on_a_monday(verdict: Verdict) -> None:
    try:
        day = date.fromisoformat(str(verdict.value))
    except ValueError:
        return
    if day.weekday() != 0:
        verdict.doubt(f"{day.isoformat()} is a {day.strftime('%A')}; a week's sheet begins on a Monday")


def _nothing_from_the_future(
    verdicts: dict[str, Verdict], used: frozenset[str], monday: date | None, today: date
) -> None:
    for day in DAYS:
        on = date_of(monday, day)
        if day in used and on is not None and on > today:
            verdicts[f"initials.{day}"].doubt(
                f"there are entries for {_title(day)}, {on.isoformat()}, which lies in the future; today is "
                f"{today.isoformat()}"
            )


def _lines_and_signs(verdicts: dict[str, Verdict], template: Template) -> None:
    """Every defect has its words and every line its defect.

    A defect that stands from one day to the next is written down once: a line counts for its own day and the days
    after it, and for all days if it names none.
    """
    by_number = {str(item.number): item for item in template.items}
    said: dict[str, list[int]] = {}  # item name to the days' places from which on a line speaks of it
    loose = 0
    for n in line_numbers(verdicts):
        number, day, words = (verdicts[f"defect.{n}{end}"] for end in (".item", ".day", ""))
        if words.value and not number.value:
            number.doubt("there are words on this line and no item number")
        if number.value and not words.value:
            words.doubt(f"item number {number.value} stands here without words")
        if day.value and not words.value and not number.value:
            day.doubt("a day's number stands on this line, and neither words nor an item's number")
        item = by_number.get(str(number.value)) if number.value else None
        if item is None:
            loose += bool(words.value or number.value)
            continue
        bad = [d for d in DAYS if verdicts[f"item.{item.name}.{d}"].value == "defect"]
        named = _day(day)
        if named is not None and named not in bad:
            answer = verdicts[f"item.{item.name}.{named}"]
            said_there = _ANSWERED.get(str(answer.value), "not answered")
            number.doubt(f"this line names item {item.number} on {_title(named)}, where it is {said_there}")
            answer.doubt(f"defect line {n} names this item and day, and it is {said_there}")
        elif named is None and not bad:
            number.doubt(f"this line names item {item.number}, which has no defect on any day")
        elif named is None and len(bad) > 1 and not day.value:
            day.doubt(f"item {item.number} has a defect on {len(bad)} days, and this line names no day")
        said.setdefault(item.name, []).append(DAYS.index(named) if named is not None else 0)
    without = [
        (item, bad_day)
        for item in template.items
        for place, bad_day in enumerate(DAYS)
        if verdicts[f"item.{item.name}.{bad_day}"].value == "defect"
        and not any(since <= place for since in said.get(item.name, []))
    ]
    if loose >= len({item.name for item, _ in without}):
        return  # every defect may have its line; the doubt stands at the lines' numbers
    for item, bad_day in without:
        verdicts[f"item.{item.name}.{bad_day}"].doubt(
            f"marked as a defect on {_title(bad_day)}, and no defect line says what is wrong with item {item.number}"
        )


def _signed_and_used(verdicts: dict[str, Verdict], used: frozenset[str]) -> None:
    signed(verdicts)
    if not used:
        verdicts["signature"].doubt("nothing is entered on this sheet for any day")


def _fit_for_use(verdicts: dict[str, Verdict], template: Template, used: frozenset[str]) -> None:
    """The decision is about the last day with entries; a defect that the workshop closed no longer counts."""
    fit = verdicts["fit"]
    if fit.value is None:
        fit.doubt("neither 'fit to use' nor 'parked' is marked")
    if fit.value != "fit" or not used:
        return
    last = max(used, key=DAYS.index)
    closed = {
        str(verdicts[f"defect.{n}.item"].value)
        for n in line_numbers(verdicts)
        if verdicts[f"defect.{n}.repair"].value is not None
    }
    critical = [
        str(item.number)
        for item in template.items
        if item.critical and verdicts[f"item.{item.name}.{last}"].value == "defect" and str(item.number) not in closed
    ]
    if critical:
        fit.doubt(
            f"marked fit to use with a defect on safety-critical item {', '.join(critical)} on {_title(last)}, "
            "the last day with entries"
        )


def _day(verdict: Verdict) -> str | None:
    text = str(verdict.value or "")
    return DAYS[int(text) - 1] if text.isdecimal() and 1 <= int(text) <= len(DAYS) else None


def _title(day: str) -> str:
    return DAY_TITLES[DAYS.index(day)]
