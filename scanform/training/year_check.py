"""Hold the lists to a year whose truth is known: first on fields as they were read, then on confirmed ones.

    python -m scanform.training.year_check --out FOLDER --units 40 --weeks 52

Makes both records in FOLDER (kept, for measuring times on) and prints a table in Markdown: of each list what it names,
how much of that is true (precision) and how much of what is true it names (recall).
"""

from __future__ import annotations

import argparse
import datetime as dt
import time
from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

from scanform.binder import Binder, open_binder
from scanform.report import Defect, coverage, defect_register, meter_readings
from scanform.report.coverage import NO_SHEET, NOT_IN_USE
from scanform.report.sheet_days import counted_sheets
from scanform.training.year import FIRST_DAY, Year, made_year
from scanform.training.year_defects import Episode
from scanform.training.year_record import Settling, confirm_all, leave_as_read, write_year

__all__ = ["SEED", "Score", "scores"]

SEED = 740_000


@dataclass(frozen=True)
class Score:
    """How many of a kind are true, how many a list names, and how many of these are true."""

    true: int
    named: int
    right: int

    @property
    def exact(self) -> bool:
        """Whether the list names all of them and nothing else."""
        return self.true == self.named == self.right

    @property
    def precision(self) -> float:
        """Of what is named, the share that is true."""
        return self.right / self.named if self.named else 1.0

    @property
    def recall(self) -> float:
        """Of what is true, the share that is named."""
        return self.right / self.true if self.true else 1.0


def scores(binder: Binder, year: Year) -> dict[str, Score]:
    """Each list against the truth, by what it lists. ``year``: as ``write_year`` left it."""
    return {**_defects(defect_register(binder), year), **_days(binder, year), **_meters(binder, year)}


def _score(true: Iterable[Hashable], named: Iterable[Hashable]) -> Score:
    truth, found = set(true), set(named)
    return Score(len(truth), len(found), len(truth & found))


# Defects


Report = tuple[int, str, int]  # sheet, item, which of the sheet's lines about it


def _defects(register: list[Defect], year: Year) -> dict[str, Score]:
    by_name, of_episode = _reports(year)
    found: dict[int, list[Report]] = {n: _told(defect, by_name) for n, defect in enumerate(register)}
    episodes = {frozenset(reports): e for e, reports in of_episode.items()}
    whole = {
        frozenset(reports): (register[n].closed.on if register[n].closed else None, register[n].times)  # type: ignore[union-attr]
        for n, reports in found.items()
    }
    true_whole = {key: (e.closed_on, e.times) for key, e in episodes.items()}
    again = {key for key, e in episodes.items() if e.before is not None}
    return {
        "reports of defects": _score(
            (r for reports in of_episode.values() for r in reports), (r for reports in found.values() for r in reports)
        ),
        "pairs of reports of one defect": _score(
            (pair for reports in of_episode.values() for pair in combinations(sorted(reports), 2)),
            (pair for reports in found.values() for pair in combinations(sorted(set(reports)), 2)),
        ),
        "defects whole: all reports, closing, how often before": _score(true_whole.items(), whole.items()),
        "closings": _score(_closed(true_whole), _closed(whole)),
        "recurrences": _score(
            (min(key) for key in again), (min(key) for key, (_, times) in whole.items() if times and key)
        ),
        "days in use with an open safety defect": _score(
            _true_use(year, of_episode),
            ((min(found[n], default=(0, "", 0)), day) for n, d in enumerate(register) for day in d.used_on),
        ),
    }


def _closed(whole: Mapping[frozenset[Report], tuple[dt.date | None, int]]) -> set[tuple[Report, dt.date]]:
    """Each closing with the last report that it closed."""
    return {(max(key), on) for key, (on, _) in whole.items() if on is not None and key}


def _reports(year: Year) -> tuple[dict[str, Report], dict[Episode, set[Report]]]:
    """True reports by the names that they may have in the record, and by episode."""
    by_name: dict[str, Report] = {}
    of_episode: dict[Episode, set[Report]] = defaultdict(set)
    for episode in year.episodes:
        for place, line, _day, words in episode.reports:
            sheet = year.by_place[place]
            report = (sheet.number, episode.item, line)
            of_episode[episode].add(report)
            by_name[f"{sheet.number}.defect.{line}"] = report
            if not words or sum(other.episode.item == episode.item for other in sheet.lines) == 1:
                by_name[f"{sheet.number}.item.{episode.item}"] = report
    return by_name, of_episode


