"""``scanform read``: a stack of scans into the binder."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from scanform.batch import CarriedPage, gather, read_stack, templates_for
from scanform.binder import NOT_READ, RecordedPage, open_binder
from scanform.binder.store import RECORD
from scanform.cli.options import BinderFolder, CrewFile, UnitsFile, WordsFile, Workers, load_lists, messages, say
from scanform.cli.outputs import JSON_LINES, check_file, check_folder, check_parent
from scanform.cli.stopping import stop_asked
from scanform.cli.summary import show_summary
from scanform.errors import ExitCode, FileUnreadable, Stopped, UsageError
from scanform.files import told, write_whole
from scanform.intake import shown
from scanform.report import Pace, batch_summary, draw_page, settling_pace
from scanform.tesseract import INSTALL_HINT, tesseract_available

__all__ = ["page_object", "read"]


def read(
    scans: Annotated[list[Path], typer.Argument(metavar="SCAN...", help="Files or folders: PDF, TIFF, JPEG, PNG.")],
    binder: BinderFolder,
    json_file: Annotated[
        Path | None,
        typer.Option("--json", help="Write one JSON object a page, one a line, in input order; - is stdout."),
    ] = None,
    units: UnitsFile = None,
    crew: CrewFile = None,
    words: WordsFile = None,
    template: Annotated[
        list[Path] | None,
        typer.Option(help="A template file of your own whose sheets are in the stack; kept in the binder."),
    ] = None,
    show: Annotated[
        Path | None,
        typer.Option(help="Folder for pictures of what was seen on each page: marks, boxes, readings, doubts."),
    ] = None,
    workers: Workers = None,
    try_again: Annotated[
        bool,
        typer.Option(
            "--try-again",
            help="Also read anew the pages that are on record as unreadable or unknown-form: one that crashed its "
            "reader or took too long, say. The journal keeps what was recorded first.",
        ),
    ] = False,
) -> None:
    """Read scanned sheets into a binder (made if absent).

    Every page ends as read, blank, duplicate, unknown-form or unreadable, and the count at the end shows that none was
    lost. What the machine is not sure of waits in the list of doubts. Running the same command again reads only what
    is not on record yet.

    In a folder, hidden files and links that lead out of it are left out and named; so is what is no scan, and the
    binder itself.

    A first try:  scanform read demo_scans --binder demo_out/binder --units demo_scans/units.csv
    """
    _check_outputs(scans, binder, json_file, show)
    if not tesseract_available():
        say(f"Note: {INSTALL_HINT}", messages)
    stack = gather(scans, [binder] if show is None else [binder, show])
    if not stack.sources and stack.refused:
        raise FileUnreadable(stack.refused[0][1])
    if not stack.sources:
        raise UsageError(
            "There are no scans in what you named; give PDF, TIFF, JPEG or PNG files, or a folder of them."
        )
    for path, why in stack.skipped:
        say(f"Left out: {shown(path)} ({why})", messages)
    if show is not None:
        try:
            show.mkdir(parents=True, exist_ok=True)
        except OSError as problem:
            raise UsageError(f"--show {show}: is no folder and cannot be made one ({problem.strerror}).") from problem
    with (
        stop_asked() as stop,
        open_binder(binder, create=True) as record,
        _Progress(stack.pages_in, settling_pace(record)) as progress,
    ):
        load_lists(record, units, crew, words)
        damaged = [why for _, why in stack.refused]

        def on_page(page: RecordedPage, carried: CarriedPage | None) -> None:
            progress.step(page)
            if carried is not None and carried.outcome == "unreadable" and carried.width_px is None:
                damaged.append(carried.reason or "")
            if show is not None:
                draw_page(page, carried.frames_px if carried else (), show, record.archived(page.record.sha256))
            if stop.is_set():
                raise Stopped(
                    f"Stopped after page {page.record.page_number} of {page.record.source}, as asked; run the same "
                    "command again to go on from there."
                )

        def on_wait(sentence: str) -> None:
            if stop.is_set():
                raise Stopped("Stopped while another run was reading into the binder, as asked.")
            progress.wait(sentence)

        result = read_stack(
            stack,
            record,
            templates_for(record, template or []),
            workers=workers,
            on_page=on_page,
            on_wait=on_wait,
            second_look=NOT_READ if try_again else (),
        )
        damaged += result.damaged
        if json_file is not None:
            _write_json(json_file, result.pages)
        summary, pace = batch_summary(record, result.batch_id), settling_pace(record)
    show_summary(summary, pace, binder, to_stderr=json_file == Path("-"))
    for why in dict.fromkeys(damaged):
        say(f"scanform: {why}", messages)
    if damaged:
        raise typer.Exit(ExitCode.SOME_FILES_FAILED)


def _check_outputs(scans: Sequence[Path], binder: Path, json_file: Path | None, show: Path | None) -> None:
    """UsageError for a file or folder to write that would cost a scan or the record; before anything is read."""
    given = {path.resolve() for path in scans}
    inside = next((path for path in scans if path.resolve().is_relative_to(binder.resolve())), None)
    if inside is not None and (binder / RECORD).is_file():
        raise UsageError(f"{inside}: this lies in the record {binder} itself; name what came from the scanner.")
    if json_file is not None:
        if json_file.resolve() in given:
            raise UsageError(f"--json {json_file}: this is one of the scans; name a file for JSON, or - for stdout.")
        check_file("--json", json_file, JSON_LINES, binder)
        check_parent("--json", json_file)
    if show is not None:
        if show.resolve() in given:
            raise UsageError(f"--show {show}: the scans lie there, and the pictures would be taken for more of them.")
        check_folder("--show", show, binder)


class _Progress:
    """A progress bar on stderr with the doubts so far, and how long a person will need for them."""

    def __init__(self, pages: int, pace: Pace) -> None:
        self._pace = pace
        self._bar = Progress(
            TextColumn("Reading"),
            BarColumn(),
            MofNCompleteColumn(),
            TextColumn("{task.fields[doubts]} doubts so far{task.fields[time]}"),
            TimeRemainingColumn(),
            console=messages,
            transient=True,
        )
        self._task = self._bar.add_task("read", total=pages, doubts=0, time="")
        self._doubts = 0
        self._waiting = ""

    def __enter__(self) -> _Progress:
        self._bar.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._bar.stop()

    def wait(self, sentence: str) -> None:
        """Say once what is waited for."""
        if sentence != self._waiting:
            say(sentence, messages)
        self._waiting = sentence

    def step(self, page: RecordedPage) -> None:
        self._doubts += sum(field.state == "doubtful" for field in page.record.fields)
        time = f", {self._pace.words(self._doubts)} to settle" if self._doubts else ""
        self._bar.update(self._task, advance=page.record.part == 1, doubts=self._doubts, time=time)


def _write_json(path: Path, pages: Iterable[RecordedPage]) -> None:
    lines = (json.dumps(page_object(page), ensure_ascii=False) + "\n" for page in pages)
    try:
        if path == Path("-"):
            sys.stdout.writelines(lines)
            sys.stdout.flush()
        else:
            write_whole(path, (line.encode() for line in lines))
    except BrokenPipeError:
        raise
    except OSError as problem:
        raise UsageError(
            f"--json {path}: cannot be written: {told(problem)}, or name another file, and run the command again; the "
            "pages are safe in the binder."
        ) from problem


def page_object(page: RecordedPage) -> dict[str, Any]:
    """A page as ``--json`` writes it."""
    record = page.record
    return {
        "source": record.source,
        "page": record.page_number,
        **({} if record.part == 1 else {"part": record.part}),
        "sha256": record.sha256,
        "outcome": record.outcome.value,
        "reason": record.reason,
        "template": record.template,
        "version": record.version,
        "serial": record.serial,
        "fields": [
            {
                "id": field.id,
                "value": field.value,
                **({} if field.original is None else {"original": field.original}),
                "state": field.state.value,
                "confidence": field.confidence,
                "reasons": list(field.reasons),
                "polygon_px": [list(corner) for corner in field.polygon_px],
            }
            for field in record.fields
        ],
    }
