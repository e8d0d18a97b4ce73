"""Moving a file that is on record into ``done/`` or ``problem/``: nothing overwritten, nothing lost on the way."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

from scanform.batch.arrivals import shape_of
from scanform.errors import UsageError
from scanform.files import UNFINISHED, sync_folder, told, write_whole

__all__ = ["DONE", "PROBLEM", "make_drawers", "put_away", "sweep"]

DONE = "done"
PROBLEM = "problem"
NOTE = ".txt"  # after the whole name of the file that it is about

_RESERVED_MODE = 0o000  # tells a name that is held for a moment from a file that somebody put there


def make_drawers(folder: Path) -> None:
    """Make the two folders. UsageError if that cannot be, or if they lie on another disk."""
    for name in (DONE, PROBLEM):
        drawer = folder / name
        try:
            drawer.mkdir(exist_ok=True)
            if drawer.is_symlink() or drawer.stat().st_dev != folder.stat().st_dev:
                raise UsageError(f"{drawer} lies on another disk than {folder}, so files cannot be moved there safely.")
            probe = drawer / ".probe"
            probe.touch()
            probe.unlink()
        except OSError as problem:
            raise UsageError(
                f"{folder} has to hold {DONE}/ and {PROBLEM}/, to which files are moved once they are on record: "
                f"{problem.filename}: {told(problem)}, or use scanform read, which moves nothing."
            ) from problem


def sweep(folder: Path) -> None:
    """Take away what runs that were killed have left half written in the two folders; only while no other run is on."""
    for name in (DONE, PROBLEM):
        for leftover in (folder / name).rglob(f".*{UNFINISHED}"):
            leftover.unlink(missing_ok=True)


def put_away(file: Path, folder: Path, drawer: str, sha256: str, note: str | None = None) -> Path | None:
    """Move a file to where it belongs under ``folder / drawer``, with ``note`` in a text file beside it.

    Returns where it lies; None if it is no longer the file with that SHA-256, which is then left where it is. A name
    that is taken gets a number. OSError if it cannot be moved.
    """
    try:
        shape = shape_of(file)
        with file.open("rb") as data:
            same = hashlib.file_digest(data, "sha256").hexdigest() == sha256
        if not same or shape_of(file) != shape:
            return None
    except FileNotFoundError:
        return None
    target_folder = folder / drawer / file.parent.relative_to(folder)
    target_folder.mkdir(parents=True, exist_ok=True)
    target = _reserved(target_folder, file)
    try:
        if note is not None:  # before the file, so that none ever lies there without its reason
            write_whole(_note_of(target), (note.encode("utf-8", "backslashreplace"),))
        file.replace(target)
    except BaseException:
        if _is_reserved(target):
            target.unlink()
        raise
    if shape_of(target) != shape:  # replaced by another scan in the last moment: that one has not been read
        _put_back(target, file)
        return None
    sync_folder(target_folder)
    sync_folder(file.parent)
    return target


def _reserved(folder: Path, file: Path) -> Path:
    """An empty file of a name that nothing else has, so that moving over it overwrites nothing."""
    for name in _names(file):
        target = folder / name
        if _is_reserved(target):  # by a run that was killed before it moved its file
            return target
        try:
            os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY, _RESERVED_MODE))
        except FileExistsError:
            continue
        return target
    raise AssertionError("names do not end")


def _names(file: Path) -> Iterator[str]:
    yield file.name
    number = 2
    while True:
        yield f"{file.stem} ({number}){file.suffix}"
        number += 1


def _is_reserved(target: Path) -> bool:
    try:
        status = target.lstat()
    except OSError:
        return False
    return status.st_size == 0 and status.st_mode & 0o777 == _RESERVED_MODE


def _note_of(target: Path) -> Path:
    return target.with_name(target.name + NOTE)


def _put_back(target: Path, file: Path) -> None:
    target.replace(_reserved(file.parent, file))
    _note_of(target).unlink(missing_ok=True)
