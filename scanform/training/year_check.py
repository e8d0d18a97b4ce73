"""Hold the lists to a year whose truth is known: first on fields as they were read, then on confirmed ones.

    python -m scanform.training.year_check --out FOLDER --units 40 --weeks 52

Makes both records in FOLDER (kept, for measuring times on) and prints a table in Markdown. Lists keep what they state
apart from what waits for a person to look at a doubt; so does this. Precision is the share that is true of what is
stated. Recall is the share of what is true that is stated, or that is plainly named as waiting: a defect by every entry
of the register that has one of its reports, a day in use with it by any such entry about its item, another day or a
reading by its own row. How much waits, and how much of that is true, stands beside it.
"""

from __future__ import annotations

import argparse
import datetime as dt
import time
from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

from scanform.binder import Binder, open_binder
from scanform.report import Defect, coverage, defect_register, meter_readings
from scanform.report.defects import DefectEntry
from scanform.report.frames import rows
from scanform.report.sheet_days import counted_sheets
from scanform.report.unit_days import NO_SHEET, NOT_IN_USE
from scanform.training.year import FIRST_DAY, Year, made_year
from scanform.training.year_defects import Episode
from scanform.training.year_record import Settling, confirm_all, leave_as_read, write_year

__all__ = ["SEED", "Score", "scores"]

SEED = 740_000


@dataclass(frozen=True)
class Score:
    """How many of a kind are true; how many a list states and how many of these are true; how many it names as waiting
    and how many of these are true; and how many of the true ones are stated or waiting.
    """

    true: int
    named: int
    right: int
    waiting: int
    waiting_right: int
    found: int

    @property
    def exact(self) -> bool:
        """Whether the list states all of them and nothing else, and nothing waits."""
        return self.true == self.named == self.right and not self.waiting

    @property
    def precision(self) -> float:
        """Of what is stated, the share that is true."""
        return self.right / self.named if self.named else 1.0

    @property
    def recall(self) -> float:
        """Of what is true, the share that is stated or waits."""
        return self.found / self.true if self.true else 1.0


def scores(binder: Binder, year: Year) -> dict[str, Score]:
    """Each list against the truth, by what it lists. ``year``: as ``write_year`` left it."""
    return {**_defects(defect_register(binder), year), **_days(binder, year), **_meters(binder, year)}


def _score(
    true: Iterable[Hashable],
    stated: Iterable[Hashable],
    waiting: Iterable[Hashable] = (),
    found: Iterable[Hashable] | None = None,
) -> Score:
    """``found``: what of the truth is stated or waits, where that is not simply what both name."""
    truth, said = set(true), set(stated)
    doubted = set(waiting) - said
    named = said | doubted if found is None else (truth & said) | set(found)
    return Score(len(truth), len(said), len(truth & said), len(doubted), len(truth & doubted), len(truth & named))


# Defects


Report = tuple[int, str, int]  # sheet, item, which of the sheet's lines about it


