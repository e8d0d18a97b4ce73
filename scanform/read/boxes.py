"""What is in a tick box: nothing, a mark, or a mark taken back; and what that makes of a group of boxes."""

from __future__ import annotations

import json
from functools import lru_cache
from importlib import resources
from itertools import product

import cv2
import numpy as np
import onnxruntime

from scanform.locate import LocatedSheet

__all__ = ["BOX_STATES", "MARGIN_MM", "PX_PER_MM", "MarkNet", "box_ink_mm2", "box_maps", "group_posterior"]

MARGIN_MM = 1.5  # a ring round the box and a tick's tail lie within this
PX_PER_MM = 8.0
MAP_SIDE = 32
BOX_STATES = ("empty", "marked", "struck")
_INSET_MM = 0.55  # inside of the border line, its blur and a locating error of 0.15 mm
_INK_LEVEL = 0.35


def box_maps(patches: np.ndarray, sheet: LocatedSheet) -> np.ndarray:
    """Darkness of box patches, uint8 (n, 64, 64), as float32 (n, 32, 32): 0 the paper beside it, 1 solid print.

    The light falls differently on each box of a photo, so paper is measured in the patch itself; how much darker
    print is than paper is the page's own, measured on the registration marks.
    """
    small = np.stack([cv2.resize(patch, (MAP_SIDE, MAP_SIDE), interpolation=cv2.INTER_AREA) for patch in patches])
    small = small.astype(np.float32)
    paper = np.percentile(small.reshape(len(small), -1), 85, axis=1)[:, None, None]
    full = np.maximum(paper * (1 - sheet.print_grey / max(sheet.paper_grey, 1.0)), 25.0)
    return np.clip((paper - small) / full, 0, 1.25).astype(np.float32)


def box_ink_mm2(maps: np.ndarray) -> np.ndarray:
    """Inked area inside each box, float32 (n,), from maps as :func:`box_maps` makes them."""
    px_per_mm = PX_PER_MM / 2
    inner = round((MARGIN_MM + _INSET_MM) * px_per_mm)
    inside = maps[:, inner:-inner, inner:-inner]
    return (inside > _INK_LEVEL).sum(axis=(1, 2)).astype(np.float32) / px_per_mm**2


class MarkNet:
    """The small network that tells empty, marked and struck-out boxes apart; loaded once, one thread."""

    def __init__(self) -> None:
        """Loads the network and its calibration from the package's ``models``."""
        models = resources.files("scanform.models")
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        options.inter_op_num_threads = 1
        self._session = onnxruntime.InferenceSession(
            (models / "marks.onnx").read_bytes(), options, providers=["CPUExecutionProvider"]
        )
        self._temperature = float(json.loads((models / "marks.json").read_text())["temperature"])

    def logits(self, maps: np.ndarray) -> np.ndarray:
        """Raw scores float32 (n, 3) for maps float32 (n, 32, 32), columns as :data:`BOX_STATES`."""
        return self._session.run(["logits"], {"maps": np.ascontiguousarray(maps, np.float32)})[0]

    def probabilities(self, maps: np.ndarray) -> np.ndarray:
        """Calibrated probabilities float64 (n, 3), each state equally likely beforehand."""
        scores = self.logits(maps).astype(np.float64) / self._temperature
        scores = np.exp(scores - scores.max(axis=1, keepdims=True))
        return scores / scores.sum(axis=1, keepdims=True)


# How often groups of boxes are found in each way, before looking: common experience with ticked paper, checked to
# matter only where the ink itself is unclear (a fill that might be a scribbled-out tick).
_ONE_MARK, _NO_MARK, _CHANGED, _TWO_MARKS, _ONLY_STRUCK, _ANYTHING = 0.93, 0.03, 0.02, 0.01, 0.003, 0.0005


@lru_cache(maxsize=8)
def _configurations(boxes: int) -> tuple[np.ndarray, np.ndarray]:
    """All states of a group, int (k, boxes), and their prior probabilities, float (k,)."""
    states = np.array(list(product(range(3), repeat=boxes)))
    marked, struck = (states == 1).sum(axis=1), (states == 2).sum(axis=1)
    prior = np.full(len(states), _ANYTHING)
    for share, which in (
        (_NO_MARK, (marked == 0) & (struck == 0)),
        (_ONE_MARK, (marked == 1) & (struck == 0)),
        (_CHANGED, (marked == 1) & (struck == 1)),
        (_TWO_MARKS, (marked == 2) & (struck == 0)),
        (_ONLY_STRUCK, (marked == 0) & (struck == 1)),
    ):
        if which.any():
            prior[which] = share / which.sum()
    return states, prior / prior.sum()


def group_posterior(states: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Probability of each way the boxes of one group can be: ``(configurations (k, boxes), float (k,))``.

    ``states``: float (boxes, 3), each box by itself, columns as :data:`BOX_STATES`.
    """
    configurations, prior = _configurations(len(states))
    likelihood = np.prod(states[np.arange(len(states)), configurations], axis=1)
    posterior = likelihood * prior
    return configurations, posterior / posterior.sum()
