"""Read what is written on an old form without cells: dates, numbers, unit numbers, and remarks over several lines."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from scanform.form import Box, Field
from scanform.locate import LocatedSheet
from scanform.read.lines import LineReader
from scanform.read.old.number_line import NumberReader
from scanform.read.old.written_line import WrittenLine, line_picture, parts_of, written_line
from scanform.read.types import Alternative, Reading

__all__ = ["read_line", "read_lines"]

# The recogniser looks at a line in steps of a sixth of its height, and lets one of two ones that stand close go by. Of
# 1.0, 1.3, 1.6 and 2.0 times as wide the second read most numeric dates of 15 pages right (52 of 64; 42 as they are).
_STRETCH, _AGAIN = 1.3, 1.8
_LEAST_LINE_MM = 5.0  # nobody writes remarks in lines closer than this
_GAP_SHARE = 0.06  # of the fullest row's ink, below which a row lies between two lines


def read_line(sheet: LocatedSheet, field: Field, reader: LineReader, numbers: NumberReader) -> Reading:
    """A date, a number or a unit number in free writing: the recogniser's steps, twice, its own text, and what the
    network for such lines alone sees.
    """
    line = written_line(sheet, field.box_mm)
    if line.empty:
        return _reading(sheet, field, (_nothing(line),), line.mm2)
    first, again = (reader.read(line_picture(line, stretch)) for stretch in (_STRETCH, _AGAIN))
    text = Alternative(first.text, first.probability) if first.text else Alternative(None, 0.5)
    reading = _reading(sheet, field, (text,), line.mm2)
    return replace(
        reading,
        line_steps=first.steps,
        line_again=again.steps,
        line_numbers=numbers.steps(line, reader.alphabet),
        line_characters="".join(reader.alphabet),
    )


def read_lines(sheet: LocatedSheet, field: Field, reader: LineReader) -> Reading:
    """Free words, on one line or on several, one after the other from the top."""
    whole = written_line(sheet, field.box_mm)
    if whole.empty:
        return _reading(sheet, field, (_nothing(whole),), whole.mm2)
    read = [reader.read(line_picture(line, 1.0)) for line in _single_lines(whole, field.box_mm)]
    read = [line for line in read if line.text]
    if not read:
        return _reading(sheet, field, (Alternative(None, 0.5),), whole.mm2)
    text = " ".join(line.text for line in read)
    reading = _reading(
        sheet, field, (Alternative(text, float(np.prod([line.probability for line in read]))),), whole.mm2
    )
    steps = np.concatenate([part for line in read for part in (line.steps, _space(reader, line.steps))][:-1])
    return replace(reading, line_steps=steps, line_characters="".join(reader.alphabet))


def _space(reader: LineReader, steps: np.ndarray) -> np.ndarray:
    """What the recogniser would see between two lines, were they one: nothing, a space, nothing."""
    between = np.zeros((3, steps.shape[1]), steps.dtype)
    between[[0, 2], 0] = 1.0
    between[1, 1 + reader.alphabet.index(" ")] = 1.0
    return between


def _single_lines(whole: WrittenLine, box_mm: Box) -> list[WrittenLine]:
    """A zone's writing line by line, parted where least ink lies; every stroke stays whole."""
    height = whole.mask.shape[0]
    least = round(_LEAST_LINE_MM * 8)
    if box_mm.h_mm < 2 * _LEAST_LINE_MM or height < 2 * least * 0.8:
        return [whole]
    rows = whole.mask.sum(axis=1).astype(float)
    smooth = np.convolve(rows, np.ones(5) / 5, "same")
    seams, row = [], least // 2
    while row < height - least // 2:
        reach = smooth[row : min(row + least, height - least // 4)]
        if not len(reach):
            break
        at = row + int(reach.argmin())
        if smooth[at] <= _GAP_SHARE * smooth.max():
            seams.append(at)
            row = at + least // 2
        else:
            row += least // 2
    if not seams:
        return [whole]
    labels, parts = parts_of(whole.mask)
    middles = {part.label: (part.top + part.bottom) / 2 for part in parts}
    which = np.zeros(int(labels.max()) + 1, int)
    for label, middle in middles.items():
        which[label] = 1 + int(np.searchsorted(seams, middle))
    line_of = which[labels]
    return [_cut(whole, line_of == n) for n in range(1, len(seams) + 2) if (line_of == n).any()]


def _cut(whole: WrittenLine, mask: np.ndarray) -> WrittenLine:
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    close = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    dark = np.where(mask, whole.dark, 0.0)[close].astype(np.float32)
    return WrittenLine(dark, mask[close], float(mask.sum()) / 64)


def _nothing(line: WrittenLine) -> Alternative:
    return Alternative(None, 0.9999 if line.mm2 == 0 else 0.95)


def _reading(sheet: LocatedSheet, field: Field, alternatives: tuple[Alternative, ...], mm2: float) -> Reading:
    return Reading(
        field_id=field.id,
        kind=field.kind,
        alternatives=alternatives,
        polygon_px=sheet.polygon_px(field.box_mm),
        residual_mm=sheet.residual_of(field),
        ink_mm2=mm2,
    )
