"""Expand what the user named into the list of files to read, and the list of files left out."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from natsort import natsort_keygen, ns

from scanform.errors import UsageError
from scanform.intake.kinds import HEAD_BYTES, READABLE_SUFFIXES, kind_of
from scanform.intake.limits import shown

__all__ = ["Sources", "list_sources"]

_natural = natsort_keygen(alg=ns.IGNORECASE)


@dataclass(frozen=True)
class Sources:
    """``files`` in reading order; ``skipped`` holds each path that a folder had besides, and why."""

    files: list[Path]
    skipped: list[tuple[Path, str]]


def list_sources(paths: Sequence[Path], apart: Collection[Path] = ()) -> Sources:
    """Expand files and folders: a file as given, a folder and its subfolders in natural order (2 before 10).

    Folders in ``apart``, found below a folder that is given, are not looked into.

    A file of a readable kind, by content or by suffix, is listed, so that a damaged scan ends in an error and
    not in the skipped list. Raises :class:`UsageError` for a path that does not exist or cannot be listed.
    """
    left_out = {folder.resolve() for folder in apart}
    files: list[Path] = []
    skipped: list[tuple[Path, str]] = []
    for path in map(Path, paths):
        try:
            is_folder = path.is_dir()
            exists = is_folder or path.exists()
        except (OSError, ValueError) as error:
            raise UsageError(f"{shown(path)} cannot be opened; check the path.") from error
        if not exists:
            raise UsageError(f"{shown(path)} does not exist; check the path.")
        if not is_folder:
            files.append(path)
            continue
        try:
            root = path.resolve(strict=True)
            next(path.iterdir(), None)
        except (OSError, RuntimeError) as error:
            raise UsageError(f"{shown(path)} cannot be listed; check that you may read it.") from error
        for entry, why in _walk(path, root, left_out):
            if why is None:
                files.append(entry)
            else:
                skipped.append((entry, why))
    return Sources(files, skipped)


def _walk(folder: Path, root: Path, apart: Collection[Path]) -> Iterator[tuple[Path, str | None]]:
    """Yield every entry below ``folder`` with None, or with the reason to leave it out."""
    try:
        entries = sorted(folder.iterdir(), key=lambda entry: (_natural(entry.name), entry.name))
    except OSError:
        yield folder, "a folder that may not be listed"
        return
    for entry in entries:
        try:
            why = _why_skipped(entry, root)
            goes_down = why is None and entry.is_dir()
            if goes_down and entry.resolve() in apart:
                continue
        except (OSError, RuntimeError):
            why, goes_down = "cannot be opened", False
        if goes_down:
            yield from _walk(entry, root, apart)
        else:
            yield entry, why


def _why_skipped(entry: Path, root: Path) -> str | None:
    if entry.name.startswith("."):
        return "hidden"
    if entry.is_symlink():
        if not entry.exists():
            return "a link to nothing"
        if not entry.resolve(strict=True).is_relative_to(root):
            return "a link that leads out of the folder"
        if entry.is_dir():
            # Its files are met under their own name anyway, and a link to a folder above would never end.
            return "a link to a folder that is read anyway"
    if entry.is_dir():
        return None
    if not entry.is_file():
        return "not a regular file"
    if entry.suffix.lower() in READABLE_SUFFIXES:
        return None
    with entry.open("rb") as file:
        head = file.read(HEAD_BYTES)
    return None if kind_of(head) else "not a kind of file that is read"
