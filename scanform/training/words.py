"""Fit how much the vocabulary weighs beside the ink when defect words are read, and measure what it does.

    python -m scanform.training.words --pages 50
    python -m scanform.training.words --pages 50 --measure     only measures what words.json holds

Lines of :mod:`scanform.training.word_lines`. Every setting is tried twice on each line: with the whole vocabulary, and
with one that a part of the words was taken out of, so that words which it lacks count as much as those it has. What is
kept goes into ``scanform/models/words.json``, with its measure on the test half.
"""

from __future__ import annotations

import argparse
import itertools
import json
import pickle
import time
import zlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

from rapidfuzz.distance import Levenshtein

from scanform.form import built_in_templates
from scanform.settle.ctc import SearchSettings, folded_steps, search
from scanform.settle.prior import Prior
from scanform.settle.vocabulary import split_words, trade_words, vocabulary_for
from scanform.settle.words import word_settings
from scanform.simulate import Grade
from scanform.training.word_lines import WORD_SEEDS, WORD_TEST_SEEDS, WordLine, word_lines

__all__ = ["Tried", "character_error", "fit", "measured", "try_lines"]

HELD_OUT = 0.3  # of the vocabulary's words
_WORDS_FILE = "words.json"
# Beyond these nothing was better on the fit half.
_PRIOR_WEIGHTS = (0.55, 0.7, 0.85, 1.0)
_LETTER_BONUSES = (2.2, 2.6, 3.0, 3.4)
_UNKNOWN_SHARES = (0.06, 0.15)
_FLOORS = (3e-4, 1e-4)
_FIRST_FLOOR = 1e-3
_WIDTHS = (12, 24, 48)


@dataclass(frozen=True)
class Tried:
    """One line as the ink alone says it, and as it is read with the prior. ``listed``: all its words are in the
    vocabulary used. ``share``: posterior of the line. ``milliseconds`` of processor time for the search.
    """

    line: WordLine
    listed: bool
    ink_alone: str
    with_prior: str
    share: float
    milliseconds: float


def held_out(word: str) -> bool:
    """Whether a word is among those taken out of the vocabulary; the same words on every machine."""
    return zlib.crc32(b"held out " + word.encode()) / 2**32 < HELD_OUT


@lru_cache(maxsize=8)
def _weights(template: str, whole: bool) -> dict[str, float]:
    texts = {t.name: tuple(item.text for item in t.items) for t in built_in_templates()}
    weights = vocabulary_for((), texts[template]).weights
    return weights if whole else {word: weight for word, weight in weights.items() if not held_out(word)}


@lru_cache(maxsize=64)
def _prior(template: str, whole: bool, unknown: float) -> Prior:
    return Prior(_weights(template, whole), unknown)


def try_lines(lines: Iterable[WordLine], settings: SearchSettings, unknown: float, whole: bool) -> list[Tried]:
    """Every line of words searched; names are left out."""
    tried = []
    for line in lines:
        if line.kind == "name" or line.reading.line_steps is None:
            continue
        weights = _weights(line.template, whole)
        started = time.process_time()
        steps, signs = folded_steps(line.reading.line_steps, line.reading.line_characters)
        result = search(steps, signs, _prior(line.template, whole, unknown), settings)
        spent = time.process_time() - started
        tried.append(
            Tried(
                line,
                all(word in weights for word in split_words(line.truth)),
                str(line.reading.alternatives[0].value or "").casefold(),
                result.found[0].text,
                result.shares[0],
                spent * 1e3,
            )
        )
    return tried


def character_error(tried: Sequence[Tried], said: Callable[[Tried], str]) -> float:
    """Edits a written character, case left aside; 0 for no lines."""
    edits = sum(Levenshtein.distance(t.line.truth.casefold(), said(t)) for t in tried)
    return edits / max(1, sum(len(t.line.truth) for t in tried))


def _loss(lines: Sequence[WordLine], settings: SearchSettings, unknown: float) -> float:
    """Listed and unlisted words count alike: mean of the character errors of both kinds of lines."""
    whole = [t for t in try_lines(lines, settings, unknown, whole=True) if t.listed]
    lacking = [t for t in try_lines(lines, settings, unknown, whole=False) if not t.listed]
    return (character_error(whole, _with_prior) + character_error(lacking, _with_prior)) / 2


def _with_prior(tried: Tried) -> str:
    return tried.with_prior


def _ink_alone(tried: Tried) -> str:
    return tried.ink_alone


