"""Damage files as chance, a bad copy or an enemy would, knowing how each kind is built.

A file's anatomy is its units (chunks, segments, directory entries, objects) and its numbers (lengths, sizes, counts,
offsets). Changes hit both, and plain bytes; they are chosen by fractions of what there is, so that the same list of
changes fits any file and a shorter list is a simpler case.
"""

from __future__ import annotations

import re
import zlib
from collections.abc import Sequence
from typing import Literal, NamedTuple

import numpy as np

__all__ = ["WAYS", "Change", "Way", "damaged", "random_changes"]

Way = Literal["flip", "cut", "double", "swap", "number", "end", "stuff", "graft"]
WAYS: tuple[Way, ...] = ("flip", "cut", "double", "swap", "number", "end", "stuff", "graft")

# Numbers that upset arithmetic: nothing, one, signs and carries of each width, and sizes past any limit.
_EXTREMES = (0, 1, 2, 3, 7, 127, 128, 255, 256, 32_767, 32_768, 65_535, 65_536, 2**24, 2**31 - 1, 2**31, 2**32 - 1)
_LARGEST = 400_000  # bytes: doubling what was doubled would else take all the time there is
_MOST_CHANGES = 6


class Change(NamedTuple):
    """``place`` and ``span`` from 0 to 1, of the file or of its units; ``value`` from 0 to 255."""

    way: Way
    place: float
    span: float
    value: int


class _Anatomy(NamedTuple):
    """``units``: start and end of each part; ``numbers``: start, end and coding (``big``, ``little``, ``text``)."""

    units: list[tuple[int, int]]
    numbers: list[tuple[int, int, str]]


def random_changes(rng: np.random.Generator) -> list[Change]:
    """One change or a few; fewer are likelier, since they get farther before they are noticed."""
    count = 1 + int(_MOST_CHANGES * rng.random() ** 2)
    ways = rng.choice(len(WAYS), count)
    return [Change(WAYS[way], float(rng.random()), float(rng.random()), int(rng.integers(256))) for way in ways]


def damaged(data: bytes, changes: Sequence[Change]) -> bytes:
    """The file after the changes, one after another; check sums of a PNG are put right, so that damage gets inside."""
    for change in changes:
        data = _changed(data, change)[:_LARGEST]
    return _with_sums(data) if data.startswith(b"\x89PNG") else data


def _changed(data: bytes, change: Change) -> bytes:
    if len(data) < 4:
        return data
    anatomy = _anatomy(data)
    start, end = _of(anatomy.units, change.place) if anatomy.units else _stretch(data, change)
    at = min(int(change.place * len(data)), len(data) - 1)
    if change.way == "flip":
        return data[:at] + bytes([data[at] ^ (1 << change.value % 8)]) + data[at + 1 :]
    if change.way == "cut":
        return data[:start] + data[end:]
    if change.way == "double":
        return data[:end] + data[start:end] * (1 + change.value % 8) + data[end:]
    if change.way == "swap":
        other = _of(anatomy.units, change.span) if anatomy.units else (start, end)
        (a, b), (c, d) = sorted([(start, end), other])
        return data[:a] + data[c:d] + data[b:c] + data[a:b] + data[d:] if b <= c else data
    if change.way == "number" and anatomy.numbers:
        return _with_number(data, _of(anatomy.numbers, change.span), change.value)
    if change.way == "end":
        return data[: round(len(data) * change.span)]
    if change.way == "stuff":
        return data[:at] + bytes([change.value]) * round(1 + 600 * change.span**4) + data[at:]
    # A stretch of the file over another place of it.
    start, end = _stretch(data, change)
    to = int(change.value / 256 * len(data))
    return data[:to] + data[start:end] + data[to + end - start :]


def _of(parts: Sequence[tuple], share: float) -> tuple:  # type: ignore[type-arg]
    return parts[min(int(share * len(parts)), len(parts) - 1)]


def _stretch(data: bytes, change: Change) -> tuple[int, int]:
    start = int(change.place * len(data))
    return start, min(len(data), start + 1 + int(change.span**3 * len(data)))


def _with_number(data: bytes, number: tuple[int, int, str], value: int) -> bytes:
    start, end, coding = number
    extreme = _EXTREMES[value % len(_EXTREMES)]
    if coding == "text":
        text = str(-extreme if value >= 128 else extreme)
        return data[:start] + text.encode() + data[end:]
    width = end - start
    order: Literal["big", "little"] = "big" if coding == "big" else "little"
    return data[:start] + (extreme % 256**width).to_bytes(width, order) + data[end:]


