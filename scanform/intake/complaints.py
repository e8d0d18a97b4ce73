"""Hear what the C decoders write to the terminal, instead of letting it reach the user."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["heard_complaints"]

_STDERR = 2
# Enough to know the kind of damage; a decoder can complain about every line of a page.
_MOST_BYTES = 16_384


@contextmanager
def heard_complaints() -> Iterator[list[str]]:
    """Collect the lines that a decoder writes to standard error; the list is filled when the block ends.

    libjpeg and libtiff report damage that they read past only there, through the C library, and OpenCV and
    Pillow pass nothing on. Not for two threads at once.
    """
    lines: list[str] = []
    try:
        kept = os.dup(_STDERR)
    except OSError:
        # A service without a terminal has no standard error, and then no one to disturb.
        yield lines
        return
    with tempfile.TemporaryFile() as catcher:
        sys.stderr.flush()
        os.dup2(catcher.fileno(), _STDERR)
        try:
            yield lines
        finally:
            os.dup2(kept, _STDERR)
            os.close(kept)
            catcher.seek(0)
            lines += catcher.read(_MOST_BYTES).decode("utf-8", "replace").splitlines()
