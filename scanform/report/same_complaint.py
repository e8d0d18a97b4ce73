"""Whether two reports are of one defect: the same unit's, by item, by what the words name, and by the words themselves.

Where it cannot be told, reports stay apart: a defect listed twice is a nuisance, two in one entry are a danger, since
closing the one would close the other.
"""

from __future__ import annotations

from rapidfuzz import fuzz

from scanform.report.defects import DefectEntry
from scanform.settle.types import State

__all__ = ["alike", "in_short", "reads_apart", "refers", "same_complaint"]

# Of 100; two readings of one complaint, or the same complaint in the writer's words of the next day. Fitted by hand on
# the simulator's complaints; tests/test_defect_register.py counts what it does on a made year.
_SAME_WORDS = 80.0
_REFERRING = frozenset(("same", "still", "yesterday", "before", "above", "ditto"))
# Of 100: so alike are two writings of one complaint of which one is perhaps misread. Once a person has said what stands
# there, it is judged by what it says.
_MISREAD_WORDS = 62.0
_ONCE_MORE = "again"  # points back where nothing else is said; "coolant low again" says what is wrong by itself
# Complaints that crews use for one another: "no horn" is a horn that is dead, play in the steering is loose steering.
_ONE_THING = (frozenset(("missing", "not working")), frozenset(("loose", "play")))


def same_complaint(one: DefectEntry, other: DefectEntry) -> bool:
    """Whether two reports of the same unit are of one defect."""
    if one.item is not None and other.item is not None:
        if one.item != other.item:
            # Words may tie a line to the wrong item; a number written before it does not.
            by_words = "words" in (one.tied_by, other.tied_by)
            return by_words and _same_words(one, other)
        return not _contradict(one, other)
    if one.part and other.part and one.complaint and other.complaint:
        return not _contradict(one, other)
    return _same_words(one, other)


def reads_apart(one: DefectEntry, other: DefectEntry) -> bool:
    """Whether two reports of one item would be two defects if their words were what was read."""
    if not one.words or not other.words or refers(one) or refers(other):
        return False
    other_complaint = bool(one.complaint and other.complaint) and not _one_complaint(one.complaint, other.complaint)
    return _places_apart(one, other) or _parts_apart(one, other) or other_complaint


def alike(one: DefectEntry, other: DefectEntry) -> float:
    """How alike the words of two reports are, 0 to 100; to choose among several that may be the same."""
    return fuzz.token_sort_ratio(one.words.casefold(), other.words.casefold())


def in_short(entry: DefectEntry) -> str:
    """The complaint in the vocabulary's normal words: ``"right mirror: cracked"``; "" where they do not say."""
    what = " ".join(filter(None, (entry.position, entry.part)))
    return ": ".join(filter(None, (what, entry.complaint))) if entry.part else ""


def _same_words(one: DefectEntry, other: DefectEntry) -> bool:
    return (
        bool(one.words and other.words)
        and alike(one, other) >= _SAME_WORDS
        and not (_parts_apart(one, other) or _places_apart(one, other))
    )


def _contradict(one: DefectEntry, other: DefectEntry) -> bool:
    """Whether the words of two reports on one item clearly speak of two things."""
    if not one.words or not other.words or refers(one) or refers(other):
        return False
    misread = State.DOUBTFUL in (one.state, other.state) and alike(one, other) >= _MISREAD_WORDS
    return reads_apart(one, other) if not misread else _places_apart(one, other)


def _parts_apart(one: DefectEntry, other: DefectEntry) -> bool:
    """Whether they name different parts."""
    return bool(one.part and other.part) and not _one_within(one.part, other.part)


def _places_apart(one: DefectEntry, other: DefectEntry) -> bool:
    """Whether they name different places: left and right are two lamps."""
    return bool(one.position and other.position) and not _one_within(one.position, other.position)


def refers(entry: DefectEntry) -> bool:
    """Whether the words point back at an earlier report: "same as yesterday"."""
    words = entry.words.casefold().split()
    return not _REFERRING.isdisjoint(words) or (_ONCE_MORE in words and not entry.complaint)


def _one_within(one: str, other: str) -> bool:
    a, b = set(one.split()), set(other.split())
    return a <= b or b <= a


def _one_complaint(one: str, other: str) -> bool:
    """Whether any complaint of the one is one of the other's, in its own words or in those used for it."""
    a, b = set(one.split(", ")), set(other.split(", "))
    return not a.isdisjoint(b) or any(not a.isdisjoint(thing) and not b.isdisjoint(thing) for thing in _ONE_THING)