def _told(defect: Defect, by_name: Mapping[str, Report]) -> list[Report]:
    """The true reports that a defect of the register is made of; what is no report stays as itself."""
    names = [entry.ref.rpartition(".")[0] if _of_a_day(entry.ref) else entry.ref for entry in defect.reports]
    return [by_name.get(name, (int(name.partition(".")[0]), name, 0)) for name in names]


def _of_a_day(ref: str) -> bool:
    """Whether a name ends in a day of a week's sheet: ``12.item.horn.wed``."""
    return ".item." in ref and ref.count(".") == 3


def _true_use(year: Year, of_episode: Mapping[Episode, set[Report]]) -> set[tuple[Report, dt.date]]:
    days: dict[str, list[tuple[dt.date, int, str]]] = defaultdict(list)
    for sheet in year.sheets:
        weekly = sheet.template == "quarry-weekly"
        for place in sheet.hours:
            # A week's sheet says of its last day alone whether the machine is fit.
            fit = sheet.fit if not weekly or place == max(sheet.hours) else ""
            days[sheet.unit].append((sheet.on + dt.timedelta(days=place), sheet.number, fit))
    found = set()
    for episode in year.episodes:
        if episode.critical:
            first, end = episode.reports[0][2], episode.closed_on or dt.date.max
            numbers = {sheet for sheet, _, _ in of_episode[episode]}
            for day, number, fit in days[episode.unit]:
                after = first < day < end and fit != "parked"
                at_once = day == first < end and number in numbers and fit == "fit"
                if after or at_once:
                    found.add((min(of_episode[episode]), day))
    return found


# Days and meters


def _days(binder: Binder, year: Year) -> dict[str, Score]:
    found = coverage(binder, FIRST_DAY, year.last)
    return {
        "days without a sheet": _score(year.missing, ((d.unit, d.day) for d in found.days if d.status == NO_SHEET)),
        "days not in use": _score(year.idle, ((d.unit, d.day) for d in found.days if d.status == NOT_IN_USE)),
    }


def _meters(binder: Binder, year: Year) -> dict[str, Score]:
    readings = meter_readings(binder, counted_sheets(binder))
    day = [dt.date.fromisoformat(date) for date in readings["date"]]
    wrong = [(u, d) for u, d, good in zip(readings["unit"], day, readings["believed"], strict=True) if not good]
    new = [(u, d) for u, d, why in zip(readings["unit"], day, readings["why"], strict=True) if why.startswith("a new")]
    return {"meter readings that cannot be": _score(year.faults, wrong), "new meters": _score(year.new_meters, new)}


def table(as_read: Mapping[str, Score], confirmed: Mapping[str, Score]) -> str:
    """Both in Markdown."""
    lines = [
        "| | true | confirmed: named, of these true | as read: named, of these true | precision | recall |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for name, told in as_read.items():
        sure = confirmed[name]
        lines.append(
            f"| {name} | {sure.true:,} | {sure.named:,}, {sure.right:,} | {told.named:,}, {told.right:,} | "
            f"{told.precision:.1%} | {told.recall:.1%} |"
        )
    return "\n".join(lines)


def main() -> None:
    """Make and check a year from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True, help="a new folder for the two records")
    parser.add_argument("--units", type=int, default=40)
    parser.add_argument("--weeks", type=int, default=52)
    parser.add_argument("--seed", type=int, default=SEED)
    options = parser.parse_args()
    found: dict[str, dict[str, Score]] = {}
    settlings: dict[str, Settling] = {"as-read": leave_as_read, "confirmed": confirm_all}
    for name, settle in settlings.items():
        year = made_year(options.units, options.weeks, options.seed)
        begun = time.monotonic()
        lost = write_year(options.out / name, year, options.seed, settle)
        took = time.monotonic() - begun
        print(f"{name}: {len(year.sheets):,} sheets, {took:.0f} s; {lost} closings found nothing to close", flush=True)
        with open_binder(options.out / name) as binder:
            found[name] = scores(binder, year)
    print(table(found["as-read"], found["confirmed"]))


if __name__ == "__main__":
    main()
