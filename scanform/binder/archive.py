"""The page archive: the original bytes of every file, stored once under their SHA-256."""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
from collections.abc import Iterator
from pathlib import Path

from scanform.errors import BinderError, FileUnreadable
from scanform.files import UNFINISHED, sync_folder, told

__all__ = [
    "PAGES",
    "archive_bytes",
    "archive_file",
    "archived_files",
    "file_sha256",
    "find_archived",
]

PAGES = "pages"
_CHUNK = 1 << 20


def archive_file(folder: Path, path: Path, suffix: str) -> str:
    """Keep the bytes of ``path``; returns their SHA-256 in hex. Keeping the same bytes again does nothing.

    FileUnreadable if the file cannot be read or changes while it is copied, BinderError if the archive cannot be
    written.
    """
    hashed, size = hashlib.sha256(), 0
    for chunk in _chunks(path):
        hashed.update(chunk)
        size += len(chunk)
    digest = hashed.hexdigest()
    if _kept(folder, digest, size):
        return digest
    copied = hashlib.sha256()

    def chunks() -> Iterator[bytes]:
        for chunk in _chunks(path):
            copied.update(chunk)
            yield chunk

    temporary = _write_unfinished(folder, digest, chunks())
    if copied.hexdigest() != digest:
        temporary.unlink()
        raise FileUnreadable(f"{path} changed while it was being copied; read it again once it is complete.")
    _finish(temporary, folder, digest, suffix)
    return digest


def archive_bytes(folder: Path, data: bytes, suffix: str) -> str:
    """Like :func:`archive_file` for bytes in memory."""
    digest = hashlib.sha256(data).hexdigest()
    if not _kept(folder, digest, len(data)):
        _finish(_write_unfinished(folder, digest, iter((data,))), folder, digest, suffix)
    return digest


def find_archived(folder: Path, sha256: str) -> Path | None:
    """The archived file with that SHA-256 (its name says so; :mod:`verify` checks that it is true)."""
    shelf = folder / PAGES / sha256[:2]
    if not shelf.is_dir():
        return None
    return next((p for p in sorted(shelf.glob(f"{sha256}.*")) if not p.name.endswith(UNFINISHED)), None)


def archived_files(folder: Path) -> Iterator[Path]:
    """Every file under ``pages/``, unfinished ones included, in order of name."""
    return (p for p in sorted((folder / PAGES).rglob("*")) if p.is_file())


def file_sha256(path: Path) -> str:
    """SHA-256 of a file's bytes in hex; FileUnreadable if it cannot be read."""
    digest = hashlib.sha256()
    for chunk in _chunks(path):
        digest.update(chunk)
    return digest.hexdigest()


def _chunks(path: Path) -> Iterator[bytes]:
    try:
        with path.open("rb") as source:
            while chunk := source.read(_CHUNK):
                yield chunk
    except OSError as problem:
        raise FileUnreadable(f"{path} cannot be read: {told(problem)}.") from problem


def _kept(folder: Path, digest: str, size: int) -> bool:
    # A file of another size cannot hold these bytes: it is damaged and is written again.
    found = find_archived(folder, digest)
    if found is None or found.stat().st_size != size:
        return False
    _sync(found)  # a run that was killed may have come no further than its name
    return True


def _write_unfinished(folder: Path, digest: str, chunks: Iterator[bytes]) -> Path:
    shelf = folder / PAGES / digest[:2]
    try:
        shelf.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{digest[:16]}-", suffix=UNFINISHED, dir=shelf)
    except OSError as problem:
        raise _not_written(folder, problem) from problem
    try:
        with os.fdopen(handle, "wb") as out:
            for chunk in chunks:
                out.write(chunk)
            out.flush()
            os.fsync(out.fileno())
    except BaseException as problem:
        Path(name).unlink(missing_ok=True)
        if isinstance(problem, OSError):
            raise _not_written(folder, problem) from problem
        raise
    return Path(name)


def _finish(temporary: Path, folder: Path, digest: str, suffix: str) -> None:
    extension = re.sub(r"[^a-z0-9]", "", suffix.lower())[:8] or "bin"
    target = find_archived(folder, digest) or temporary.parent / f"{digest}.{extension}"
    temporary.chmod(0o644)
    temporary.replace(target)
    _sync(target)


def _sync(kept: Path) -> None:
    """Make the file's name last: its own folder, and the one that holds that folder."""
    sync_folder(kept.parent)
    sync_folder(kept.parent.parent)


def _not_written(folder: Path, problem: OSError) -> BinderError:
    return BinderError(
        f"The archive {folder / PAGES} cannot be written: {told(problem)}, then run the same command again; nothing "
        "that was read is lost."
    )
