"""``scanform watch``: a scanner's folder into the binder, file by file, for as long as it runs."""

from __future__ import annotations

import datetime as dt
import threading
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated

import typer

from scanform.batch import (
    DONE,
    PROBLEM,
    CarriedPage,
    FiledBatch,
    FiledFile,
    make_drawers,
    read_and_file,
    read_what_is_there,
    sweep,
    templates_for,
    watch_folder,
)
from scanform.binder import Binder, RecordedPage, held_alone, open_binder
from scanform.cli.options import BinderFolder, CrewFile, UnitsFile, WordsFile, Workers, load_lists, messages, say
from scanform.cli.stopping import stop_asked
from scanform.errors import ExitCode, Stopped, UsageError
from scanform.form import Template
from scanform.report import CAUTION, batch_summary
from scanform.settle import Outcome, State
from scanform.tesseract import INSTALL_HINT, tesseract_available

__all__ = ["watch"]

_LOCK = ".watch.lock"


def watch(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Where the scanner puts its files.")],
    binder: BinderFolder,
    settled_for: Annotated[
        float,
        typer.Option(min=0.1, help="Seconds for which nothing about a file may have changed before it is read."),
    ] = 5.0,
    look_every: Annotated[
        float,
        typer.Option(
            min=0.1,
            help="List the folder at least so often, in seconds; a network share sends no notice of new files.",
        ),
    ] = 2.0,
    once: Annotated[
        bool, typer.Option("--once", help="Read and move what lies there now, then end; for a timetable.")
    ] = False,
    units: UnitsFile = None,
    crew: CrewFile = None,
    words: WordsFile = None,
    template: Annotated[
        list[Path] | None,
        typer.Option(help="A template file of your own whose sheets may come; kept in the binder."),
    ] = None,
    workers: Workers = None,
) -> None:
    """Read every scan that arrives in a folder into a binder, and move it to done/ or problem/ in that folder.

    Files that lie there already are read first. A file is touched only when it is whole: nothing about it has changed
    for some seconds, no program has it open for writing, and it opens as a complete PDF, TIFF, JPEG or PNG. Names that
    end in .part, .partial, .tmp, .temp, .unfinished or ~, or begin with a dot or ~, are left alone: rename when done.

    A file is moved once its pages are on record and its bytes are in the binder's archive, never before. If one of its
    pages is unreadable or of an unknown form it goes to problem/, with a text file beside it that says which page and
    why; else to done/. A name that is taken gets a number. Each file gets a line, the count stands at the end.

    Ctrl-C, or a shutdown of the computer, ends it after the page under way. Start it again, also after a power cut:
    it goes on where it was, with nothing lost and nothing recorded twice.

    A first try:  scanform watch scans --binder quarry --once
    """
    _check_places(folder, binder)
    make_drawers(folder)
    with held_alone(folder / _LOCK) as alone, stop_asked() as stop:
        if not alone:
            raise UsageError(f"Another watch is at work on {folder}; end that one first.")
        sweep(folder)
        if not tesseract_available():
            say(f"Note: {INSTALL_HINT}", messages)
        with open_binder(binder, create=True) as record:
            load_lists(record, units, crew, words)
            templates = templates_for(record, template or [])
        session = _Session(folder, binder, templates, workers, stop)
        try:
            if once:
                read_what_is_there(folder, session.read, _said, stop, quiet_s=settled_for)
            else:
                say(f"Watching {folder}; Ctrl-C ends it.", messages)
                watch_folder(folder, session.read, _said, stop, quiet_s=settled_for, look_every_s=look_every)
        except Stopped as stopped:
            _said(str(stopped))
        finally:
            session.show_balance()
    if once and session.needs_a_person:
        raise typer.Exit(ExitCode.SOME_FILES_FAILED)


def _check_places(folder: Path, binder: Path) -> None:
    if not folder.is_dir():
        raise UsageError(f"{folder} is no folder; name the one into which the scanner puts its files.")
    inside, outside = binder.resolve(), folder.resolve()
    if inside.is_relative_to(outside) or outside.is_relative_to(inside):
        raise UsageError(f"The binder {binder} and the folder {folder} lie one in the other; keep them apart.")


