"""Rectangles in millimetres from the page's top left corner, x to the right, y down."""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["Box"]


class Box(NamedTuple):
    """An axis-parallel rectangle: left, top, width, height, all in mm."""

    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float

    @property
    def right_mm(self) -> float:
        """X of the right edge."""
        return self.x_mm + self.w_mm

    @property
    def bottom_mm(self) -> float:
        """Y of the lower edge."""
        return self.y_mm + self.h_mm

    @property
    def centre_mm(self) -> tuple[float, float]:
        """Centre point (x, y)."""
        return self.x_mm + self.w_mm / 2, self.y_mm + self.h_mm / 2

    def grown(self, by_mm: float) -> Box:
        """The box with every edge moved outwards by ``by_mm`` (inwards if negative)."""
        return Box(self.x_mm - by_mm, self.y_mm - by_mm, self.w_mm + 2 * by_mm, self.h_mm + 2 * by_mm)

    def overlaps(self, other: Box) -> bool:
        """Whether the two share an area; boxes that only touch do not."""
        slack = 1e-6
        return (
            self.x_mm < other.right_mm - slack
            and other.x_mm < self.right_mm - slack
            and self.y_mm < other.bottom_mm - slack
            and other.y_mm < self.bottom_mm - slack
        )

    def contains(self, other: Box) -> bool:
        """Whether ``other`` lies wholly inside, edges included."""
        slack = 1e-6
        return (
            other.x_mm >= self.x_mm - slack
            and other.y_mm >= self.y_mm - slack
            and other.right_mm <= self.right_mm + slack
            and other.bottom_mm <= self.bottom_mm + slack
        )

    def union(self, other: Box) -> Box:
        """The smallest box around both."""
        x = min(self.x_mm, other.x_mm)
        y = min(self.y_mm, other.y_mm)
        return Box(x, y, max(self.right_mm, other.right_mm) - x, max(self.bottom_mm, other.bottom_mm) - y)

    def rounded(self) -> list[float]:
        """``[x, y, w, h]`` to a thousandth of a millimetre, for JSON."""
        return [round(v, 3) for v in self]
