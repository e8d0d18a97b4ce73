"""Handwriting on a page: characters in comb cells, words in zones, signatures, and real digits as ink."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import cv2
import numpy as np

from scanform.form.geometry import Box
from scanform.simulate.pens import DPI, Pen, draw, lay_ink
from scanform.simulate.strokes import Strokes, curve, extent, slow_noise
from scanform.simulate.writer import CURSIVE_FACES, Writer, character

__all__ = ["PastedDigit", "RealDigits", "paste_digit", "sign", "write_character", "write_comb", "write_text"]

# "0".."9" to (n, 28, 28) images, uint8 0..255 or float 0..1, ink high, as MNIST has them.
RealDigits = Mapping[str, np.ndarray]
PastedDigit = tuple[str, int]  # a digit, and the place of its picture among the real digits' of that digit

LOWEST_SPACING = 0.04
WORD_GAP = 0.45  # cap heights


def write_comb(
    page: np.ndarray,
    cells: Sequence[Box],
    text: str,
    writer: Writer,
    rng: np.random.Generator,
    dpi: float = DPI,
    real_digits: RealDigits | None = None,
) -> tuple[PastedDigit, ...]:
    """Write ``text`` one character a cell from the first of ``cells``, on ``page`` (uint8, in place).

    A space leaves its cell empty. With ``real_digits`` the digits are pasted from it and only the rest is written;
    gives which ones were. ValueError if there are more characters than cells.
    """
    if len(text) > len(cells):
        raise ValueError(f"{len(text)} characters for {len(cells)} cells")
    lean = rng.normal(0, writer.off_centre, 2)  # how this comb as a whole sits in its cells
    pasted = []
    for sign_, cell in zip(text, cells, strict=False):
        if sign_ == " ":
            continue
        if real_digits is not None and sign_ in real_digits:
            images = real_digits[sign_]
            which = int(rng.integers(0, len(images)))
            paste_digit(page, cell, images[which], writer.pen, rng, dpi, off_centre=writer.off_centre)
            pasted.append((sign_, which))
        else:
            write_character(page, cell, sign_, writer, rng, dpi, (float(lean[0]), float(lean[1])))
    return tuple(pasted)


def write_character(
    page: np.ndarray,
    cell: Box,
    sign_: str,
    writer: Writer,
    rng: np.random.Generator,
    dpi: float = DPI,
    lean: tuple[float, float] = (0.0, 0.0),
) -> None:
    """Write one character in ``cell`` on ``page`` (uint8, in place); it may touch or cross the border as people do.

    ``lean``: shift right and down as a share of the cell. Characters no table has are left out.
    """
    found = character(sign_, writer.comb_face, writer, rng)
    if found is None:
        return
    strokes, width = found
    height = writer.comb_height * cell.h_mm * (1 + rng.normal(0, 1.5 * writer.jitter))
    height = min(height, 1.02 * cell.w_mm / max(width, 0.2))
    centre = np.array(lean) + rng.normal(0, writer.off_centre, 2) * [0.8, 0.6]
    if rng.random() < writer.sloppy:
        angle = rng.uniform(0, 2 * np.pi)
        centre = centre + rng.uniform(0.15, 0.35) * np.array([np.cos(angle), 0.6 * np.sin(angle)])
    centre = np.clip(centre, -0.42, 0.42)
    small = sign_ in ".,-'"
    middle = np.array([width / 2, -0.5]) if small else _middle(strokes)
    at = np.array(cell.centre_mm) + centre * [cell.w_mm, cell.h_mm]
    draw(page, [(points - middle) * height + at for points in strokes], writer.pen, rng, dpi)


def _middle(strokes: Strokes) -> np.ndarray:
    left, top, right, bottom = extent(strokes)
    return np.array([(left + right) / 2, (top + bottom) / 2])


def paste_digit(
    page: np.ndarray,
    cell: Box,
    image: np.ndarray,
    pen: Pen,
    rng: np.random.Generator,
    dpi: float = DPI,
    off_centre: float = 0.06,
) -> None:
    """Lay a real digit, (28, 28) with ink high (uint8 to 255 or float to 1), as ink into ``cell`` on ``page``."""
    picture = image.astype(np.float32)
    if picture.max() > 1.5:
        picture /= 255
    rows, columns = np.where(picture.max(axis=1) > 0.1)[0], np.where(picture.max(axis=0) > 0.1)[0]
    if len(rows) == 0:
        return
    picture = np.pad(picture[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1], 2)
    # The database scaled each digit to 20 rows; give it the height of hand printing in this cell again.
    px_per_row = rng.uniform(0.50, 0.82) * cell.h_mm * dpi / 25.4 / 20
    across = px_per_row * rng.uniform(0.85, 1.15)
    across = min(across, 1.05 * cell.w_mm * dpi / 25.4 / picture.shape[1])
    turn, lean = np.radians(rng.normal(0, 3)), rng.normal(0, 0.08)
    height, width = picture.shape
    out_h, out_w = int(height * px_per_row * 1.3) + 4, int(width * across * 1.3 + height * px_per_row * 0.4) + 4
    c, s = np.cos(turn), np.sin(turn)
    linear = np.array([[c, -s], [s, c]]) @ np.array([[across, -lean * px_per_row], [0, px_per_row]])
    shift = np.array([out_w, out_h]) / 2 - linear @ (np.array([width, height]) / 2 - 0.5)
    ink = cv2.warpAffine(picture, np.column_stack([linear, shift]), (out_w, out_h), flags=cv2.INTER_CUBIC)
    # Where the blurred edge becomes the pen's edge: lower for a broad pen, higher for a fine one.
    edge = float(np.interp(pen.width_mm, [0.3, 0.9], [0.58, 0.36]))
    ink = np.clip((ink - edge) * 3.0 + 0.5, 0, 1)
    if pen.grain > 0:
        noise = cv2.GaussianBlur(rng.standard_normal(ink.shape, dtype=np.float32), (0, 0), 0.9)
        ink *= 1 - np.clip(pen.grain * (0.2 + 1.6 * noise), 0, 0.9)
    centre = np.array(cell.centre_mm) + rng.normal(0, off_centre, 2) * [cell.w_mm, cell.h_mm]
    x0, y0 = np.round(centre * dpi / 25.4 - np.array([out_w, out_h]) / 2).astype(int)
    lay_ink(page, ink.astype(np.float32), pen.grey, int(x0), int(y0))


def write_text(
    page: np.ndarray, zone: Box, text: str, writer: Writer, rng: np.random.Generator, dpi: float = DPI
) -> Box | None:
    """Write one line of free text inside ``zone`` on ``page`` (uint8, in place); gives the inked extent in mm.

    Written as given: the caller chooses capitals or small letters. Long text is written smaller and narrower, as
    people do when they see the edge coming.
    """
    hasty = replace(writer, jitter=writer.jitter * writer.haste, personal_bend=writer.personal_bend * writer.haste**0.7)
    strokes = _line(text, hasty, rng)
    if not strokes:
        return None
    size = writer.text_height * zone.h_mm * (1 + rng.normal(0, 0.05))
    # A broad pen makes small writing illegible, so nobody writes that small with it.
    size = max(size, writer.pen.width_mm * (7.0 if writer.text_face in CURSIVE_FACES else 5.0))
    left, _, right, _ = extent(strokes)
    room = zone.w_mm - 1.6
    squeeze = min(1.0, room / ((right - left) * size))
    across, down = size * squeeze, size * max(squeeze**0.5, 0.55)
    start = zone.x_mm + 0.8 + (room - (right - left) * across) * rng.beta(1.0, 14.0)
    strokes = [(points - [left, 0.0]) * [across, down] for points in strokes]
    base = zone.y_mm + zone.h_mm * rng.uniform(0.62, 0.76)
    tilt = rng.normal(0, 0.004)
    period, phase = rng.uniform(25, 80), rng.uniform(0, 2 * np.pi)

    def wander(x: np.ndarray) -> np.ndarray:
        return tilt * x + writer.wander_mm * np.sin(2 * np.pi * x / period + phase)

    placed = [s + np.column_stack([np.zeros(len(s)), wander(s[:, 0])]) for s in strokes]
    _, top, _, bottom = extent(placed)
    margin = 0.25 + writer.pen.width_mm / 2
    fit = min(1.0, (zone.h_mm - 2 * margin) / max(bottom - top, 1e-6))
    placed = [s * fit for s in placed]
    top, bottom = top * fit, bottom * fit
    base = float(np.clip(base, zone.y_mm + margin - top, zone.bottom_mm - margin - bottom))
    return draw(page, [s + np.array([start, base]) for s in placed], writer.pen, rng, dpi)


def _line(text: str, writer: Writer, rng: np.random.Generator) -> Strokes:
    """The whole line in cap heights, base line at 0."""
    joined = writer.text_face in CURSIVE_FACES
    x, out = 0.0, []
    last_end: np.ndarray | None = None
    for sign_ in text:
        if sign_ == " ":
            x += WORD_GAP * (1 + rng.normal(0, 0.2)) * (1.3 if joined else 1.0)
            last_end = None
            continue
        found = character(sign_, writer.text_face, writer, rng)
        if found is None:
            continue
        strokes, width = found
        drop = rng.normal(0, writer.jitter * 0.8)
        strokes = [points + np.array([x, drop]) for points in strokes]
        first = strokes[0][0]
        if last_end is not None and sign_.islower() and rng.random() < writer.joining and not joined:
            gap = first - last_end
            if 0 < gap[0] < 0.6 and abs(gap[1]) < 0.7:
                sag = (last_end + first) / 2 + [0.0, 0.08]
                out.append(curve(np.array([last_end, sag, first])))
        out.extend(strokes)
        last_end = strokes[-1][-1]
        gap_after = 0.0 if joined and sign_.islower() else max(LOWEST_SPACING, writer.spacing + rng.normal(0, 0.03))
        x += width + gap_after
    return out


def sign(page: np.ndarray, zone: Box, writer: Writer, rng: np.random.Generator, dpi: float = DPI) -> Box | None:
    """The writer's signature, a scrawl that looks alike each time, in ``zone`` on ``page`` (uint8, in place)."""
    habit = np.random.default_rng([writer.seed, 7])
    strokes = _scrawl(zone, writer, habit)
    strokes = [
        s + np.column_stack([0.25 * slow_noise(len(s), 12, rng), 0.25 * slow_noise(len(s), 12, rng)]) for s in strokes
    ]
    strokes = [s * (1 + rng.normal(0, 0.04, 2)) for s in strokes]
    left, top, right, bottom = extent(strokes)
    room = max(0.0, zone.w_mm - (right - left) - 2)
    fit = min(1.0, (zone.h_mm - 0.8) / (bottom - top), (zone.w_mm - 1.5) / (right - left))
    at = np.array([zone.x_mm + 1 + room * rng.beta(1.2, 3), zone.y_mm + zone.h_mm / 2 + rng.normal(0, 0.3)])
    return draw(page, [(s - [left, (top + bottom) / 2]) * fit + at for s in strokes], writer.pen, rng, dpi)


