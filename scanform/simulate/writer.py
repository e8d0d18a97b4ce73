"""A writer: the habits of one hand, drawn once, and single characters as that hand makes them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scanform.simulate.glyphs import SHAPES, hershey_strokes, shape_count, shape_strokes
from scanform.simulate.pens import Pen, random_pen
from scanform.simulate.strokes import Strokes, bent, extent, sheared
from scanform.simulate.ticks import ANSWER_MARKS

__all__ = ["Writer", "character", "random_writer"]

PRINT_FACES = ("own", "futural", "rowmans")
CURSIVE_FACES = ("scripts", "cursive")


@dataclass(frozen=True)
class Writer:
    """One hand. Lengths are shares of the cell or of the zone unless the name says otherwise.

    ``seed`` makes a letter look the same way every time this hand writes it; ``shapes`` are the forms it prefers
    (crossed 7, open 4, ...). ``letters``: "upper", "title" or "lower" in free text.
    ``haste``: how much more loosely free text is written than single characters in cells.
    """

    seed: int
    pen: Pen
    comb_face: str
    text_face: str
    letters: str
    shapes: tuple[tuple[str, int], ...]
    slant: float
    comb_height: float
    text_height: float
    aspect: float
    spacing: float
    personal_bend: float
    jitter: float
    turn_deg: float
    off_centre: float
    sloppy: float
    wander_mm: float
    joining: float
    haste: float
    zero_padded: bool
    marks: tuple[tuple[str, float], ...]


def random_writer(rng: np.random.Generator) -> Writer:
    """A person off the crew list: a style that stays the same from sheet to sheet."""
    cursive = rng.random() < 0.22
    own = rng.random() < 0.75
    plain = str(rng.choice(PRINT_FACES[1:]))
    neat = rng.beta(2, 2)  # 0 a scrawl, 1 a draughtsman
    favourite = str(rng.choice(list(ANSWER_MARKS), p=_shares()))
    other = str(rng.choice(list(ANSWER_MARKS), p=_shares()))
    return Writer(
        seed=int(rng.integers(0, 2**31)),
        pen=random_pen(rng),
        comb_face="own" if own else plain,
        text_face=str(rng.choice(CURSIVE_FACES)) if cursive else "own" if own else plain,
        letters=str(rng.choice(["title", "lower"]))
        if cursive
        else str(rng.choice(["upper", "title", "lower"], p=[0.45, 0.25, 0.30])),
        shapes=_preferred_shapes(rng),
        slant=float(np.clip(rng.normal(0.10, 0.14), -0.25, 0.5)),
        comb_height=float(rng.uniform(0.48, 0.80)),
        text_height=float(rng.uniform(0.34, 0.52)),
        aspect=float(np.clip(rng.normal(1.0, 0.14), 0.7, 1.4)),
        spacing=float(rng.uniform(0.04, 0.28)),
        personal_bend=float(rng.uniform(0.015, 0.045)),
        jitter=float(0.006 + 0.026 * (1 - neat)),
        turn_deg=float(0.8 + 4.0 * (1 - neat)),
        off_centre=float(0.03 + 0.09 * (1 - neat)),
        sloppy=float(0.10 * (1 - neat) ** 2),
        wander_mm=float(0.10 + 0.45 * (1 - neat)),
        joining=float(rng.choice([0.0, 0.0, 0.2, 0.6, 0.85])),
        haste=float(0.8 + 1.5 * rng.beta(1.5, 2.5)),
        zero_padded=bool(rng.random() < 0.35),
        marks=((favourite, 0.9), (other, 0.1)),
    )


def _shares() -> np.ndarray:
    shares = np.array(list(ANSWER_MARKS.values()))
    return shares / shares.sum()


def _preferred_shapes(rng: np.random.Generator) -> tuple[tuple[str, int], ...]:
    chosen = []
    for name, shapes in SHAPES.items():
        usual = 0.55 if len(shapes) > 1 else 1.0
        shares = [usual] + [(1 - usual) / max(1, len(shapes) - 1)] * (len(shapes) - 1)
        if name == "0":
            shares = [0.62, 0.30, 0.08]  # slashed noughts are rare outside the signal trades
        chosen.append((name, int(rng.choice(len(shapes), p=shares))))
    return tuple(chosen)


def character(sign: str, face: str, writer: Writer, rng: np.random.Generator) -> tuple[Strokes, float] | None:
    """One character in this hand: strokes in cap heights (base line at 0, left edge near 0) and its width.

    None if neither the face nor the own table has the character.
    """
    habit = np.random.default_rng([writer.seed, ord(sign), len(face)])
    found = None if face == "own" else hershey_strokes(sign, face)
    if found is None:
        if not shape_count(sign):
            sign = sign.upper()
        count = shape_count(sign)
        if not count:
            return None
        usual = dict(writer.shapes).get(sign, 0)
        shape = int(rng.integers(0, count)) if rng.random() < 0.04 else usual
        found = shape_strokes(sign, shape)
    plain, width = found
    strokes = bent(bent(plain, writer.personal_bend, habit), writer.jitter, rng)
    strokes = _no_smaller(strokes, plain)
    joined = face in CURSIVE_FACES
    if not joined:
        loose = writer.jitter * 1.2
        strokes = [_overshot(points + rng.normal(0, loose, 2), loose, rng) for points in strokes]
    stretch = np.array(
        [writer.aspect * (1 + rng.normal(0, 2.0 * writer.jitter)), 1 + rng.normal(0, 2.0 * writer.jitter)]
    )
    stretch *= 1 + habit.normal(0, 0.05, 2)
    middle = np.array([width / 2, -0.4])
    turn = 0.0 if joined else np.radians(rng.normal(0, writer.turn_deg))
    strokes = [(points - middle) * stretch for points in strokes]
    strokes = sheared(strokes, writer.slant, turn)
    middle[0] *= stretch[0]
    strokes = [points + middle for points in strokes]
    if not joined:
        left, _, right, _ = extent(strokes)
        return [points - [left, 0.0] for points in strokes], right - left
    return strokes, width * stretch[0]


def _no_smaller(strokes: Strokes, plain: Strokes) -> Strokes:
    """Bending may fold a letter up; give it at least this share of its own width and height back."""
    left, top, right, bottom = extent(strokes)
    was_left, was_top, was_right, was_bottom = extent(plain)
    least = 0.88
    grow = np.array(
        [
            max(1.0, least * (was_right - was_left) / max(right - left, 0.1)),
            max(1.0, least * (was_bottom - was_top) / max(bottom - top, 0.1)),
        ]
    )
    origin = np.array([left, bottom])
    return [(points - origin) * grow + origin for points in strokes]


def _overshot(points: np.ndarray, amount: float, rng: np.random.Generator) -> np.ndarray:
    """Both ends of a stroke moved a little along their own direction: it starts late and stops late."""
    if len(points) < 2:
        return points
    out = points.copy()
    for end, before in ((0, 1), (-1, -2)):
        direction = out[end] - out[before]
        length = np.linalg.norm(direction)
        if length > 1e-6:
            out[end] = out[end] + direction / length * min(rng.normal(0, 1.5 * amount), 0.8 * length)
    return out
