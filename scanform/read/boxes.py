"""What is in a tick box: nothing, a mark, or a mark taken back; and what that makes of a group of boxes."""

from __future__ import annotations

from functools import lru_cache
from itertools import product

import cv2
import numpy as np

from scanform.locate import LocatedSheet
from scanform.read.networks import open_network, softmax

__all__ = [
    "BORDER_PX",
    "BOX_STATES",
    "MAP_PX_PER_MM",
    "MAP_SIDE",
    "MARGIN_MM",
    "NO_MARK",
    "NO_MARK_OPTIONAL",
    "PX_PER_MM",
    "MarkNet",
    "box_ink_mm2",
    "box_maps",
    "group_posterior",
    "ink_about_mm2",
    "ink_pictures",
]

MARGIN_MM = 1.5  # a ring round the box and a tick's tail lie within this
PX_PER_MM = 8.0
MAP_SIDE = 32
MAP_PX_PER_MM = PX_PER_MM / 2  # 8 mm on 32 px
BOX_STATES = ("empty", "marked", "struck")
_INSET_MM = 0.55  # inside of the border line, its blur and a locating error of 0.15 mm
BORDER_PX = round((MARGIN_MM + _INSET_MM) * MAP_PX_PER_MM)  # of a map: what lies this far in is clear of the border
_INK_LEVEL = 0.35
_FAINT_LEVEL = 0.25  # a soft pencil on a grey scan reaches 0.3; thumb prints and shadows stay below on most pages
_PAPER_PERCENTILE = 85  # border and a full box cover 45 % of the patch, a ring round it 15 % more
_BESIDE = 4  # patches on either side: about a line and a half of a sheet, 15 mm
# Light falls off slowly: of 30 simulated phone pages 28 have no empty patch below 0.75 of those beside it, and none has
# one below 0.69, which then looks a little grey all over. A blacked-out patch is at 0.6 or below.
_LEAST_OF_NEIGHBOURS = 0.75


def box_maps(patches: np.ndarray, sheet: LocatedSheet) -> np.ndarray:
    """Darkness of box patches, uint8 (n, 64, 64), as float32 (n, 32, 32): 0 the paper beside it, 1 solid print.

    The light falls differently on each box of a photo, so paper is measured in the patch itself, and in the patches
    before and after it where a blacked-out box leaves no paper to see: give patches that lie side by side in order.
    How much darker print is than paper is the page's own, measured on the registration marks.
    """
    n, height, width = patches.shape
    # One call for all: with whole blocks of 2 x 2 pixels no patch touches the next.
    tall = cv2.resize(patches.reshape(n * height, width), (MAP_SIDE, n * MAP_SIDE), interpolation=cv2.INTER_AREA)
    rank = int(_PAPER_PERCENTILE / 100 * MAP_SIDE**2)
    paper = np.partition(tall.reshape(n, -1), rank, axis=1)[:, rank].astype(np.float64)
    paper = np.maximum(paper, _LEAST_OF_NEIGHBOURS * _paper_beside(paper))[:, None, None]
    full = np.maximum(paper * (1 - sheet.print_grey / max(sheet.paper_grey, 1.0)), 25.0)
    maps = paper.astype(np.float32) - tall.reshape(n, MAP_SIDE, MAP_SIDE)
    maps *= (1 / full).astype(np.float32)
    return np.clip(maps, 0, 1.25, out=maps)


def box_ink_mm2(maps: np.ndarray) -> np.ndarray:
    """Inked area inside each box, float32 (n,), from maps as :func:`box_maps` makes them."""
    return _area_mm2(maps[:, BORDER_PX:-BORDER_PX, BORDER_PX:-BORDER_PX], _INK_LEVEL)


def ink_about_mm2(maps: np.ndarray) -> np.ndarray:
    """Inked area inside and round each box, float32 (n,), border left out: a ring counts, and pencil."""
    outer = round((MARGIN_MM - _INSET_MM) * MAP_PX_PER_MM)
    margin = maps.copy()
    margin[:, outer:-outer, outer:-outer] = 0
    inside = maps[:, BORDER_PX:-BORDER_PX, BORDER_PX:-BORDER_PX]
    return _area_mm2(inside, _FAINT_LEVEL) + _area_mm2(margin, _FAINT_LEVEL)


def _area_mm2(maps: np.ndarray, level: float) -> np.ndarray:
    return (maps > level).sum(axis=(1, 2)).astype(np.float32) / np.float32(MAP_PX_PER_MM**2)


