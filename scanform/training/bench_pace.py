"""The benchmark's pace: processor time of an office page beside its bare decode, with nothing else running.

Two processes on one processor slow each other's memory down, and a read page suffers more from that than a decoded one:
the ratio is measured on pages that a single process reads one after another. What neighbours on a shared host do
reaches it all the same, and hits reading harder than decoding: the whole stack is read several times, and of each step
of each page the least time counts.
"""

from __future__ import annotations

import statistics
from collections.abc import Callable, Sequence

from scanform.simulate import Grade
from scanform.training.trial import PageTrial, Plan, trials_in_turn

__all__ = ["ROUNDS", "pace", "pace_plans", "paced"]

ROUNDS = 5


def pace_plans(pages: int, first_seed: int) -> list[Plan]:
    """Office pages to read; about half of them have defect words and are left out by :func:`paced`."""
    return [Plan(Grade.OFFICE, first_seed + n, "test" if n % 2 else None) for n in range(pages)]


def pace(pages: int, first_seed: int) -> str:
    """The pace of that many office pages, in words; to be called while nothing else runs."""
    return paced(trials_in_turn(pace_plans(pages, first_seed), ROUNDS))


def paced(trials: Sequence[PageTrial]) -> str:
    """Median processor time a page over median bare decode, with the names and without, of pages read one by one."""
    plain = [t for t in trials if t.located and not any(f.kind == "words" and f.truth for f in t.fields)]
    if not plain:
        return "Pace: not measured, no page without defect words."
    decode = _median(plain, lambda page: page.decode_s)
    whole = _median(plain, _whole_s)
    nameless = _median(plain, lambda page: _whole_s(page) - page.text_s)
    return (
        f"Pace: processor time of {len(plain)} office pages without defect words, read one after another by one "
        f"process with one thread while no other ran, the least of {ROUNDS} times each; medians. Bare decode "
        f"{decode * 1e3:.1f} ms; a page {whole * 1e3:.1f} ms = {whole / decode:.2f} x decode; without its names, which "
        f"are lines of text, {nameless * 1e3:.1f} ms = {nameless / decode:.2f} x decode."
    )


def _whole_s(page: PageTrial) -> float:
    return page.decode_s + page.locate_s + page.read_s + page.settle_s


def _median(pages: Sequence[PageTrial], seconds: Callable[[PageTrial], float]) -> float:
    return statistics.median(seconds(page) for page in pages)
