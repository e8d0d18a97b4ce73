"""PDF: a page that is one scanned image gives that image's own pixels; any other page is drawn at 300 dpi."""

from __future__ import annotations

import logging
import re
from pathlib import Path

import cv2
import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium_c

from scanform.errors import FileUnreadable
from scanform.intake.jpeg import jpeg_header, jpeg_pixels
from scanform.intake.kinds import HEAD_BYTES
from scanform.intake.limits import MAX_FILE_PAGES, check_pixels
from scanform.intake.pdf_image import (
    ImageFacts,
    ScannedImage,
    check_image_sizes,
    image_facts,
    lone_image,
    why_not_opened,
)
from scanform.intake.pixels import over_white, squared_size, upright
from scanform.intake.tiff import t6_hole

__all__ = ["OpenPdf"]

# What the scanners that fill binders use, and finer than any reading needs.
RENDER_DPI = 300
# A page's stated size in points can be arbitrary (phone apps write one point a pixel): a drawn page never
# gets more than this, twice an A3 at 300 dpi.
MAX_RENDER_PIXELS = 35_000_000
# PDFium rounds sizes up, and 612 points at 300 dpi come to 2550.0000000000005 pixels.
_ROUNDING = 1 - 1e-7
# PDFium keeps every stream that a page has used until the document is closed: 0.9 MB a page on a stack of 300
# grey JPEG pages, 0.1 ms to open it anew.
_PAGES_BEFORE_REOPENING = 16
# ISO 32000-1, annex H, note 18 (from memory): viewers look for the end mark in the last 1024 bytes.
_TAIL_BYTES = 1024
_LINEARIZED = re.compile(rb"/Linearized\b[^>]*/L\s+(\d+)")

# What they find odd about a file they would tell the user's terminal.
logging.getLogger("pypdfium2").setLevel(logging.CRITICAL)
logging.getLogger("pikepdf").setLevel(logging.CRITICAL)


class OpenPdf:
    """A PDF held open for random access.

    Raises :class:`FileUnreadable` for a PDF that needs a password, is cut short, or has too many pages.
    PDFium is not safe for threads: use one thread at a time.
    """

    def __init__(self, path: Path, what: str) -> None:
        self._path, self._what = path, what
        _check_end(path, what)
        self._document = _opened(path, what)
        self._pages_served = 0
        self._facts = ImageFacts(path)
        self.page_count = len(self._document)
        if self.page_count > MAX_FILE_PAGES:
            self.close()
            raise FileUnreadable(
                f"{what} has {self.page_count} pages, more than the {MAX_FILE_PAGES} allowed; split it."
            )

    def pixels(self, number: int) -> tuple[np.ndarray, float | None]:
        """Return page ``number`` (from 1) as uint8 (height, width) grey as displayed, and its dpi."""
        what = f"Page {number} of {self._what}"
        if self._pages_served >= _PAGES_BEFORE_REOPENING:
            self._document.close()
            self._document = _opened(self._path, self._what)
            self._pages_served = 0
        self._pages_served += 1
        page = self._document[number - 1]
        try:
            check_image_sizes(page, what)
            image = lone_image(page)
            if image is not None:
                pixels = _embedded_pixels(image, self._facts, number, what)
                if pixels is not None:
                    return _as_displayed(pixels, image, what)
            return _drawn(page, what)
        finally:
            page.close()

    def close(self) -> None:
        """Let go of the file."""
        self._facts.close()
        self._document.close()


def _opened(path: Path, what: str) -> pypdfium2.PdfDocument:
    # A file object and not a path: PDFium takes no path that is not UTF-8.
    try:
        document = pypdfium2.PdfDocument(path.open("rb"), autoclose=True)
    except pypdfium2.PdfiumError as error:
        raise FileUnreadable(f"{what} {why_not_opened(path)}") from error
    # Filled-in form fields are drawn only with the form environment.
    document.init_forms()
    return document