def _said(sentence: str) -> None:
    say(f"{dt.datetime.now():%Y-%m-%d %H:%M:%S}  {sentence}")


@dataclass
class _Session:
    """What one run of the command has done so far."""

    folder: Path
    binder: Path
    templates: Sequence[Template]
    workers: int | None
    stop: threading.Event
    outcomes: Counter[Outcome] = field(default_factory=Counter)
    moved: Counter[str] = field(default_factory=Counter)
    left: set[Path] = field(default_factory=set)
    waiting: bool = False

    @property
    def needs_a_person(self) -> bool:
        return bool(self.moved[PROBLEM] or self.left)

    def read(self, files: Sequence[Path]) -> Collection[Path]:
        """Read and move files, say what became of each; those that had to be left."""
        with open_binder(self.binder, create=True) as record:
            batch = read_and_file(
                files,
                self.folder,
                record,
                self.templates,
                workers=self.workers,
                on_page=self._on_page,
                on_wait=self._on_wait,
            )
            for filed in batch.files:
                self._tell(filed)
            _warn(record, batch)
        self.waiting = False
        return [filed.file for filed in batch.files if filed.moved_to is None]

    def show_balance(self) -> None:
        """What came in and where it is; the count of pages is that of the files that were moved."""
        balance = " + ".join(f"{self.outcomes[outcome]} {outcome.value}" for outcome in Outcome)
        say(f"Pages in: {self.outcomes.total()} = {balance}")
        say(
            f"Files: {self.moved[DONE]} moved to {DONE}/, {self.moved[PROBLEM]} to {PROBLEM}/, "
            f"{sum(path.exists() for path in self.left)} left where they were"
        )

    def _on_page(self, page: RecordedPage, _carried: CarriedPage | None) -> None:
        if self.stop.is_set():
            raise Stopped(
                f"Stopped after page {page.record.page_number} of {page.record.source}, as asked; started again, it "
                "goes on from there."
            )

    def _on_wait(self, sentence: str) -> None:
        if self.stop.is_set():
            raise Stopped("Stopped while another run was reading into the binder, as asked.")
        if not self.waiting:
            _said(sentence)
        self.waiting = True

    def _tell(self, filed: FiledFile) -> None:
        if filed.moved_to is None:
            self.left.add(filed.file)
            _said(filed.left or "")
            return
        self.left.discard(filed.file)
        counts = Counter(page.record.outcome for page in filed.pages)
        self.outcomes += counts
        where = filed.moved_to.relative_to(self.folder)
        self.moved[where.parts[0]] += 1
        doubts = sum(f.state == State.DOUBTFUL for page in filed.pages for f in page.record.fields)
        balance = " + ".join(f"{counts[outcome]} {outcome.value}" for outcome in Outcome if counts[outcome])
        pages = "1 page" if len(filed.pages) == 1 else f"{len(filed.pages)} pages"
        name = filed.file.relative_to(self.folder)
        _said(f"{name}: {pages} = {balance}; {doubts} {'doubt' if doubts == 1 else 'doubts'}; now {where}")


def _warn(record: Binder, batch: FiledBatch) -> None:
    """Name what may be dangerous in a batch at once; nobody may look at the lists before Friday."""
    if batch.batch_id is None:
        return
    # A line whose item is unclear may be about a safety-critical one.
    dangers = [entry for entry in batch_summary(record, batch.batch_id).defects if entry.critical is not False]
    for entry in dangers:
        item = f"{entry.item_number} {entry.item_text or ''}".strip() if entry.item_number else "item unclear"
        on = entry.date.isoformat() if entry.date else "no date"
        words, kind = entry.words or "(no words)", "SAFETY" if entry.critical else "Item unclear"
        _said(f"{kind}: {entry.unit or '(no unit)'}, {on}, {item}: {words} ({entry.state.value})")
    if any(entry.critical for entry in dangers):
        say(CAUTION)
