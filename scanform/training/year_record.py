"""A made year on record: as the reader would have read it, week by week, with the workshop's lists in between.

No page is scanned: each field is put down with a reading that really came up for such a field on a simulated page
(``year_reader.py``), through the rows and journal entries that the binder itself writes. Closings, the calendar and
what people confirm go the way that they always go.
"""

from __future__ import annotations

import datetime as dt
import random
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from sqlalchemy import Engine

from scanform.binder import Binder, ClosingWish, PageRecord, journal, open_binder
from scanform.binder.store import open_store, writing
from scanform.binder.waiting import note_page_waiting
from scanform.form import DAYS, Paper, find_template, lay_out
from scanform.press import pad_sheets, sheets_pdf
from scanform.report import close_by_name, close_from_csv, defect_register
from scanform.settle.types import Outcome
from scanform.simulate import CREW, render_pdf
from scanform.training.large_record_rows import Rows, insert_rows, read_field, record_page
from scanform.training.large_record_sheets import SampleForm
from scanform.training.year import Year, YearSheet
from scanform.training.year_defects import Episode
from scanform.training.year_reader import AsRead, MeterBooks, Stored, read_sheet_of

__all__ = ["confirm_all", "leave_as_read", "true_values", "write_year"]

_INK_BYTES = 64 * 24
_DPI = 200.0
_WHO = "KL"

# What becomes of a week's sheets before the workshop's list is drawn up.
Settling = Callable[[Binder, Sequence[YearSheet], int], None]


def write_year(folder: Path, year: Year, seed: int, settle: Settling) -> int:
    """Put a year on record in a new binder; gives each sheet its number. Returns how many of the workshop's closings
    found no open defect to close.
    """
    chance, rng = random.Random(seed), np.random.default_rng(seed)
    lost = 0
    with open_binder(folder, create=True) as binder:
        engine = open_store(folder, create=False)
        _register(binder, year, folder)
        forms = _forms(binder, sorted(set(year.units.values())))
        page_id = 0
        closings: dict[dt.date, list[Episode]] = defaultdict(list)
        for episode in year.episodes:
            if episode.closed_on is not None and episode.how != "paper":
                closings[episode.closed_on + dt.timedelta(days=6 - episode.closed_on.weekday())].append(episode)
        units = sorted(year.units)
        for sunday, sheets in year.weeks():
            meters = MeterBooks(binder, units)
            page_id = _record_week(engine, folder, forms, sheets, sunday, page_id, meters, units, chance, rng)
            settle(binder, sheets, page_id)
            lost += _close(binder, year, closings[sunday], folder)
        engine.dispose()
    return lost


def leave_as_read(binder: Binder, sheets: Sequence[YearSheet], _last: int) -> None:
    """Nobody has looked at any doubt."""


def confirm_all(binder: Binder, sheets: Sequence[YearSheet], _last: int) -> None:
    """A person has said of every field what the paper says, unless the machine had it right and was sure."""
    recorded = {page.number: page for page in binder.pages_numbered([sheet.number for sheet in sheets])}
    for sheet in sheets:
        truth = true_values(sheet)
        for field in recorded[sheet.number].record.fields:
            true = truth.get(field.id)
            if field.state == "doubtful" or field.value != true:
                binder.confirm(f"{sheet.number}.{field.id}", true, _WHO)


def true_values(sheet: YearSheet) -> dict[str, Stored]:
    """What every field of a sheet says, as the record keeps it; what is missing is not written."""
    template = _template(sheet.template)
    numbers = {item.name: str(item.number) for item in template.items}
    weekly = template.covers == "week"
    values: dict[str, Stored] = {
        "unit": sheet.unit,
        "date": sheet.on.isoformat(),
        "operator": CREW[sum(map(ord, sheet.unit)) % len(CREW)],
        "fit": sheet.fit,
        "signature": True,
        "workshop.signature": False,
    }
    for day, meter in sheet.hours.items():
        values[f"hours.{DAYS[day]}" if weekly else "hours"] = f"{meter:.1f}"
    for place, name in enumerate(DAYS if weekly else ()):
        values[f"initials.{name}"] = place in sheet.hours
    for item in template.items:
        for answered in [f".{DAYS[day]}" for day in sheet.hours] if weekly else [""]:
            values[f"item.{item.name}{answered}"] = "ok"
    for number, line in enumerate(sheet.lines, start=1):
        values[f"item.{line.episode.item}" + (f".{DAYS[line.day]}" if weekly else "")] = "defect"
        if line.words:
            values |= {f"defect.{number}": line.words, f"defect.{number}.item": numbers[line.episode.item]}
            values |= {f"defect.{number}.day": str(line.day + 1)} if weekly else {}
        if line.repair:
            values |= {f"defect.{number}.repair": line.repair, "workshop.signature": True}
            values["workshop.date"] = sheet.on.isoformat()
    return values


_template = lru_cache(maxsize=8)(find_template)


# The record