def _anatomy(data: bytes) -> _Anatomy:
    if data.startswith(b"\x89PNG"):
        return _of_png(data)
    if data.startswith(b"\xff\xd8"):
        return _of_jpeg(data)
    if data[:2] in (b"II", b"MM"):
        return _of_tiff(data)
    if data.startswith(b"RIFF"):
        return _of_riff(data)
    if b"%PDF-" in data[:1024]:
        return _of_pdf(data)
    # BMP and GIF have their numbers, two or four bytes wide, in the first 54 bytes.
    return _Anatomy([], [(at, at + width, "little") for at in range(2, min(54, len(data) - 4), 2) for width in (2, 4)])


def _of_png(data: bytes) -> _Anatomy:
    units, numbers, at = [], [], 8
    while at + 12 <= len(data):
        end = at + 12 + int.from_bytes(data[at : at + 4], "big")
        units.append((at, min(end, len(data))))
        numbers.append((at, at + 4, "big"))
        if data[at + 4 : at + 8] == b"IHDR":
            numbers += [(at + 8, at + 12, "big"), (at + 12, at + 16, "big")]
            numbers += [(n, n + 1, "big") for n in range(at + 16, at + 21)]
        at = end
    return _Anatomy(units, numbers)


def _with_sums(data: bytes) -> bytes:
    fixed, at = bytearray(data), 8
    while at + 12 <= len(data):
        end = at + 8 + int.from_bytes(data[at : at + 4], "big")
        if end + 4 > len(data):
            break
        fixed[end : end + 4] = zlib.crc32(data[at + 4 : end]).to_bytes(4, "big")
        at = end + 4
    return bytes(fixed)


def _of_jpeg(data: bytes) -> _Anatomy:
    units: list[tuple[int, int]] = []
    numbers: list[tuple[int, int, str]] = []
    marks = [found.start() for found in re.finditer(rb"\xff[\x01-\xcf\xd8-\xfe]", data)]
    for at, after in zip(marks, [*marks[1:], len(data)], strict=True):
        units.append((at, after))
        numbers.append((at + 2, at + 4, "big"))
        if data[at + 1] in range(0xC0, 0xD0):  # frames and tables: sizes, sampling, counts of codes
            numbers += [(n, n + 2, "big") for n in range(at + 5, min(at + 9, after - 2), 2)]
            numbers += [(n, n + 1, "big") for n in range(at + 4, min(at + 24, after - 1))]
    return _Anatomy(units, [number for number in numbers if number[1] <= len(data)])


def _of_tiff(data: bytes) -> _Anatomy:
    order: Literal["big", "little"] = "little" if data[:2] == b"II" else "big"
    big = 43 in (data[2], data[3])
    word, step, count = (8, 20, 8) if big else (4, 12, 2)
    units: list[tuple[int, int]] = []
    numbers: list[tuple[int, int, str]] = []
    link, seen = (8 if big else 4), set[int]()
    while link + word <= len(data) and link not in seen and len(seen) < 50:
        seen.add(link)
        numbers.append((link, link + word, order))
        at = int.from_bytes(data[link : link + word], order)
        if not at or at + count > len(data):
            break
        entries = min(int.from_bytes(data[at : at + count], order), 200)
        numbers.append((at, at + count, order))
        for entry in range(at + count, min(at + count + entries * step, len(data) - step), step):
            units.append((entry, entry + step))
            numbers += [(entry, entry + 2, order), (entry + 2, entry + 4, order)]
            numbers += [(entry + 4, entry + 4 + word, order), (entry + 4 + word, entry + step, order)]
        link = at + count + entries * step
    return _Anatomy(units, numbers)


def _of_riff(data: bytes) -> _Anatomy:
    units, at = [], 12
    numbers = [(4, 8, "little")]
    while at + 8 <= len(data):
        end = at + 8 + int.from_bytes(data[at + 4 : at + 8], "little")
        units.append((at, min(end + end % 2, len(data))))
        numbers += [(n, n + width, "little") for n in range(at + 4, min(at + 20, len(data) - 4)) for width in (2, 4)]
        at = end + end % 2
    return _Anatomy(units, numbers)


def _of_pdf(data: bytes) -> _Anatomy:
    units = [(found.start(), found.end()) for found in re.finditer(rb"\d+ \d+ obj.*?endobj\s*", data, re.DOTALL)]
    units += [(found.start(), found.end()) for found in re.finditer(rb"/[A-Za-z]+", data)]
    numbers = [(found.start(), found.end(), "text") for found in re.finditer(rb"(?<![\w.])-?\d{1,10}(?![\w.])", data)]
    return _Anatomy(units, numbers)
