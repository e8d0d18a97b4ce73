"""Read zones of free handwriting: defect words, names; and tell whether a signature stands in its box."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
from rapidfuzz.distance import Levenshtein

from scanform.form import Field
from scanform.locate import LocatedSheet
from scanform.read.lines import LineReader
from scanform.read.types import Alternative, Reading
from scanform.tesseract import tesseract_line

__all__ = ["read_initials", "read_name", "read_signature", "read_words"]

PX_PER_MM = 8.0
_INSET_MM = 0.5
_INK_LEVEL = 0.2  # of the contrast between paper and print: a hard pencil comes out at 0.3 on a grey scan
_EVEN_GREY = 0.15  # spread of grey, of the contrast, that no pen stays below
_LINE_RIM_MM = 0.6  # paper round a line: best of 0 to 1.75 mm by character error on 213 simulated lines
# Greedy probability of a line below which a second opinion is asked for: it costs 80 ms of processor time, three times
# the first, and is right less often; a sixth of simulated lines are below, and a person will look at those.
_A_GUESS = 0.02
_NO_LETTERS = 0.5
_SPECK_MM2 = 0.06
_PAPER_REACH_MM = 4.0  # wider than a felt pen's stroke, narrower than a shadow's edge
_LEAST_WRITING_MM2 = 0.8  # less ink than a short word's first letter: dirt or a touch of the pen
# On 300 zones of 150 simulated pages of all grades the faintest signature has 15 mm2 of ink, the dirtiest empty zone
# 2.4, one with a thumb print in it 5.8.
_MOST_DIRT_MM2 = 3.0
_SURE_SIGNATURE_MM2 = 9.0
# Initials, on 340 boxes of 49 simulated pages of all grades by 7 writers: the faintest have 5.3 mm2 of ink, the
# dirtiest empty box 1.0.
_MOST_DIRT_IN_INITIALS_MM2 = 1.2
_SURE_INITIALS_MM2 = 4.0


def read_words(sheet: LocatedSheet, field: Field, reader: LineReader) -> Reading:
    """Defect words: the line recogniser's text; where that is a mere guess, Tesseract's beside it if it can be had."""
    return _read_line(sheet, field, reader, second_opinion=tesseract_line)


def read_name(sheet: LocatedSheet, field: Field, reader: LineReader) -> Reading:
    """A name: the line recogniser's text alone (the crew list is the better second opinion, later)."""
    return _read_line(sheet, field, reader, second_opinion=_no_opinion)


def _read_line(
    sheet: LocatedSheet, field: Field, reader: LineReader, second_opinion: Callable[[np.ndarray], str | None]
) -> Reading:
    zone, ink = _zone(sheet, field)
    ink_mm2 = float(ink.sum()) / PX_PER_MM**2
    if ink_mm2 < _LEAST_WRITING_MM2:
        empty = 0.9999 if ink_mm2 < _LEAST_WRITING_MM2 / 4 else 0.9
        return _reading(sheet, field, (Alternative(None, empty),), ink_mm2, ())
    line = _cut_to_writing(zone, ink)
    text = reader.read(line)
    # Ink in which the recogniser sees no letter is not an empty line; whether it is writing is open.
    alternatives = [Alternative(text.text, text.probability) if text.text else Alternative(None, _NO_LETTERS)]
    evidence = []
    other = second_opinion(line) if not text.text or text.probability < _A_GUESS else None
    if other and other != text.text:
        alike = Levenshtein.normalized_similarity(text.text.lower(), other.lower())
        evidence.append(f"second reading {alike:.0%} alike")
        alternatives.append(Alternative(other, alternatives[0].probability * 0.1))
    reading = _reading(sheet, field, tuple(alternatives), ink_mm2, tuple(evidence))
    return replace(reading, line_steps=text.steps, line_characters="".join(reader.alphabet))


def read_signature(sheet: LocatedSheet, field: Field) -> Reading:
    """Ink or no ink; never whose."""
    return _read_presence(sheet, field, _MOST_DIRT_MM2, _SURE_SIGNATURE_MM2)


def read_initials(sheet: LocatedSheet, field: Field) -> Reading:
    """Ink or no ink in a small box; never whose."""
    return _read_presence(sheet, field, _MOST_DIRT_IN_INITIALS_MM2, _SURE_INITIALS_MM2)


def _read_presence(sheet: LocatedSheet, field: Field, most_dirt_mm2: float, sure_mm2: float) -> Reading:
    _, ink = _zone(sheet, field)
    ink_mm2 = float(ink.sum()) / PX_PER_MM**2
    # Between a speck and a scrawl the answer is open; the two limits are where it stops being so.
    there = float(np.clip((ink_mm2 - most_dirt_mm2) / (sure_mm2 - most_dirt_mm2), 0.0005, 0.9995))
    ranked = sorted([Alternative(True, there), Alternative(False, 1 - there)], key=lambda a: -a.probability)
    return _reading(sheet, field, tuple(ranked), ink_mm2, ())


def _reading(
    sheet: LocatedSheet,
    field: Field,
    alternatives: tuple[Alternative, ...],
    ink_mm2: float,
    evidence: tuple[str, ...],
) -> Reading:
    return Reading(
        field_id=field.id,
        kind=field.kind,
        alternatives=alternatives,
        polygon_px=sheet.polygon_px(field.box_mm),
        residual_mm=sheet.residual_of(field),
        ink_mm2=ink_mm2,
        evidence=evidence,
    )