def _register(binder: Binder, year: Year, folder: Path) -> None:
    lists = {
        "units": ["unit,kind", *(f"{unit},{kind}" for unit, kind in year.units.items())],
        "crew": ["name", *CREW],
        "calendar": ["unit,day", *(f"{unit},{day}" for unit, day in sorted(year.calendar))],
    }
    for name, lines in lists.items():
        path = folder / f".{name}.csv"
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        if name == "calendar":
            binder.load_calendar(path, _WHO)
        else:
            (binder.load_units if name == "units" else binder.load_crew)(path)
        path.unlink()


def _forms(binder: Binder, templates: Sequence[str]) -> dict[str, SampleForm]:
    """The year's templates, each with a picture of its printed sheet in the archive."""
    forms = {}
    for name in templates:
        template = find_template(name)
        binder.remember_template(template)
        layout = lay_out(template, Paper.A4)
        sheet = pad_sheets(template, "a4", "YEAR25", unit=None, days=(), copies=1)
        page = render_pdf(sheets_pdf(layout, sheet), _DPI)[0]
        encoded = cv2.imencode(".jpg", page, [cv2.IMWRITE_JPEG_QUALITY, 80])[1].tobytes()
        forms[name] = SampleForm(layout, binder.archive(encoded, ".jpg"), page.shape[1], page.shape[0])
    return forms


def _record_week(
    engine: Engine,
    folder: Path,
    forms: dict[str, SampleForm],
    sheets: Sequence[YearSheet],
    sunday: dt.date,
    page_id: int,
    meters: MeterBooks,
    units: Sequence[str],
    chance: random.Random,
    rng: np.random.Generator,
) -> int:
    """Record a week's stack in the order in which a feeder gets it; returns the last page's number."""
    at = dt.datetime.combine(sunday, dt.time(15), dt.UTC).isoformat(timespec="microseconds")
    first = page_id + 1
    with writing(engine, folder) as connection:
        added = Rows(journal.head(connection))
        added.rows["batch"] = []
        for sheet in chance.sample(sheets, len(sheets)):
            page_id += 1
            sheet.number = page_id
            form = forms[sheet.template]
            read = read_sheet_of(form.layout, true_values(sheet), units, meters, sunday, chance)
            _record_sheet(added, form, sheet, read, at, rng.bytes(_INK_BYTES))
        insert_rows(connection, added)
        for number in range(first, page_id + 1):
            note_page_waiting(connection, number)
    return page_id


def _record_sheet(
    added: Rows, form: SampleForm, sheet: YearSheet, read: Mapping[str, AsRead], at: str, ink: bytes
) -> None:
    fragments = []
    for spec in form.layout.fields:
        row, fragment = read_field(form, spec.id, *read[spec.id])
        fragments.append(fragment)
        added.fields.append((sheet.number, *row))
    unit, date = read["unit"].value, read["date"].value
    record = PageRecord(
        source=f"{sheet.on.isocalendar().year}-W{sheet.on.isocalendar().week:02d}.pdf",
        source_path=f"/scans/{sheet.number}.jpg",
        page_number=1,
        sha256=form.sha256,
        outcome=Outcome.READ,
        template=sheet.template,
        version=form.layout.template.version,
        serial=None,
        unit=str(unit) if unit else None,
        date=dt.date.fromisoformat(str(date)) if date else None,
        width_px=form.width_px,
        height_px=form.height_px,
        residual_mm=0.04,
        ink_signature=ink,
    )
    record_page(added, record, sheet.number, fragments, [], at)


def _close(binder: Binder, year: Year, episodes: Sequence[Episode], folder: Path) -> int:
    """Enter the week's closings: some one by one as at the desk, some as the filled-in list. Returns how many of them
    found no defect of their own that is open.
    """
    if not episodes:
        return 0
    by_ref = {entry.ref: defect for defect in defect_register(binder) for entry in defect.reports}
    told: list[tuple[ClosingWish, str]] = []
    for episode in episodes:
        assert episode.closed_on is not None
        # Of several entries that hold its reports the workshop takes the one that says most about it.
        named = Counter(by_ref[ref].name for ref in _refs(year, episode) if ref in by_ref)
        defect = by_ref[named.most_common(1)[0][0]] if named else None
        if defect is not None and defect.is_open and (defect.last is None or defect.last <= episode.closed_on):
            wish = ClosingWish(defect.name, episode.repair, episode.closed_on, "Otis Granger", "work order 12")
            told.append((wish, episode.how))
    close_by_name(binder, [wish for wish, how in told if how == "desk"], _WHO)
    rows = [wish for wish, how in told if how == "csv"]
    if rows:
        path = folder / ".closings.csv"
        lines = [f"{w.ref},{w.repair},{w.closed_on},{w.closed_by},{w.paper}" for w in rows]
        path.write_text("\n".join(["defect,repair,closed_on,closed_by,paper", *lines]) + "\n", encoding="utf-8")
        close_from_csv(binder, path, _WHO)
        path.unlink()
    return len(episodes) - len(told)


def _refs(year: Year, episode: Episode) -> list[str]:
    """The names that its reports have in the record, newest first."""
    found = []
    for place, line, _day, _words in reversed(episode.reports):
        number = year.by_place[place].number
        if number:
            found += [f"{number}.defect.{line}", f"{number}.item.{episode.item}"]
    return found
