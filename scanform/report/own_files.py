"""How a PDF or a picture says that scanform made it, so that it may be replaced, and a scan of that name may not."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from PIL.Image import Image

__all__ = ["CREATOR", "PNG_NOTE", "save_png"]

CREATOR = "scanform"  # in a PDF's document information
PNG_NOTE = b"Software\0" + CREATOR.encode()  # a tEXt chunk (ISO/IEC 15948, 11.3.4.3)


def save_png(picture: Image, out: Any) -> None:
    """Write a picture as PNG with the note in it; ``out``: a path or a binary file."""
    from PIL.PngImagePlugin import PngInfo  # not at the top: whoever only looks for the note needs nothing of it

    note = PngInfo()
    note.add_text("Software", CREATOR)
    picture.save(out, "PNG", pnginfo=note)
