"""How people print the 36 characters by hand: the pen's path as strokes, in several manners each.

A character is a list of strokes, a stroke an array of points; the box is 1 x 1, x to the right, y down.
The manners are this project's own, drawn after common ways of printing (European 1 and 7, open and closed 4,
slashed 0, barred Z). Single-stroke outlines of PyPI ``Hershey-Fonts`` come beside them.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

__all__ = ["character_strokes", "crossing_out", "scribble", "sign_strokes"]

Strokes = list[np.ndarray]

# "l" joins the points by straight lines, "c" by a smooth curve through them. Several manners a character.
_MANNERS: dict[str, tuple[str, ...]] = {
    "0": (
        "c .5,0 .1,.2 0,.5 .1,.8 .5,1 .9,.8 1,.5 .9,.2 .5,0",
        "c .6,.02 .15,.15 0,.5 .12,.85 .5,1 .88,.85 1,.5 .85,.12 .45,.03",
        "c .5,0 .1,.2 0,.5 .1,.8 .5,1 .9,.8 1,.5 .9,.2 .5,0|l .1,.95 .9,.05",
        "c .5,0 .08,.2 0,.5 .1,.8 .5,1 .9,.8 1,.5 .9,.2 .5,0|l .25,.72 .75,.28",
    ),
    "1": (
        "l .5,0 .5,1",
        "l .55,0 .45,1",
        "l .3,.22 .55,0 .55,1",
        "l 0,.45 .6,0 .6,1",
        "l .1,.25 .5,0 .5,1|l .1,1 .9,1",
        "l .3,.6 .6,0 .6,1",
    ),
    "2": (
        "c 0,.25 .2,.03 .6,0 .95,.2 .8,.5 .4,.8 0,1|l 0,1 1,1",
        "c 0,.2 .5,0 .95,.25 .6,.7 .1,.98 .05,.8 .3,.85 .6,.98 1,.93",
        "c .05,.15 .5,0 .9,.15 .8,.45 0,1|l 0,1 .95,.97",
        "l 0,.1 .7,0 .9,.25 0,1 1,1",
    ),
    "3": (
        "c 0,.1 .5,0 .9,.2 .75,.42 .35,.48|c .35,.48 .8,.55 1,.75 .7,.97 .3,1 0,.88",
        "l 0,0 .9,0 .4,.4|c .4,.4 .9,.5 1,.75 .6,1 0,.9",
        "c .05,.05 .6,0 .9,.22 .4,.47 .95,.7 .6,.98 0,.95",
    ),
    "4": (
        "l .1,0 0,.6 1,.6|l .75,.1 .75,1",
        "l .75,1 .75,0 0,.65 1,.65",
        "l .2,0 .1,.5 .9,.5|l .9,0 .85,1",
        "l .6,0 0,.68 1,.66|l .7,.35 .68,1",
        "c .1,0 .1,.4 .4,.55 .85,.45|l .9,0 .85,1",
    ),
    "5": (
        "l .9,0 .15,0 .1,.45|c .1,.45 .5,.35 .95,.6 .85,.9 .4,1 0,.9",
        "l .15,0 .1,.42|c .1,.42 .6,.35 1,.65 .6,1 0,.93|l .15,0 .95,0",
        "c .95,.02 .4,.02 .15,.1 .2,.4 .6,.45 .95,.7 .6,1 0,.92",
    ),
    "6": (
        "c .8,0 .3,.2 .02,.6 .15,.95 .55,1 .95,.8 .75,.55 .4,.52 .08,.72",
        "c .5,0 .15,.35 0,.7 .3,1 .8,.95 .95,.7 .6,.52 .1,.65",
        "c .95,.05 .5,0 .1,.4 .05,.8 .5,1 .95,.75 .6,.5 .15,.65",
    ),
    "7": (
        "l 0,0 1,0 .35,1",
        "l 0,0 1,0 .35,1|l .25,.5 .9,.48",
        "l 0,.15 .02,0 1,0 .4,1",
        "l 0,.15 .02,0 1,.02 .45,1|l .2,.52 .9,.48",
        "c 0,.05 .5,.08 1,0 .6,.45 .45,1",
    ),
    "8": (
        "c .5,.47 .1,.25 .5,0 .9,.22 .5,.47 .02,.75 .5,1 .98,.75 .5,.47",
        "c .85,.12 .5,0 .12,.2 .5,.48 .95,.78 .5,1 .05,.78 .5,.48 .85,.15",
        "c .5,0 .1,.22 .5,.45 .9,.22 .5,0|c .5,.45 0,.72 .5,1 1,.72 .5,.45",
        "c .9,.05 .3,.05 .2,.25 .8,.7 .5,1 .1,.8 .9,.1",
    ),
    "9": (
        "c .9,.2 .5,0 .05,.25 .4,.52 .85,.35 .92,.1|l .92,.1 .85,1",
        "c .9,.15 .45,0 .05,.28 .45,.5 .9,.2|c .9,.15 .95,.5 .7,.92 .2,1",
        "c .95,.3 .6,.5 .1,.4 .1,.1 .6,0 .95,.2 .8,.65 .55,1",
    ),
    "A": (
        "l 0,1 .5,0 1,1|l .2,.65 .8,.65",
        "c 0,1 .1,.3 .5,0 .9,.3 1,1|l 0,.6 1,.6",
        "l .5,0 0,1|l .5,0 1,1|l .15,.6 .85,.62",
    ),
    "B": (
        "l 0,0 0,1|c 0,0 .7,.03 .85,.25 .6,.45 0,.48|c 0,.48 .8,.53 1,.75 .7,.97 0,1",
        "l .05,0 .05,1|c .05,.03 .6,0 .85,.2 .3,.48|c .3,.48 1,.6 .9,.9 .5,1 .05,1",
    ),
    "C": ("c 1,.15 .6,0 .2,.15 0,.5 .2,.85 .6,1 1,.85", "c .9,.05 .4,.05 0,.5 .3,.95 1,.95"),
    "D": ("l 0,0 0,1|c 0,0 .6,.05 1,.5 .6,.95 0,1", "l .1,0 .1,1|c 0,.02 .7,.02 1,.4 .8,.85 0,1"),
    "E": (
        "l 1,0 0,0 0,1 1,1|l 0,.5 .8,.5",
        "l 0,0 0,1|l 0,0 .9,0|l 0,.5 .8,.48|l 0,1 .95,1",
        "c .9,.1 .3,0 .1,.25 .5,.47|c .5,.47 .05,.6 .1,.95 .5,1 .95,.88",
    ),
    "F": ("l 1,0 0,0 0,1|l 0,.5 .75,.5", "l .05,0 0,1|l 0,.03 1,0|l 0,.47 .7,.43"),
    "G": (
        "c 1,.15 .6,0 .15,.2 0,.55 .2,.9 .6,1 .95,.85|l .95,.9 .95,.55 .55,.55",
        "c .9,.1 .4,0 0,.5 .3,.95 .85,.9 .9,.6|l .5,.6 1,.58",
        "c .95,.12 .5,0 .05,.4 .2,.9 .7,.98 .95,.6|l .95,.6 .95,1",
    ),
    "H": ("l 0,0 0,1|l 1,0 1,1|l 0,.5 1,.5", "l .05,0 0,1|l 1,0 .95,1|l 0,.55 1,.45"),
    "I": ("l .5,0 .5,1", "l .5,0 .5,1|l .1,0 .9,0|l .1,1 .9,1", "l .5,0 .5,1|l 0,.02 1,0|l 0,1 1,.98"),
    "J": (
        "c .8,0 .8,.6 .7,.9 .35,1 0,.75",
        "c .7,0 .7,.7 .5,.98 .2,.98 0,.75|l .3,0 1,0",
        "l .7,0 .7,.75|c .7,.75 .6,1 .2,1 0,.75|l .2,0 1,0",
    ),
    "K": ("l 0,0 0,1|l .95,0 0,.55|l .25,.42 1,1", "l 0,0 0,1|l .9,.05 .08,.5 1,1"),
    "L": ("l 0,0 0,1 1,1", "l .05,0 0,1 .9,.97"),
    "M": ("l 0,1 0,0 .5,.6 1,0 1,1", "l 0,1 .15,0 .5,.9 .85,0 1,1", "l 0,1 .05,0 .5,.45 .95,0 1,1"),
    "N": ("l 0,1 0,0 1,1 1,0", "l 0,0 0,1|l 0,.02 .95,.98|l .97,0 .95,1"),
    "O": (
        "c .5,0 .1,.15 0,.5 .1,.85 .5,1 .9,.85 1,.5 .9,.15 .5,0",
        "c .6,.02 .15,.12 0,.5 .15,.9 .5,1 .9,.85 1,.45 .8,.1 .45,.03",
    ),
    "P": ("l 0,0 0,1|c 0,0 .7,0 1,.25 .7,.5 0,.53", "l .05,.05 0,1|c 0,.08 .5,0 .95,.2 .8,.5 .05,.55"),
    "Q": (
        "c .5,0 .1,.15 0,.5 .1,.85 .5,1 .9,.85 1,.5 .9,.15 .5,0|l .6,.65 1,1.05",
        "c .5,0 .1,.12 0,.45 .15,.85 .5,.92 .9,.8 1,.45 .85,.1 .5,0|l .55,.75 .95,1.1",
    ),
    "R": (
        "l 0,0 0,1|c 0,0 .7,0 .95,.22 .7,.48 0,.52|l .3,.5 1,1",
        "l .05,.05 0,1|c 0,.05 .6,0 .9,.2 .7,.45 .1,.52|l .15,.52 .95,1",
    ),
    "S": ("c .95,.12 .5,0 .1,.2 .4,.46 .85,.68 .6,.97 0,.88", "c .9,.05 .3,.02 .15,.3 .8,.6 .85,.9 .4,1 0,.9"),
    "T": ("l 0,0 1,0|l .5,0 .5,1", "l 0,.03 1,0|l .52,0 .45,1"),
    "U": ("c 0,0 0,.7 .2,.97 .5,1 .8,.97 1,.7 1,0", "c .05,0 .05,.7 .45,1 .9,.75 .95,0|l .95,0 .95,1"),
    "V": ("l 0,0 .5,1 1,0", "c 0,0 .35,.6 .48,1 .65,.6 1,0"),
    "W": ("l 0,0 .25,1 .5,.3 .75,1 1,0", "c 0,0 .1,.8 .27,1 .5,.35 .73,1 .9,.8 1,0", "l 0,0 .22,1 .5,.05 .78,1 1,0"),
    "X": ("l 0,0 1,1|l 1,0 0,1", "l .05,0 .95,1|l .95,.02 0,1"),
    "Y": ("l 0,0 .5,.5 1,0|l .5,.5 .5,1", "l 0,0 .5,.5|l 1,0 .3,1", "c 0,0 .1,.4 .5,.5 .9,.3 1,0|l 1,0 .6,1"),
    "Z": (
        "l 0,0 1,0 0,1 1,1",
        "l 0,0 1,0 0,1 1,1|l .2,.52 .8,.48",
        "c 0,.03 .5,.03 .95,.02 .5,.5 .02,.97 .5,.96 1,.98",
    ),
}  # fmt: skip

# Written where a character belongs, and none of the 36.
_SIGNS = (
    "l 0,.5 1,.5",
    "l 0,.5 1,.5|l .5,0 .5,1",
    "l 0,.35 1,.35|l 0,.65 1,.65",
    "l .3,0 .2,1|l .8,0 .7,1|l 0,.3 1,.3|l 0,.7 1,.7",
    "l 0,.2 1,.8|l 1,.2 0,.8|l .5,0 .5,1",
    "c 0,.2 .5,0 .95,.25 .5,.5 .5,.7|l .5,.95 .5,1",
    "c 0,.5 .25,.35 .5,.5 .75,.65 1,.5",
)

_HERSHEY_HANDS = ("futural", "futuram", "rowmans", "rowmand", "rowmant", "timesr", "timesi", "timesrb")


def _parse(manner: str) -> Strokes:
    strokes = []
    for part in manner.split("|"):
        kind, *pairs = part.split()
        points = np.array([[float(v) for v in pair.split(",")] for pair in pairs], np.float64)
        strokes.append(np.column_stack([points, np.full(len(points), float(kind == "c"))]))
    return strokes


_PARSED = {character: tuple(_parse(m) for m in manners) for character, manners in _MANNERS.items()}
_PARSED_SIGNS = tuple(_parse(sign) for sign in _SIGNS)


@lru_cache(maxsize=1)
def _hershey() -> dict[str, list[Strokes]]:
    from HersheyFonts import HersheyFonts

    result: dict[str, list[Strokes]] = {character: [] for character in _MANNERS}
    for hand in _HERSHEY_HANDS:
        font = HersheyFonts()
        font.load_default_font(hand)
        for character, manners in result.items():
            strokes = [
                np.asarray(s, np.float64)
                for glyph in font.glyphs_for_text(character)
                for s in glyph.strokes
                if len(s) > 1
            ]
            every = np.concatenate(strokes)
            low, size = every.min(axis=0), np.maximum(np.ptp(every, axis=0), 1.0)
            # A Hershey outline keeps its own proportions: width as a share of height, set right in drawing.
            manners.append([np.column_stack([(s - low) / size, np.zeros(len(s))]) for s in strokes])
    return result


def _smooth(points: np.ndarray, steps: int = 6) -> np.ndarray:
    """Catmull-Rom curve through the points (k, 2)."""
    padded = np.concatenate([2 * points[:1] - points[1:2], points, 2 * points[-1:] - points[-2:-1]])
    t = np.linspace(0, 1, steps, endpoint=False)[:, None]
    p0, p1, p2, p3 = padded[:-3], padded[1:-2], padded[2:-1], padded[3:]
    pieces = [
        0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
        for a, b, c, d in zip(p0, p1, p2, p3, strict=True)
    ]
    return np.concatenate([*pieces, points[-1:]])


def _drawn(strokes: Strokes, rng: np.random.Generator, wobble: float) -> Strokes:
    """Control points moved by the hand's ``wobble`` (in box sizes), curves filled in."""
    result = []
    for stroke in strokes:
        points = stroke[:, :2] + rng.normal(0, wobble, (len(stroke), 2))
        result.append(_smooth(points) if stroke[0, 2] and len(points) > 2 else points)
    return result


