"""What the reader makes of the fields of a year's sheets: simulated pages filled with its complaints, and really read.

    python -m scanform.training.year_readings --pages 240

Writes ``year_readings.csv`` beside this file: a row for each way in which a field was read and settled, with what it
truly says and how often. The year on record (``year_record.py``) draws what it is said to have read from these rows. To
be made anew after a change of what reads or settles.
"""

from __future__ import annotations

import argparse
import csv
from collections import Counter
from collections.abc import Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np

from scanform.form import Layout, parted
from scanform.intake import Page
from scanform.locate import LocatedSheet, locate
from scanform.read import read_sheet
from scanform.settle import Known, UnitRecord
from scanform.simulate import CREW, Grade, SheetTruth, fill, random_day, random_truth, random_unit, random_writer, scan
from scanform.training.trial import blank_sheets, field_trials, setting

__all__ = ["READINGS", "SAME", "ReadAs", "complaints", "kind_of_field", "readings"]

SEED = 730_000
READINGS = Path(__file__).with_name("year_readings.csv")
_COMPLAINTS = Path(__file__).with_name("year_complaints.csv")
SAME = "same as yesterday"
# An office with a sheet-fed scanner, now and then a dirty sheet or a photo; chosen, no outside source.
_GRADES = {Grade.OFFICE: 0.75, Grade.BITONAL: 0.12, Grade.WORN: 0.08, Grade.PHONE: 0.05}
_SHARE_REPAIRED = 0.3  # of lines, so that the workshop's block is read often enough
_LINES = 5


@dataclass(frozen=True)
class ReadAs:
    """How a field was read: ``truth`` and ``read`` as stored ("" for nothing), whether it was doubted, how often."""

    truth: str
    read: str
    doubtful: bool
    count: int


@lru_cache(maxsize=1)
def complaints() -> Mapping[str, tuple[tuple[str, ...], ...]]:
    """By item name, its defects; each in the words that several writers use for it."""
    found: dict[str, list[tuple[str, ...]]] = {}
    with _COMPLAINTS.open(encoding="utf-8", newline="") as file:
        for item, *words in list(csv.reader(file))[1:]:
            found.setdefault(item, []).append(tuple(words))
    return {item: tuple(defects) for item, defects in found.items()}


def kind_of_field(field_id: str) -> str:
    """What fields are read alike: all answers, all lines' words, all their numbers, and so on."""
    stem = parted(field_id)[0]
    if stem.startswith("item."):
        return "answer"
    if stem.startswith("defect."):
        return "defect" + "".join(f".{part}" for part in stem.split(".")[2:])
    return stem


@lru_cache(maxsize=1)
def readings() -> Mapping[str, tuple[ReadAs, ...]]:
    """The rows of ``year_readings.csv`` by kind of field."""
    found: dict[str, list[ReadAs]] = {}
    with READINGS.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            read = ReadAs(row["truth"], row["read"], row["state"] == "doubtful", int(row["count"]))
            found.setdefault(row["field"], []).append(read)
    return {kind: tuple(rows) for kind, rows in found.items()}


def read_pages(pages: int, workers: int) -> Counter[tuple[str, str, str, str]]:
    """How often each (field, truth, read, state) came up on so many pages."""
    counted: Counter[tuple[str, str, str, str]] = Counter()
    with ProcessPoolExecutor(workers) as pool:
        for rows in pool.map(_read, range(SEED, SEED + pages), chunksize=4):
            counted.update(rows)
    return counted


def _read(seed: int) -> list[tuple[str, str, str, str]]:
    cv2.setNumThreads(1)
    rng = np.random.default_rng(seed)
    known_layouts, instruments = setting()
    sheets = blank_sheets("day")
    layout, blank = sheets[seed % len(sheets)]
    units = [random_unit(6, rng) for _ in range(40)]
    day = random_day(rng)
    truth = _with_complaints(random_truth(layout, rng, units[:1], CREW, day), layout, rng)
    page, truth = fill(layout, blank, truth, random_writer(rng), rng)
    grade = list(_GRADES)[int(rng.choice(len(_GRADES), p=list(_GRADES.values())))]
    scanned = scan(page, grade, rng)
    located = locate(Page("year", 1, "", scanned.pixels), known_layouts)
    if not isinstance(located, LocatedSheet):
        return []
    week = tuple(day + timedelta(days=n) for n in range(-3, 4))
    known = Known(units=tuple(UnitRecord(unit) for unit in units), crew=CREW, today=day + timedelta(days=5), days=week)
    trials = field_trials(located, read_sheet(located, instruments), known, truth)
    return [
        (
            *(kind_of_field(trial.id), _stored(trial.truth)),
            # Words are given as they were meant where they differ in nothing that counts.
            *(_stored(trial.truth if trial.right else trial.value), "accepted" if trial.accepted else "doubtful"),
        )
        for trial in trials
    ]


def _with_complaints(truth: SheetTruth, layout: Layout, rng: np.random.Generator) -> SheetTruth:
    """The sheet with every defect line filled from the list of complaints, some of them repaired and signed for."""
    values = dict(truth.values)
    for name in values:
        if name.startswith("item.") and values[name] == "defect":
            values[name] = "ok"
    numbers = {item.name: item.number for item in layout.template.items}
    items = [str(name) for name in rng.permutation([item for item in complaints() if item in numbers])]
    signed = False
    for line, item in enumerate(items[:_LINES], start=1):
        defects = complaints()[item]
        words = [*defects[int(rng.integers(len(defects)))], SAME]
        values[f"item.{item}"] = "defect"
        values[f"defect.{line}.item"] = str(numbers[item])
        values[f"defect.{line}"] = words[int(rng.choice(len(words), p=(0.29, 0.29, 0.29, 0.13)))]
        repaired = bool(rng.random() < _SHARE_REPAIRED)
        signed = signed or repaired
        values[f"defect.{line}.repair"] = ("repaired" if rng.random() < 0.8 else "not-needed") if repaired else None
    if signed:
        values |= {"workshop.date": values["date"], "workshop.signature": True}
    return replace(truth, values=values)


def _stored(value: str | bool | None) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return (value or "").casefold()


def _rows(counted: Counter[tuple[str, str, str, str]]) -> Iterator[tuple[str, str, str, str, int]]:
    for (field, truth, read, state), count in sorted(counted.items()):
        yield field, truth, read, state, count


def main() -> None:
    """Read pages from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pages", type=int, default=240)
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    counted = read_pages(options.pages, options.workers)
    with READINGS.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("field", "truth", "read", "state", "count"))
        writer.writerows(_rows(counted))
    print(f"{sum(counted.values()):,} fields of {options.pages} pages, {len(counted):,} ways of reading: {READINGS}")


if __name__ == "__main__":
    main()
