"""What the reader makes of the fields of a year's sheets: simulated pages filled with its complaints, and really read.

    python -m scanform.training.year_readings --pages 1200

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
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from scanform.training.year_pages import read_page

__all__ = ["READINGS", "ReadAs", "readings"]

SEED = 730_000
READINGS = Path(__file__).with_name("year_readings.csv")


@dataclass(frozen=True)
class ReadAs:
    """How a field was read: ``truth`` and ``read`` as stored ("" for nothing), whether it was doubted, how often."""

    truth: str
    read: str
    doubtful: bool
    count: int


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
        for rows in pool.map(read_page, range(SEED, SEED + pages), chunksize=4):
            counted.update(rows)
    return counted


def _rows(counted: Counter[tuple[str, str, str, str]]) -> Iterator[tuple[str, str, str, str, int]]:
    for (field, truth, read, state), count in sorted(counted.items()):
        yield field, truth, read, state, count


def _write(counted: Counter[tuple[str, str, str, str]]) -> None:
    with READINGS.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("field", "truth", "read", "state", "count"))
        writer.writerows(_rows(counted))


def main() -> None:
    """Read pages from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pages", type=int, default=1_200)
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    counted = read_pages(options.pages, options.workers)
    _write(counted)
    print(f"{sum(counted.values()):,} fields of {options.pages} pages, {len(counted):,} ways of reading: {READINGS}")


if __name__ == "__main__":
    main()
