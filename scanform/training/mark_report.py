"""Measures the box network on pages that nothing was fitted on.

    python -m scanform.training.mark_report --data DIR [--show FILE.png]

reads ``natural.npz``, ``trouble.npz`` and ``odd.npz`` of :mod:`scanform.training.mark_pages` from DIR, takes the
network that the package carries and prints, by scan grade, how boxes and whole groups of boxes are read. ``--show``
draws each group that was read wrongly or not surely.
"""

from __future__ import annotations

import argparse
from collections import Counter
from pathlib import Path
from typing import NamedTuple

import cv2
import numpy as np

from scanform.read.boxes import BOX_STATES, NO_MARK, NO_MARK_OPTIONAL, MarkNet
from scanform.read.choices import Group, weighed_groups
from scanform.training.mark_hand import EMPTY_KINDS, KINDS
from scanform.training.mark_pages import GRADES, LEVELS, Boxes, load_boxes

__all__ = ["GroupRead", "read_groups"]

_ANSWERS = ("ok", "defect", "na")
_SURE = 0.99
_WIPED_OUT_MM2 = 0.15
_DIRT = frozenset(EMPTY_KINDS) - {KINDS.index("nothing")}


class GroupRead(NamedTuple):
    """How one group was read.

    ``first``: index of its first box; ``case``: what was done to it; ``right``: whether the best alternative is what
    the pen meant; ``sure``: its probability; ``evidence``: what would send it to a person.
    """

    first: int
    boxes: int
    grade: int
    case: str
    right: bool
    sure: float
    evidence: tuple[str, ...]


def read_groups(boxes: Boxes, net: MarkNet) -> tuple[list[GroupRead], np.ndarray]:
    """Each group as the reading room takes it, and the boxes' own probabilities (n, 3)."""
    maps = boxes.maps.astype(np.float32) / np.float32(LEVELS)
    states = net.probabilities(maps)
    pages = boxes.groups // 100
    found: list[GroupRead] = []
    for start, end in _runs(pages):
        found += _read_page(boxes, states, maps, start, end)
    return found, states


def _runs(numbers: np.ndarray) -> list[tuple[int, int]]:
    """First and last-but-one index of each run of the same number in int (n,)."""
    starts = np.flatnonzero(np.diff(numbers, prepend=-1)).tolist()
    return list(zip(starts, [*starts[1:], len(numbers)], strict=True))


def _read_page(boxes: Boxes, states: np.ndarray, maps: np.ndarray, start: int, end: int) -> list[GroupRead]:
    parts = [(start + a, start + b) for a, b in _runs(boxes.groups[start:end])]
    # Groups of two are the workshop's answers, often left empty; only the page's last says whether the unit is fit.
    workshop = [b - a < len(_ANSWERS) and b < end for a, b in parts]
    groups = [
        Group(_ANSWERS[: b - a], NO_MARK_OPTIONAL if often_empty else NO_MARK)
        for (a, b), often_empty in zip(parts, workshop, strict=True)
    ]
    page = states[start:end], maps[start:end]
    weighed = weighed_groups(groups, *page, [None] * (end - start))
    found = []
    for (a, b), group, often_empty, read in zip(parts, groups, workshop, weighed, strict=True):
        best = max(read.probabilities, key=lambda answer, p=read.probabilities: p[answer])  # type: ignore[misc]
        case, truth = _truth(boxes.states[a:b], boxes.kinds[a:b], boxes.visible_mm2[a:b])
        meant = None if truth is None else group.answers[truth]
        right = case != "both marked" and best == meant
        case = f"workshop's, {case}" if often_empty else case
        found.append(GroupRead(a, b - a, int(boxes.grades[a]), case, right, read.probabilities[best], read.evidence))
    return found


def _truth(states: np.ndarray, kinds: np.ndarray, visible_mm2: np.ndarray) -> tuple[str, int | None]:
    """What was done in a group, and which box answers it."""
    marked, struck = np.flatnonzero(states == 1), states == 2
    if (visible_mm2[states > 0] < _WIPED_OUT_MM2).any():
        return "wiped out by the scan", int(marked[0]) if len(marked) == 1 else None
    if len(marked) > 1:
        return "both marked", None
    if struck.any():
        return ("changed", int(marked[0])) if len(marked) else ("taken back", None)
    if not len(marked):
        return "nothing marked", None
    dirty = any(int(kind) in _DIRT for kind in kinds)
    return ("one mark, and dirt or another's ink" if dirty else "one mark"), int(marked[0])


