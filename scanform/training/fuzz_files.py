"""Small whole files of every kind that intake opens, made by other programs, for the fuzzer to damage.

Pillow, img2pdf and pikepdf make most; tiffcp (libtiff) and Ghostscript what those cannot, where they are installed.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

import img2pdf
import numpy as np
import pikepdf
from PIL import Image, ImageDraw

__all__ = ["jbig2_of_t6", "whole_files"]

_SIZE = (136, 176)  # a letter page at 16 dpi: decoders see all of their code on it, and it is decoded in a moment
_NAME = pikepdf.Name
_POSTSCRIPT = (
    "<< /PageSize [136 176] >> setpagedevice /Helvetica findfont 20 scalefont setfont "
    "20 40 moveto (7391) show 10 60 100 90 rectstroke showpage "
    "0.5 setgray 30 30 60 60 rectfill showpage"
)


def whole_files() -> dict[str, bytes]:
    """The files by name; the name's ending is the usual one of its kind."""
    return {**_photos(), **_stills(), **_tiffs(), **_pdfs(), **_by_other_programs()}


def _sheet() -> Image.Image:
    """A little page with frames, strokes and grey tones."""
    image = Image.new("L", _SIZE, 250)
    pen = ImageDraw.Draw(image)
    pen.rectangle((8, 8, 128, 40), outline=0, width=2)
    for row in range(5):
        pen.rectangle((12, 56 + 22 * row, 24, 68 + 22 * row), outline=60)
        pen.line((14, 58 + 22 * row, 30, 50 + 22 * row), fill=30 * row, width=2)
        pen.line((40, 66 + 22 * row, 120, 66 + 22 * row), fill=120)
    return image


def _saved(image: Image.Image, kind: str, **options: Any) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, kind, **options)
    return buffer.getvalue()


def _photos() -> dict[str, bytes]:
    turned = Image.Exif()
    turned[0x0112], turned[0x011A], turned[0x011B] = 6, 72.0, 72.0
    grey, colour = _sheet(), _sheet().convert("RGB")
    return {
        "grey.jpg": _saved(grey, "JPEG", dpi=(200, 200)),
        "progressive.jpg": _saved(colour, "JPEG", progressive=True, quality=60),
        "cmyk.jpg": _saved(colour.convert("CMYK"), "JPEG"),
        "turned.jpg": _saved(colour, "JPEG", exif=turned),
    }


def _stills() -> dict[str, bytes]:
    grey = _sheet()
    clear = grey.convert("RGBA")
    clear.putalpha(grey.point(lambda value: 255 - value))
    deep = Image.fromarray(np.asarray(grey).astype(np.uint16) * 257)
    flicker = [grey.convert("P"), grey.point(lambda value: 255 - value).convert("P")]
    return {
        "grey.png": _saved(grey, "PNG", dpi=(200, 200)),
        "deep.png": _saved(deep, "PNG"),
        "palette.png": _saved(grey.convert("RGB").quantize(8), "PNG", transparency=0),
        "clear.png": _saved(clear, "PNG", exif=Image.Exif().tobytes()),
        "moving.gif": _saved(flicker[0], "GIF", save_all=True, append_images=flicker[1:]),
        "colour.bmp": _saved(grey.convert("RGB"), "BMP"),
        "bits.bmp": _saved(grey.convert("1"), "BMP"),
        "lossy.webp": _saved(grey.convert("RGB"), "WEBP", quality=50),
        "clear.webp": _saved(clear, "WEBP", lossless=True),
    }


def _tiffs() -> dict[str, bytes]:
    grey, bits = _sheet(), _sheet().convert("1")
    deep = Image.fromarray(np.asarray(grey).astype(np.uint16) * 257)
    two = {"save_all": True, "append_images": [bits.transpose(Image.Transpose.ROTATE_180)]}
    return {
        "g4.tif": _saved(bits, "TIFF", compression="group4", dpi=(204, 196), **two),
        "g3.tif": _saved(bits, "TIFF", compression="group3", dpi=(204, 98)),
        "lzw.tif": _saved(grey, "TIFF", compression="tiff_lzw", **two),
        "deflate.tif": _saved(grey.convert("RGB"), "TIFF", compression="tiff_adobe_deflate"),
        "jpeg.tif": _saved(grey.convert("RGB"), "TIFF", compression="jpeg"),
        "packed.tif": _saved(grey, "TIFF", compression="packbits", tiffinfo={274: 6}),
        "deep.tif": _saved(deep, "TIFF"),
        "cmyk.tif": _saved(grey.convert("CMYK"), "TIFF", compression="tiff_lzw"),
        "big.tif": _saved(grey, "TIFF", big_tiff=True, **two),
    }


def _pdfs() -> dict[str, bytes]:
    grey, bits = _sheet(), _sheet().convert("1")
    jpeg = _saved(grey, "JPEG")
    code = _t6(bits)
    whole = (_NAME.DeviceGray, 1)
    return {
        "jpeg.pdf": img2pdf.convert([jpeg, jpeg]),
        "flate.pdf": img2pdf.convert(_saved(grey.convert("RGB"), "PNG")),
        "g4.pdf": img2pdf.convert(_saved(bits, "TIFF", compression="group4")),
        "jpx.pdf": img2pdf.convert(_saved(grey, "JPEG2000")),
        "jbig2.pdf": _image_pdf(jbig2_of_t6(code, *_SIZE), "JBIG2Decode", *whole),
        "runs.pdf": _image_pdf(_run_length(np.packbits(np.asarray(bits), axis=1)), "RunLengthDecode", *whole),
        "forms.pdf": _packed(_nested_forms(jpeg)),
        "locked.pdf": _locked(jpeg),
    }


