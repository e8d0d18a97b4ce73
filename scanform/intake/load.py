"""Count a file's pages, and open any one of them."""

from __future__ import annotations

import atexit
import hashlib
import os
import stat
import threading
from collections import OrderedDict
from pathlib import Path

import cv2
import numpy as np

from scanform.errors import FileUnreadable, UsageError
from scanform.intake.jpeg import jpeg_header, jpeg_pixels
from scanform.intake.kinds import HEAD_BYTES, Kind, kind_of, why_not_read
from scanform.intake.limits import MAX_FILE_BYTES, MAX_FILE_PAGES, check_pixels, refusing_damage, shown
from scanform.intake.page import Page
from scanform.intake.pdf import OpenPdf
from scanform.intake.pixels import squared_size, upright
from scanform.intake.still import check_still, still_pixels
from scanform.intake.tiff import OpenTiff

__all__ = ["count_pages", "load_page", "sha256_of"]

# A stack is read page by page from one file, and a second may be looked at in between.
_OPEN_DOCUMENTS = 2
_KNOWN_HASHES = 64
_UPRIGHT = 1

# The process is part of the key: a forked worker must not share its parent's file position.
_Key = tuple[int, str, int, int]
_documents: OrderedDict[_Key, OpenPdf | OpenTiff] = OrderedDict()
_hashes: OrderedDict[_Key, str] = OrderedDict()
# PDFium and the shared file positions allow one thread at a time.
_lock = threading.RLock()

# Decoders would write to the terminal about every damaged byte.
cv2.utils.logging.setLogLevel(cv2.utils.logging.LOG_LEVEL_SILENT)


@atexit.register
def _close_documents() -> None:
    # PDFium complains on the terminal about documents that are open at the very end.
    for document in _documents.values():
        document.close()
    _documents.clear()


def count_pages(path: Path, source: str | None = None) -> int:
    """Return how many pages a file holds, from its headers. ``source`` is what the user called the file.

    Raises :class:`FileUnreadable`, one sentence, for a file that is encrypted, cut short, empty, too
    large, without pages, or not of a kind that is read.
    """
    path = Path(path)
    what = shown(source if source is not None else path)
    with _lock, refusing_damage(what):
        key, kind = _looked_at(path, what)
        if kind in (Kind.PDF, Kind.TIFF):
            return _page_count(_document(path, key, kind, what))
        data = path.read_bytes()
        if kind is Kind.JPEG:
            jpeg_header(data, what)
        else:
            check_still(data, kind, what)
        return 1


def load_page(path: Path, number: int, source: str | None = None) -> Page:
    """Open page ``number`` (from 1) of a file: grey, as a viewer shows it, with square pixels.

    ``source`` is what the user called the file, the path if not given. The last two documents stay open and
    the last file hashes are kept, each process its own. Raises :class:`FileUnreadable` as
    :func:`count_pages` does, and for damage found in decoding; :class:`UsageError` for a page that the file
    does not have. Both raise :class:`StorageFailed` where the disk fails and not the file.
    """
    path = Path(path)
    what = shown(source if source is not None else path)
    with _lock, refusing_damage(what):
        key, kind = _looked_at(path, what)
        if kind in (Kind.PDF, Kind.TIFF):
            document = _document(path, key, kind, what)
            _check_number(number, _page_count(document), what)
            with refusing_damage(f"Page {number} of {what}"):
                pixels, dpi = _document_page(document, number, what)
            digest = _hash(path, key, None)
        else:
            _check_number(number, 1, what)
            data = path.read_bytes()
            pixels, dpi = _single_picture(data, kind, what)
            digest = _hash(path, key, data)
    return Page(source if source is not None else str(path), number, digest, pixels, dpi)


def sha256_of(path: Path) -> str:
    """Return the hex SHA-256 of a file's bytes; raises :class:`FileUnreadable` if it cannot be read."""
    path = Path(path)
    what = shown(path)
    with _lock, refusing_damage(what):
        return _hash(path, _key(path, what), None)