def _scrawl(zone: Box, writer: Writer, habit: np.random.Generator) -> Strokes:
    """An initial, a run of loops and humps that flattens out, and now and then a flourish underneath; in mm."""
    height = zone.h_mm * habit.uniform(0.5, 0.85)
    points = [np.array([0.0, 0.0])]
    x = 0.0
    initial = habit.uniform(0.5, 1.3) * height
    for dx, dy in ((0.25, -1.0), (0.55, -0.85), (0.1, 0.25), (-0.25, 0.1), (0.5, -0.35)):
        points.append(np.array([x + initial * (dx + habit.normal(0, 0.15)), height * (dy + habit.normal(0, 0.15))]))
    x = initial * 0.7
    count = int(habit.integers(4, 11))
    for k in range(count):
        step = height * habit.uniform(0.18, 0.75)
        tall = habit.random() < 0.25
        flat = 1 - 0.75 * (k / count) ** 1.5
        rise = height * (habit.uniform(0.7, 1.0) if tall else habit.uniform(0.15, 0.45)) * flat
        drop = height * (0.4 if habit.random() < 0.12 else habit.uniform(-0.05, 0.08))
        back = step * habit.uniform(-0.2, 0.5)
        points += [np.array([x + step, -rise]), np.array([x + step - back, -0.3 * rise]), np.array([x + step, drop])]
        x += step
    points.append(np.array([x + height * habit.uniform(0.3, 1.8), -height * habit.uniform(-0.1, 0.25)]))
    path = curve(np.array(points))
    path[:, 0] -= (writer.slant + 0.1) * path[:, 1]
    strokes = [path]
    if habit.random() < 0.35:
        low, end = 0.3 * height, float(path[:, 0].max())
        strokes.append(curve(np.array([[end * 0.95, low * 0.5], [end * 0.35, low], [end * 1.1, low * 0.8]])))
    if habit.random() < 0.3:  # a dot or a dash for some letter's top
        spot = np.array([habit.uniform(0.3, 0.8) * x, -height * habit.uniform(0.6, 0.9)])
        strokes.append(np.array([spot, spot + np.array([habit.uniform(0.1, 1.5), -0.2])]))
    return strokes
