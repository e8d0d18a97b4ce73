"""Is a PDF page one scanned image and nothing else, and what does the PDF say about that image."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium_c

from scanform.intake.limits import check_pixels

__all__ = [
    "ImageFacts",
    "KnownImage",
    "ScannedImage",
    "check_image_sizes",
    "image_facts",
    "lone_image",
    "why_not_opened",
]

# How far an image's edge may be from the page's, as a share of the page's side: writers round to points, and
# 1 % of a letter page is the margin that no pen reaches.
COVER_TOLERANCE = 0.01
# A wrapper inside a wrapper is common, deeper is not.
_MAX_FORM_DEPTH = 6
# Annotations that leave no ink on the page.
_INKLESS_ANNOTATIONS = frozenset({pdfium_c.FPDF_ANNOT_LINK, pdfium_c.FPDF_ANNOT_POPUP})


@dataclass(frozen=True)
class ScannedImage:
    """The one image of a page, its sizes in points along its own axes.

    ``orientation`` is as in EXIF, 1 to 8: how to turn the stored pixels for display. ``fill_grey`` is the
    colour in which a stencil would be painted, 0 to 255.
    """

    handle: pypdfium2.PdfImage
    width_px: int
    height_px: int
    width_pt: float
    height_pt: float
    orientation: int
    fill_grey: int | None


@dataclass(frozen=True)
class KnownImage:
    """What an image's dictionary says: ``colours`` a sample has (0: not plain grey or RGB), T.6 code or not."""

    masked: bool
    stencil: bool
    plain_jpeg: bool
    t6: bool
    colours: int


class ImageFacts:
    """A second look at the same file, for entries that PDFium does not hand out; opened when first asked."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._document: pikepdf.Pdf | None = None

    def resources(self, number: int) -> Any:
        """Return the resources of page ``number`` (from 1)."""
        if self._document is None:
            self._document = pikepdf.open(self._path, suppress_warnings=True)
        return self._document.pages[number - 1].resources

    def close(self) -> None:
        """Let go of the file."""
        if self._document is not None:
            self._document.close()


def why_not_opened(path: Path) -> str:
    """Say why PDFium did not open a PDF, and what to do; goes after the file's name.

    PDFium's own error code is the one of an earlier file when it finds a PDF without pages.
    """
    try:
        with pikepdf.open(path, suppress_warnings=True) as document:
            if not len(document.pages):
                return "has no pages; scan it again."
    except pikepdf.PasswordError:
        return "is encrypted; save a copy that opens without a password, and read that."
    except Exception:
        # Whatever else is wrong with it, the next sentence covers it.
        return "is not a readable PDF; copy or scan it again."
    return "is not a readable PDF; copy or scan it again."


def check_image_sizes(page: pypdfium2.PdfPage, what: str) -> None:
    """Refuse a page whose images together state more pixels than allowed, before one is decoded."""
    total = 0
    for thing in page.get_objects(filter=[pdfium_c.FPDF_PAGEOBJ_IMAGE], max_depth=_MAX_FORM_DEPTH):
        width, height = thing.get_px_size()
        if thing.get_filters()[-1:] == ["JPXDecode"]:
            inner_width, inner_height = _jpx_size(bytes(thing.get_data(decode_simple=True)))
            width, height = max(width, inner_width), max(height, inner_height)
        if width and height:
            check_pixels(width, height, what)
        total += width * height
    # A thousand small pictures are no larger than one of their pixels together, whatever their sides.
    check_pixels(max(total, 1) ** 0.5, max(total, 1) ** 0.5, what)


def lone_image(page: pypdfium2.PdfPage) -> ScannedImage | None:
    """Return the page's image if it covers the page, turned by quarters only, and nothing else is drawn."""
    image = None
    for thing in page.get_objects(max_depth=_MAX_FORM_DEPTH):
        if thing.type == pdfium_c.FPDF_PAGEOBJ_IMAGE and image is None:
            image = thing
        elif thing.type == pdfium_c.FPDF_PAGEOBJ_FORM:
            if pdfium_c.FPDFPageObj_HasTransparency(thing):
                return None
        elif not _is_invisible_text(thing):
            return None
    if image is None or pdfium_c.FPDFPageObj_HasTransparency(image) or _has_annotations(page):
        return None
    page_box = page.get_bbox()
    if not _clip_spares_page(image, page_box):
        return None
    a, b, c, d, e, f = _page_matrix(image)
    corners = [(e, f), (e + a, f + b), (e + c, f + d), (e + a + c, f + b + d)]
    if max(abs(gap) for gap in _edge_gaps(corners, page_box)) > COVER_TOLERANCE:
        return None
    width_px, height_px = image.get_px_size()
    width_pt, height_pt = (a * a + b * b) ** 0.5, (c * c + d * d) ** 0.5
    if not (width_px and height_px and width_pt and height_pt):
        return None
    right, up = _turned((a, b), page.get_rotation()), _turned((c, d), page.get_rotation())
    orientation = _orientation(right, up, width_pt / width_px, height_pt / height_px)
    if orientation is None:
        return None
    return ScannedImage(image, width_px, height_px, width_pt, height_pt, orientation, _fill_grey(image))