def _run_length(samples: np.ndarray) -> bytes:
    """Rows of packed bits in PDF's run-length code (ISO 32000-1, 7.4.5), literally: runs of up to 128 bytes."""
    data = samples.tobytes()
    runs = (data[at : at + 128] for at in range(0, len(data), 128))
    return b"".join(bytes([len(run) - 1]) + run for run in runs) + b"\x80"


def _t6(bits: Image.Image) -> bytes:
    """The picture's T.6 code, its white as white."""
    # Pillow writes samples with 0 for black, and T.6 takes 0 for white.
    tiff = _saved(bits.point(lambda value: 255 - value), "TIFF", compression="group4")
    with Image.open(io.BytesIO(tiff)) as image:
        offset, length = image.tag_v2[273][0], image.tag_v2[279][0]  # type: ignore[attr-defined]
    return tiff[offset : offset + length]


def jbig2_of_t6(code: bytes, width: int, height: int) -> bytes:
    """A JBIG2 stream as PDF embeds it: one page, one generic region in MMR code, which is T.6.

    ITU-T T.88, 7.2 (segment headers), 7.4.8 (page information), 7.4.1 and 7.4.6 (region), from memory; that other
    decoders read it is a test.
    """

    def segment(number: int, kind: int, body: bytes) -> bytes:
        return number.to_bytes(4, "big") + bytes([kind, 0, 1]) + len(body).to_bytes(4, "big") + body

    size = width.to_bytes(4, "big") + height.to_bytes(4, "big")
    page = size + bytes(8) + b"\0" + b"\0\0"
    region = size + bytes(8) + b"\0" + b"\x01" + code
    return segment(0, 48, page) + segment(1, 38, region)


def _image_pdf(data: bytes, encoding: str, space: pikepdf.Name, depth: int) -> bytes:
    pdf = pikepdf.new()
    pdf.add_blank_page(page_size=_SIZE)
    stream = pikepdf.Stream(pdf, b"")
    stream.write(data, filter=pikepdf.Name("/" + encoding))
    entries = {"Type": _NAME.XObject, "Subtype": _NAME.Image, "Width": _SIZE[0], "Height": _SIZE[1]}
    for key, value in {**entries, "ColorSpace": space, "BitsPerComponent": depth}.items():
        stream[f"/{key}"] = value
    pdf.pages[0].Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(Scan=stream))
    pdf.pages[0].Contents = pikepdf.Stream(pdf, b"q %d 0 0 %d 0 0 cm /Scan Do Q" % _SIZE)
    buffer = io.BytesIO()
    pdf.save(buffer)
    return buffer.getvalue()


def _nested_forms(jpeg: bytes) -> pikepdf.Pdf:
    """A page whose picture is wrapped in two forms, with text and an annotation beside it."""
    pdf = pikepdf.open(io.BytesIO(img2pdf.convert(jpeg)))
    page = pdf.pages[0]
    picture = next(iter(page.Resources.XObject.values()))
    inner: Any = picture
    for _ in range(2):
        scale = 90 if inner is picture else 1
        form = pikepdf.Stream(pdf, b"q %d 0 0 %d 0 0 cm /In Do Q" % (scale, scale))
        form.Type, form.Subtype, form.BBox = _NAME.XObject, _NAME.Form, [0, 0, 100, 100]
        form.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(In=inner))
        inner = pdf.make_indirect(form)
    font = pikepdf.Dictionary(Type=_NAME.Font, Subtype=_NAME.Type1, BaseFont=_NAME.Helvetica)
    page.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(Out=inner), Font=pikepdf.Dictionary(F=font))
    page.Contents = pikepdf.Stream(pdf, b"/Out Do BT /F 9 Tf 10 10 Td (brakes) Tj ET 0 0 1 rg 5 5 20 20 re f")
    note = pikepdf.Dictionary(Type=_NAME.Annot, Subtype=_NAME.Square, Rect=[5, 5, 40, 40], C=[1, 0, 0])
    page.Annots = pikepdf.Array([pdf.make_indirect(note)])
    return pdf


def _packed(pdf: pikepdf.Pdf) -> bytes:
    buffer = io.BytesIO()
    pdf.save(buffer, object_stream_mode=pikepdf.ObjectStreamMode.generate)
    return buffer.getvalue()


def _locked(jpeg: bytes) -> bytes:
    buffer = io.BytesIO()
    with pikepdf.open(io.BytesIO(img2pdf.convert(jpeg))) as pdf:
        pdf.save(buffer, encryption=pikepdf.Encryption(owner="boss", user=""))
    return buffer.getvalue()


def _by_other_programs() -> dict[str, bytes]:
    made: dict[str, bytes] = {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if shutil.which("tiffcp"):
            plain, colour = folder / "plain.tif", folder / "colour.tif"
            _sheet().convert("1").save(plain)
            _sheet().convert("RGB").save(colour)
            for kind, options, source in (
                ("tiled", "-c zip -t -w 32 -l 48", colour),
                ("planes", "-c lzw -p separate -r 9", colour),
                ("g3-2d", "-c g3:2d -B -r 20", plain),
            ):
                out = folder / f"{kind}.tif"
                subprocess.run(["tiffcp", *options.split(), str(source), str(out)], check=True)
                made[out.name] = out.read_bytes()
        if shutil.which("gs"):
            for device, kind in (("pdfwrite", "gs.pdf"), ("tiffg4", "gs.tif"), ("jpeggray", "gs.jpg")):
                out = folder / kind
                command = ["gs", "-q", "-dSAFER", "-dBATCH", "-dNOPAUSE", f"-sDEVICE={device}", f"-sOutputFile={out}"]
                subprocess.run([*command, "-c", _POSTSCRIPT], check=True, capture_output=True)
                made[kind] = out.read_bytes()
    return made
