"""A record of many years, made in minutes: for measuring how fast looking things up is when it is large.

    python -m scanform.training.large_record --out FOLDER --sheets 100000

Nothing in it was read from paper. Every row, journal entry and hash is what the binder itself would have written, so
that it verifies, but they are put in by the thousand, and all sheets of a template share one picture. Old doubts are
settled, those of the newest sheets are open. Its figures are never to be shown as anything that was read.
"""

from __future__ import annotations

import argparse
import datetime as dt
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import rfc8785

from scanform.binder import Binder, PageRecord, journal, open_binder
from scanform.binder.store import open_store, writing
from scanform.binder.waiting import fill_waiting
from scanform.form import serial_number
from scanform.settle.types import Outcome, State
from scanform.simulate import CREW
from scanform.training.large_record_rows import Rows, confirm, insert_rows, read_field, record_page
from scanform.training.large_record_sheets import FLEET, SampleForm, archived_blank, sample_forms, sheet_values

__all__ = ["write_large_record"]

SEED = 710_000
NEWEST_DAY = dt.date(2026, 11, 20)
SHEETS_A_PAD = 5
_SHARE_NOT_BACK = 0.01  # sheets that never came back
_SHARE_BLANK_BACKS, _SHARE_UNREADABLE = 0.03, 0.004  # of pages, beside the sheets
_SHARE_SPOT_CHECKED = 0.01
_INK_BYTES = 2000  # about what a sheet's ink signature takes
_WHO = ("AB", "KL")


