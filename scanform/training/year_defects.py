"""The defects of one made-up unit: when they appear, how they are reported, what closes them, which come back."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Sequence
from dataclasses import dataclass, field

from scanform.training.year_pages import SAME, complaints

__all__ = ["Episode", "Line", "UnitDefects"]

_SHARE_NEW = 0.045  # of sheets on which something new is wrong
_SHARE_REPORTED = 0.65  # of sheets on which somebody writes down again what is still wrong
_SHARE_CLOSED_ON_PAPER, _SHARE_CLOSED_BY_COMMAND = 0.14, 0.05  # of the sheets, and of the days, of its life
_SHARE_FORGOTTEN = 0.02  # of reports that are the last, with nothing that ever closed the defect
_SHARE_NOT_NEEDED = 0.1
_MOST_LINES = 4
_SHARE_PARKED = 0.6  # of sheets with a safety defect


@dataclass(eq=False)
class Episode:
    """A defect as it was. ``words``: what different people write for it. ``how``: paper, desk or csv; "" if open.

    ``reports``: (place of the sheet in the order in which sheets were made, number of its line, day, words).
    """

    unit: str
    item: str
    critical: bool
    words: tuple[str, ...]
    before: Episode | None
    reports: list[tuple[int, int, dt.date, str]] = field(default_factory=list)
    closed_on: dt.date | None = None
    repair: str = ""
    how: str = ""

    @property
    def last(self) -> dt.date:
        """The day of its last report."""
        return self.reports[-1][2]

    @property
    def times(self) -> int:
        """How often it had been closed before."""
        return 0 if self.before is None else 1 + self.before.times


@dataclass(frozen=True)
class Line:
    """What a sheet says of an episode; ``words`` "" where its item is ticked alone. ``day``: of a week's sheet."""

    episode: Episode
    words: str
    repair: str | None = None
    day: int = 0


class UnitDefects:
    """What is wrong with one unit, from day to day. At most one episode of a complaint is alive at a time."""

    def __init__(self, unit: str, items: Sequence[str], critical: frozenset[str]) -> None:
        self.episodes: list[Episode] = []
        self._unit, self._critical = unit, critical
        self._kinds = [(item, words) for item in items for words in complaints().get(item, ())]
        self._last: dict[tuple[str, ...], Episode] = {}
        self._forgotten: set[Episode] = set()

    def report(self, on: dt.date, sheet: int, chance: random.Random) -> tuple[list[Line], str]:
        """The lines of a day's sheet, and whether it says fit or parked."""
        lines: list[Line] = []
        for episode in self._alive():
            if len(lines) < _MOST_LINES and chance.random() < _SHARE_REPORTED:
                lines.append(self._again(episode, on, chance))
        fresh = self._new(on, chance) if len(lines) < _MOST_LINES and chance.random() < _SHARE_NEW else None
        if fresh is not None and any(line.episode.item == fresh.item for line in lines):
            self._drop(fresh)  # a tick and a line on one item are taken for one
        elif fresh is not None:
            lines.append(Line(fresh, chance.choice(fresh.words)))
        self._noted(lines, on, sheet)
        danger = any(line.episode.critical for line in lines)
        return lines, "parked" if danger and chance.random() < _SHARE_PARKED else "fit"

    def report_week(
        self, monday: dt.date, days: Sequence[int], sheet: int, chance: random.Random
    ) -> tuple[list[Line], str]:
        """The lines of a week's sheet: each defect once, with the day on which it was found."""
        found = [episode for episode in self._alive() if chance.random() < _SHARE_REPORTED]
        fresh = self._new(monday, chance) if chance.random() < 4 * _SHARE_NEW else None
        lines = [
            Line(episode, chance.choice(episode.words), None, chance.choice(days))
            for episode in [*found, *([fresh] if fresh else [])][: _MOST_LINES - 1]
        ]
        if fresh is not None and all(line.episode is not fresh for line in lines):
            self._drop(fresh)
        for line in lines:
            self._noted([line], monday + dt.timedelta(days=line.day), sheet, lines.index(line) + 1)
        self._by_command(monday + dt.timedelta(days=6), chance, 5 * _SHARE_CLOSED_BY_COMMAND)
        return lines, "fit"

    def end_of_day(self, on: dt.date, chance: random.Random) -> None:
        """The workshop closes something by what it says at the desk or in its list."""
        self._by_command(on, chance, _SHARE_CLOSED_BY_COMMAND)

    def _alive(self) -> list[Episode]:
        return [e for e in self._last.values() if e.closed_on is None and e not in self._forgotten]

    def _again(self, episode: Episode, on: dt.date, chance: random.Random) -> Line:
        """One more report. Where another complaint about the item is open, or was until that day, words are needed."""
        others = any(
            other.item == episode.item and (other.closed_on is None or other.closed_on >= on)
            for other in self._last.values()
            if other is not episode
        )
        plain = chance.choice(episode.words)
        words = plain if others else chance.choice((plain, plain, plain.upper(), SAME, ""))
        repaired = bool(words) and chance.random() < _SHARE_CLOSED_ON_PAPER
        if repaired:
            repair = "not-needed" if chance.random() < _SHARE_NOT_NEEDED else "repaired"
            episode.closed_on, episode.repair, episode.how = on, repair, "paper"
            return Line(episode, words, repair)
        if chance.random() < _SHARE_FORGOTTEN:
            self._forgotten.add(episode)
        return Line(episode, words)

    def _new(self, on: dt.date, chance: random.Random) -> Episode | None:
        item, words = chance.choice(self._kinds)
        before = self._last.get(words)
        # What was closed by command comes back in a later week at the earliest: lists are filled in on Sundays.
        free_from = dt.date.min
        if before is not None:
            if before.closed_on is None:
                return None
            days = 1 if before.how == "paper" else 7 - before.closed_on.weekday()
            free_from = before.closed_on + dt.timedelta(days=days)
        if on < free_from:
            return None
        fresh = Episode(self._unit, item, item in self._critical, words, before)
        self._last[words] = fresh
        self.episodes.append(fresh)
        return fresh

    def _drop(self, fresh: Episode) -> None:
        self.episodes.remove(fresh)
        del self._last[fresh.words]
        if fresh.before is not None:
            self._last[fresh.words] = fresh.before

    def _noted(self, lines: Sequence[Line], on: dt.date, sheet: int, number: int | None = None) -> None:
        for place, line in enumerate(lines, start=1):
            line.episode.reports.append((sheet, number or place, on, line.words))

    def _by_command(self, on: dt.date, chance: random.Random, share: float) -> None:
        for episode in self._alive():
            if chance.random() < share:
                episode.closed_on, episode.repair = on, "repaired"
                episode.how = chance.choice(("desk", "csv"))