def _check_end(path: Path, what: str) -> None:
    """PDFium repairs a PDF that is cut short and drops the lost pages silently; so look for the end mark."""
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
        size = file.seek(0, 2)
        # A PDF made for the web has an end mark near its start too, but states its length (ISO 32000-1, F.2).
        stated = _LINEARIZED.search(head)
        whole = stated is None or int(stated[1]) <= size
        file.seek(max(0, size - _TAIL_BYTES))
        tail = file.read()
        while not tail.strip(b"\0\r\n \t") and size > len(tail):
            # Some devices pad a file to whole blocks.
            size -= _TAIL_BYTES
            file.seek(max(0, size - _TAIL_BYTES))
            tail = file.read(_TAIL_BYTES)
    if not whole or b"%%EOF" not in tail:
        raise FileUnreadable(f"{what} is cut short: its end is missing; copy or scan it again.")


def _embedded_pixels(image: ScannedImage, facts: ImageFacts, number: int, what: str) -> np.ndarray | None:
    """Return the image's stored pixels as uint8 grey, or None if only drawing it shows it right."""
    known = image_facts(facts, number, image)
    if known is None or known.masked:
        return None
    if known.plain_jpeg:
        data = bytes(image.handle.get_data(decode_simple=True))
        if data[:2] == b"\xff\xd8":
            header = jpeg_header(data, what)
            if header.components in (1, 3) and header.components == known.colours:
                return jpeg_pixels(data, header, what)
    if known.t6 and t6_hole(bytes(image.handle.get_data(decode_simple=True))):
        raise FileUnreadable(f"{what} is damaged: part of its picture is lost; copy or scan it again.")
    bitmap = image.handle.get_bitmap(render=False)
    raw = bitmap.to_numpy()
    if known.stencil:
        # PDFium gives 255 where a stencil paints; the rest shows the paper.
        if bitmap.format != pdfium_c.FPDFBitmap_Gray or image.fill_grey is None:
            return None
        return np.where(raw.reshape(raw.shape[:2]) > 127, np.uint8(image.fill_grey), np.uint8(255))
    if raw.ndim == 2 or raw.shape[2] == 1:
        return raw.reshape(raw.shape[:2]).copy()
    if bitmap.format == pdfium_c.FPDFBitmap_BGRA:
        return over_white(cv2.cvtColor(raw, cv2.COLOR_BGRA2GRAY), np.ascontiguousarray(raw[..., 3]))
    return cv2.cvtColor(raw, cv2.COLOR_BGRA2GRAY if raw.shape[2] == 4 else cv2.COLOR_BGR2GRAY)


def _as_displayed(pixels: np.ndarray, image: ScannedImage, what: str) -> tuple[np.ndarray, float | None]:
    height, width = pixels.shape
    # From the pixels found, not from the size the PDF states: the two may differ.
    x_dpi, y_dpi = 72 * width / image.width_pt, 72 * height / image.height_pt
    new_width, new_height, dpi = squared_size(width, height, x_dpi, y_dpi)
    check_pixels(new_width, new_height, what)
    if (new_width, new_height) != (width, height):
        pixels = cv2.resize(pixels, (new_width, new_height), interpolation=cv2.INTER_LINEAR)
    return upright(pixels, image.orientation), dpi


def _drawn(page: pypdfium2.PdfPage, what: str) -> tuple[np.ndarray, float | None]:
    width_pt, height_pt = page.get_size()
    dpi = float(RENDER_DPI)
    wanted = width_pt * height_pt * (dpi / 72) ** 2
    if wanted > MAX_RENDER_PIXELS:
        dpi *= (MAX_RENDER_PIXELS / wanted) ** 0.5
    check_pixels(max(width_pt * dpi / 72, 1), max(height_pt * dpi / 72, 1), what)
    bitmap = page.render(scale=dpi / 72 * _ROUNDING, grayscale=True)
    raw = bitmap.to_numpy()
    return raw.reshape(raw.shape[:2]).copy(), dpi
