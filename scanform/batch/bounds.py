"""What one worker process may use, so that a file from outside costs its own page and not the machine."""

from __future__ import annotations

import ctypes
import signal
import sys

try:
    import resource
except ImportError:  # Windows has no such limits; there a page is bounded by its time and by intake's own checks
    resource = None  # type: ignore[assignment]

__all__ = [
    "COUNTING_S",
    "MOST_LOST_PAGES",
    "PAGE_S",
    "WORKER_DATA_BYTES",
    "WORKER_FILE_BYTES",
    "confine",
    "keep_freed_memory",
    "time_left",
]

# Memory a worker may write to. Measured on Linux: 0.3 GB once the models are loaded, and 1.2 GB with the largest colour
# picture that intake allows, 150 million pixels, while it is made grey (one with alpha as well needs 2 GB and is
# refused). Two workers fit into a machine with 4 GB; without the limit the kernel would end whatever process is
# largest, which may be another program's.
WORKER_DATA_BYTES = 1_800_000_000
# What a worker may write into one file: it writes lines for Tesseract (below 1 MB) and what decoders complain about,
# which has no end of its own.
WORKER_FILE_BYTES = 64_000_000
# An ordinary page takes 0.1 to 0.5 s and the worst drawn ones 5 s; ten times that for a machine under load.
PAGE_S = 60.0
# Only headers and directories are looked at: 5,000 pages take 0.3 s.
COUNTING_S = 30.0
# A file with this many pages that end or block their process was made to do so; the rest of it is not tried.
MOST_LOST_PAGES = 5
# Memory that is free again stays with the process up to this much, for the next page: pictures and what is made of them
# are otherwise handed back and fetched anew several times a page, which took a twentieth of the time to read one.
_KEPT_BYTES = 64_000_000
_LARGEST_KEPT_BYTES = 32 * 1024 * 1024  # of one piece; glibc allows no more
_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3  # names of mallopt's settings in glibc's malloc.h
# A worker whose parent was killed has nobody to stop it: it ends by itself this long after its time was up.
_GRACE_S = 15.0


def confine(memory_bytes: int) -> None:
    """Bound this process for good: memory that it may write to, size of files, no core dumps."""
    if resource is None:
        return
    # Address space would count the libraries and models that are only mapped; RLIMIT_DATA counts them on Linux only
    # where they are written to, and macOS does not count at all.
    _lower(resource.RLIMIT_DATA if sys.platform == "linux" else resource.RLIMIT_AS, memory_bytes)
    _lower(resource.RLIMIT_FSIZE, WORKER_FILE_BYTES)
    _lower(resource.RLIMIT_CORE, 0)


def keep_freed_memory() -> None:
    """Have this process keep some of the memory that it frees; does nothing where the C library is not glibc."""
    mallopt = getattr(ctypes.CDLL(None), "mallopt", None) if sys.platform == "linux" else None
    if mallopt is not None:
        mallopt(_MMAP_THRESHOLD, _LARGEST_KEPT_BYTES)
        mallopt(_TRIM_THRESHOLD, _KEPT_BYTES)


def time_left(seconds: float | None) -> None:
    """Have the system end this process if it still works after ``seconds`` and some grace; None takes that back.

    Nothing in the process can stand in the way, be it in a native library or without a parent.
    """
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_REAL, 0 if seconds is None else seconds + _GRACE_S)


def _lower(kind: int, most: int) -> None:
    _, hard = resource.getrlimit(kind)
    if hard != resource.RLIM_INFINITY:
        most = min(most, hard)
    try:
        resource.setrlimit(kind, (most, most))
    except (OSError, ValueError):
        return  # a system that does not know this limit keeps its own