def image_facts(facts: ImageFacts, number: int, image: ScannedImage) -> KnownImage | None:
    """Return what the PDF says about the image, or None if its dictionary cannot be told from others.

    Images are matched by size; where several of one size stand in the page's resources, all must agree.
    """
    try:
        found = {
            _known(entry)
            for entry in _image_dictionaries(facts.resources(number), 0)
            if int(entry.get("/Width", 0)) == image.width_px and int(entry.get("/Height", 0)) == image.height_px
        }
    except Exception:
        # Only a second look: without it the page is drawn.
        return None
    return found.pop() if len(found) == 1 else None


def _image_dictionaries(resources: Any, depth: int) -> Iterator[Any]:
    for entry in resources.get("/XObject", {}).values():
        subtype = entry.get("/Subtype")
        if subtype == "/Image":
            yield entry
        elif subtype == "/Form" and depth < _MAX_FORM_DEPTH and "/Resources" in entry:
            yield from _image_dictionaries(entry.Resources, depth + 1)


def _known(entry: Any) -> KnownImage:
    filters = entry.get("/Filter", [])
    last = filters if isinstance(filters, pikepdf.Name) else (list(filters)[-1] if len(filters) else None)
    parameters = entry.get("/DecodeParms")
    decode = [float(value) for value in entry.get("/Decode", [])]
    colours = _colours(entry.get("/ColorSpace"))
    return KnownImage(
        masked="/SMask" in entry or "/Mask" in entry or int(entry.get("/SMaskInData", 0)) != 0,
        stencil=bool(entry.get("/ImageMask", False)),
        plain_jpeg=last == "/DCTDecode" and parameters is None and decode in ([], [0.0, 1.0] * colours),
        t6=last == "/CCITTFaxDecode" and _is_t6(parameters),
        colours=colours,
    )


def _is_t6(parameters: Any) -> bool:
    """ISO 32000-1, table 11: K below zero is T.6. With several filters the last one's parameters count."""
    if isinstance(parameters, pikepdf.Array):
        parameters = list(parameters)[-1] if len(parameters) else None
    return isinstance(parameters, pikepdf.Dictionary) and int(parameters.get("/K", 0)) < 0


def _colours(space: Any) -> int:
    """Return 1 for plain grey, 3 for plain RGB, 0 for anything in which a sample means something else."""
    if isinstance(space, pikepdf.Array) and len(space):
        family = str(space[0])
        if family == "/ICCBased":
            count = int(space[1].get("/N", 0))
            return count if count in (1, 3) else 0
    else:
        family = str(space)
    return {"/DeviceGray": 1, "/CalGray": 1, "/G": 1, "/DeviceRGB": 3, "/CalRGB": 3, "/RGB": 3}.get(family, 0)


def _jpx_size(data: bytes) -> tuple[int, int]:
    """Return the size in a JPEG 2000 stream's SIZ marker (ISO/IEC 15444-1, A.5.1), 0 x 0 without one."""
    at = data.find(b"\xff\x4f\xff\x51")
    if at < 0:
        return 0, 0
    return int.from_bytes(data[at + 8 : at + 12], "big"), int.from_bytes(data[at + 12 : at + 16], "big")


