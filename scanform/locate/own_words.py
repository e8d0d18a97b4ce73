"""Whether a page shows the words of a sheet: what tells two sheets apart whose boxes lie alike.

Most day sheets have their boxes in the same places, so that boxes alone fit an unknown sheet as well as the right one.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np

from scanform.form import Box, Layout, Words
from scanform.form.typeface import MM_PER_PT, width_mm
from scanform.locate.picture import artwork_picture
from scanform.locate.sample import sample_boxes
from scanform.locate.warp import PageMap

__all__ = ["WordPictures", "own_words_shown", "word_pictures"]

_PX_PER_MM = 5.0
_REACH_MM = 0.6  # a line is looked for so far to every side of its place
_SHORTEST = 5  # characters; shorter lines are alike too easily
_ALIKE = 0.5  # correlation of a line on the page with its print


@dataclass(frozen=True, eq=False)
class WordPictures:
    """The lines that come from the template and not from the layout engine: places, and uint8 pictures at 5 px/mm."""

    boxes: tuple[Box, ...]
    pictures: tuple[np.ndarray, ...] = field(repr=False)


def word_pictures(layout: Layout) -> WordPictures:
    """Pictures of title and items as they are printed."""
    template = layout.template
    said = " | ".join([template.title, template.machines, *(item.text for item in template.items)])
    boxes = [_box(w) for w in layout.words if len(w.text) >= _SHORTEST and w.text in said]
    whole = artwork_picture(layout, _PX_PER_MM)
    pictures = []
    for box in boxes:
        x, y = round(box.x_mm * _PX_PER_MM), round(box.y_mm * _PX_PER_MM)
        pictures.append(whole[y : y + round(box.h_mm * _PX_PER_MM), x : x + round(box.w_mm * _PX_PER_MM)])
    return WordPictures(tuple(boxes), tuple(pictures))


def _box(words: Words) -> Box:
    """Around a line of print, from above its capitals to below its descenders."""
    size = words.size_pt * MM_PER_PT
    return Box(words.x_mm, words.y_mm - 0.8 * size, width_mm(words.text, words.size_pt, words.bold), 1.05 * size)


def own_words_shown(pixels: np.ndarray, page_map: PageMap, words: WordPictures) -> float:
    """Share of the sheet's own lines of print that the page shows where they should be, 0 to 1."""
    if not words.boxes:
        return 0.0
    alike = [
        cv2.matchTemplate(
            sample_boxes(pixels, page_map, [box], np.zeros((1, 2)), _REACH_MM, _PX_PER_MM)[0],
            picture,
            cv2.TM_CCOEFF_NORMED,
        ).max()
        for box, picture in zip(words.boxes, words.pictures, strict=True)
    ]
    return float((np.array(alike) > _ALIKE).mean())
