"""How long settling takes: from the pace of people's decisions, assumed until there are any."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from scanform.binder import Decision
from scanform.report.pace import ASSUMED_SECONDS, pace_of
from scanform.settle import State

START = datetime(2026, 7, 1, 8, 0, tzinfo=UTC)


def decisions(initials: str, gaps: list[float]) -> list[Decision]:
    at, made = START, []
    for n, gap in enumerate([0.0, *gaps]):
        at += timedelta(seconds=gap)
        made.append(
            Decision(n, f"{n}.hours", at, initials, "1.0", State.DOUBTFUL, "1.0", State.CONFIRMED, undone_by=None)
        )
    return made


def test_without_decisions_the_pace_is_an_assumption_that_is_stated() -> None:
    pace = pace_of([])
    assert (pace.seconds, pace.measured_on) == (ASSUMED_SECONDS, 0)
    assert pace.words(450) == "about 1 h 00 min (assuming 8 s a doubt)"


def test_the_pace_is_that_of_the_people_who_settle() -> None:
    pace = pace_of(decisions("AB", [4.0] * 30))
    assert (pace.seconds, pace.measured_on) == (4.0, 30)
    assert pace.words(30) == "about 2 min (at the 4 s a doubt of the last decisions)"


def test_a_coffee_break_is_no_work() -> None:
    assert pace_of(decisions("AB", [4.0, 900.0] * 20)).seconds == 4.0


def test_two_people_at_once_are_not_taken_for_one_who_is_twice_as_quick() -> None:
    both = sorted([*decisions("AB", [6.0] * 20), *decisions("CD", [6.0] * 20)], key=lambda d: d.at)
    assert pace_of(both).seconds == 6.0
