"""Files as scanners and phones hand them over: a PDF of untouched JPEGs, a G4 multi-page TIFF, a turned picture."""

from __future__ import annotations

import io
from collections.abc import Sequence

import pikepdf
from PIL import Image

__all__ = ["g4_tiff", "jpegs_as_pdf", "with_orientation"]

_EXIF_ORIENTATION = 0x0112  # Exif 2.3, tag Orientation


def jpegs_as_pdf(jpegs: Sequence[bytes], dpi: float) -> bytes:
    """One page a grey JPEG, embedded byte for byte, on a page of just its size at ``dpi``.

    The same JPEGs give the same bytes.
    """
    pdf = pikepdf.new()
    for data in jpegs:
        with Image.open(io.BytesIO(data)) as image:
            width, height = image.size
        picture = pdf.make_stream(
            data,
            Type=pikepdf.Name.XObject,
            Subtype=pikepdf.Name.Image,
            Width=width,
            Height=height,
            ColorSpace=pikepdf.Name.DeviceGray,
            BitsPerComponent=8,
            Filter=pikepdf.Name.DCTDecode,
        )
        width_pt, height_pt = (round(size * 72 / dpi, 2) for size in (width, height))
        page = pdf.add_blank_page(page_size=(width_pt, height_pt))
        page.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(Scan=picture))
        page.Contents = pdf.make_stream(f"q {width_pt} 0 0 {height_pt} 0 0 cm /Scan Do Q".encode())
    out = io.BytesIO()
    pdf.save(out, deterministic_id=True)
    return out.getvalue()


def g4_tiff(tiffs: Sequence[bytes], dpi: tuple[float, float]) -> bytes:
    """One-page bitonal TIFFs as the pages of one, ITU-T T.6 coded."""
    pages = [Image.open(io.BytesIO(data)).convert("1") for data in tiffs]
    out = io.BytesIO()
    pages[0].save(out, "TIFF", save_all=True, append_images=pages[1:], compression="group4", dpi=dpi)
    return out.getvalue()


def with_orientation(jpeg: bytes, orientation: int) -> bytes:
    """The same JPEG with an Exif segment that tells a viewer how to turn it (1 to 8); the picture is not coded anew."""
    exif = Image.Exif()
    exif[_EXIF_ORIENTATION] = orientation
    body = exif.tobytes()
    return jpeg[:2] + b"\xff\xe1" + (len(body) + 2).to_bytes(2, "big") + body + jpeg[2:]
