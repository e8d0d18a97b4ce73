"""Which files in a scanner's folder are whole. A file that is still growing, or that a program holds open, is not."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from scanform.batch.counting import counted_pages
from scanform.intake import list_sources

__all__ = ["Arrivals", "Look", "Shape", "shape_of"]

# What programs commonly call a file that they have not finished (common practice, no source).
_PARTIAL_ENDINGS = (".part", ".partial", ".tmp", ".temp", ".unfinished", "~")
_PARTIAL_BEGINNINGS = (".", "~")

# A file that does not open as a whole one may be one that pauses, on a slow network say. Only after so many times
# the quiet time is it taken for damaged, and read so that it is on record as that.
_PATIENCE = 12

_PROC = Path("/proc")
_WRITING = os.O_WRONLY | os.O_RDWR


class Shape(NamedTuple):
    """What a file looks like from outside; it changes when the file does."""

    device: int
    inode: int
    size: int
    mtime_ns: int


def shape_of(path: Path) -> Shape:
    """The shape of a file, of a link itself and not of what it leads to; OSError if there is none."""
    status = path.lstat()
    return Shape(status.st_dev, status.st_ino, status.st_size, status.st_mtime_ns)


@dataclass(frozen=True)
class Look:
    """``ready``: files to be read, in natural order. ``waiting``: others that will be once they are whole. ``held``:
    files that some program holds open for writing. ``skipped``: what is no scan, and why, each in one look only.
    """

    ready: tuple[Path, ...]
    waiting: tuple[Path, ...]
    held: tuple[Path, ...]
    skipped: tuple[tuple[Path, str], ...]


@dataclass
class _Seen:
    shape: Shape
    since: float  # when it was first seen in this shape
    whole: bool | None = None  # None until somebody looked inside
    not_before: float = 0.0


class Arrivals:
    """What lies in ``folder``, but for the folders in ``apart``, and since when each file has been quiet.

    A file is ready once its size and time have not changed for ``quiet_s`` seconds, no program holds it open for
    writing (as far as the system tells), and it opens as a whole file.
    """

    def __init__(
        self, folder: Path, apart: Collection[Path], quiet_s: float, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._folder = folder
        self._apart = tuple(apart)
        self._quiet_s = quiet_s
        self._clock = clock
        self._seen: dict[Path, _Seen] = {}
        self._skipped: set[Path] = set()

    def look(self) -> Look:
        """Look at the folder now. UsageError if it cannot be listed."""
        found = list_sources([self._folder], self._apart)
        now = self._clock()
        files = [path for path in found.files if _has_finished_name(path) and not path.is_symlink()]
        self._seen = {path: seen for path in files if (seen := self._now(path, now)) is not None}
        to_do = {path: seen for path, seen in self._seen.items() if now >= seen.not_before}
        whole = {path: seen.shape for path, seen in to_do.items() if self._is_whole(path, seen, now)}
        open_still = _held_open(whole.values())
        skipped = [(path, why) for path, why in found.skipped if _has_finished_name(path) and path not in self._skipped]
        self._skipped.update(path for path, _ in skipped)
        return Look(
            ready=tuple(path for path, shape in whole.items() if shape not in open_still),
            waiting=tuple(path for path in to_do if path not in whole),
            held=tuple(path for path, shape in whole.items() if shape in open_still),
            skipped=tuple(skipped),
        )

    def leave(self, path: Path, for_s: float) -> None:
        """Do not call this file ready before so many seconds have passed, unless it changes."""
        if path in self._seen:
            self._seen[path].not_before = self._clock() + for_s

    def _now(self, path: Path, now: float) -> _Seen | None:
        try:
            shape = shape_of(path)
        except OSError:  # gone since it was listed
            return None
        seen = self._seen.get(path)
        return seen if seen is not None and seen.shape == shape else _Seen(shape, now)

    def _is_whole(self, path: Path, seen: _Seen, now: float) -> bool:
        quiet_s = now - seen.since
        if quiet_s < self._quiet_s:
            return False
        if seen.whole is None:
            seen.whole = _opens(path)
        return seen.whole or quiet_s >= _PATIENCE * self._quiet_s


def _has_finished_name(path: Path) -> bool:
    name = path.name.lower()
    return not name.startswith(_PARTIAL_BEGINNINGS) and not name.endswith(_PARTIAL_ENDINGS)


def _opens(path: Path) -> bool:
    return all(not counted.why for counted in counted_pages([(path, str(path))]))


def _held_open(shapes: Collection[Shape]) -> set[Shape]:
    """Which of the files some program holds open for writing, as far as ``/proc`` shows other programs' files."""
    wanted = {(shape.device, shape.inode): shape for shape in shapes}
    held: set[Shape] = set()
    if not wanted or not _PROC.is_dir():
        return held
    for process in _PROC.iterdir():
        if process.name.isdigit():
            held.update(wanted[file] for file in _written_by(process) if file in wanted)
    return held


def _written_by(process: Path) -> Iterator[tuple[int, int]]:
    """Device and inode of every file that a process has open for writing; none of a process that may not be seen."""
    try:
        handles = list((process / "fd").iterdir())
    except OSError:
        return
    for handle in handles:
        try:
            status = handle.stat()
            flags = (process / "fdinfo" / handle.name).read_text().partition("flags:")[2].split()[0]
        except (OSError, IndexError):
            continue
        if int(flags, 8) & _WRITING:
            yield status.st_dev, status.st_ino
