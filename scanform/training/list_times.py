"""How long the lists take on a record, and how much memory: each command in a process of its own, as people run it.

    python -m scanform.training.year_check --out FOLDER
    python -m scanform.training.list_times --binder FOLDER/confirmed --out NEW_FOLDER

Nothing in the record is changed. The start of Python and its libraries is in every figure, and stands in the first row.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import subprocess
import sys
import time
from pathlib import Path

from scanform.binder import open_binder
from scanform.report import last_day

__all__ = ["measure"]

_QUARTER_DAYS = 91


def measure(binder: Path, out: Path) -> list[tuple[str, float, float, float]]:
    """For each list its name, seconds by the clock, seconds of processor time, and most memory in MB."""
    with open_binder(binder) as record:
        until = last_day(record) or dt.date.today()
        unit = next(iter(sorted(known.unit for known in record.units())))
    week = f"{until.isocalendar().year}-W{until.isocalendar().week:02d}"
    quarter = ["--since", str(until - dt.timedelta(days=_QUARTER_DAYS)), "--until", str(until)]
    commands = {
        "the start alone": ["--help"],
        "defects": ["defects", "--closed"],
        "gaps, four weeks": ["gaps"],
        "gaps, a quarter": ["gaps", *quarter],
        "hours, all units": ["hours"],
        "patterns, four weeks": ["patterns"],
        "letter": ["letter", "--week", week, "--out", str(out / "letter.pdf")],
        "retention": ["retention"],
        "evidence, one unit's quarter": ["evidence", "--unit", unit, *quarter, "--out", str(out / "evidence")],
        "export, CSV": ["export", "--format", "csv", "--out", str(out / "lists")],
    }
    return [
        (name, *_run([*command, *([] if command == ["--help"] else ["--binder", str(binder)])]))
        for name, command in commands.items()
    ]


def _run(arguments: list[str]) -> tuple[float, float, float]:
    begun = time.monotonic()
    process = subprocess.Popen(
        [sys.executable, "-m", "scanform", *arguments],
        stdout=subprocess.DEVNULL,
        env=os.environ | {"COLUMNS": "160"},
    )
    _, status, used = os.wait4(process.pid, 0)
    if status:
        raise RuntimeError(f"scanform {' '.join(arguments)} failed")
    return time.monotonic() - begun, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def main() -> None:
    """Measure from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--binder", type=Path, required=True, help="a record, such as training.year_check makes")
    parser.add_argument("--out", type=Path, required=True, help="a new folder for what the commands write")
    options = parser.parse_args()
    options.out.mkdir(parents=True)
    print("| list | seconds | of processor time | most memory |\n| --- | --- | --- | --- |")
    for name, clock, processor, memory in measure(options.binder, options.out):
        print(f"| {name} | {clock:.1f} | {processor:.1f} | {memory:.0f} MB |", flush=True)


if __name__ == "__main__":
    main()