def _key(path: Path, what: str) -> _Key:
    try:
        status = path.stat()
    except (OSError, ValueError) as error:
        raise FileUnreadable(f"{what} cannot be opened; check that it is there and that you may read it.") from error
    if not stat.S_ISREG(status.st_mode):
        raise FileUnreadable(f"{what} is not a regular file; name a scan or a folder of scans.")
    if status.st_size > MAX_FILE_BYTES:
        raise FileUnreadable(
            f"{what} has {status.st_size / 1e9:.1f} GB, more than the {MAX_FILE_BYTES / 1e9:.1f} allowed; split it."
        )
    return os.getpid(), os.path.abspath(path), status.st_mtime_ns, status.st_size


def _looked_at(path: Path, what: str) -> tuple[_Key, Kind]:
    key = _key(path, what)
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
    except OSError as error:
        raise FileUnreadable(f"{what} cannot be opened; check that you may read it.") from error
    kind = kind_of(head)
    if kind is None:
        raise FileUnreadable(f"{what} {why_not_read(head)}")
    return key, kind


def _document(path: Path, key: _Key, kind: Kind, what: str) -> OpenPdf | OpenTiff:
    document = _documents.get(key)
    if document is None:
        document = OpenPdf(path, what) if kind is Kind.PDF else OpenTiff(path, what)
        count = _page_count(document)
        if not 0 < count <= MAX_FILE_PAGES:
            document.close()
            state = "has no pages" if not count else f"has more than {MAX_FILE_PAGES} pages"
            raise FileUnreadable(f"{what} {state}; {'scan it again' if not count else 'split it'}.")
        _documents[key] = document
    _documents.move_to_end(key)
    while len(_documents) > _OPEN_DOCUMENTS:
        _documents.popitem(last=False)[1].close()
    return document


def _page_count(document: OpenPdf | OpenTiff) -> int:
    return document.page_count if isinstance(document, OpenPdf) else len(document.pages)


def _check_number(number: int, count: int, what: str) -> None:
    if not 1 <= number <= count:
        raise UsageError(f"{what} has {count} page{'s' if count > 1 else ''}; there is no page {number}.")


def _document_page(document: OpenPdf | OpenTiff, number: int, what: str) -> tuple[np.ndarray, float | None]:
    if isinstance(document, OpenPdf):
        return document.pixels(number)
    page = document.pages[number - 1]
    what = f"Page {number} of {what}"
    size = squared_size(page.width, page.height, page.x_dpi, page.y_dpi)
    check_pixels(size[0], size[1], what)
    return _finished(document.pixels(page, what), size, _UPRIGHT)


def _single_picture(data: bytes, kind: Kind, what: str) -> tuple[np.ndarray, float | None]:
    if kind is Kind.JPEG:
        header = jpeg_header(data, what)
        size = squared_size(header.width, header.height, header.x_dpi, header.y_dpi)
        check_pixels(size[0], size[1], what)
        return _finished(jpeg_pixels(data, header, what), size, header.orientation)
    pixels, orientation, x_dpi, y_dpi = still_pixels(data, kind, what)
    size = squared_size(pixels.shape[1], pixels.shape[0], x_dpi, y_dpi)
    check_pixels(size[0], size[1], what)
    return _finished(pixels, size, orientation)


def _finished(
    pixels: np.ndarray, size: tuple[int, int, float | None], orientation: int
) -> tuple[np.ndarray, float | None]:
    """Make pixels square, then turn the page upright: resolutions belong to the stored axes."""
    width, height, dpi = size
    if pixels.shape != (height, width):
        pixels = cv2.resize(pixels, (width, height), interpolation=cv2.INTER_LINEAR)
    return upright(pixels, orientation), dpi


def _hash(path: Path, key: _Key, data: bytes | None) -> str:
    digest = _hashes.get(key)
    if digest is None:
        if data is not None:
            digest = hashlib.sha256(data).hexdigest()
        else:
            with path.open("rb") as file:
                digest = hashlib.file_digest(file, "sha256").hexdigest()
        _hashes[key] = digest
    _hashes.move_to_end(key)
    while len(_hashes) > _KNOWN_HASHES:
        _hashes.popitem(last=False)
    return digest
