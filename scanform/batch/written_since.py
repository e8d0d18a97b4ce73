"""What a scan of a sheet says beyond an earlier scan of it: something was written on the paper since.

Doubtful readings count: a line that is added to an answered OK is doubtful by the rules. Another scanner, dirt and
faint ink make other doubts, and these say nothing beyond what is on record. Measured on 48 simulated sheets, each
scanned first by an office scanner: of 144 scans of the unchanged paper (48 office, 48 with light toner, 12 each
bitonal, worn, fax and phone) two were taken to say more, by dirt that was read as a word or a number on two worn
ones; of 96 scans of the paper with words, a number, a tick or all of them added (office and worn), none was taken to
say nothing more. Of 60 second scans of 20 weeks' sheets one was taken to say more, by dirt in a meter's cells.
"""

from __future__ import annotations

from collections.abc import Sequence

from scanform.settle import SettledField, State

__all__ = ["written_since"]

# So many letters more are words that were added. On the second scans above a line of words had at most one more; dirt
# read as text has mostly one or two, or no letters at all.
_ADDED_LETTERS = 3
# An answer less likely than this is none: both boxes are marked, say. Sound answers had 0.95 and more on the second
# scans above, those marked twice at most 0.2.
_LIKELIER_THAN_NOT = 0.5


def written_since(
    earlier: Sequence[SettledField], later: Sequence[SettledField]
) -> list[tuple[SettledField, SettledField]]:
    """Fields that say something on the later scan which they did not say on the earlier: the later and the earlier one.

    What the machine read on the earlier scan counts as said there, too, whatever a person made of it since: dirt that
    was found to be no word is no new word.
    """
    before = {field.id: field for field in earlier}
    return [(field, before[field.id]) for field in later if field.id in before and _more(field, before[field.id])]


def _more(field: SettledField, before: SettledField) -> bool:
    if field.kind == "text":
        return _letters(field.value) >= max(map(_letters, _said(before))) + _ADDED_LETTERS
    if field.kind in ("choice", "mark", "decision"):
        return _answered_anew(field, before)
    return _written(field.value) and not any(map(_written, _said(before)))


def _answered_anew(field: SettledField, before: SettledField) -> bool:
    if _unclear(field):
        return not _unclear(before) and not _waits_for_the_same(field, before)
    return _written(field.value) and field.value not in _said(before)


def _waits_for_the_same(field: SettledField, before: SettledField) -> bool:
    """Whether an unclear sign says nothing but what a person is asked about already. A sign alone in its box is itself
    what was changed; among several boxes another one may have been marked since.
    """
    nothing_new = not _written(field.value) or field.value in _said(before)
    return field.kind == "mark" and before.state is State.DOUBTFUL and nothing_new


def _unclear(field: SettledField) -> bool:
    return bool(field.alternatives) and field.alternatives[0].probability < _LIKELIER_THAN_NOT


def _said(field: SettledField) -> list[str | bool | None]:
    """Its value, and what the machine read before a person said otherwise."""
    return [field.value, *(reading.value for reading in field.alternatives[:1])]


def _written(value: str | bool | None) -> bool:
    return value not in (None, "", False)


def _letters(value: str | bool | None) -> int:
    return sum(sign.isalpha() for sign in value) if isinstance(value, str) else 0
