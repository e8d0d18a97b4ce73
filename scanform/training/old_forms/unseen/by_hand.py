"""A page drawn with matplotlib, in mm from the top left: strokes and words wherever somebody put them."""

from __future__ import annotations

from typing import BinaryIO

from matplotlib import rc_context
from matplotlib.backends.backend_pdf import FigureCanvasPdf
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, FancyBboxPatch, Rectangle

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import FormField

__all__ = ["Sketch"]

_TRUETYPE = 42  # how matplotlib is asked to carry a typeface, so that the words stay words
_PT_MM = 25.4 / 72


class Sketch:
    """One page; what is drawn to be filled in is put into ``fields`` by whoever draws it."""

    def __init__(self, width_mm: float, height_mm: float, face: str = "DejaVu Sans") -> None:
        self.width_mm, self.height_mm, self.face = width_mm, height_mm, face
        self.fields: list[FormField] = []
        self._figure = Figure(figsize=(width_mm / 25.4, height_mm / 25.4))
        FigureCanvasPdf(self._figure)
        self._axes = self._figure.add_axes((0, 0, 1, 1), xlim=(0, width_mm), ylim=(height_mm, 0))
        self._axes.axis("off")

    def text(self, x: float, baseline: float, words: str, size_pt: float = 9, turned: float = 0) -> None:
        """Words from ``x`` on, ``turned`` degrees anticlockwise."""
        self._axes.text(x, baseline, words, fontsize=size_pt, family=self.face, rotation=turned, va="baseline")

    def line(self, x1: float, y1: float, x2: float, y2: float, width_mm: float = 0.3, style: str = "-") -> None:
        """A stroke; ``style`` as matplotlib names them: "-", "--", ":"."""
        self._axes.add_line(Line2D([x1, x2], [y1, y2], color="black", lw=width_mm / _PT_MM, ls=style))

    def rect(self, box: Box, width_mm: float = 0.3, fill: str = "none") -> None:
        """A frame, filled with a colour if one is named."""
        at, size = (box.x_mm, box.y_mm), (box.w_mm, box.h_mm)
        self._axes.add_patch(Rectangle(at, *size, fc=fill, ec="black", lw=width_mm / _PT_MM))

    def rounded(self, box: Box, radius_mm: float, width_mm: float = 0.3) -> None:
        """A frame with round corners."""
        style = f"round,pad=0,rounding_size={radius_mm}"
        at = (box.x_mm, box.y_mm)
        lw = width_mm / _PT_MM
        self._axes.add_patch(FancyBboxPatch(at, box.w_mm, box.h_mm, boxstyle=style, fc="none", ec="black", lw=lw))

    def ring(self, x: float, y: float, radius_mm: float, width_mm: float = 0.3) -> None:
        """A circle round (x, y)."""
        self._axes.add_patch(Circle((x, y), radius_mm, fc="none", ec="black", lw=width_mm / _PT_MM))

    def write(self, stream: BinaryIO) -> None:
        """The page as PDF."""
        with rc_context({"pdf.fonttype": _TRUETYPE}):
            self._figure.savefig(stream, format="pdf", metadata={"CreationDate": None})
