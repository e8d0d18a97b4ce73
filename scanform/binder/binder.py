"""The binder as other rooms see it: one folder that keeps everything, loses nothing and can prove it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from types import TracebackType

import pandas as pd
from sqlalchemy import Engine

from scanform.binder import (
    archive,
    batches,
    by_hand,
    calendar,
    closings,
    columns,
    decisions,
    deleted,
    deletion,
    doubts,
    history,
    journal,
    lending,
    pages,
    people,
    register,
    resolving,
    said_at,
    search,
    settings,
    spot_checks,
    templates,
    trust_counts,
    turn,
    verify,
    verify_sheets,
    voiding,
)
from scanform.binder.history import FieldEvent
from scanform.binder.said_at import SheetThen
from scanform.binder.search import Filing, FoundSheet, FoundSheets, SheetQuery
from scanform.binder.settings import Settings
from scanform.binder.store import open_store, reading
from scanform.binder.types import (
    BatchRecord,
    CalendarDay,
    Closing,
    ClosingWish,
    Decision,
    DeletedSheet,
    Doubt,
    FiledSheet,
    ItemLabel,
    JournalEntry,
    JudgedField,
    LentDoubt,
    LoadReport,
    PageHead,
    PageRecord,
    Person,
    RecordedPage,
    Resolution,
    VerifyReport,
    WaitingSort,
)
from scanform.form import AdoptedTemplate, Layout, Template
from scanform.settle.types import Known, MeterReading, Outcome, SettledField, TradeWord, UnitRecord

__all__ = ["Binder", "open_binder"]


def open_binder(folder: Path, create: bool = False) -> Binder:
    """Open the binder in ``folder``; with ``create`` make it first if it is absent. Use it in a ``with``.

    BinderError if the folder is not a binder, was written by a newer version, or cannot be used.
    """
    folder = Path(folder)
    return Binder(folder, open_store(folder, create))


class Binder:
    """An open binder. Several processes and threads may hold the same folder open; writers take turns."""

    def __init__(self, folder: Path, engine: Engine) -> None:
        self.folder = folder
        self._engine = engine

    def __enter__(self) -> Binder:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database; harmless when done twice."""
        self._engine.dispose()

    # The archive

    def archive(self, source: Path | bytes, suffix: str) -> str:
        """Keep a file's bytes under their SHA-256, which is returned in hex; the same bytes are kept once.

        ``suffix`` is the file name's ending, with or without its dot. FileUnreadable or BinderError on failure.
        """
        if isinstance(source, bytes):
            return archive.archive_bytes(self.folder, source, suffix)
        return archive.archive_file(self.folder, source, suffix)

    def archived(self, sha256: str) -> Path | None:
        """Where the file with that SHA-256 lies; None if it is not in the archive."""
        return archive.find_archived(self.folder, sha256)

    # Pages

    def one_reader(self, on_wait: Callable[[str], None]) -> AbstractContextManager[None]:
        """Hold the binder for reading pages into it, in a ``with``; others who want the same wait for their turn.

        ``on_wait`` gets the same sentence now and then while the wait is long; what it raises ends the wait.
        BinderError if the folder cannot be used.
        """
        return turn.one_reader(self.folder, on_wait)

    def record_page(self, record: PageRecord) -> RecordedPage:
        """Record a page and its journal entry together; what is known by bytes, number, path and part stays."""
        return pages.record_page(self._engine, self.folder, record)

    def read_again(self, number: int, record: PageRecord) -> RecordedPage:
        """A new reading in the place of a page whose outcome is in ``NOT_READ``; BinderError for any other."""
        return pages.read_again(self._engine, self.folder, number, record)

    def page_for(self, sha256: str, page_number: int, source_path: str, part: int = 1) -> RecordedPage | None:
        """The very page, if it is on the record; ``part`` says which sheet of the picture."""
        return pages.page_for(self._engine, sha256, page_number, source_path, part)

    def heads_of_picture(self, sha256: str, page_number: int, source_path: str) -> tuple[PageHead, ...]:
        """Every sheet on record of one picture, in their order; mostly one."""
        return pages.heads_of_picture(self._engine, sha256, page_number, source_path)

    def head_with_bytes(self, sha256: str, page_number: int, part: int = 1) -> PageHead | None:
        """The first page recorded with these bytes, number and part, under whatever path."""
        return pages.head_with_bytes(self._engine, sha256, page_number, part)

    def page_numbered(self, number: int) -> RecordedPage | None:
        """The page with that record number."""
        return pages.page_numbered(self._engine, number)

    def pages(self) -> list[RecordedPage]:
        """Every page with its fields, by record number."""
        return pages.pages_where(self._engine)

    def pages_numbered(self, numbers: Sequence[int]) -> list[RecordedPage]:
        """Pages with their fields in the order of ``numbers``; numbers that do not exist are left out."""
        return pages.pages_numbered(self._engine, numbers)

    def heads_with_serial(self, serial: str) -> list[PageHead]:
        """Every page read as the sheet with that serial, oldest first."""
        return pages.heads_with_serial(self._engine, serial)

    def heads_alike(
        self, template: str, version: int, unit: str | None, date: dt.date | None, serial: str | None
    ) -> list[PageHead]:
        """Every page read as a sheet of this template and filed under this unit or this date, oldest first.

        If ``serial`` is one, only those that show none.
        """
        on = date.isoformat() if date else None
        return pages.heads_alike(self._engine, template, version, unit, on, serial)

    def heads_named_in(self, text: str, template: str, version: int) -> list[PageHead]:
        """Every page read as a sheet of this template whose file is named in a sentence, oldest first."""
        return pages.heads_named_in(self._engine, text, template, version)

    def find_sheets(self, query: SheetQuery, start: int = 0, at_most: int = 50) -> FoundSheets:
        """Pages that a query finds, newest first, without their fields; UsageError if they cannot be asked for."""
        return search.find_sheets(self._engine, query, start, at_most)

    def sheets_of_batch(self, batch_id: int) -> tuple[FoundSheet, ...]:
        """The pages fed in a batch, in input order and without their fields."""
        return search.sheets_of_batch(self._engine, batch_id)

    def filings(self) -> Filing:
        """The units and templates that pages on record are filed under."""
        return search.filings(self._engine)

    # Batches

    def begin_batch(self, sources: Iterable[str]) -> int:
        """Open a batch over the files as named; returns its id."""
        return batches.begin_batch(self._engine, self.folder, sources)

    def end_batch(self, batch_id: int, pages: Sequence[int], pages_in: int) -> dict[Outcome, int]:
        """Close a batch: ``pages`` are the record numbers of all pages fed, ``pages_in`` the files' own count.

        Returns the balance, every outcome present; BinderError if it does not come out even.
        """
        return batches.end_batch(self._engine, self.folder, batch_id, pages, pages_in)

    def balance(self, batch_id: int) -> dict[Outcome, int]:
        """Pages of a batch by outcome, counted anew from the record."""
        return batches.balance(self._engine, batch_id)

    def balance_in_journal(self, batch_id: int) -> dict[Outcome, int]:
        """Pages of a finished batch by the outcome that the journal last gave each."""
        return batches.balance_in_journal(self._engine, batch_id)

    def batch(self, batch_id: int) -> BatchRecord:
        """A batch as it stands; BinderError if there is none with that id."""
        return batches.batch_record(self._engine, batch_id)

    def batches(self, start: int = 0, at_most: int = 50) -> list[BatchRecord]:
        """Batches ``start`` and following, the newest first."""
        return batches.batches(self._engine, start, at_most)

    def last_batch(self) -> int | None:
        """The newest batch's id, None if there is none."""
        return batches.last_batch(self._engine)

    def batch_pages(self, batch_id: int) -> list[RecordedPage]:
        """The pages fed in a batch, in input order; of an open batch those recorded so far."""
        record = self.batch(batch_id)
        if record.ended_at is None:
            return pages.pages_of_batch(self._engine, batch_id)
        return pages.pages_numbered(self._engine, record.pages)

    # What is known

    def load_units(self, csv_path: Path) -> LoadReport:
        """Take machines from a CSV file into the register; UsageError names file, line and column."""
        return register.load_units(self._engine, self.folder, Path(csv_path))

    def load_crew(self, csv_path: Path) -> LoadReport:
        """Take people from a CSV file into the register; UsageError names file, line and column."""
        return register.load_crew(self._engine, self.folder, Path(csv_path))

    def load_words(self, csv_path: Path) -> LoadReport:
        """Take the site's own words from a CSV file; UsageError names file, line and column."""
        return register.load_words(self._engine, self.folder, Path(csv_path))

    def words(self) -> tuple[TradeWord, ...]:
        """The site's own words."""
        return register.words(self._engine)

    def units(self) -> list[UnitRecord]:
        """The machines in the register."""
        return register.units(self._engine)

    def known(self) -> Known:
        """What settling any page may lean on; meter readings are asked for by unit."""
        return register.known(self._engine)

    def meter_readings(self, unit: str) -> tuple[MeterReading, ...]:
        """One machine's readings that nobody doubts, oldest first."""
        return register.meter_readings(self._engine, unit)

    def readings_beside(self, unit: str, number: int) -> tuple[MeterReading, ...]:
        """One machine's readings that nobody doubts, oldest first, without those of the page with that number."""
        return register.readings_beside(self._engine, unit, number)

    def filed_sheets(self, pad: str | None = None) -> list[FiledSheet]:
        """What the sheets with a serial that came back are filed under; only those of one pad if it is named."""
        return register.filed_sheets(self._engine, pad)

    def days_of_pad(self, pad: str) -> tuple[dt.date, ...]:
        """The dates of a pad's sheets read so far, as far as nobody doubts them."""
        return register.days_of_pad(self._engine, pad)

    def remember_template(self, template: Template) -> None:
        """Keep a template's items; BinderError if this version is on record with other items."""
        templates.remember_template(self._engine, self.folder, template)

    def note_adopted(self, template: AdoptedTemplate, initials: str) -> None:
        """A journal entry on who has kept a form's version, with what proves that it is still the same."""
        templates.note_adopted(self._engine, self.folder, template, initials)

    def items(self, template: str, version: int) -> list[ItemLabel]:
        """The items of a template's version by number; empty if it was never remembered."""
        return templates.items(self._engine, template, version)

    # People's decisions

    def queue(self) -> list[Doubt]:
        """Every doubtful field, safety-critical ones first, like ones together."""
        return doubts.queue(self._engine)

    def resolve_doubts(self, resolutions: Iterable[Resolution]) -> int:
        """Accept doubtful fields that other sheets have settled; returns how many still were doubtful."""
        return resolving.resolve_doubts(self._engine, self.folder, resolutions)

    def confirm(self, ref: str, value: str | bool | None, initials: str, seen: int | None = None) -> SettledField:
        """Set a field to what a person says; UsageError says what is wrong with reference, value or initials.

        ``seen``: what :attr:`LentDoubt.seen` said when the person looked; FieldTaken if the field was changed since.
        """
        return decisions.confirm(self._engine, self.folder, ref, value, initials, seen)

    def undo_last(self, initials: str) -> Decision:
        """Take back this person's last standing decision; UsageError if there is none."""
        return decisions.undo_last(self._engine, self.folder, initials)

    def undo_last_on(self, number: int, initials: str) -> Decision:
        """Take back this person's last standing decision about one sheet; UsageError if there is none."""
        return decisions.undo_last_on(self._engine, self.folder, number, initials)

    def enter_by_hand(
        self,
        number: int,
        layout: Layout,
        values: Mapping[str, str | bool | None],
        initials: str,
        serial: str | None = None,
    ) -> RecordedPage:
        """Record what a person reads on a page that was not read; UsageError says what is wrong with it."""
        return by_hand.enter_by_hand(self._engine, self.folder, number, layout, values, initials, serial)

    def take_back_entry(self, number: int, initials: str) -> RecordedPage:
        """Make a page that was entered by hand what it was before; UsageError if it was not, or was corrected since."""
        return by_hand.take_back_entry(self._engine, self.folder, number, initials)

    def void_sheet(self, number: int, initials: str, why: str) -> RecordedPage:
        """Let nothing on a sheet count any more, because the paper is void; UsageError says what is wrong with that."""
        return voiding.void_sheet(self._engine, self.folder, number, initials, why)

    def take_back_void(self, number: int, initials: str) -> RecordedPage:
        """Let a void sheet count again as it did before; UsageError if it is not void."""
        return voiding.take_back_void(self._engine, self.folder, number, initials)

    def void_last_said(self, initials: str) -> int | None:
        """The sheet that this person has voided, and decided nothing since; None if that is not what they did last."""
        return voiding.void_last_said(self._engine, initials)

    def decisions(self) -> list[Decision]:
        """Every decision in the order it was made, those taken back included."""
        return decisions.decisions(self._engine)

    def newest_decisions(self, count: int) -> list[Decision]:
        """The last so many decisions in the order they were made, those taken back included."""
        return decisions.newest_decisions(self._engine, count)

    # People

    def people(self) -> list[Person]:
        """Everybody who was ever let in to the desk, by initials; ``role`` is None for those who no longer are."""
        return people.people(self._engine)

    def person_with(self, initials: str) -> Person | None:
        """The person with those initials, also one who was shut out; None if nobody has them."""
        return people.person_with(self._engine, initials)

    def let_in(self, named: Person, password: str, by: str) -> None:
        """Let somebody in to the desk, or change role and password; ``by``: initials of who says so."""
        people.let_in(self._engine, self.folder, named, password, by)

    def shut_out(self, initials: str, by: str) -> None:
        """Let somebody in no longer; the name stays with the initials."""
        people.shut_out(self._engine, self.folder, initials, by)

    def last_entries(self, number: int) -> dict[str, int]:
        """By field id what :meth:`confirm` takes as ``seen``; 0 for the fields of that page that are left out."""
        return decisions.last_entries(self._engine, number)

    # Doubts on loan

    def lend(self, holder: str, most: int, sort: str | None = None, without: Collection[str] = ()) -> list[LentDoubt]:
        """The next doubts for somebody, which nobody else gets for a while; ``without``: references to leave out."""
        return lending.lend(self._engine, holder, most, sort, without)

    def lend_this(self, holder: str, ref: str) -> LentDoubt | None:
        """One doubt for somebody; None if it does not wait any more or somebody else has it."""
        return lending.lend_this(self._engine, holder, ref)

    def hand_back(self, holder: str, refs: Sequence[str] | None = None) -> None:
        """Let others have what somebody has on loan: all of it, or the doubts named."""
        lending.hand_back(self._engine, holder, refs)

    def waiting_sorts(self) -> list[WaitingSort]:
        """What waits, sort by sort, in the order in which it is lent."""
        return lending.waiting_sorts(self._engine)

    def count_waiting(self) -> int:
        """How many fields wait for a person, spot checks included."""
        return lending.count_waiting(self._engine)

    def count_on_loan(self, holder: str) -> int:
        """How many doubts others than this one are looking at just now."""
        return lending.count_on_loan(self._engine, holder)

    def doubt_at(self, ref: str) -> LentDoubt | None:
        """A doubt as it stands, lent to nobody; None if the field does not wait."""
        return lending.doubt_at(self._engine, ref)

    # What people say beside the paper

    def close_defects(self, wishes: Sequence[ClosingWish], initials: str) -> list[Closing]:
        """Put closings of defects on the record, all or none; UsageError says what is wrong with one of them."""
        return closings.close_defects(self._engine, self.folder, wishes, initials)

    def withdraw_closing(self, ref: str, initials: str) -> Closing:
        """Take back the last closing of a report; UsageError if there is none."""
        return closings.withdraw_closing(self._engine, self.folder, ref, initials)

    def closings(self) -> list[Closing]:
        """Every closing in the order it was made, those taken back included."""
        return closings.closings(self._engine)

    def said_at(self, moments: Iterable[tuple[int, int]]) -> dict[tuple[int, int], SheetThen | None]:
        """What sheets said before a journal entry, if it has changed; see :func:`scanform.binder.said_at.said_at`."""
        return said_at.said_at(self._engine, moments)

    def first_recorded(self, numbers: Iterable[int]) -> dict[int, str]:
        """The moment at which each page came into the record, ISO 8601 in UTC."""
        return said_at.first_recorded(self._engine, numbers)

    def load_calendar(self, csv_path: Path, initials: str) -> LoadReport:
        """Take days in use and not in use from a CSV file; UsageError names file, line and column."""
        return calendar.load_calendar(self._engine, self.folder, Path(csv_path), initials)

    def calendar(self) -> list[CalendarDay]:
        """What the office says about days, by unit and day."""
        return calendar.calendar_days(self._engine)

    # Columns for lists

    def sheet_columns(self) -> pd.DataFrame:
        """Every sheet read, one row each; see :func:`scanform.binder.columns.sheets`."""
        return columns.sheets(self._engine)

    def written_columns(self, begins: Sequence[str], among: Sequence[int] | None = None) -> pd.DataFrame:
        """What is written in fields by the beginning of their ids; see :func:`scanform.binder.columns.written`."""
        return columns.written(self._engine, begins, among)

    def defect_columns(self) -> pd.DataFrame:
        """Every answer Defect; see :func:`scanform.binder.columns.defects_said`."""
        return columns.defects_said(self._engine)

    def defect_line_columns(self) -> pd.DataFrame:
        """All that stands on defect lines; see :func:`scanform.binder.columns.defect_lines`."""
        return columns.defect_lines(self._engine)

    def marked_day_columns(self, sheets: Sequence[int]) -> pd.DataFrame:
        """On which days of weeks' sheets any sign stands; see :func:`scanform.binder.columns.marked_days`."""
        return columns.marked_days(self._engine, sheets)

    def page_columns(self) -> pd.DataFrame:
        """Every page, whatever became of it; see :func:`scanform.binder.columns.pages`."""
        return columns.pages(self._engine)

    def waiting_sheets(self) -> set[int]:
        """The sheets that have a doubt or an unanswered spot check."""
        return columns.waiting(self._engine)

    def answer_columns(self, field_id: str, sheets: Sequence[int]) -> pd.DataFrame:
        """What some sheets answer in one field; see :func:`scanform.binder.columns.answers`."""
        return columns.answers(self._engine, field_id, sheets)

    def accepted_totals(self) -> tuple[int, int]:
        """How many fields the machine has accepted, those confirmed since included: that could have been drawn as spot
        checks, and that could not.
        """
        return trust_counts.accepted_totals(self._engine)

    def spot_check_counts(self) -> tuple[int, list[tuple[str, str, str | None, str | None]]]:
        """How many spot checks wait, and of each answered one the field's name, kind, reading and answer."""
        return trust_counts.spot_check_counts(self._engine)

    def doubt_counts(self) -> tuple[int, int]:
        """How many fields of sheets are doubtful, and how many of these are safety-critical."""
        return columns.doubt_counts(self._engine)

    def ink_signatures(self, sheets: Sequence[int]) -> dict[int, bytes]:
        """The ink signatures of some sheets, as far as they have one."""
        return columns.ink_signatures(self._engine, sheets)

    def places(self, sheets: Sequence[int]) -> pd.DataFrame:
        """Where some sheets came from; see :func:`scanform.binder.columns.places`."""
        return columns.places(self._engine, sheets)

    def field_columns(self, sheets: Sequence[int]) -> pd.DataFrame:
        """All fields of some sheets; see :func:`scanform.binder.columns.fields_of`."""
        return columns.fields_of(self._engine, sheets)

    # Spot checks and settings

    def spot_checks(self) -> list[Doubt]:
        """Accepted fields that wait for a person to say what the paper says; their values are left out."""
        return spot_checks.spot_checks(self._engine)

    def accepted_counts(self) -> dict[tuple[str, str], int]:
        """How many fields the machine has accepted that could have been drawn, by field id and kind."""
        return trust_counts.accepted_counts(self._engine)

    def checks_on(self, number: int) -> frozenset[str]:
        """The fields of one sheet that are spot checks which nobody has answered yet."""
        return spot_checks.checks_on(self._engine, number)

    def spot_checked(self) -> list[JudgedField]:
        """Every spot check, answered or not, but for those that wait as doubts since."""
        return spot_checks.judged_fields(self._engine, drawn_only=True)

    def judged_fields(self) -> list[JudgedField]:
        """Every field of the sheets read: how sure the machine was, and what people have found."""
        return spot_checks.judged_fields(self._engine)

    def settings(self) -> Settings:
        """What the binder is set to."""
        return settings.settings(self._engine)

    def set_silent_error_target(self, share: float | None, initials: str) -> Settings:
        """How many accepted unit, date and hours fields may be wrong, as a share; None for the installed one."""
        return settings.change_settings(self._engine, self.folder, initials, silent_error_target=share)

    def set_spot_check_share(self, share: float, initials: str) -> Settings:
        """What share of the accepted fields of pages read from now on becomes spot checks."""
        return settings.change_settings(self._engine, self.folder, initials, spot_check_share=share)

    def set_thresholds(self, thresholds: Mapping[str, float], initials: str) -> Settings:
        """The site's own acceptance thresholds by family of fields, in the place of all before; empty for none."""
        return settings.change_settings(self._engine, self.folder, initials, thresholds=dict(thresholds))

    def set_service_steps(self, steps: Mapping[str, Sequence[int]], initials: str) -> Settings:
        """Service steps in meter hours by kind of unit, "" for every other kind, in the place of all before."""
        plain = {kind: sorted(set(hours)) for kind, hours in steps.items()}
        return settings.change_settings(self._engine, self.folder, initials, service_steps=plain)

    def set_keep_months(self, months: int | None, initials: str) -> Settings:
        """How many months the site keeps every sheet, at the least; None for no rule of its own."""
        return settings.change_settings(self._engine, self.folder, initials, keep_months=months)

    # The history

    def field_history(self, number: int, field_id: str) -> list[FieldEvent]:
        """What happened to a field, oldest first: read, confirmed, taken back; from the journal."""
        return history.field_history(self._engine, number, field_id)

    def journal(self) -> list[JournalEntry]:
        """The whole history, oldest first, as it stands: :meth:`verify` says whether it is whole."""
        with reading(self._engine) as connection:
            return list(journal.entries(connection))

    def journal_heads(self) -> list[JournalEntry]:
        """The whole history without its bodies: number, time, kind and hashes of each entry."""
        with reading(self._engine) as connection:
            return journal.entry_heads(connection)

    def last_entry(self) -> int:
        """The number of the journal's last entry; whatever was made from the record holds as long as it stays."""
        with reading(self._engine) as connection:
            return journal.head(connection).seq

    def verify(self) -> VerifyReport:
        """Check chain, tables and archive; nothing is written."""
        return verify.verify(self._engine, self.folder)

    def verify_sheets(self, numbers: Sequence[int]) -> VerifyReport:
        """Check the whole chain, and only these sheets' rows and files; nothing is written."""
        return verify_sheets.verify_sheets(self._engine, self.folder, numbers)

    def deleted_sheets(self) -> list[DeletedSheet]:
        """Sheets whose files were deleted because their time was over, in the order of the deletions."""
        return deleted.deleted_sheets(self._engine)

    def delete_files(self, reasons: Mapping[str, str], initials: str, carried: Sequence[ClosingWish] = ()) -> list[int]:
        """Delete archived files by SHA-256 with all their pages, each for a rule; returns the pages' numbers.

        ``carried``: closings that go on at reports that stay; see :func:`scanform.binder.deletion.delete_files`.
        """
        return deletion.delete_files(self._engine, self.folder, reasons, initials, carried)
