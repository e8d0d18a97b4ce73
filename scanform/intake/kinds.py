"""Tell what a file is from its first bytes; its name is not believed."""

from __future__ import annotations

from enum import Enum

__all__ = ["HEAD_BYTES", "READABLE_SUFFIXES", "Kind", "kind_of", "why_not_read"]

# ISO 32000-1, annex H, note 13 (from memory): a PDF's header may stand anywhere in the first 1024 bytes.
HEAD_BYTES = 1024

READABLE_SUFFIXES = frozenset(
    {".pdf", ".tif", ".tiff", ".jpg", ".jpeg", ".jpe", ".jfif", ".png", ".bmp", ".gif", ".webp"}
)

# Sizes of the header that follows the file header, for each version of BMP; two letters alone would take any
# text that begins with "BM" for a picture.
_BMP_HEADER_SIZES = frozenset({12, 16, 40, 52, 56, 64, 108, 124})
_HEIF_BRANDS = frozenset({b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1"})


class Kind(Enum):
    """A kind of file that intake opens; the value is its name for a person."""

    PDF = "PDF"
    TIFF = "TIFF"
    JPEG = "JPEG"
    PNG = "PNG"
    BMP = "BMP"
    GIF = "GIF"
    WEBP = "WebP"


def kind_of(head: bytes) -> Kind | None:
    """Return the kind that a file's first :data:`HEAD_BYTES` bytes show, or None."""
    if head.startswith(b"\xff\xd8\xff"):
        return Kind.JPEG
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return Kind.PNG
    if head[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        return Kind.TIFF
    if head[:6] in (b"GIF87a", b"GIF89a"):
        return Kind.GIF
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return Kind.WEBP
    if head[:2] == b"BM" and int.from_bytes(head[14:18], "little") in _BMP_HEADER_SIZES:
        return Kind.BMP
    if b"%PDF-" in head[:HEAD_BYTES]:
        return Kind.PDF
    return None


def why_not_read(head: bytes) -> str:
    """Say what a file is, if not a kind that is read, and what to do; goes after the file's name."""
    if not head:
        return "is empty; copy or scan it again."
    if head[4:8] == b"ftyp" and head[8:12] in _HEIF_BRANDS:
        return "is a HEIC photo, which is not read; set the phone's camera to JPEG, or convert the photo."
    if not head.strip(b"\0"):
        return "holds only zero bytes; copy or scan it again."
    return "is not a PDF, TIFF, JPEG, PNG, BMP, GIF or WebP; scan to PDF or TIFF."