def _paper_beside(paper: np.ndarray) -> np.ndarray:
    """The darker of two medians for each of float (n,) values: of those before it and of those after it."""
    padded = np.pad(paper, _BESIDE, mode="edge")
    median = np.median(np.lib.stride_tricks.sliding_window_view(padded, _BESIDE), axis=1)
    return np.minimum(median[: len(paper)], median[-len(paper) :])


_PICTURE_SIDE = 8


def ink_pictures(maps: np.ndarray) -> np.ndarray:
    """Where ink lies inside each box, coarsely: uint8 (n, 8, 8) from maps as :func:`box_maps` makes them."""
    inner = maps[:, BORDER_PX:-BORDER_PX, BORDER_PX:-BORDER_PX]  # the 4 mm inside the border
    small = inner.reshape(len(maps), _PICTURE_SIDE, 2, _PICTURE_SIDE, 2).mean(axis=(2, 4))
    return np.clip(small * 200, 0, 255).astype(np.uint8)


class MarkNet:
    """The small network that tells empty, marked and struck-out boxes apart; loaded once, one thread."""

    def __init__(self) -> None:
        """Loads the network and its calibration from the package's ``models``."""
        self._session, constants = open_network("marks")
        self._temperature = float(constants["temperature"])

    def logits(self, maps: np.ndarray) -> np.ndarray:
        """Raw scores float32 (n, 3) for maps float32 (n, 32, 32), columns as :data:`BOX_STATES`."""
        return self._session.run(["logits"], {"maps": np.ascontiguousarray(maps, np.float32)})[0]

    def probabilities(self, maps: np.ndarray) -> np.ndarray:
        """Calibrated probabilities float64 (n, 3), each state equally likely beforehand."""
        return softmax(self.logits(maps).astype(np.float64) / self._temperature)


# How often groups of boxes are found in each way, before looking. No outside source. Troubles are put several times
# higher than the simulated crews make them (one answer in 400 changed, one in 1,000 doubly marked), so that what is in
# doubt goes to a person; they decide only where the ink does not. Weighed on the "tuning" pages of
# scanform.training.mark_pages: with an answer taken back once in 1,000 groups, 0.02 % fewer groups are doubtful and two
# more of 81 taken-back answers are read as given; with a group left empty once in 50, 0.1 % more are doubtful.
_ONE_MARK, NO_MARK, _CHANGED, _TWO_MARKS, _ONLY_STRUCK, _ANYTHING = 0.97, 0.01, 0.01, 0.01, 0.003, 0.0001

# Boxes that most sheets leave empty (the workshop's answers at the end of a defect line).
NO_MARK_OPTIONAL = 0.9


@lru_cache(maxsize=8)
def _configurations(boxes: int, no_mark: float) -> tuple[np.ndarray, np.ndarray]:
    """All states of a group, int (k, boxes), and their prior probabilities, float (k,)."""
    states = np.array(list(product(range(3), repeat=boxes)))
    marked, struck = (states == 1).sum(axis=1), (states == 2).sum(axis=1)
    prior = np.full(len(states), _ANYTHING)
    for share, which in (
        (no_mark, (marked == 0) & (struck == 0)),
        (_ONE_MARK * (1 - no_mark) / (1 - NO_MARK), (marked == 1) & (struck == 0)),
        (_CHANGED, (marked == 1) & (struck == 1)),
        (_TWO_MARKS, (marked == 2) & (struck == 0)),
        (_ONLY_STRUCK, (marked == 0) & (struck == 1)),
    ):
        if which.any():
            prior[which] = share / which.sum()
    return states, prior / prior.sum()


def group_posterior(states: np.ndarray, no_mark: float = NO_MARK) -> tuple[np.ndarray, np.ndarray]:
    """Probability of each way the boxes of a group can be: ``(configurations (k, boxes), float (..., k))``.

    ``states``: float (..., boxes, 3), each box by itself, columns as :data:`BOX_STATES`; one group or more of one size.
    ``no_mark``: how often such a group is left empty.
    """
    boxes = states.shape[-2]
    configurations, prior = _configurations(boxes, no_mark)
    likelihood = np.prod(states[..., np.arange(boxes), configurations], axis=-1)
    posterior = likelihood * prior
    return configurations, posterior / posterior.sum(axis=-1, keepdims=True)
