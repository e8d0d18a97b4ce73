"""The words of the trade: parts, positions, complaints and the small words between them.

``trade_words.csv`` was written for this project from common practice. A site's own words from the binder and the item
texts of the sheet's template are added to it.
"""

from __future__ import annotations

import csv
import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

from scanform.settle.types import TradeWord

__all__ = ["CLASSES", "SITE_WEIGHT", "Vocabulary", "build_vocabulary", "split_words", "trade_words", "vocabulary_for"]

CLASSES = ("part", "position", "complaint", "other")
SITE_WEIGHT = 6.0  # a word that a site takes the trouble to list is as usual there as the trade's most usual parts
_ITEM_TEXT_WEIGHT = 3.0
_WORD = re.compile(r"[a-z0-9]+(?:'[a-z0-9]+)*")


@dataclass(frozen=True, eq=False)
class Vocabulary:
    """``entries``: listed words and phrases, as tuples of single words, with what each may mean. ``weights``: how
    usual each single word is, in no unit; only their ratios count. ``longest``: words of the longest phrase.
    """

    entries: dict[tuple[str, ...], tuple[TradeWord, ...]]
    weights: dict[str, float]
    longest: int


def split_words(text: str) -> list[str]:
    """Words and numbers in small letters, punctuation left out: ``"Brk lt, RH"`` gives ``["brk", "lt", "rh"]``."""
    return _WORD.findall(text.casefold().replace("’", "'"))


@lru_cache(maxsize=1)
def trade_words() -> tuple[TradeWord, ...]:
    """The project's own list."""
    text = (resources.files("scanform.settle") / "trade_words.csv").read_text(encoding="utf-8")
    return tuple(
        TradeWord(row["word"], row["normal"], row["class"], float(row["weight"]))
        for row in csv.DictReader(text.splitlines())
    )


@lru_cache(maxsize=64)
def vocabulary_for(site_words: tuple[TradeWord, ...], item_texts: tuple[str, ...]) -> Vocabulary:
    """The trade's words, the site's and those of the template's items together; a site's word overrules the trade's."""
    return build_vocabulary([*trade_words(), *site_words], item_texts)


def build_vocabulary(words: Iterable[TradeWord], item_texts: Sequence[str]) -> Vocabulary:
    """A vocabulary of just these words and texts."""
    entries: dict[tuple[str, ...], list[TradeWord]] = defaultdict(list)
    weights: dict[str, float] = defaultdict(float)
    for word in words:
        parts = tuple(split_words(word.word))
        if not parts:
            continue
        # The same word in two classes is two meanings; in one class the later entry, a site's, holds.
        entries[parts] = [e for e in entries[parts] if e.category != word.category] + [word]
        for part in parts:
            weights[part] = max(weights[part], word.weight)
    for text in item_texts:
        for part in split_words(text):
            weights[part] = max(weights[part], _ITEM_TEXT_WEIGHT)
    return Vocabulary(
        {parts: tuple(meanings) for parts, meanings in entries.items()},
        dict(weights),
        max((len(parts) for parts in entries), default=1),
    )
