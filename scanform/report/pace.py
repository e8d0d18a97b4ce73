"""How long what waits will take a person, by the pace at which people have settled doubts on this record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from scanform.binder import Binder, Decision

__all__ = ["Pace", "pace_of", "settling_pace"]

ASSUMED_SECONDS = 8.0  # a doubt, until somebody has settled some here: one look and one key, or a number typed
_FEWEST = 20  # decisions one after the other from which a pace is measured
_NEWEST = 500
_BREAK_SECONDS = 120.0  # longer between two decisions is a break, and no work


@dataclass(frozen=True)
class Pace:
    """``seconds`` a doubt takes. ``measured_on``: how many decisions it was measured on; 0 if it is assumed."""

    seconds: float
    measured_on: int

    def words(self, doubts: int) -> str:
        """How long so many doubts will take, and by what: ``"about 25 min (assuming 8 s a doubt)"``."""
        how = f"at the {self.seconds:.0f} s a doubt of the last decisions" if self.measured_on else (
            f"assuming {self.seconds:.0f} s a doubt"
        )  # fmt: skip
        return f"about {_long(doubts * self.seconds)} ({how})"


def settling_pace(binder: Binder) -> Pace:
    """The pace on a record, from its journal."""
    return pace_of(binder.newest_decisions(_NEWEST))


def pace_of(decisions: Sequence[Decision]) -> Pace:
    """The middle time between two decisions that one person made one after the other, breaks left out."""
    gaps: list[float] = []
    for who in {decision.initials for decision in decisions}:
        mine = [decision.at for decision in decisions if decision.initials == who]
        between = [(later - earlier).total_seconds() for earlier, later in pairwise(mine)]
        gaps += [gap for gap in between if 0 < gap <= _BREAK_SECONDS]
    return Pace(median(gaps), len(gaps)) if len(gaps) >= _FEWEST else Pace(ASSUMED_SECONDS, 0)


def _long(seconds: float) -> str:
    minutes = round(seconds / 60)
    if minutes < 1:
        return "a minute" if seconds else "no time"
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d} min"