def _print(name: str, boxes: Boxes, reads: list[GroupRead], states: np.ndarray) -> None:
    print(f"{name}: {len(boxes.states)} boxes, {len(reads)} groups")
    for grade, grade_name in enumerate(GRADES):
        here = boxes.grades == grade
        rates = [
            f"{state} {np.mean(states[here & (boxes.states == n)].argmax(1) == n):.4f}"
            for n, state in enumerate(BOX_STATES)
        ]
        print(f"  {grade_name.value}: boxes right, each state equally likely beforehand: {', '.join(rates)}")
        cases = Counter(r.case for r in reads if r.grade == grade)
        for case in sorted(cases, key=lambda c: -cases[c]):
            of = [r for r in reads if r.grade == grade and r.case == case]
            sure = [sum(r.right and r.sure >= level for r in of) / len(of) for level in (_SURE, 0.999)]
            taken = sum(r.right and r.sure >= _SURE and not r.evidence for r in of) / len(of)
            wrong = sum(not r.right and r.sure >= _SURE for r in of)
            silent = sum(not r.right and r.sure >= _SURE and not r.evidence for r in of)
            print(
                f"    {case}: {len(of)} groups; right with p >= 0.99 {sure[0]:.4f}, >= 0.999 {sure[1]:.4f}, "
                f"right and no doubt {taken:.4f}; wrong with p >= 0.99 {wrong}, of these silent {silent}"
            )
    tried, unsure = Counter[str](), Counter[str]()
    for r in reads:
        if r.case == "one mark":
            which = r.first + int(boxes.states[r.first : r.first + r.boxes].argmax())
            tried[KINDS[boxes.kinds[which]]] += 1
            unsure[KINDS[boxes.kinds[which]]] += not (r.right and r.sure >= _SURE and not r.evidence)
    print(
        "  one mark, but doubtful:", ", ".join(f"{kind} {n} of {tried[kind]}" for kind, n in unsure.most_common() if n)
    )


def _show(boxes: Boxes, reads: list[GroupRead], states: np.ndarray, path: Path) -> None:
    """A picture of each group that is wrong, or one mark and not surely right; at most 240."""
    plain = ("one mark", "one mark, and dirt or another's ink")
    chosen = [r for r in reads if not r.right and r.sure >= _SURE and not r.evidence]
    chosen += [r for r in reads if r.case in plain and not (r.right and r.sure >= _SURE and not r.evidence)]
    chosen += [r for r in reads if r.case not in plain and r.right and r.sure >= _SURE and not r.evidence][:40]
    tiles = []
    for r in chosen[:240]:
        tile = np.full((112, 330), 255, np.uint8)
        for n in range(r.boxes):
            picture = 255 - np.minimum(boxes.maps[r.first + n], 250)
            tile[2:66, 4 + 68 * n : 68 + 68 * n] = cv2.resize(picture, (64, 64), interpolation=cv2.INTER_NEAREST)
            p = states[r.first + n]
            text = "/".join(f"{100 * v:.0f}" for v in p)
            cv2.putText(tile, text, (4 + 68 * n, 78), 0, 0.32, 0, 1)
        kinds = ",".join(KINDS[k] for k in boxes.kinds[r.first : r.first + r.boxes])
        label = f"{GRADES[r.grade].value} {'right' if r.right else 'WRONG'} {r.sure:.4f}"
        for line, words in enumerate((f"{label} {kinds}"[:56], "; ".join(r.evidence)[:56])):
            cv2.putText(tile, words, (4, 92 + 14 * line), 0, 0.32, 0, 1)
        tiles.append(tile)
    while len(tiles) % 4 or not tiles:
        tiles.append(np.full((112, 330), 255, np.uint8))
    cv2.imwrite(str(path), np.vstack([np.hstack(tiles[k : k + 4]) for k in range(0, len(tiles), 4)]))


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--show", type=Path)
    given = parser.parse_args()
    net = MarkNet()
    for name in ("natural", "trouble", "odd"):
        boxes = load_boxes(given.data / f"{name}.npz")
        reads, states = read_groups(boxes, net)
        _print(name, boxes, reads, states)
        if given.show:
            _show(boxes, reads, states, given.show.with_name(f"{given.show.stem}_{name}.png"))


if __name__ == "__main__":
    main()
