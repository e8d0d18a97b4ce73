"""Files that people drop on the desk: kept in the binder's folder until they have been read, within limits.

Each stack has a folder of its own with a random name; a file's name never says where it is put. Once a stack is
complete a note is left beside it, which goes when it has been read: a desk that was ended in between reads on when it
is started again.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
import time
from collections.abc import AsyncIterable
from pathlib import Path

from natsort import natsorted, ns

from scanform.errors import UsageError

__all__ = [
    "INBOX",
    "MOST_BYTES_A_FILE",
    "MOST_FILES",
    "arrived",
    "completed",
    "forget",
    "new_stack",
    "put",
    "sweep",
    "unread_stacks",
    "without_folders",
]

INBOX = "inbox"
MOST_FILES = 500  # a Friday's stack is 40 to 300 pages, of a scanner that writes a file a page
MOST_BYTES_A_FILE = 1 << 30  # what intake opens at most
MOST_BYTES_A_STACK = 4 << 30
LEAST_FREE_BYTES = 1 << 30  # left on the disk for the record itself
_NAME = re.compile(r"[0-9a-f]{16}")
_COMPLETE = "complete.json"
_ABANDONED_S = 24 * 3600.0  # a browser that was closed in the middle does not come back to the same stack


def new_stack(folder: Path) -> str:
    """Begin a stack in the binder ``folder``; returns its name."""
    name = secrets.token_hex(8)
    (folder / INBOX / name).mkdir(parents=True)
    return name


async def put(folder: Path, stack: str, name: str, chunks: AsyncIterable[bytes]) -> str:
    """Keep one file of a stack; returns the name it is kept under.

    UsageError if there is no such stack, or the file or the stack grows too large; nothing of the file stays then.
    """
    at = _open_stack(folder, stack)
    before = [path.stat().st_size for path in at.iterdir()]
    if len(before) >= MOST_FILES:
        raise UsageError(f"{name}: a stack holds at most {MOST_FILES} files; read this one, then drop the others.")
    kept = _free_name(at, _plain_name(name))
    size, allowed = 0, min(MOST_BYTES_A_FILE, MOST_BYTES_A_STACK - sum(before))
    try:
        with kept.open("xb") as out:
            async for chunk in chunks:
                size += len(chunk)
                if size > allowed:
                    raise UsageError(
                        f"{name} is too large: a file may have {_gib(MOST_BYTES_A_FILE)} and a stack "
                        f"{_gib(MOST_BYTES_A_STACK)}; scan in smaller stacks. The other files are kept."
                    )
                if shutil.disk_usage(at).free < LEAST_FREE_BYTES:
                    raise UsageError(f"{name}: the disk of the binder is nearly full; make room, then drop it again.")
                out.write(chunk)
            out.flush()
            os.fsync(out.fileno())
    except BaseException:
        kept.unlink(missing_ok=True)  # half a file would be read as a damaged one
        raise
    return kept.name


def completed(folder: Path, stack: str, initials: str) -> list[Path]:
    """Close a stack for reading; returns its files, in natural order of name. UsageError if it has none."""
    at = _open_stack(folder, stack)
    files = _in_order(at)
    if not files:
        raise UsageError("No file has arrived yet; drop PDF, TIFF, JPEG or PNG files.")
    (folder / INBOX / f"{stack}.{_COMPLETE}").write_text(json.dumps({"initials": initials}), encoding="utf-8")
    return files


def arrived(folder: Path, stack: str) -> list[Path]:
    """The files of a stack that is not for the record, in natural order of name. UsageError if it has none."""
    files = _in_order(_open_stack(folder, stack))
    if not files:
        raise UsageError("No file has arrived yet; drop a PDF, TIFF, JPEG or PNG file.")
    return files


def unread_stacks(folder: Path) -> list[tuple[str, list[Path]]]:
    """Stacks that were complete and have not been read to the end, with their files, the oldest first."""
    notes = sorted((folder / INBOX).glob(f"*.{_COMPLETE}"), key=lambda note: note.stat().st_mtime)
    names = [note.name.partition(".")[0] for note in notes]
    return [(n, _in_order(folder / INBOX / n)) for n in names if (folder / INBOX / n).is_dir()]


def forget(folder: Path, stack: str) -> None:
    """Drop a stack that has been read: its bytes are in the archive by now."""
    shutil.rmtree(folder / INBOX / stack, ignore_errors=True)
    (folder / INBOX / f"{stack}.{_COMPLETE}").unlink(missing_ok=True)


def sweep(folder: Path) -> None:
    """Drop stacks that were never completed, a day after somebody began them."""
    waiting = {name for name, _ in unread_stacks(folder)}
    for at in (folder / INBOX).glob("*"):
        if at.is_dir() and at.name not in waiting and time.time() - at.stat().st_mtime > _ABANDONED_S:
            shutil.rmtree(at, ignore_errors=True)


def without_folders(folder: Path, text: str) -> str:
    """A sentence that names a file of the inbox, with the name that the person gave it and no folders before it."""
    inbox = re.escape(str(folder.resolve() / INBOX)) + "|" + re.escape(str(folder / INBOX))
    return re.sub(rf"(?:{inbox})/[0-9a-f]{{16}}/", "", text)


def _in_order(at: Path) -> list[Path]:
    return natsorted(
        at.iterdir(), key=lambda path: path.name, alg=ns.IGNORECASE
    )  # as intake lists a folder: 2 before 10


def _open_stack(folder: Path, stack: str) -> Path:
    at = folder / INBOX / stack
    if not _NAME.fullmatch(stack) or not at.is_dir() or (folder / INBOX / f"{stack}.{_COMPLETE}").exists():
        raise UsageError("This stack has been read or was never begun; drop the files again.")
    return at


def _plain_name(name: str) -> str:
    """The last part of a file's name, without anything that means something to a file system."""
    last = re.split(r"[/\\]", name)[-1]
    plain = "".join(sign if sign.isprintable() and sign not in '<>:"|?*' else "_" for sign in last).strip(". ")
    stem, suffix = os.path.splitext(plain)
    return (stem.encode()[:120].decode(errors="ignore") or "scan") + suffix[:10]


def _free_name(at: Path, name: str) -> Path:
    stem, suffix = os.path.splitext(name)
    candidates = [name, *(f"{stem} ({n}){suffix}" for n in range(2, MOST_FILES + 2))]
    return next(at / candidate for candidate in candidates if not (at / candidate).exists())


def _gib(size: int) -> str:
    return f"{size >> 30} GiB"
