"""What a worker makes of one file, for tests of files that may end it. Imported by workers."""

from __future__ import annotations

from pathlib import Path

from scanform.errors import FileUnreadable
from scanform.intake import count_pages, load_page


def first_page(path: Path) -> str:
    """``WIDTHxHEIGHT`` of the first page, or the sentence why there is none."""
    try:
        count_pages(path)
        height, width = load_page(path, 1).pixels.shape
    except FileUnreadable as problem:
        return str(problem)
    return f"{width}x{height}"