def fit(lines: Sequence[WordLine], say: Callable[[str], None] = print) -> tuple[SearchSettings, float]:
    """The settings with the least loss: weight, bonus and unknown share together, then floors, then the narrowest
    beam that is as good.
    """
    best: tuple[float, SearchSettings, float] | None = None
    for weight, bonus, unknown in itertools.product(_PRIOR_WEIGHTS, _LETTER_BONUSES, _UNKNOWN_SHARES):
        if not 3.0 <= bonus / weight <= 4.5:
            continue  # far from what a word's letters cost in the prior
        settings = SearchSettings(weight, bonus, 16, _FIRST_FLOOR)
        loss = _loss(lines, settings, unknown)
        say(f"{loss:.4%} {settings} {unknown}")
        if best is None or loss < best[0]:
            best = (loss, settings, unknown)
    assert best is not None
    _, settings, unknown = best
    for floor in _FLOORS:
        tried = SearchSettings(settings.prior_weight, settings.letter_bonus, 24, floor)
        loss = _loss(lines, tried, unknown)
        say(f"{loss:.4%} {tried} {unknown}")
        if loss < best[0]:
            best = (loss, tried, unknown)
    found = best[1]
    by_width = {}
    for width in _WIDTHS:
        tried = SearchSettings(found.prior_weight, found.letter_bonus, width, found.floor)
        by_width[width] = _loss(lines, tried, unknown)
        say(f"{by_width[width]:.4%} {tried} {unknown}")
    least = min(by_width.values())
    width = next(w for w in _WIDTHS if by_width[w] <= least * 1.01)
    return SearchSettings(found.prior_weight, found.letter_bonus, width, found.floor), unknown


def measured(lines: Sequence[WordLine], settings: SearchSettings, unknown: float) -> dict[str, Any]:
    """Character error by the ink alone and with the prior: lines of listed words, and lines with words that the
    vocabulary lacks, by scan grade.
    """
    whole = try_lines(lines, settings, unknown, whole=True)
    reduced = try_lines(lines, settings, unknown, whole=False)
    sets = {
        "simulator's complaints": [t for t in whole if t.line.kind == "simulator"],
        "complaints written apart": [t for t in whole if t.line.kind == "usual"],
        "complaints full of unlisted words": [t for t in whole if t.line.kind == "unusual"],
        "lines with words taken out of the vocabulary": [
            t for t in reduced if t.line.kind != "unusual" and not t.listed
        ],
        "all listed words": [t for t in whole if t.listed],
    }
    table = {}
    for name, tried in sets.items():
        by_grade = {grade.value: [t for t in tried if t.line.grade is grade] for grade in Grade}
        table[name] = {
            grade: {
                "lines": len(of_grade),
                "ink_alone": round(character_error(of_grade, _ink_alone), 4),
                "with_prior": round(character_error(of_grade, _with_prior), 4),
            }
            for grade, of_grade in {**by_grade, "all": tried}.items()
        }
    spent = sorted(t.milliseconds for t in whole)
    return {
        "character_error": table,
        "search_ms": {"mean": round(sum(spent) / len(spent), 1), "most": round(spent[-1])},
    }


def main() -> None:
    """Fit and measure; ``--lines`` keeps the read lines of both halves in that folder for the next time."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pages", type=int, default=50, help="pages a grade, of each half")
    parser.add_argument("--grid-lines", type=int, default=500, help="lines on which settings are compared")
    parser.add_argument("--workers", type=int)
    parser.add_argument("--lines", type=Path)
    parser.add_argument("--measure", action="store_true", help="keep the settings in force")
    arguments = parser.parse_args()
    if arguments.measure:
        settings, unknown = word_settings().search, word_settings().unknown
    else:
        fit_lines = _lines("fit", arguments)
        settings, unknown = fit(fit_lines[:: max(1, len(fit_lines) // arguments.grid_lines)])
    test_lines = _lines("test", arguments)
    result = {
        "made_by": "python -m scanform.training.words",
        "made_on": date.today().isoformat(),
        "fitted_on": f"{arguments.pages} pages a grade from seed {WORD_SEEDS:,}",
        "measured_on": f"{arguments.pages} pages a grade from seed {WORD_TEST_SEEDS:,}, complaints of the test half",
        "unknown_share": unknown,
        "search": asdict(settings),
        "vocabulary_words": len(trade_words()),
        **measured(test_lines, settings, unknown),
    }
    target = resources.files("scanform.models") / _WORDS_FILE
    Path(str(target)).write_text(json.dumps(result, indent=2) + "\n")
    print(json.dumps(result, indent=2))


def _lines(split: str, arguments: argparse.Namespace) -> list[WordLine]:
    kept = arguments.lines / f"{split}.pkl" if arguments.lines else None
    if kept is not None and kept.is_file():
        return list(pickle.loads(kept.read_bytes()))
    lines = list(word_lines(split, arguments.pages, arguments.workers))
    if kept is not None:
        kept.write_bytes(pickle.dumps(lines))
    return lines


if __name__ == "__main__":
    main()
