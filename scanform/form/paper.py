"""Where nothing may be printed: filing holes, staples, margins; and where the registration marks go."""

from __future__ import annotations

from scanform.form.geometry import Box
from scanform.form.layout import Mark, Paper

__all__ = [
    "CODE_QUIET_MM",
    "CODE_SIDE_MM",
    "MARK_QUIET_MM",
    "MARK_SIDE_MM",
    "UNPRINTABLE_MARGIN_MM",
    "far_hole_boxes",
    "hole_boxes",
    "registration_marks",
    "staple_boxes",
]

UNPRINTABLE_MARGIN_MM = 5.0  # office lasers leave 4.2 mm (1/6 in) at most; common practice
MARK_SIDE_MM = 8.0  # found at fax resolution, 6 mm is not (REFERENCES: six marks on 20 pages a grade)
MARK_QUIET_MM = 1.0  # a bit more than one bit of the 6 x 6 marker; the decoder needs a light rim
CODE_SIDE_MM = 18.6  # a version 3 symbol (29 modules) then has 0.64 mm modules: 5 px at 200 dpi
CODE_QUIET_MM = 4 * CODE_SIDE_MM / 29  # ISO/IEC 18004: four modules on every side

# ISO 838: holes 6 +- 0.5 mm, centres 80 +- 0.5 mm apart, 12 +- 1 mm from the edge, symmetric about the axis.
_ISO_838_OFFSETS_MM = (-40.0, 40.0)
_ISO_838_FROM_EDGE_MM = 12.0
_ISO_838_REACH_MM = 3.25 + 1.0
# Three holes: common North American practice without a published standard; 108 mm apart, up to 8 mm wide.
_THREE_HOLE_OFFSETS_MM = (-108.0, 0.0, 108.0)
_THREE_HOLE_FROM_EDGE_MM = 12.7
_THREE_HOLE_REACH_MM = 4.0 + 1.0
_STAPLE_SIDE_MM = 16.0  # a staple across a corner lies within this square; common practice


def hole_boxes(paper: Paper) -> tuple[Box, ...]:
    """Squares around every place where a hole may be punched along the left edge, the sheet's filing edge."""
    _, height = paper.size_mm
    boxes = []
    for offsets, from_edge, reach in (
        (_ISO_838_OFFSETS_MM, _ISO_838_FROM_EDGE_MM, _ISO_838_REACH_MM),
        (_THREE_HOLE_OFFSETS_MM, _THREE_HOLE_FROM_EDGE_MM, _THREE_HOLE_REACH_MM),
    ):
        for offset in offsets:
            boxes.append(Box(from_edge - reach, height / 2 + offset - reach, 2 * reach, 2 * reach))
    return tuple(boxes)


def far_hole_boxes(paper: Paper) -> tuple[Box, ...]:
    """The same along the right edge, for sheets punched the wrong way round: the marks keep clear of these too."""
    width, _ = paper.size_mm
    return tuple(Box(width - box.right_mm, box.y_mm, box.w_mm, box.h_mm) for box in hole_boxes(paper))


def staple_boxes(paper: Paper) -> tuple[Box, ...]:
    """The two upper corners, where sheets get stapled."""
    width, _ = paper.size_mm
    side = _STAPLE_SIDE_MM
    return Box(0, 0, side, side), Box(width - side, 0, side, side)


def registration_marks(paper: Paper) -> tuple[Mark, ...]:
    """Eight marks, identities 0 to 7: the corners, and two in each side margin between the filing holes.

    Identities differ between all eight, so a page's way up follows from any of them.
    """
    width, height = paper.size_mm
    side = MARK_SIDE_MM
    left, right = 20.0, width - 20.0 - side
    top, bottom = 7.0, height - 7.0 - side
    rim = UNPRINTABLE_MARGIN_MM + MARK_QUIET_MM
    outer_left, outer_right = rim, width - rim - side
    upper, lower = height / 2 - 70.0 - side / 2, height / 2 + 70.0 - side / 2
    places = [
        (left, top),
        (right, top),
        (outer_left, upper),
        (outer_right, upper),
        (outer_left, lower),
        (outer_right, lower),
        (left, bottom),
        (right, bottom),
    ]
    return tuple(Mark(identity, Box(x, y, side, side)) for identity, (x, y) in enumerate(places))
