"""Count the pages of files from outside, in processes that may die of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import closing
from pathlib import Path
from typing import NamedTuple

from scanform.batch.bounds import COUNTING_S
from scanform.batch.crew import Job, Loss, done_in_order
from scanform.errors import FileUnreadable, StorageFailed
from scanform.intake import count_pages, shown

__all__ = ["Counted", "counted", "counted_pages"]

# Processes to count with: headers take a millisecond, so a second process would cost more than it saves.
_WORKERS = 1


class Counted(NamedTuple):
    """``pages`` of a file, or 0 and ``why`` it cannot be opened, as one sentence.

    ``not_its_fault``: the disk or the memory failed, and the file may be sound.
    """

    pages: int
    why: str = ""
    not_its_fault: bool = False


def counted_pages(files: Sequence[tuple[Path, str]]) -> Iterator[Counted]:
    """What each file holds, in order, whatever it does to the process that looks.

    ``files``: where each lies, and what the user called it.
    """
    job: Job[tuple[Path, str], Counted] = Job(counted, COUNTING_S)
    all_found = done_in_order(job, files, _file_of, min(_WORKERS, len(files)))
    with closing(all_found):
        for (_, source), found in zip(files, all_found, strict=True):
            yield found if isinstance(found, Counted) else Counted(0, f"{shown(source)} {_SAID[found]}")


def counted(file: tuple[Path, str]) -> Counted:
    """What one file holds, looked at in this process."""
    try:
        return Counted(count_pages(*file))
    except FileUnreadable as problem:
        return Counted(0, str(problem))
    except StorageFailed as problem:
        return Counted(0, str(problem), not_its_fault=True)


def _file_of(file: tuple[Path, str]) -> Path:
    return file[0]


_SAID = {
    Loss.DIED: "ended the process that opened it, so it is damaged or made to do harm; copy or scan it again.",
    Loss.HUNG: (
        f"could not be opened within {COUNTING_S:.0f} s, so it is damaged or made to do harm; copy or scan it again."
    ),
    Loss.NOT_TRIED: "was not opened.",
}
