"""What a person may type for a field, by what the field is; everything else is refused in a sentence."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation

from scanform.errors import UsageError
from scanform.form import DAYS, parted
from scanform.settle.types import SettledField

__all__ = ["checked_initials", "checked_value", "hours_from", "iso_date_from"]

CHOICE_ANSWERS = ("ok", "defect", "na")
DECISION_ANSWERS = {"fit": ("fit", "parked"), "repair": ("repaired", "not-needed")}
SIGNATURE_WORDS = {"signed": True, "yes": True, "true": True, "unsigned": False, "no": False, "false": False}
MAX_TEXT = 400  # characters; twice what fits on the longest defect line in small writing
MAX_HOURS = Decimal("999999.9")  # six whole cells are the widest comb a template may ask for


def checked_initials(initials: str) -> str:
    """Initials in capitals; UsageError unless they are 1 to 4 letters."""
    letters = initials.strip().upper()
    if not 1 <= len(letters) <= 4 or not letters.isalpha():
        raise UsageError(f"'{initials}' are no initials; give 1 to 4 letters, such as AB.")
    return letters


def checked_value(field: SettledField, typed: str | bool | None, item_numbers: Sequence[int] = ()) -> str | bool | None:
    """The value as it is kept; None where the person says that nothing is written.

    ``item_numbers``: the numbers that the sheet's template has, empty if it is not known.
    UsageError, naming the field and what it takes, if the value does not fit the field.
    """
    if field.kind == "signature":
        return _signature(field, typed)
    if isinstance(typed, bool):
        raise UsageError(f"{field.id} takes words, not yes or no.")
    text = re.sub(r"\s+", " ", typed).strip() if typed is not None else ""
    if not text:
        return None
    last = parted(field.id)[0].rpartition(".")[2]
    if field.kind in ("choice", "mark", "circle", "decision"):
        return _answer(field, text)
    if last == "date" or field.kind == "date":
        return iso_date_from(text, field.id)
    if last == "hours":
        return hours_from(text, field.id)
    if field.kind == "number":
        return _number(field, text)
    if field.kind == "comb" and last == "item":
        return _item_number(field, text, item_numbers)
    if field.kind == "comb" and last == "day":
        return _day_number(field, text)
    if field.kind == "comb":
        return _characters(field, text)
    return _words(field, text)


def iso_date_from(text: str, name: str) -> str:
    """An ISO 8601 date; UsageError with ``name`` in it if it is none."""
    try:
        if not re.fullmatch(r"\d{4}-?\d{2}-?\d{2}", text):
            raise ValueError
        return dt.date.fromisoformat(text).isoformat()
    except ValueError:
        raise UsageError(f"{name}: '{text}' is no date; write it year first, such as 2026-11-23.") from None


def hours_from(text: str, name: str) -> str:
    """Meter hours as a decimal string with one decimal place; UsageError with ``name`` in it if it is none."""
    try:
        if not re.fullmatch(r"\d+([.,]\d+)?", text):
            raise InvalidOperation
        hours = Decimal(text.replace(",", "."))
    except InvalidOperation:
        raise UsageError(f"{name}: '{text}' is no meter reading; write hours such as 1234.5.") from None
    if hours > MAX_HOURS:
        raise UsageError(f"{name}: '{text}' is more hours than a meter shows; write hours such as 1234.5.")
    tenths = hours.quantize(Decimal("0.1"))
    if tenths != hours:
        raise UsageError(f"{name}: '{text}' has more than one decimal place; write hours such as 1234.5.")
    return str(tenths)


def _signature(field: SettledField, typed: str | bool | None) -> bool:
    if isinstance(typed, bool):
        return typed
    word = (typed or "unsigned").strip().lower() or "unsigned"
    if word not in SIGNATURE_WORDS:
        raise UsageError(f"{field.id}: say signed or unsigned, not '{typed}'.")
    return SIGNATURE_WORDS[word]


def _answer(field: SettledField, text: str) -> str:
    answer = text.lower()
    seen = tuple(a.value for a in field.alternatives if isinstance(a.value, str))
    if field.kind == "circle":
        allowed = tuple(sorted(seen)) or CHOICE_ANSWERS
    elif field.kind == "decision":
        allowed = DECISION_ANSWERS.get(field.id.rpartition(".")[2], seen)
    else:
        allowed = CHOICE_ANSWERS
    if answer not in allowed:
        raise UsageError(
            f"{field.id}: '{text}' is not one of its answers; say {', '.join(allowed)}, or leave it blank."
        )
    return answer


def _number(field: SettledField, text: str) -> str:
    if not re.fullmatch(r"\d{1,9}([.,]\d{1,3})?", text):
        raise UsageError(f"{field.id}: '{text}' is no number; write digits, such as 27 or 4.5.")
    return text.replace(",", ".")


def _item_number(field: SettledField, text: str, item_numbers: Sequence[int]) -> str:
    if not text.isdecimal() or not 1 <= int(text) <= 99:
        raise UsageError(f"{field.id}: '{text}' is no item number; write the number printed beside the item.")
    if item_numbers and int(text) not in item_numbers:
        raise UsageError(f"{field.id}: the sheet has no item {int(text)}; its items are 1 to {max(item_numbers)}.")
    return str(int(text))


def _day_number(field: SettledField, text: str) -> str:
    """A day of the week as the sheet numbers them, also by its name: 1 or mon."""
    name = text.lower()[:3]
    if name in DAYS:
        return str(DAYS.index(name) + 1)
    if text.isdecimal() and 1 <= int(text) <= len(DAYS):
        return str(int(text))
    raise UsageError(f"{field.id}: '{text}' is no day of the week; give 1 for Monday to 7 for Sunday.")


def _characters(field: SettledField, text: str) -> str:
    characters = text.upper()
    if not re.fullmatch(r"[0-9A-Z][0-9A-Z \-/.']*", characters):
        raise UsageError(f"{field.id}: '{text}' has characters that no cell takes; use letters, digits and dashes.")
    return characters


def _words(field: SettledField, text: str) -> str:
    if len(text) > MAX_TEXT:
        raise UsageError(f"{field.id}: {len(text)} characters are too many; keep it under {MAX_TEXT}.")
    if not text.isprintable():
        raise UsageError(f"{field.id}: the words contain characters that cannot be shown; type them anew.")
    return text
