"""From a scanner's folder into the binder: files are read as a batch, then moved to where a person finds them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from scanform.batch.drawers import DONE, PROBLEM, put_away
from scanform.batch.run import OnPage, gather, read_stack
from scanform.binder import NOT_READ, Binder, RecordedPage
from scanform.errors import FileUnreadable
from scanform.files import told
from scanform.form import Template

__all__ = ["FiledBatch", "FiledFile", "read_and_file"]


@dataclass(frozen=True)
class FiledFile:
    """One file: its pages on record, and where it lies now, or the sentence why it was left where it was."""

    file: Path
    pages: tuple[RecordedPage, ...]
    moved_to: Path | None = None
    left: str | None = None


@dataclass(frozen=True)
class FiledBatch:
    """``batch_id`` is None if no page came of the files."""

    batch_id: int | None
    files: tuple[FiledFile, ...]


def read_and_file(
    files: Sequence[Path],
    folder: Path,
    binder: Binder,
    templates: Sequence[Template],
    *,
    workers: int | None = None,
    on_page: OnPage | None = None,
    on_wait: Callable[[str], None] = lambda _: None,
) -> FiledBatch:
    """Read files of ``folder`` as one batch; once it is closed, move each to ``done/`` or ``problem/``.

    A run that is stopped anywhere leaves files that are on record in their old place: the next one finds them there,
    reads nothing anew and moves them. UsageError and BinderError as of ``read_stack``.
    """
    stack = gather(files)
    refused = [FiledFile(path, (), left=why) for path, why in stack.refused]
    if not stack.sources:
        return FiledBatch(None, tuple(refused))
    try:
        result = read_stack(stack, binder, templates, workers=workers, on_page=on_page, on_wait=on_wait)
    except FileUnreadable as problem:  # all of them are gone
        return FiledBatch(None, (*refused, *(FiledFile(path, (), left=str(problem)) for path in stack.sources)))
    pages: dict[str, list[RecordedPage]] = {}
    for page in result.pages:
        pages.setdefault(page.record.source_path, []).append(page)
    filed = [_filed(path, tuple(pages.get(_as_recorded(path), ())), folder) for path in stack.sources]
    return FiledBatch(result.batch_id, (*refused, *filed))


def _as_recorded(path: Path) -> str:
    return str(path.resolve()).encode("utf-8", "backslashreplace").decode()


def _filed(file: Path, pages: tuple[RecordedPage, ...], folder: Path) -> FiledFile:
    if not pages:
        return FiledFile(file, (), left=f"{file} went away before it could be read.")
    troubled = [page for page in pages if page.record.outcome in NOT_READ]
    drawer, note = (PROBLEM, _note(file, pages, troubled)) if troubled else (DONE, None)
    try:
        moved_to = put_away(file, folder, drawer, pages[0].record.sha256, note)
    except OSError as problem:
        left = f"{file} is on record, but cannot be moved to {drawer}/: {told(problem)}; it will be tried again."
        return FiledFile(file, pages, left=left)
    if moved_to is None:
        return FiledFile(file, pages, left=f"{file} has changed since it was read; what it holds now is read next.")
    return FiledFile(file, pages, moved_to)


def _note(file: Path, pages: Sequence[RecordedPage], troubled: Sequence[RecordedPage]) -> str:
    """What a person finds beside a file in ``problem/``."""
    well = len(pages) - len(troubled)
    head = f"{file.name}: {len(troubled)} of {len(pages)} pages could not be read as a check sheet."
    rest = f"The other {well} are on record as they should be." if well else "Its bytes are kept in the binder."
    lines = [f"Page {page.record.page_number}, {page.record.outcome.value}: {page.record.reason}" for page in troubled]
    return "\n".join([head, rest, "", *lines, ""])
