"""Files into the archive before anything is read from them; from then on the copies are what is read.

Between being counted and being read a file may vanish with its network share, be deleted, or grow because the scanner
was not done. So pages are counted anew in what was archived, and read from there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from scanform.batch.counting import counted_pages
from scanform.batch.worker import Task
from scanform.binder import Binder
from scanform.errors import FileUnreadable, StorageFailed

__all__ = ["KeptPages", "keep"]


@dataclass(frozen=True)
class KeptPages:
    """The pages whose bytes are safe.

    ``pages``: every page in input order; beside it None, or the sentence why its file cannot be opened (such a file
    counts as one page). ``gone``: the sentence for each file that could not be archived any more; no page comes of it.
    """

    pages: tuple[tuple[Task, str | None], ...]
    gone: tuple[str, ...]

    @property
    def broken(self) -> tuple[str, ...]:
        """The sentences of the files that cannot be opened."""
        return tuple(why for _, why in self.pages if why is not None)


def keep(files: Sequence[Path], binder: Binder) -> KeptPages:
    """Archive the files and count the pages of the copies.

    BinderError if the archive cannot be written, StorageFailed if it cannot be read.
    """
    kept: list[Task] = []
    gone: list[str] = []
    for path in files:
        try:
            sha256 = binder.archive(path, path.suffix)
        except FileUnreadable as problem:
            gone.append(str(problem))
            continue
        kept.append(Task(path.resolve(), 1, str(path), binder.archived(sha256), sha256))
    pages: list[tuple[Task, str | None]] = []
    copies = [(task.copy or task.path, task.source) for task in kept]
    for first, counted in zip(kept, counted_pages(copies), strict=True):
        if counted.not_its_fault:
            raise StorageFailed(counted.why)
        pages += [(replace(first, number=n), counted.why or None) for n in range(1, (counted.pages or 1) + 1)]
    return KeptPages(tuple(pages), tuple(gone))
