"""Files that are made to do harm, each small; PDFs are put together by hand, since no library writes them so."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from functools import lru_cache

import img2pdf
from intake_files import jpeg_bytes, picture, sheet

from scanform.training.fuzz_files import jbig2_of_t6

GB = 1 << 30
_CATALOG = b"<< /Type /Catalog /Pages 2 0 R >>"
_PAGES = b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>"
_WHOLE_PAGE = b"q 612 0 0 792 0 0 cm /F Do Q"


def pdf(*objects: bytes) -> bytes:
    """A PDF of these objects, numbered from 1; the first is the catalog."""
    out, places = b"%PDF-1.7\n", []
    for number, body in enumerate(objects, start=1):
        places.append(len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    table = b"".join(b"%010d 00000 n \n" % place for place in places)
    size = len(objects) + 1
    trailer = b"trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n" % (size, len(out))
    return out + b"xref\n0 %d\n0000000000 65535 f \n" % size + table + trailer


def stream(entries: bytes, data: bytes) -> bytes:
    return b"<< %s /Length %d >>\nstream\n%s\nendstream" % (entries, len(data), data)


def page(box: bytes = b"0 0 612 792", resources: bytes = b"/XObject << /F 5 0 R >>") -> bytes:
    return b"<< /Type /Page /Parent 2 0 R /MediaBox [%s] /Contents 4 0 R /Resources << %s >> >>" % (box, resources)


def one_page(content: bytes, *more: bytes, head: bytes = page()) -> bytes:
    return pdf(_CATALOG, _PAGES, head, stream(b"", content), *more)


def form(content: bytes, calls: int) -> bytes:
    entries = b"/Type /XObject /Subtype /Form /BBox [0 0 612 792] /Resources << /XObject << /F %d 0 R >> >>" % calls
    return stream(entries, content)


def image(encoding: bytes, data: bytes, side: int = 100, depth: int = 8) -> bytes:
    entries = b"/Type /XObject /Subtype /Image /ColorSpace /DeviceGray /Width %d /Height %d /BitsPerComponent %d"
    return stream(entries % (side, side, depth) + b" /Filter " + encoding, data)


@lru_cache(maxsize=2)
def inflating(size: int) -> bytes:
    """Deflate code of so many zero bytes, a thousandth as long."""
    packer, chunk = zlib.compressobj(9), bytes(1 << 20)
    return b"".join([*(packer.compress(chunk) for _ in range(size >> 20)), packer.flush()])


def page_tree(depth: int) -> bytes:
    nodes = [b"<< /Type /Pages /Kids [%d 0 R] /Count 1 >>" % (n + 3) for n in range(depth)]
    return pdf(_CATALOG, *nodes, b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 612 792] >>")


def png_with(kind: bytes, data: bytes) -> bytes:
    """A good PNG with one more chunk before its pixels."""
    whole = picture("PNG")
    chunk = len(data).to_bytes(4, "big") + kind + data + zlib.crc32(kind + data).to_bytes(4, "big")
    return whole[:33] + chunk + whole[33:]


def tiff_with(*entries: tuple[int, int, int, int]) -> bytes:
    """A TIFF of one directory: tag, type, count and value of each entry (TIFF 6.0, section 2)."""
    packed = b"".join(struct.pack("<HHII", *entry) for entry in sorted(entries))
    return b"II*\0\x08\0\0\0" + struct.pack("<H", len(entries)) + packed + bytes(4) + bytes(64)


_GREY = ((256, 4, 1, 100), (257, 4, 1, 100), (258, 3, 1, 8), (259, 3, 1, 1), (262, 3, 1, 1), (278, 4, 1, 1))


def zip_file() -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("run.sh", "echo no")
    return buffer.getvalue()


def ending() -> dict[str, bytes]:
    """Files that end or block the process that opens them, if it may take 700 MB."""
    bomb = inflating(GB)
    page_of_bomb = pdf(_CATALOG, _PAGES, page(), stream(b"/Filter /FlateDecode", bomb))
    return {
        "a form that draws itself.pdf": one_page(b"/F Do", form(b"/F Do /F Do", calls=5)),
        "a page of 1 GB.pdf": page_of_bomb,
        "a picture that inflates.pdf": one_page(_WHOLE_PAGE, image(b"[/FlateDecode /DCTDecode]", bomb)),
    }


def refused() -> dict[str, tuple[bytes, str]]:
    """Files that are refused, with words of the sentence."""
    wide, tall = jbig2_of_t6(bytes(9), 60_000, 60_000), jbig2_of_t6(bytes(9), 100, 2**32 - 1)
    return {
        "ten thousand pages.pdf": (
            pdf(_CATALOG, b"<< /Type /Pages /Kids [%s] /Count 10000 >>" % (b"3 0 R " * 10_000), page()),
            "has 10000 pages, more than the 5000 allowed",
        ),
        "deep tree.pdf": (page_tree(20_000), "is damaged"),
        "tree that holds itself.pdf": (pdf(_CATALOG, b"<< /Type /Pages /Kids [2 0 R] /Count 9 >>"), "is damaged"),
        "wide bits.pdf": (one_page(_WHOLE_PAGE, image(b"/JBIG2Decode", wide, depth=1)), "damaged"),
        "tall bits.pdf": (one_page(_WHOLE_PAGE, image(b"/JBIG2Decode", tall, depth=1)), "damaged"),
        "thread.pdf": (one_page(b"0 0 1 1 re f", head=page(b"0 0 1 14400000")), "a side longer than"),
        "four thousand million strips.tif": (tiff_with(*_GREY, (273, 4, 2**32 - 1, 8)), "."),
        "strip past the end.tif": (tiff_with(*_GREY, (273, 4, 1, 10**9), (279, 4, 1, 10**9)), "cut short"),
        "strip larger than the file.tif": (tiff_with(*_GREY, (273, 4, 1, 8), (279, 4, 1, 2**31)), "cut short"),
        "endless comment.png": (png_with(b"zTXt", b"Comment\0\0" + inflating(GB)), "."),
    }


def read() -> dict[str, bytes]:
    """Odd files that are read, as one page."""
    jpeg = jpeg_bytes(sheet())
    whole = img2pdf.convert(jpeg)
    return {
        "huge paper.pdf": one_page(b"0 0 1 1 re f", head=page(b"-2147483648 -2147483648 2147483647 2147483647")),
        "nested a million deep.pdf": one_page(b"[" * 1_000_000, stream(b"", b"")),
        "few pixels of many.pdf": one_page(_WHOLE_PAGE, image(b"/FlateDecode", inflating(GB))),
        "pdf and zip.pdf": whole + zip_file(),
        "jpeg and pdf.jpg": jpeg + whole,
        "jpeg and zip.zip": jpeg + zip_file(),
    }
