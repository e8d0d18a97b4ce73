"""How much one file may ask for, and how a refusal is worded."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from scanform.errors import FileUnreadable, ScanformError, StorageFailed
from scanform.files import told

__all__ = [
    "MAX_FILE_BYTES",
    "MAX_FILE_PAGES",
    "MAX_PAGE_PIXELS",
    "MAX_SIDE_PIXELS",
    "check_pixels",
    "refusing_damage",
    "shown",
]

# An A0 drawing at 300 dpi has 139 million pixels; a check sheet has 9. Below Pillow's own hard stop (179
# million), so that the refusal is ours and comes with a sentence.
MAX_PAGE_PIXELS = 150_000_000
# cv2.remap takes no longer side (its coordinates are 16 bits wide); at 600 dpi that is 1.4 m.
MAX_SIDE_PIXELS = 32_767
# A month of a whole site's sheets in one feeder file is below 3,000 pages.
MAX_FILE_PAGES = 5_000
# 5,000 grey pages at 200 kB each: what one hash and one archive copy can carry without a pause.
MAX_FILE_BYTES = 1 << 30

# A page must not go on record as damaged because the disk for temporary files was full or a share did not answer.
_NOT_THE_FILES_FAULT = frozenset(
    {
        *(errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EMFILE, errno.ENFILE, errno.ENOMEM),
        *(errno.EIO, errno.ENODEV, errno.ENXIO, errno.ESTALE, errno.ENOTCONN, errno.EHOSTDOWN, errno.ETIMEDOUT),
    }
)


def shown(name: str | Path) -> str:
    """Return a file name fit for a terminal or a log: characters that do not print are escaped."""
    return "".join(
        c if c.isprintable() else c.encode("unicode_escape", "backslashreplace").decode("ascii") for c in str(name)
    )


def check_pixels(width: float, height: float, what: str) -> None:
    """Refuse a picture from its stated size in pixels, before anything is decoded.

    ``what`` names the file and page in the sentence. Raises :class:`FileUnreadable`.
    """
    if width < 1 or height < 1:
        raise FileUnreadable(f"{what} states a size of {width:.0f} x {height:.0f} pixels; scan it again.")
    if width * height > MAX_PAGE_PIXELS:
        raise FileUnreadable(
            f"{what} states a size of {width:.0f} x {height:.0f} pixels, more than the "
            f"{MAX_PAGE_PIXELS // 1_000_000} million allowed for a page; scan it again at 300 dpi or less."
        )
    if max(width, height) > MAX_SIDE_PIXELS:
        raise FileUnreadable(
            f"{what} states a size of {width:.0f} x {height:.0f} pixels, a side longer than the {MAX_SIDE_PIXELS} "
            "allowed; scan it again at 300 dpi or less."
        )


@contextmanager
def refusing_damage(what: str) -> Iterator[None]:
    """Turn whatever a decoder throws at bad content into one :class:`FileUnreadable`.

    The decoders used here raise nearly every built-in exception on damaged bytes (SyntaxError, KeyError,
    AssertionError and struct.error among them), so the net is as wide as that; the cause stays chained.
    """
    try:
        yield
    except ScanformError:
        raise
    except OSError as error:
        if error.errno in _NOT_THE_FILES_FAULT:
            raise StorageFailed(f"{what} cannot be read now: {told(error)}, then run the command again.") from error
        raise FileUnreadable(f"{what} is damaged and cannot be decoded; copy or scan it again.") from error
    except MemoryError as error:
        raise FileUnreadable(f"{what} needs more memory than a page may take; scan it again at 300 dpi.") from error
    except Exception as error:
        raise FileUnreadable(f"{what} is damaged and cannot be decoded; copy or scan it again.") from error
