"""Makes the glyphs that the character network is trained, calibrated and tested on.

    python -m scanform.training.dataset --data DIR [--workers 2] [--share 1.0]

reads what :mod:`scanform.training.fetch` brought into DIR and writes ``training.npz``, ``calibration.npz`` and
``test.npz`` there. Every glyph has gone the reading room's own way: ink in a printed cell, scanned, taken out of
the cell by :func:`scanform.read.glyphs.glyphs_of`. Seeded: the same input gives the same glyphs.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np

from scanform.read.glyphs import glyphs_of
from scanform.simulate.writer import Writer, random_writer
from scanform.training import digits
from scanform.training.cells import GRADES, MARGIN_MM, random_print, scanned_cell
from scanform.training.ink import digit_ink, face_ink, hand_ink, stroke_ink
from scanform.training.samples import ALPHABET, EMPTY, KINDS, OTHER, Samples
from scanform.training.strokes import character_strokes, crossing_out, scribble, sign_strokes

__all__ = ["make_samples"]

_CHUNK = 500
_GRADE_SHARE = {"office": 0.34, "bitonal": 0.3, "worn": 0.16, "phone": 0.1, "fax": 0.1}
_SEEDS = {"training": 11, "calibration": 22, "test": 33}
# How many of each kind: real digits are passed through cells this many times each.
_COUNTS = {
    "training": (18, 105_000, 70_000, 18_000, 9_000, 11_000, 12_000, 9_000, 4_000, 20_000),
    "calibration": (5, 3_000, 5_000, 600, 300, 300, 300, 300, 150, 2_500),
    "test": (5, 3_000, 10_000, 600, 500, 500, 500, 500, 250, 4_000),
}
_BY_WRITERS = 0.6  # share of the training's strokes that the simulator's writers make
_CHARACTERS_A_WRITER = 24
_VISIBLE_PAIR = 1.25  # ink of a pair over the ink of its heavier half
_DEJAVU = Path("/usr/share/fonts/truetype/dejavu")


@dataclass(frozen=True)
class _Job:
    data: Path
    part: str
    kind: int
    first: int
    count: int
    seed: int


@lru_cache(maxsize=4)
def _digits_of(data: Path, part: str) -> digits.Digits:
    if part == "training":
        return digits.training_split(data / "digits")
    return digits.calibration_split() if part == "calibration" else digits.test_split()


@lru_cache(maxsize=8)
def _faces_of(data: Path, part: str) -> tuple[Path, ...]:
    found = sorted((data / "faces" / part).glob("*.ttf"))
    if part == "print":
        import reportlab

        vera = Path(reportlab.__file__).parent / "fonts"
        found += [vera / "Vera.ttf", vera / "VeraBd.ttf"]
        found += sorted(p for p in _DEJAVU.glob("DejaVuSans*.ttf") if "Oblique" not in p.name)
    return tuple(found)


class _Writer:
    """One chunk's hand: draws the ink of each kind of sample."""

    def __init__(self, job: _Job) -> None:
        self.job = job
        self.rng = np.random.default_rng([job.seed, job.kind, job.first])
        self.digits = _digits_of(job.data, job.part)
        self.print = _faces_of(job.data, "print")
        # Print, bent as by a hand, adds shapes to learn from; what is measured is measured on handwriting faces.
        self.hands = _faces_of(job.data, job.part) + (self.print if job.part == "training" else ())
        self._writer: Writer = random_writer(self.rng)
        self._left = 0

    def height_mm(self) -> float:
        """How tall a character is written."""
        return float(np.clip(self.rng.normal(4.8, 1.1), 2.3, 7.4))

    def pen_mm(self) -> float:
        """How wide the pen writes: ballpoint mostly, up to a marker."""
        return float(np.clip(self.rng.lognormal(np.log(0.5), 0.3), 0.3, 1.0))

    def _box(self, character: str, height: float) -> float:
        """The width of a character's box in mm."""
        narrow = 0.45 if character in "1I" else 0.75 if character == "J" else 1.2 if character in "MW" else 1.0
        return float(np.clip(height * self.rng.normal(0.66, 0.11) * narrow, 0.5, 6.5))

    def strokes(self, label: int, height: float) -> np.ndarray:
        """A character by the pen; in training every second one by one of the simulator's writers."""
        character = ALPHABET[label]
        if self.job.part == "training" and self.rng.random() < _BY_WRITERS:
            if self._left == 0:
                self._writer, self._left = random_writer(self.rng), _CHARACTERS_A_WRITER
            self._left -= 1
            ink = hand_ink(character, self._writer, float(self.rng.uniform(3.4, 6.6)), self.rng)
            if ink is not None:
                return ink
        path = character_strokes(character, self.rng)
        return stroke_ink(path, self._box(character, height), height, self.pen_mm(), self.rng)

    def real(self, index: int, height: float) -> np.ndarray:
        """A real digit."""
        return digit_ink(self.digits.images[index], height, float(self.rng.uniform(0.85, 1.18)), self.rng)

    def face(self, label: int, height: float, *, by_hand: bool) -> np.ndarray:
        """A typeface's character; print keeps its proportions."""
        faces = self.hands if by_hand else self.print
        path = faces[self.rng.integers(len(faces))]
        stretch = float(self.rng.uniform(0.8, 1.25)) if by_hand else 1.0
        return face_ink(path, ALPHABET[label], height, stretch, self.rng, by_hand=by_hand)

    def any_character(self, height: float) -> np.ndarray:
        """Some character: a neighbour, or half of a pair."""
        label = int(self.rng.integers(36))
        choice = self.rng.random()
        if choice < 0.4:
            return self.real(int(self.rng.integers(len(self.digits.labels))), height)
        return self.strokes(label, height) if choice < 0.75 else self.face(label, height, by_hand=True)

    def sample(self, number: int) -> tuple[np.ndarray | None, int]:
        """The ink of the chunk's kind and its label; ``number`` counts through all samples of the kind."""
        rng, height = self.rng, self.height_mm()
        kind = KINDS[self.job.kind]
        label = number % 36
        if kind == "real digit":
            index = number % len(self.digits.labels)
            return self.real(index, height), int(self.digits.labels[index])
        if kind == "strokes":
            return self.strokes(label, height), label
        if kind == "typeface":
            return self.face(label, height, by_hand=True), label
        if kind == "print":
            return self.face(label, float(rng.uniform(2.3, 5.5)), by_hand=False), label
        if kind == "empty":
            return None, EMPTY
        return self._no_character(kind, height), OTHER

    def _no_character(self, kind: str, height: float) -> np.ndarray:
        """Ink that is no single clean character."""
        while True:
            first, whole = self._pair(kind, height)
            # One on top of its like is still a clean character: a pair must show that it is one.
            if first is None or whole.sum() > _VISIBLE_PAIR * first.sum():
                return whole

    def _pair(self, kind: str, height: float) -> tuple[np.ndarray | None, np.ndarray]:
        """The heavier of two inks and both together; None and the ink where there is but one."""
        rng = self.rng
        wide = height * rng.uniform(0.5, 0.95)
        if kind == "scribble":
            return None, stroke_ink(scribble(rng), wide, height, self.pen_mm(), rng)
        if kind == "sign":
            return None, stroke_ink(sign_strokes(rng), wide, wide * rng.uniform(0.7, 1.3), self.pen_mm(), rng)
        first = self.any_character(height)
        if kind == "crossed out":
            second = stroke_ink(crossing_out(rng), wide, height * rng.uniform(0.7, 1.1), self.pen_mm(), rng)
            return max(first, second, key=np.sum), _overlaid(first, second, 0.0, 0.0)
        if kind == "overwritten":
            second = self.any_character(height * rng.uniform(0.9, 1.15))
            both = _overlaid(first, second, float(rng.normal(0, 3)), float(rng.normal(0, 3)))
            return max(first, second, key=np.sum), both
        narrow = [self.any_character(height * rng.uniform(0.6, 0.95)) for _ in range(2)]
        narrow = [cv2.resize(n, None, fx=rng.uniform(0.5, 0.8), fy=1.0, interpolation=cv2.INTER_AREA) for n in narrow]
        apart = float(rng.uniform(1.6, 2.7)) * 16
        return None, _overlaid(narrow[0], narrow[1], apart, float(rng.normal(0, 5)))