def _defects(register: list[Defect], year: Year) -> dict[str, Score]:
    by_name, of_episode = _reports(year)
    told = [_told(defect, by_name) for defect in register]
    episodes = {frozenset(reports): e for e, reports in of_episode.items()}
    true_whole = {key: (e.closed_on, e.times) for key, e in episodes.items()}
    # What the register has of a report waits where the entry does that holds it.
    waits = {report: bool(defect.waits) for defect, reports in zip(register, told, strict=True) for report in reports}
    sure, unsure = ([n for n, d in enumerate(register) if bool(d.waits) is w] for w in (False, True))

    def whole(numbers: list[int]) -> dict[frozenset[Report], tuple[dt.date | None, int]]:
        return {frozenset(told[n]): (_closed_on(register[n]), register[n].times) for n in numbers}

    def pairs(groups: Iterable[Iterable[Report]]) -> Iterator[tuple[Report, ...]]:
        return (pair for reports in groups for pair in combinations(sorted(set(reports)), 2))

    def used(days: Sequence[tuple[dt.date, ...]]) -> list[tuple[Report, dt.date]]:
        return [(min(told[n], default=(0, "", 0)), day) for n, some in enumerate(days) for day in some]

    days_of: dict[Report, set[dt.date]] = defaultdict(set)
    for defect, reports in zip(register, told, strict=True):
        for report in reports:
            if defect.item == f"item.{report[1]}":
                days_of[report].update((*defect.used_on, *defect.perhaps_used_on))

    def named_by_any(wanted: Iterable[tuple[Report, dt.date]]) -> Iterator[tuple[Report, dt.date]]:
        """Days that any entry about the item names that has a report of the defect, whichever came first in it."""
        by_first = {min(reports): reports for reports in of_episode.values()}
        for first, day in wanted:
            if any(day in days_of[report] for report in by_first[first]):
                yield first, day

    in_use = _true_use(year, of_episode)
    all_wait = {key for key in true_whole if all(waits.get(report, False) for report in key)}
    closed, again = _closed(true_whole), {min(key) for key, e in episodes.items() if e.before is not None}
    return {
        "reports of defects": _score(
            (report for key in true_whole for report in key),
            (report for n in sure for report in told[n]),
            (report for n in unsure for report in told[n]),
        ),
        "pairs of reports of one defect": _score(
            pairs(true_whole),
            pairs(told[n] for n in sure),
            pairs(told[n] for n in unsure),
            (pair for pair in pairs(true_whole) if all(waits.get(report, False) for report in pair)),
        ),
        "defects whole: all reports, closing, how often before": _score(
            true_whole.items(),
            whole(sure).items(),
            whole(unsure).items(),
            (item for item in true_whole.items() if item[0] in all_wait),
        ),
        "closings": _score(
            closed, _closed(whole(sure)), _closed(whole(unsure)), (c for c in closed if waits.get(c[0], False))
        ),
        "recurrences": _score(
            again, _again(whole(sure)), _again(whole(unsure)), (report for report in again if waits.get(report, False))
        ),
        "days in use with an open safety defect": _score(
            in_use,
            used([defect.used_on for defect in register]),
            used([defect.perhaps_used_on for defect in register]),
            named_by_any(in_use),
        ),
    }


def _closed_on(defect: Defect) -> dt.date | None:
    return defect.closed.on if defect.closed else None


def _closed(whole: Mapping[frozenset[Report], tuple[dt.date | None, int]]) -> set[tuple[Report, dt.date]]:
    """Each closing with the last report that it closed."""
    return {(max(key), on) for key, (on, _) in whole.items() if on is not None and key}


def _again(whole: Mapping[frozenset[Report], tuple[dt.date | None, int]]) -> set[Report]:
    """The first reports of defects that had been closed before."""
    return {min(key) for key, (_, times) in whole.items() if times and key}


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
    return [by_name.get(name := _name(entry, by_name), (entry.sheet, name, 0)) for entry in defect.reports]


def _name(entry: DefectEntry, by_name: Mapping[str, Report]) -> str:
    """A tick that also has an item's number on a line is the same report by either."""
    ref = entry.ref.rpartition(".")[0] if _of_a_day(entry.ref) else entry.ref
    return ref if ref in by_name or entry.words or entry.may_be_dirt else f"{entry.sheet}.{entry.item}"


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
    found = coverage(binder, FIRST_DAY, year.last, today=year.last).days
    waiting = {(day.unit, day.day) for day in found if day.waits}

    def score(true: set[tuple[str, dt.date]], status: str) -> Score:
        of_status = {(day.unit, day.day) for day in found if day.status == status}
        return _score(true, of_status - waiting, of_status & waiting, true & (waiting | of_status))

    return {"days without a sheet": score(year.missing, NO_SHEET), "days not in use": score(year.idle, NOT_IN_USE)}


def _meters(binder: Binder, year: Year) -> dict[str, Score]:
    readings = meter_readings(binder, counted_sheets(binder))
    told = [(row.unit, dt.date.fromisoformat(row.date), row.believed, row.waits) for row in rows(readings) if row.why]

    def score(true: set[tuple[str, dt.date]], believed: bool) -> Score:
        mine = [((unit, day), waits) for unit, day, good, waits in told if bool(good) is believed]
        return _score(true, (at for at, waits in mine if not waits), (at for at, waits in mine if waits))

    return {
        "meter readings that cannot be": score(year.faults, believed=False),
        "new meters": score(year.new_meters, believed=True),
    }


def table(as_read: Mapping[str, Score], confirmed: Mapping[str, Score]) -> str:
    """Both in Markdown."""
    lines = [
        "| | true | confirmed: stated, true, waiting | as read: stated, true | precision | waiting, true | recall |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for name, told in as_read.items():
        sure = confirmed[name]
        lines.append(
            f"| {name} | {sure.true:,} | {sure.named:,}, {sure.right:,}, {sure.waiting:,} | "
            f"{told.named:,}, {told.right:,} | {told.precision:.1%} | {told.waiting:,}, {told.waiting_right:,} | "
            f"{told.recall:.1%} |"
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