def _is_invisible_text(thing: pypdfium2.PdfObject) -> bool:
    """Text that a scanner's own recognition has laid over the image draws nothing."""
    return (
        thing.type == pdfium_c.FPDF_PAGEOBJ_TEXT
        and pdfium_c.FPDFTextObj_GetTextRenderMode(thing) == pdfium_c.FPDF_TEXTRENDERMODE_INVISIBLE
    )


def _has_annotations(page: pypdfium2.PdfPage) -> bool:
    for index in range(pdfium_c.FPDFPage_GetAnnotCount(page)):
        annotation = pdfium_c.FPDFPage_GetAnnot(page, index)
        if not annotation:
            continue
        subtype = pdfium_c.FPDFAnnot_GetSubtype(annotation)
        pdfium_c.FPDFPage_CloseAnnot(annotation)
        if subtype not in _INKLESS_ANNOTATIONS:
            return True
    return False


def _clip_spares_page(image: pypdfium2.PdfImage, page_box: tuple[float, float, float, float]) -> bool:
    """Tell whether the clip around the image is none, or rectangles that let the whole page through."""
    clip = pdfium_c.FPDFPageObj_GetClipPath(image)
    for index in range(max(0, pdfium_c.FPDFClipPath_CountPaths(clip)) if clip else 0):
        points = []
        count = pdfium_c.FPDFClipPath_CountPathSegments(clip, index)
        if count > 6:
            return False
        for segment in range(count):
            x, y = ctypes.c_float(), ctypes.c_float()
            part = pdfium_c.FPDFClipPath_GetPathSegment(clip, index, segment)
            pdfium_c.FPDFPathSegment_GetPoint(part, x, y)
            points.append((x.value, y.value))
        if points and max(_edge_gaps(points, page_box)) > COVER_TOLERANCE:
            return False
    return True


def _edge_gaps(
    points: list[tuple[float, float]], page_box: tuple[float, float, float, float]
) -> tuple[float, float, float, float]:
    """Return how far inside the page the points' bounding box stays at left, right, bottom and top.

    As a share of the page's side, negative where it reaches beyond the page.
    """
    left, bottom, right, top = page_box
    xs, ys = [x for x, _ in points], [y for _, y in points]
    across, along = max(abs(right - left), 1e-6), max(abs(top - bottom), 1e-6)
    return (
        (min(xs) - left) / across,
        (right - max(xs)) / across,
        (min(ys) - bottom) / along,
        (top - max(ys)) / along,
    )


def _page_matrix(image: pypdfium2.PdfImage) -> tuple[float, float, float, float, float, float]:
    """Return the map from the image's unit square to the page, through the forms around it."""
    matrix = image.get_matrix()
    container = image.container
    while container is not None:
        matrix = matrix.multiply(container.get_matrix())
        container = container.container
    a, b, c, d, e, f = matrix.get()
    return a, b, c, d, e, f


def _turned(vector: tuple[float, float], degrees: int) -> tuple[float, float]:
    """Turn a vector (y up) clockwise by a page's /Rotate."""
    x, y = vector
    return {0: (x, y), 90: (y, -x), 180: (-x, -y), 270: (-y, x)}[degrees]


def _orientation(right: tuple[float, float], up: tuple[float, float], point_x: float, point_y: float) -> int | None:
    """Return the EXIF orientation of an image whose right and up point so on the page (y up), None if askew.

    ``point_x`` and ``point_y`` are the points a pixel takes along the image's axes: across the whole image it
    may lean by less than one pixel.
    """
    if abs(right[1]) < point_y and abs(up[0]) < point_x:
        return {(True, True): 1, (False, True): 2, (False, False): 3, (True, False): 4}[right[0] > 0, up[1] > 0]
    if abs(right[0]) < point_y and abs(up[1]) < point_x:
        return {(False, False): 5, (False, True): 6, (True, True): 7, (True, False): 8}[right[1] > 0, up[0] > 0]
    return None


def _fill_grey(image: pypdfium2.PdfImage) -> int | None:
    red, green, blue, alpha = (ctypes.c_uint() for _ in range(4))
    if not pdfium_c.FPDFPageObj_GetFillColor(image, red, green, blue, alpha) or alpha.value != 255:
        return None
    # ITU-R BT.601 luma, as every grey conversion here.
    return round(0.299 * red.value + 0.587 * green.value + 0.114 * blue.value)
