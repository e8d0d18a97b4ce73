"""Printed sheets as pixels: what the simulated pens write on."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pypdfium2 as pdfium
import pypdfium2.raw as pdfium_c

__all__ = ["render_pdf"]


def render_pdf(source: str | Path | bytes, dpi: float) -> list[np.ndarray]:
    """Each page of a PDF (path or bytes) as uint8 (height, width) grey at exactly ``dpi``.

    One point is exactly dpi / 72 px: the usual rendering stretches the page to whole pixels, which would shift the
    far edge against its own millimetres.
    """
    document = pdfium.PdfDocument(source)
    try:
        return [_page(document[k], dpi) for k in range(len(document))]
    finally:
        document.close()


def _page(page: pdfium.PdfPage, dpi: float) -> np.ndarray:
    width_pt, height_pt = page.get_size()
    scale = dpi / 72
    width, height = round(width_pt * scale), round(height_pt * scale)
    bitmap = pdfium.PdfBitmap.new_native(width, height, pdfium_c.FPDFBitmap_Gray)
    bitmap.fill_rect((255, 255, 255, 255), 0, 0, width, height)
    matrix = pdfium_c.FS_MATRIX(scale, 0, 0, scale, 0, 0)
    clip = pdfium_c.FS_RECTF(0, 0, width, height)
    pdfium_c.FPDF_RenderPageBitmapWithMatrix(bitmap, page, matrix, clip, pdfium_c.FPDF_ANNOT)
    pixels = np.array(bitmap.to_numpy(), dtype=np.uint8).reshape(height, width)
    page.close()
    return pixels
