"""Where a command may write: never into a record, and never over a file of another kind than what it writes.

A file name that slipped into the wrong place (``--json scans/*.pdf``) must not cost a scan that nobody has read yet.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Collection, Mapping
from pathlib import Path
from typing import NamedTuple

from scanform.binder.store import RECORD
from scanform.errors import UsageError
from scanform.intake import shown
from scanform.intake.kinds import READABLE_SUFFIXES
from scanform.report.own_files import CREATOR, PNG_NOTE

__all__ = [
    "CSV",
    "JSON_LINES",
    "LETTER",
    "PDF",
    "PICTURE",
    "FileKind",
    "check_file",
    "check_folder",
    "check_parent",
]

_HEAD_BYTES = 65_536  # the first page of JSON Lines has some 40,000
_STDOUT = Path("-")
_CREATOR = b"/Creator (" + CREATOR.encode() + b")"


class FileKind(NamedTuple):
    """What a command writes: in words, how such a file of ours is known by its bytes, and endings it never has."""

    words: str
    is_ours: Callable[[bytes], bool]
    never: Collection[str] = ()


def _pdf(data: bytes) -> bool:
    return data.startswith(b"%PDF-") and _CREATOR in data


def _picture(data: bytes) -> bool:
    return _pdf(data) or PNG_NOTE in data[:_HEAD_BYTES] or b"<svg" in data[:_HEAD_BYTES]


def _letter(data: bytes) -> bool:
    return _pdf(data) or (b"<html" in data[:_HEAD_BYTES] and b"Monday letter" in data[:_HEAD_BYTES])


def _list(data: bytes) -> bool:
    # As written, or as a spreadsheet has saved it since: with other quotes and separators.
    return data.removeprefix(b"\xef\xbb\xbf").replace(b'"', b"").startswith((b"defect,state", b"defect;state"))


def _json_lines(data: bytes) -> bool:
    try:
        page = json.loads(data.partition(b"\n")[0])
    except ValueError:
        return False
    return isinstance(page, Mapping) and {"source", "page", "sha256", "outcome", "fields"} <= page.keys()


PDF = FileKind("a PDF", _pdf)
PICTURE = FileKind("a picture", _picture)
LETTER = FileKind("a letter", _letter)
CSV = FileKind("a list as CSV", _list, READABLE_SUFFIXES)
JSON_LINES = FileKind("JSON Lines", _json_lines, READABLE_SUFFIXES)


def check_file(option: str, path: Path, kind: FileKind, binder: Path | None = None) -> None:
    """UsageError if ``path`` lies in a record, has an ending that says it is a scan where none is written, or is a file
    that scanform did not write as this kind; ``-`` and pipes are fine.
    """
    if path == _STDOUT:
        return
    named = f"{option} {shown(path)}"
    if path.suffix.lower() in kind.never:
        raise UsageError(f"{named}: this is a scan's name, and {kind.words} is written; name another file.")
    _check_outside(named, path, binder)
    if path.is_file() and path.stat().st_size and not kind.is_ours(_bytes(named, path)):
        raise UsageError(
            f"{named}: there is such a file already, and it is not {kind.words} that scanform has written; it is not "
            "replaced, name another file."
        )


def check_parent(option: str, path: Path) -> None:
    """UsageError if the folder that ``path`` is to be written into is not there or cannot be written to."""
    if path == _STDOUT or path.exists():
        return
    folder = path.parent
    if not folder.is_dir():
        raise UsageError(f"{option} {shown(path)}: there is no folder {shown(folder)}; make it, or name another.")
    if not os.access(folder, os.W_OK):
        raise UsageError(f"{option} {shown(path)}: nothing can be written to {shown(folder)}; name another place.")


def check_folder(option: str, folder: Path, binder: Path | None = None) -> None:
    """UsageError if a folder to write into lies in a record."""
    _check_outside(f"{option} {shown(folder)}", folder, binder)


def _check_outside(named: str, path: Path, binder: Path | None) -> None:
    place = path.resolve()
    records = [folder for folder in (place, *place.parents) if (folder / RECORD).is_file()]
    if binder is not None and place.is_relative_to(binder.resolve()):
        records.append(binder)
    if records:
        raise UsageError(f"{named}: this lies in the record {shown(records[0])}; write to a place outside it.")


def _bytes(named: str, path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as problem:
        raise UsageError(f"{named}: cannot be replaced ({problem.strerror}); name another file.") from problem