def _zone(sheet: LocatedSheet, field: Field) -> tuple[np.ndarray, np.ndarray]:
    """The inside of a writing box: grey uint8 (height, width), and its ink without specks, bool of the same shape."""
    box = field.box_mm.grown(-_INSET_MM)
    coarse = sheet.patches([box], 0.0, PX_PER_MM / 2)[0]
    if int(coarse.max()) - int(coarse.min()) < _EVEN_GREY * (sheet.paper_grey - sheet.print_grey):
        return coarse, np.zeros(coarse.shape, bool)  # even paper: most zones of most sheets
    zone = sheet.patches([box], 0.0, PX_PER_MM)[0]
    share_of_paper = 1 - sheet.print_grey / max(sheet.paper_grey, 1.0)
    paper = _paper(zone)
    full = np.maximum(paper * share_of_paper, 25.0)
    mask = (zone < paper - _INK_LEVEL * full).astype(np.uint8)
    _wipe_streaks(mask)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8, ltype=cv2.CV_16U)
    keep = np.zeros(count, bool)
    keep[1:] = stats[1:, cv2.CC_STAT_AREA] > _SPECK_MM2 * PX_PER_MM**2
    _drop_borders(keep, stats, mask.shape)
    _drop_creases(keep, stats, labels)
    _drop_rim(keep, labels)
    return zone, keep[labels]


def _paper(zone: np.ndarray) -> np.ndarray:
    """The paper's own grey at each place, float32 of the zone's shape: a long zone in a photo has its own shadows."""
    reach = round(_PAPER_REACH_MM * PX_PER_MM)
    small = cv2.resize(zone, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    kernel = np.ones((max(reach // 4, 3), max(reach // 4, 3)), np.uint8)
    closed = cv2.morphologyEx(small, cv2.MORPH_CLOSE, kernel)  # lighter than any pen stroke is wide
    smooth = cv2.GaussianBlur(closed, (0, 0), max(reach / 16, 1.0))
    return cv2.resize(smooth, zone.shape[::-1], interpolation=cv2.INTER_LINEAR).astype(np.float32)


def _drop_borders(keep: np.ndarray, stats: np.ndarray, shape: tuple[int, ...]) -> None:
    """Leave out what is only the printed frame looking in: long thin pieces that lie along the zone's rim."""
    height, width = shape
    thin = round(0.45 * PX_PER_MM)
    for n in range(1, len(stats)):
        x, y, w, h, _ = stats[n]
        flat = h <= thin and w > 12 * h and (y <= thin or y + h >= height - thin)
        upright = w <= thin and h > 6 * w and (x <= thin or x + w >= width - thin)
        if flat or upright:
            keep[n] = False


_CROSSES = 0.85  # share of the zone's height from which a line is taken to cross it
_LINE_WIDTH_PX = 5  # of streaks and creases, blur included
_STRAIGHT_PX = 1.2  # how far a crease's rows stray from a straight line; a signature's long strokes bend more


def _wipe_streaks(mask: np.ndarray) -> None:
    """Take out feeder streaks, uint8 (height, width) in place: upright lines through the zone, often in dashes."""
    closed = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((15, 1), np.uint8))
    crossed = closed.mean(axis=0) > _CROSSES
    edges = np.flatnonzero(np.diff(np.concatenate(([0], crossed.astype(np.int8), [0]))))
    for start, end in edges.reshape(-1, 2):
        if end - start <= _LINE_WIDTH_PX:
            mask[:, max(start - 1, 0) : end + 1] = 0


def _drop_creases(keep: np.ndarray, stats: np.ndarray, labels: np.ndarray) -> None:
    """Leave out straight thin lines that cross the zone from top to bottom at a slant."""
    height = labels.shape[0]
    for n in np.flatnonzero(keep):
        x, y, w, h, area = stats[n]
        if h < _CROSSES * height or area > _LINE_WIDTH_PX * h:
            continue
        rows, columns = np.nonzero(labels[y : y + h, x : x + w] == n)
        stray = columns - np.polyval(np.polyfit(rows, columns, 1), rows)
        if float(np.sqrt((stray**2).mean())) < _STRAIGHT_PX:
            keep[n] = False


def _drop_rim(keep: np.ndarray, labels: np.ndarray) -> None:
    """Leave out what lies wholly along the rim: the frame itself, where the page curls."""
    inner = labels[_LINE_WIDTH_PX:-_LINE_WIDTH_PX, _LINE_WIDTH_PX:-_LINE_WIDTH_PX]
    keep &= np.bincount(inner.ravel(), minlength=len(keep)) > 0


def _cut_to_writing(zone: np.ndarray, ink: np.ndarray) -> np.ndarray:
    """The zone cut to its writing, paper brought to white, specks and frame painted over."""
    rows, columns = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
    close = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    near = cv2.dilate(ink.astype(np.uint8), np.ones((9, 9), np.uint8))[close] > 0
    level = zone[close] * (255 / np.maximum(_paper(zone)[close], 1.0))
    cut = np.where(near, np.clip(level, 0, 255), 255).astype(np.uint8)
    pad = round(_LINE_RIM_MM * PX_PER_MM)
    return cv2.copyMakeBorder(cut, pad, pad, pad, pad, cv2.BORDER_CONSTANT, value=255)


def _no_opinion(_line: np.ndarray) -> None:
    return None
