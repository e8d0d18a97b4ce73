"""Written lines to teach a recogniser of dates, numbers and unit numbers with, cut out of pages as reading cuts them.

    python -m scanform.training.line_data --data DIR --out FILE.npz --first 720000 --pages 800

Three pages in five are written by the simulator's hands, one in four has real digits (MNIST's training split, see
:mod:`scanform.training.digits`), the others are in handwriting typefaces. Seeds below 1,000,000.
"""

from __future__ import annotations

import argparse
from functools import partial
from pathlib import Path

import cv2
import numpy as np
from rich.progress import track

from scanform.form import Box
from scanform.read.old.number_line import number_picture
from scanform.read.old.written_line import written_line
from scanform.simulate import DPI, Grade, RealDigits, Writer, write_text
from scanform.simulate.hand import paste_digit
from scanform.simulate.pens import draw, lay_ink
from scanform.simulate.writer import character
from scanform.training.digits import Digits, training_split
from scanform.training.ink import FINE_PX_PER_MM, face_ink
from scanform.training.old_fields import Writing, make_field_page
from scanform.training.written_lines import save_lines

__all__ = ["LINES", "by_digit", "write_in_face", "write_real_digits"]

LINES = ("date", "hours", "date", "hours", "unit", "hours")
_GRADES = (Grade.OFFICE, Grade.WORN, Grade.BITONAL)
_REAL, _FACES = 0.25, 0.15


def by_digit(digits: Digits) -> RealDigits:
    """Real digits as the simulator takes them: "0" to "9", uint8 (n, 28, 28) each."""
    return {str(n): digits.images[digits.labels == n] for n in range(10)}


def write_real_digits(
    digits: RealDigits, page: np.ndarray, zone: Box, text: str, writer: Writer, rng: np.random.Generator
) -> None:
    """One line whose digits are real ones, each by another hand; all else is the writer's."""
    height = float(rng.uniform(0.42, 0.62)) * zone.h_mm
    pitch = height * float(rng.uniform(0.55, 0.85))
    spare = zone.w_mm - 1.6
    wide = sum(pitch if sign in digits else 0.6 * height for sign in text)
    pitch, across = pitch * min(1.0, spare / wide), min(1.0, spare / wide)
    x, base = zone.x_mm + 0.8, zone.y_mm + zone.h_mm * float(rng.uniform(0.68, 0.78))
    for sign in text:
        if sign in digits:
            images = digits[sign]
            cell = Box(x, base - height * 1.25, pitch, height * 1.5)
            paste_digit(page, cell, images[int(rng.integers(len(images)))], writer.pen, rng, off_centre=0.03)
            x += pitch
            continue
        found = character(sign, writer.text_face, writer, rng)
        if found is not None:
            strokes, width = found
            draw(page, [points * [height * across, height] + [x, base] for points in strokes], writer.pen, rng)
            x += (width + 0.15) * height * across
        else:
            x += 0.4 * height * across


def write_in_face(face: Path, page: np.ndarray, zone: Box, text: str, writer: Writer, rng: np.random.Generator) -> None:
    """One line in a handwriting typeface, bent a little."""
    height = float(rng.uniform(0.4, 0.62)) * zone.h_mm
    ink = face_ink(face, text, height, float(rng.uniform(0.8, 1.1)), rng, by_hand=True)
    scale = DPI / 25.4 / FINE_PX_PER_MM
    scale_x = min(scale, (zone.w_mm - 1.0) * DPI / 25.4 / ink.shape[1])
    small = cv2.resize(ink, None, fx=scale_x, fy=scale, interpolation=cv2.INTER_AREA)
    spare_mm = zone.h_mm - small.shape[0] * 25.4 / DPI
    x, y = zone.x_mm + 0.5, zone.y_mm + spare_mm * float(rng.uniform(0.4, 0.7))
    lay_ink(page, small, writer.pen.grey, round(x * DPI / 25.4), round(y * DPI / 25.4))


def _writing(seed: int, digits: RealDigits, faces: list[Path]) -> Writing:
    rng = np.random.default_rng([seed, 1])
    drawn = rng.random()
    if drawn < _REAL:
        return partial(write_real_digits, digits)
    if drawn < _REAL + _FACES:
        return partial(write_in_face, faces[int(rng.integers(len(faces)))])
    return write_text


def main() -> None:
    """Make the lines and write them."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--first", type=int, required=True)
    parser.add_argument("--pages", type=int, required=True)
    given = parser.parse_args()
    cv2.setNumThreads(1)
    digits = by_digit(training_split(given.data / "digits"))
    faces = sorted((given.data / "faces" / "training").glob("*.ttf"))
    pictures, texts = [], []
    for seed in track(range(given.first, given.first + given.pages), description="Writing"):
        page = make_field_page(seed, _GRADES[seed % len(_GRADES)], LINES, _writing(seed, digits, faces))
        for spec in page.sheet.layout.fields:
            line = written_line(page.sheet, spec.box_mm)
            if not line.empty and page.truth[spec.id].text:
                pictures.append(np.round(number_picture(line) * 255).astype(np.uint8))
                texts.append(page.truth[spec.id].text.lower())
    save_lines(given.out, pictures, texts)


if __name__ == "__main__":
    main()