def character_strokes(character: str, rng: np.random.Generator) -> Strokes:
    """One way of printing ``character``: its strokes, each float64 (k, 2), in a 1 x 1 box."""
    if rng.random() < 0.25:
        hershey = _hershey()[character]
        return _drawn(hershey[rng.integers(len(hershey))], rng, rng.uniform(0.0, 0.02))
    manners = _PARSED[character]
    return _drawn(manners[rng.integers(len(manners))], rng, rng.uniform(0.01, 0.055))


def sign_strokes(rng: np.random.Generator) -> Strokes:
    """A dash, plus, hash, star, question mark: written by hand, and no character of the alphabet."""
    return _drawn(_PARSED_SIGNS[rng.integers(len(_PARSED_SIGNS))], rng, rng.uniform(0.01, 0.04))


def scribble(rng: np.random.Generator) -> Strokes:
    """A scribble that fills a good part of the box: zigzag, loops or a random walk."""
    kind = rng.integers(3)
    count = int(rng.integers(7, 22))
    t = np.linspace(0, 1, count)
    if kind == 0:
        points = np.column_stack([t, (np.arange(count) % 2) * rng.uniform(0.5, 1.0)])
        points += rng.normal(0, 0.08, points.shape)
        if rng.random() < 0.5:
            points = points[:, ::-1]
    elif kind == 1:
        turns = rng.uniform(2.0, 5.0) * 2 * np.pi
        count = 48
        t = np.linspace(0, 1, count)
        radius = rng.uniform(0.2, 0.5)
        points = np.column_stack([
            0.5 + radius * np.cos(turns * t) + (t - 0.5) * rng.uniform(0.35, 1.0),
            0.5 + radius * np.sin(turns * t) + (t - 0.5) * rng.uniform(-0.4, 0.4),
        ])  # fmt: skip
        points += rng.normal(0, 0.02, points.shape)
    else:
        points = rng.uniform(0, 1, (count, 2))
    return [_smooth(points) if kind != 0 or rng.random() < 0.5 else points]


def crossing_out(rng: np.random.Generator) -> Strokes:
    """What a person draws over a character to take it back: a double line, a cross, a hatch, a scribble."""
    kind = rng.integers(4)
    if kind == 0:
        slope = rng.uniform(-0.4, 0.4)
        middle = rng.uniform(0.35, 0.65)
        gap = rng.uniform(0.12, 0.25)
        lines = [
            np.array([[-0.15, middle - slope / 2 + d], [1.15, middle + slope / 2 + d]]) for d in (-gap / 2, gap / 2)
        ]
    elif kind == 1:
        lines = [np.array([[-0.1, -0.05], [1.1, 1.05]]), np.array([[1.1, -0.05], [-0.1, 1.05]])]
    elif kind == 2:
        lines = [np.array([[x - 0.3, 1.05], [x + 0.3, -0.05]]) for x in np.linspace(0, 1, int(rng.integers(3, 6)))]
    else:
        return scribble(rng)
    return [line + rng.normal(0, 0.04, line.shape) for line in lines]