def _overlaid(first: np.ndarray, second: np.ndarray, dx: float, dy: float) -> np.ndarray:
    """Both inks on one sheet, the second's middle moved by (dx, dy) fine pixels; the middle is the pair's."""
    h = max(first.shape[0], second.shape[0]) + 2 * round(abs(dy)) + 2
    w = max(first.shape[1], second.shape[1]) + 2 * round(abs(dx)) + 2
    sheet = np.zeros((h, w), np.float32)
    for ink, sign in ((first, -0.5), (second, 0.5)):
        y, x = round((h - ink.shape[0]) / 2 + sign * dy), round((w - ink.shape[1]) / 2 + sign * dx)
        y, x = max(y, 0), max(x, 0)
        view = sheet[y : y + ink.shape[0], x : x + ink.shape[1]]
        np.maximum(view, ink[: view.shape[0], : view.shape[1]], out=view)
    return sheet


def _chunk(job: _Job) -> Samples:
    """The samples of one job."""
    cv2.setNumThreads(1)
    writer = _Writer(job)
    rng = writer.rng
    glyphs, ink_mm2, labels, grades = [], [], [], []
    cell = random_print(rng)
    recent: list[np.ndarray] = [writer.any_character(writer.height_mm()) for _ in range(4)]
    names = list(_GRADE_SHARE)
    for number in range(job.first, job.first + job.count):
        if number % 4 == 0:
            cell = random_print(rng)
        if job.part == "training":
            grade = names[rng.choice(len(names), p=list(_GRADE_SHARE.values()))]
        else:
            # Each grade alike, and each digit once in each.
            grade = GRADES[
                (number // max(len(writer.digits.labels), 1) if job.kind == 0 else number // 36) % len(GRADES)
            ]
        ink, label = writer.sample(number)
        beside = [recent[rng.integers(4)] if rng.random() < 0.7 else None for _ in range(2)]
        upon_rules = job.part != "training" or label >= OTHER
        patch = scanned_cell(ink, cell, grade, rng, (beside[0], beside[1]), upon_rules=upon_rules)
        if ink is not None:
            recent[rng.integers(4)] = ink
        glyph = glyphs_of(patch[None], cell.w_mm, cell.h_mm, MARGIN_MM)
        area = float(glyph.ink_mm2[0])
        # In training, what the scan has all but wiped out teaches nothing; in the other parts it stays in.
        lost = ink is not None and area < 0.35 * float(ink.sum()) / 256
        if area == 0 or (lost and job.part == "training"):
            if job.part != "training" and label != EMPTY:
                glyphs.append(np.zeros((28, 28), np.uint8))
            else:
                continue
        else:
            glyphs.append((np.rint(glyph.maps[0] * 15) * 17).astype(np.uint8))
        ink_mm2.append(area)
        labels.append(label)
        grades.append(GRADES.index(grade))
    return Samples(
        np.array(glyphs, np.uint8).reshape(-1, 28, 28),
        np.array(ink_mm2, np.float32),
        np.array(labels, np.int16),
        np.full(len(labels), job.kind, np.int16),
        np.array(grades, np.int16),
    )


def make_samples(data: Path, part: str, workers: int, share: float = 1.0) -> Samples:
    """All samples of ``part`` ("training", "calibration" or "test"); ``share`` scales their numbers.

    Real digits come also as they are (grade -1), with an invented ink area. Of empty cells only those are kept
    that dirt leaves some ink in; the others are empty beyond question.
    """
    real = _digits_of(data, part)
    counts = list(_COUNTS[part])
    counts[0] *= len(real.labels)
    jobs = [
        _Job(data, part, kind, first, min(_CHUNK, round(count * share) - first), _SEEDS[part])
        for kind, count in enumerate(counts)
        for first in range(0, round(count * share), _CHUNK)
    ]
    with ProcessPoolExecutor(workers) as pool:
        pieces = list(pool.map(_chunk, jobs))
    rng = np.random.default_rng(_SEEDS[part])
    bare = Samples(
        real.images,
        (real.images.mean(axis=(1, 2)) / 255 * rng.uniform(25, 70, len(real.labels))).astype(np.float32),
        real.labels.astype(np.int16),
        np.zeros(len(real.labels), np.int16),
        np.full(len(real.labels), -1, np.int16),
    )
    return Samples(*(np.concatenate(column) for column in zip(bare, *pieces, strict=True)))


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--share", type=float, default=1.0, help="scale the numbers, for a trial")
    given = parser.parse_args()
    for part in ("calibration", "test", "training"):
        samples = make_samples(given.data, part, given.workers, given.share)
        np.savez_compressed(given.data / f"{part}.npz", **samples._asdict())
        print(part, len(samples.labels), np.bincount(samples.kinds, minlength=len(KINDS)))


if __name__ == "__main__":
    main()