def write_large_record(folder: Path, sheets: int, open_sheets: int = 2000, seed: int = SEED) -> None:
    """Make a binder with that many sheets, week by week up to NEWEST_DAY; the doubts of the last ones stay open.

    BinderError if ``folder`` is one already or cannot become one.
    """
    rng = np.random.default_rng(seed)
    with open_binder(folder, create=True) as binder:
        engine = open_store(folder, create=False)
        _register(binder, folder)
        forms = sample_forms(binder, rng)
        blank = archived_blank(binder)
        made = 0
        meters = {unit: 500.0 + 40.0 * n for n, (unit, _) in enumerate(FLEET)}
        weeks = -(-sheets // (len(FLEET) * SHEETS_A_PAD))
        monday = NEWEST_DAY - dt.timedelta(days=NEWEST_DAY.weekday(), weeks=weeks - 1)
        page_id, batch_id = 0, 0
        while made < sheets:
            batch_id += 1
            with writing(engine, folder) as connection:
                added = Rows(journal.head(connection))
                week = _week(monday, forms, meters, rng)
                kept = [sheet for sheet in week if rng.random() >= _SHARE_NOT_BACK][: sheets - made]
                settled = made + len(kept) <= sheets - open_sheets
                page_id = _batch(added, batch_id, page_id, monday, kept, blank, settled, rng)
                insert_rows(connection, added)
            made += len(kept)
            monday += dt.timedelta(weeks=1)
        with writing(engine, folder) as connection:
            fill_waiting(connection)
        engine.dispose()


@dataclass(frozen=True)
class _Sheet:
    form: SampleForm
    unit: str
    date: dt.date
    serial: str
    values: dict[str, tuple[str | bool | None, bool]]  # by field id: what was read, and whether it is doubtful


def _register(binder: Binder, folder: Path) -> None:
    for name, lines in (
        ("units", ["unit,kind", *(f"{unit},{template}" for unit, template in FLEET)]),
        ("crew", ["name", *CREW]),
    ):
        path = folder / f".{name}.csv"
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        (binder.load_units if name == "units" else binder.load_crew)(path)
        path.unlink()


def _week(
    monday: dt.date, forms: dict[str, SampleForm], meters: dict[str, float], rng: np.random.Generator
) -> Iterator[_Sheet]:
    """The sheets of all units, Monday to Friday, each unit's from a pad of its own."""
    pads = ["".join(rng.choice(list("0123456789ABCDEFGHJKMNPQRSTVWXYZ"), 6)) for _ in FLEET]
    for day in range(SHEETS_A_PAD):
        on = monday + dt.timedelta(days=day)
        for (unit, template), pad in zip(FLEET, pads, strict=True):
            meters[unit] = (meters[unit] + rng.uniform(4, 10)) % 99_000
            form = forms[template]
            values = sheet_values(form, unit, on, meters[unit], rng)
            yield _Sheet(form, unit, on, serial_number(pad, day + 1, SHEETS_A_PAD), values)


def _batch(
    added: Rows,
    batch_id: int,
    page_id: int,
    monday: dt.date,
    sheets: list[_Sheet],
    blank: tuple[str, str],
    settled: bool,
    rng: np.random.Generator,
) -> int:
    """Record a week as one stack of Friday afternoon; returns the last page's number."""
    clock = _clock(dt.datetime.combine(monday + dt.timedelta(days=4), dt.time(15), dt.UTC))
    sources = [f"friday-{monday.isoformat()}.pdf"]
    begun = next(clock)
    added.note("batch-begun", rfc8785.dumps({"batch": batch_id, "sources": sources}), begun)
    numbers, balance = [], dict.fromkeys((o.value for o in Outcome), 0)
    told: list[tuple[int, str, str, Any, State, dict[str, Any]]] = []
    for sheet in sheets:
        page_id += 1
        numbers.append(page_id)
        balance[Outcome.READ.value] += 1
        told += _record_sheet(added, batch_id, page_id, sheet, settled, next(clock), rng)
        for share, outcome, sha256 in (
            (_SHARE_BLANK_BACKS, Outcome.BLANK, blank[0]),
            (_SHARE_UNREADABLE, Outcome.UNREADABLE, blank[1]),
        ):
            if rng.random() < share:
                page_id += 1
                numbers.append(page_id)
                balance[outcome.value] += 1
                record_page(added, _other(batch_id, page_id, outcome, sha256), page_id, (), [], next(clock))
    ended = next(clock)
    end: dict[str, Any] = {
        "batch": batch_id,
        "pages_in": len(numbers),
        "more_sheets": 0,
        "pages": numbers,
        "balance": balance,
    }
    added.note("batch-ended", rfc8785.dumps(end), ended)
    row = {"id": batch_id, "begun_at": begun, "sources": sources, "ended_at": ended} | end
    del row["batch"]
    added.rows["batch"] = [row]
    for number, field_id, kind, value, state, filed in told:
        confirm(added, number, field_id, kind, value, state, filed, next(clock), str(rng.choice(_WHO)))
    return page_id


def _record_sheet(
    added: Rows, batch_id: int, page_id: int, sheet: _Sheet, settled: bool, at: str, rng: np.random.Generator
) -> list[tuple[int, str, str, Any, State, dict[str, Any]]]:
    """Record a sheet; returns what people will have said about it: its doubts and spot checks, if it is settled."""
    form = sheet.form
    record = PageRecord(
        source=f"friday-{batch_id}.pdf",
        source_path=f"/scans/{batch_id}/{page_id}.jpg",
        page_number=1,
        sha256=form.sha256,
        outcome=Outcome.READ,
        template=form.layout.template.name,
        version=form.layout.template.version,
        serial=sheet.serial,
        unit=sheet.unit,
        date=sheet.date,
        width_px=form.width_px,
        height_px=form.height_px,
        residual_mm=0.04,
        ink_signature=rng.bytes(_INK_BYTES),
        batch_id=batch_id,
    )
    drawn = rng.random(len(form.layout.fields)) < _SHARE_SPOT_CHECKED
    checks, fragments, told = [], [], []
    filed = {"unit": sheet.unit, "date": sheet.date.isoformat()}
    for spec, checked in zip(form.layout.fields, drawn, strict=True):
        value, doubtful = sheet.values[spec.id]
        row, fragment = read_field(form, spec.id, value, doubtful)
        fragments.append(fragment)
        checked = checked and not doubtful
        if checked:
            checks.append(spec.id)
        state = State.DOUBTFUL if doubtful else State.ACCEPTED
        if settled and (doubtful or checked):
            told.append((page_id, spec.id, spec.kind.value, value, state, filed))
            state = State.CONFIRMED
        added.fields.append((page_id, *row[:5], state.value, *row[6:]))
    record_page(added, record, page_id, fragments, checks, at)
    return told


def _other(batch_id: int, page_id: int, outcome: Outcome, sha256: str) -> PageRecord:
    reason = "There is nothing on this page." if outcome is Outcome.BLANK else "The page is cut off; scan it again."
    return PageRecord(
        f"friday-{batch_id}.pdf", f"/scans/{batch_id}/{page_id}.jpg", 1, sha256, outcome, reason, batch_id=batch_id
    )


def _clock(start: dt.datetime) -> Iterator[str]:
    """Moments a tenth of a second apart, as the journal writes them."""
    while True:
        yield start.isoformat(timespec="microseconds")
        start += dt.timedelta(seconds=0.1)


def main() -> None:
    """Make a large record from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True, help="folder of the new binder")
    parser.add_argument("--sheets", type=int, default=100_000)
    parser.add_argument("--open-sheets", type=int, default=2000, help="newest sheets whose doubts stay open")
    options = parser.parse_args()
    begun = time.monotonic()
    write_large_record(options.out, options.sheets, options.open_sheets)
    print(f"{options.sheets:,} sheets in {options.out}, {time.monotonic() - begun:.0f} s")


if __name__ == "__main__":
    main()
