"""The short form of a complaint, for lists: part, position, complaint, in the vocabulary's normal words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from scanform.settle.types import TradeWord
from scanform.settle.vocabulary import Vocabulary, split_words

__all__ = ["ShortForm", "normal_words", "short_form"]

_MOST_COMPLAINTS = 2
# What follows these says when it happens, not what is wrong.
_CIRCUMSTANCE = frozenset({"when", "while", "if", "after", "before", "since", "until", "during", "at"})
_DENIALS = frozenset(("not", "never", "won't", "wont", "can't", "cant", "doesn't", "doesnt", "don't", "dont", "isn't"))
_ENDS = frozenset(("left", "right", "front", "rear"))
_SIDES = (("left", "right", "driver side", "passenger side", "both sides"), ("front", "rear"), ("inner", "outer"))


@dataclass(frozen=True)
class ShortForm:
    """ "" where the words do not say. ``position``: side before end: "left front"."""

    part: str
    position: str
    complaint: str


class _Piece(NamedTuple):
    """A listed word or phrase (or one unlisted word) and what it means."""

    words: tuple[str, ...]
    meaning: TradeWord | None


def short_form(text: str, vocabulary: Vocabulary) -> ShortForm:
    """Part, position and complaint: ``"Brk lt RH out"`` gives brake light, right, not working."""
    pieces = _pieces(split_words(text), vocabulary)
    part: list[str] = []
    part_ended = False
    positions: list[str] = []
    complaints: list[str] = []
    circumstance = False
    for n, piece in enumerate(pieces):
        said = piece.meaning.category if piece.meaning else ""
        denied = piece.words[0] in _DENIALS and n + 1 < len(pieces) and said == "other"
        if piece.words[0] in _CIRCUMSTANCE:
            circumstance, part_ended = True, bool(part)
        elif said == "part" and not part_ended and not circumstance:
            assert piece.meaning is not None
            part.append(piece.meaning.normal)
            if n and pieces[n - 1].words == ("no",):
                complaints.append("missing")
            continue
        elif said == "position":
            assert piece.meaning is not None
            positions.append(piece.meaning.normal)
        elif said == "complaint" and not circumstance:
            assert piece.meaning is not None
            complaints.append(piece.meaning.normal)
        elif denied and not circumstance and pieces[n + 1].meaning is not None:
            complaints.append("does not " + " ".join(pieces[n + 1].words))
        part_ended = part_ended or bool(part)
    return ShortForm(_joined_part(part), _joined_positions(positions), _joined_complaints(complaints))


def normal_words(text: str, vocabulary: Vocabulary) -> list[str]:
    """The parts that a text names, in normal words: ``"Tires, rims"`` gives ``["tire", "rim"]``."""
    pieces = _pieces(split_words(text), vocabulary)
    return [piece.meaning.normal for piece in pieces if piece.meaning and piece.meaning.category == "part"]


def _pieces(words: Sequence[str], vocabulary: Vocabulary) -> list[_Piece]:
    """The words cut into the longest listed phrases, from the left."""
    pieces: list[_Piece] = []
    at = 0
    while at < len(words):
        for length in range(min(vocabulary.longest, len(words) - at), 0, -1):
            run = tuple(words[at : at + length])
            if run in vocabulary.entries:
                pieces.append(_Piece(run, _likelier(vocabulary.entries[run], pieces)))
                break
        else:
            run = (words[at],)
            pieces.append(_Piece(run, None))
        at += len(run)
    return pieces


def _likelier(meanings: Sequence[TradeWord], before: Sequence[_Piece]) -> TradeWord:
    """A word with two meanings ("lt" is light or left) is a part right after another part, else a position."""
    after_part = bool(before) and before[-1].meaning is not None and before[-1].meaning.category == "part"
    wanted = ("part", "position") if after_part else ("position", "complaint", "part")
    ranked = sorted(meanings, key=lambda m: wanted.index(m.category) if m.category in wanted else len(wanted))
    return ranked[0]


def _joined_part(parts: Sequence[str]) -> str:
    """Parts that stand together name one: "brake", "hose" is the brake hose."""
    words: list[str] = []
    for part in parts:
        words += [word for word in part.split(" ") if word not in words]
    return " ".join(words)


def _joined_positions(positions: Sequence[str]) -> str:
    words: list[str] = []
    for position in positions:
        pair = position.split(" ")
        words += pair if set(pair) <= _ENDS else [position]
    words = list(dict.fromkeys(words))
    order = {word: n for n, group in enumerate(_SIDES) for word in group}
    return " ".join(sorted(words, key=lambda word: order.get(word, len(_SIDES))))


def _joined_complaints(complaints: Sequence[str]) -> str:
    return ", ".join(list(dict.fromkeys(complaints))[:_MOST_COMPLAINTS])
