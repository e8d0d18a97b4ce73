"""Which item a defect line is about: by the number written before it, by its words, and by both together."""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

from scanform.settle.combs import CombResult
from scanform.settle.short_form import normal_words
from scanform.settle.vocabulary import Vocabulary, split_words

__all__ = ["CLEAR_TIE", "clear_item", "items_by_words", "number_and_words"]

# How many times likelier an item becomes by a part that the words name: the item names the very part; it names what the
# part belongs to; it has the part's words among its own; it has the kind of part. With _NO_ITEM (weight of "none of
# these" beside 1 for an item) fitted by hand on the complaints of simulate/, whose items are known: see DEVELOPERS.md.
_SAME = 200.0
_BELONGS = 100.0
_ALL_ITS_WORDS = 150.0  # "tail light" where an item says "work lights, tail and brake lights"
_ITS_WORDS = 50.0
_ITS_KIND = 8.0
_NO_ITEM = 4.0
CLEAR_TIE = 0.8  # from this probability on the words speak of one item
_HARDLY = 0.05  # below it they do not speak of an item
# Words may mislead (the hose beside the broken lamp is named too): however clearly they speak, a number becomes at most
# this much likelier by them, and one that its own ink makes ten times less likely than another is never chosen.
_MOST_BY_WORDS = 10.0
_INK_ALLOWS = 0.1
_SHOWN = 4
# Every part has some of these, so that they say little about which is meant.
_PIECES = frozenset(
    ("bolt", "bracket", "clamp", "cover", "fitting", "handle", "hardware", "latch", "level", "line", "lock", "mount")
    + ("nut", "pad", "pin", "play", "post", "power", "pressure", "ring", "seal", "side", "stud", "water", "weld")
)

Items = Sequence[tuple[int, str]]  # numbers and texts


@dataclass(frozen=True)
class _ItemWords:
    parts: frozenset[str]
    words: frozenset[str]


def items_by_words(text: str | None, items: Items, vocabulary: Vocabulary) -> dict[int, float]:
    """Probability of each item, by its number, that a complaint's words are about it; what lacks to 1 is "none"."""
    known = _item_words(tuple(items), vocabulary)
    weights = {number: 1.0 for number, _ in items}
    for part in dict.fromkeys(normal_words(text or "", vocabulary)):
        for number, item in known.items():
            weights[number] *= _factor(part, item)
    total = sum(weights.values()) + _NO_ITEM
    return {number: weight / total for number, weight in weights.items()}


def clear_item(text: str | None, items: Items, vocabulary: Vocabulary) -> tuple[int, float] | None:
    """The item that the words clearly speak of, with its probability; None if there is none."""
    shares = items_by_words(text, items, vocabulary)
    number = max(shares, key=lambda n: shares[n], default=0)
    return (number, shares[number]) if shares and shares[number] >= CLEAR_TIE else None


def number_and_words(by_number: CombResult, text: str | None, items: Items, vocabulary: Vocabulary) -> CombResult:
    """The item number by ink and words together; where the two speak of different items, doubted with both named.

    Without a number the result stays empty: nothing was written there. An item that the words clearly speak of is then
    the first of the alternatives.
    """
    if not text:
        return by_number
    texts = dict(items)
    shares = items_by_words(text, items, vocabulary)
    clear = clear_item(text, items, vocabulary)
    if by_number.value is None:
        reasons = list(by_number.reasons)
        if clear is not None:
            reasons.append(f"the words '{text}' speak of item {clear[0]} ({texts[clear[0]]})")
        named = [(str(clear[0]), clear[1])] if clear is not None else []
        return CombResult(None, by_number.raw, reasons, named, by_number.clean)
    ranked = _weighed(by_number, shares)
    value, raw = ranked[0] if ranked else (by_number.value, by_number.raw)
    result = CombResult(value, raw, by_number.reasons, ranked[:_SHOWN], by_number.clean)
    number = int(value) if value and value.isdecimal() else 0
    if clear is not None and clear[0] != number and shares.get(number, 0.0) < _HARDLY:
        said = f"the number says item {number} ({texts[number]})" if number in texts else f"the number reads '{value}'"
        result.reasons.append(f"{said}, the words '{text}' speak of item {clear[0]} ({texts[clear[0]]})")
    return result


def _weighed(by_number: CombResult, shares: Mapping[int, float]) -> list[tuple[str | None, float]]:
    """The number's alternatives with the words' say, best first; empty where there are none to weigh."""
    ink = [(str(a.value), a.probability) for a in by_number.alternatives if a.value and str(a.value).isdecimal()]
    if not ink or by_number.reasons:
        return []
    allowed = [(value, p) for value, p in ink if p >= _INK_ALLOWS * ink[0][1]]
    others = max(0.0, 1.0 - sum(p for _, p in allowed))
    even = (1.0 - sum(shares.values())) / max(1, len(shares))  # "none" may be any
    weighed = [
        (value, p * min(_MOST_BY_WORDS, (shares.get(int(value), 0.0) + even) * len(shares) + 1 / _MOST_BY_WORDS))
        for value, p in allowed
    ]
    total = sum(weight for _, weight in weighed) + others
    return sorted(((value, weight / total) for value, weight in weighed), key=lambda pair: -pair[1])


def _factor(part: str, item: _ItemWords) -> float:
    if part in _PIECES:
        return _ITS_KIND if part in item.words else 1.0
    if part in item.parts:
        return _SAME
    if any(set(wider.split(" ")) <= item.words for wider in _wider(part)):
        return _BELONGS
    words = part.split(" ")
    if set(words) <= item.words:
        return _ALL_ITS_WORDS if len(words) > 1 else _ITS_WORDS
    return _ITS_KIND if words[-1] in item.words else 1.0


def _wider(part: str) -> set[str]:
    """What a part belongs to, and what that belongs to."""
    found: set[str] = set()
    waiting = [part]
    while waiting:
        for wider in _belongings().get(waiting.pop(), ()):
            if wider not in found:
                found.add(wider)
                waiting.append(wider)
    return found


@lru_cache(maxsize=1)
def _belongings() -> dict[str, tuple[str, ...]]:
    text = (resources.files("scanform.settle") / "trade_parts.csv").read_text(encoding="utf-8")
    found: dict[str, tuple[str, ...]] = defaultdict(tuple)
    for row in csv.DictReader(text.splitlines()):
        found[row["part"]] += (row["belongs_to"],)
    return dict(found)


@lru_cache(maxsize=64)
def _item_words(items: tuple[tuple[int, str], ...], vocabulary: Vocabulary) -> dict[int, _ItemWords]:
    found = {}
    for number, text in items:
        singles = set()
        for word in split_words(text):
            meanings = vocabulary.entries.get((word,), ())
            singles |= {word, word.removesuffix("s")}
            singles |= {w for meaning in meanings if meaning.category == "part" for w in meaning.normal.split(" ")}
        found[number] = _ItemWords(frozenset(normal_words(text, vocabulary)), frozenset(singles))
    return found
