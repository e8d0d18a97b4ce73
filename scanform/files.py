"""Writing files so that a kill, a full disk or a power cut leaves the old file or the new one, never half of one."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Iterable
from pathlib import Path

__all__ = ["UNFINISHED", "sync_folder", "told", "write_whole"]

UNFINISHED = ".unfinished"  # suffix of a file that is still being written
_FOR_ALL_TO_READ = 0o644  # temporary files are made for their owner alone

_AWAY = "check that the drive or network share is there"
_ADVICE = {
    errno.ENOSPC: "make room on that disk",
    errno.EDQUOT: "make room on that disk",
    errno.EROFS: "it may only be read; name another place or have it opened for writing",
    errno.EACCES: "check that you may use it",
    errno.EPERM: "check that you may use it",
    errno.ENOENT: _AWAY,
    errno.EIO: _AWAY,
    errno.ENODEV: _AWAY,
    errno.ENXIO: _AWAY,
    errno.ESTALE: _AWAY,
    errno.ENOTCONN: _AWAY,
    errno.EHOSTDOWN: _AWAY,
    errno.ETIMEDOUT: _AWAY,
    errno.EMFILE: "close other programs",
    errno.ENFILE: "close other programs",
    errno.ENOMEM: "close other programs",
}


def told(problem: OSError) -> str:
    """What the system said and what to do about it; goes after a name and a colon, without a full stop."""
    said = problem.strerror or str(problem)
    advice = _ADVICE.get(problem.errno or 0, "put that right")
    return f"{said}; {advice}"


def write_whole(path: Path, chunks: Iterable[bytes]) -> None:
    """Put the bytes into ``path``; OSError if that fails, and then what was there before is still there.

    What is no regular file (a pipe, a terminal) is written to as it is.
    """
    target = path.resolve()
    if target.exists() and not target.is_file():
        with target.open("wb") as out:
            out.writelines(chunks)
        return
    handle, name = tempfile.mkstemp(prefix=f".{target.name[:32]}-", suffix=UNFINISHED, dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as out:
            out.writelines(chunks)
            out.flush()
            os.fsync(out.fileno())
        Path(name).chmod(_FOR_ALL_TO_READ)
        Path(name).replace(target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    sync_folder(target.parent)


def sync_folder(folder: Path) -> None:
    """Make a rename in ``folder`` survive a power cut (a no-op where folders cannot be opened, as on Windows)."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
