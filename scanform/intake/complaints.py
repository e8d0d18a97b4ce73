"""Hear what the C decoders write to the terminal, instead of letting it reach the user."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from typing import BinaryIO, cast

__all__ = ["heard_complaints"]

_STDERR = 2
# Enough to know the kind of damage; a decoder can complain about every line of a page.
_MOST_BYTES = 16_384


def _catcher() -> BinaryIO:
    # In memory where that can be: on a full disk for temporary files a complaint would be lost, and a damaged page
    # would pass for a sound one.
    if sys.platform == "linux":
        return os.fdopen(os.memfd_create("complaints"), "w+b")
    return cast(BinaryIO, tempfile.TemporaryFile())


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
    with _catcher() as catcher:
        sys.stderr.flush()
        os.dup2(catcher.fileno(), _STDERR)
        try:
            yield lines
        finally:
            os.dup2(kept, _STDERR)
            os.close(kept)
            catcher.seek(0)
            lines += catcher.read(_MOST_BYTES).decode("utf-8", "replace").splitlines()
