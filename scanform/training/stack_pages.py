"""The pages of a stack as nobody would wish for it: each kind of trouble, and what must become of its pages."""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

import cv2
import numpy as np
import pikepdf
from PIL import Image, ImageDraw, ImageFont

from scanform.form import Layout, Paper, Template, built_in_templates, lay_out
from scanform.form.typeface import font_file
from scanform.press import pad_sheets, sheets_pdf
from scanform.simulate import CREW, Grade, Writer, fill, random_truth, random_writer, render_pdf, scan, spoil
from scanform.simulate import damage as paper
from scanform.simulate.shots import laid_out, photo_at

__all__ = ["OWN_FILE", "TROUBLES", "TWO_PAGES", "Captured", "pdf_of", "plain_page"]

_DPI = 300.0
_UNITS = ("WL-014", "WL-07", "FL-22", "TR-105", "EX-3", "DT-41")


@dataclass(frozen=True, eq=False)
class Captured:
    """One captured page: its file's bytes, and per sheet on it the right outcome and serial."""

    encoded: bytes = field(repr=False)
    suffix: str
    sheets: tuple[tuple[str, str | None], ...]
    warned: bool = False


Trouble = Callable[[int, np.random.Generator], list[Captured]]


@dataclass(frozen=True, eq=False)
class _Sheet:
    """A filled sheet before it is captured: uint8 (height, width) at 300 dpi, and the blank it was written on."""

    pixels: np.ndarray
    blank: np.ndarray
    layout: Layout
    serial: str
    writer: Writer


def _sheet(n: int, rng: np.random.Generator, template: Template | None = None) -> _Sheet:
    """Sheet ``n`` of the stack, of a unit, a day and a serial of its own."""
    daily = [t for t in built_in_templates() if t.covers == "day"]
    chosen = template or daily[n % len(daily)]
    size = Paper.LETTER if n % 7 == 0 else Paper.A4
    layout, unit, day = lay_out(chosen, size), _UNITS[n % len(_UNITS)], date(2026, 2, 2) + timedelta(days=n // 6)
    (printed,) = pad_sheets(chosen, size.value, f"Q{n:05d}", unit=unit, days=(day,), copies=1)
    blank = render_pdf(sheets_pdf(layout, [printed]), _DPI)[0]
    return _filled(layout, blank, printed.code.serial, unit, day, rng)


def _filled(layout: Layout, blank: np.ndarray, serial: str, unit: str, day: date, rng: np.random.Generator) -> _Sheet:
    truth = random_truth(layout, rng, [unit], CREW, day, serial=serial)
    writer = random_writer(rng)
    pixels, _ = fill(layout, blank, truth, writer, rng, printed=("unit", "date"))
    return _Sheet(pixels, blank, layout, serial, writer)


def _captured(
    pixels: np.ndarray,
    rng: np.random.Generator,
    *sheets: tuple[str, str | None],
    grade: Grade = Grade.OFFICE,
    turns: int = 0,
    warned: bool = False,
) -> Captured:
    result = scan(pixels, grade, rng, turns)
    return Captured(result.encoded, result.suffix, sheets, warned)


def _plain(grade: Grade, turns: int = 0) -> Trouble:
    def make(n: int, rng: np.random.Generator) -> list[Captured]:
        sheet = _sheet(n, rng)
        return [_captured(sheet.pixels, rng, ("read", sheet.serial), grade=grade, turns=turns)]

    return make


def _damaged(damage: paper.Damage, strength: float, grade: Grade = Grade.OFFICE) -> Trouble:
    def make(n: int, rng: np.random.Generator) -> list[Captured]:
        sheet = _sheet(n, rng)
        worn = damage(sheet.pixels, _DPI, rng, strength)
        return [_captured(worn, rng, ("read", sheet.serial), grade=grade)]

    return make


def _folded_corner(n: int, rng: np.random.Generator) -> list[Captured]:
    sheet = _sheet(n, rng)
    folded = paper.folded_corner(sheet.pixels, _DPI, rng, 0.5)
    return [_captured(folded, rng, ("read", None))]  # the corner may be the one with the code


def _blank_back(n: int, rng: np.random.Generator) -> list[Captured]:
    sheet = _sheet(n, rng)
    back = np.full_like(sheet.pixels, 255)
    return [_captured(sheet.pixels, rng, ("read", sheet.serial)), _captured(back, rng, ("blank", None))]


def _back_that_shows_the_front(n: int, rng: np.random.Generator) -> list[Captured]:
    sheet = _sheet(n, rng)
    back = paper.show_through(np.full_like(sheet.pixels, 255), _DPI, rng, 0.0)
    soft = cv2.GaussianBlur(sheet.pixels[:, ::-1], (0, 0), 0.25 * _DPI / 25.4)
    back = (back * (1 - 0.07 * (255 - soft.astype(np.float32)) / 255)).astype(np.uint8)
    return [_captured(sheet.pixels, rng, ("read", sheet.serial)), _captured(back, rng, ("blank", None))]


def _scanned_twice(n: int, rng: np.random.Generator) -> list[Captured]:
    sheet = _sheet(n, rng)
    return [_captured(sheet.pixels, rng, (outcome, sheet.serial)) for outcome in ("read", "duplicate")]


def _serial_filled_in_twice(n: int, rng: np.random.Generator) -> list[Captured]:
    first = _sheet(n, rng)
    unit, day = _UNITS[n % len(_UNITS)], date(2026, 2, 2) + timedelta(days=n // 6)
    second = _filled(first.layout, first.blank, first.serial, unit, day, rng)
    return [
        _captured(first.pixels, rng, ("read", first.serial)),
        _captured(second.pixels, rng, ("read", first.serial), warned=True),
    ]


def _print(lines: Sequence[str]) -> np.ndarray:
    image = Image.new("L", (2480, 3508), 252)
    draw = ImageDraw.Draw(image)
    font = ImageFont.truetype(str(font_file(False)), 44)
    for n, line in enumerate(lines):
        draw.text((240, 300 + 68 * n), line, font=font, fill=25)
    return np.array(image)


def _letter(n: int, rng: np.random.Generator) -> list[Captured]:
    body = ["Dunmarrow Quarry, the office", "", f"Re: blasting notice {n}", ""]
    body += ["The road past the primary is closed from ten until noon; keep plant clear of the bench."] * 20
    return [_captured(_print(body), rng, ("unknown-form", None))]


def _invoice(n: int, rng: np.random.Generator) -> list[Captured]:
    page = _print([f"Invoice {4000 + n}", "", *[f"Filter element {k:02d}    2    14.{k:02d}" for k in range(30)]])
    for y in range(480, 2600, 68):
        cv2.rectangle(page, (220, y), (2200, y + 68), 60, 3)
    symbol = cv2.QRCodeEncoder.create().encode(f"https://pay.example.org/{n}")
    symbol = cv2.resize(symbol, None, fx=10, fy=10, interpolation=cv2.INTER_NEAREST)
    page[200 : 200 + symbol.shape[0], 1900 : 1900 + symbol.shape[1]] = symbol
    return [_captured(page, rng, ("unknown-form", None))]


def _torn_code(n: int, rng: np.random.Generator) -> list[Captured]:
    sheet = _sheet(n, rng)
    pixels = sheet.pixels.copy()
    box = sheet.layout.code_box_mm.grown(3)
    left, top, right, bottom = (round(v * _DPI / 25.4) for v in (box.x_mm, box.y_mm, box.right_mm, box.bottom_mm))
    pixels[top:bottom, left:right] = 255
    return [_captured(pixels, rng, ("read", None))]


def _two_in_a_photo(n: int, rng: np.random.Generator) -> list[Captured]:
    sheets = [_sheet(n, rng), _sheet(n + 1_000, rng)]
    half = [cv2.resize(s.pixels, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA) for s in sheets]
    places = [(115.0, 165.0, float(rng.normal(0, 2))), (345.0, 165.0, float(rng.normal(0, 2)))]
    table, where, _ = laid_out(half, places, (460, 330), _DPI / 2, int(rng.uniform(30, 140)))
    shot = photo_at(table, _DPI / 2, rng, float(rng.uniform(0, 15)), 0.0, 3600, where)
    return [Captured(_jpeg(shot.pixels), ".jpg", tuple(("read", sheet.serial) for sheet in sheets))]


def _steep_photo(n: int, rng: np.random.Generator) -> list[Captured]:
    sheet = _sheet(n, rng)
    shot = photo_at(sheet.pixels, _DPI, rng, float(rng.uniform(25, 33)), float(rng.uniform(0, 5)), 3000)
    return [Captured(_jpeg(shot.pixels), ".jpg", (("read", sheet.serial),))]


def _edge_of_another(n: int, rng: np.random.Generator) -> list[Captured]:
    sheet, other = _sheet(n, rng), _sheet(n + 2_000, rng)
    strip = cv2.resize(other.pixels[:, :400], (400, sheet.pixels.shape[0]))
    return [_captured(np.hstack([sheet.pixels, strip]), rng, ("read", sheet.serial))]


def _covered(n: int, rng: np.random.Generator) -> list[Captured]:
    """A delivery note lies on the sheet: marks and code show, nearly nothing between them does."""
    sheet = _sheet(n, rng)
    pixels = sheet.pixels.copy()
    h, w = pixels.shape
    note = _print(["Delivery note", *["Crushed limestone 8/16, 24 tonnes"] * 30])
    pixels[int(0.14 * h) : int(0.93 * h), int(0.10 * w) : int(0.90 * w)] = cv2.resize(
        note, (int(0.90 * w) - int(0.10 * w), int(0.93 * h) - int(0.14 * h)), interpolation=cv2.INTER_AREA
    )
    return [_captured(pixels, rng, ("unreadable", None))]


def _unknown_template(n: int, rng: np.random.Generator) -> list[Captured]:
    known = built_in_templates()[0]
    sheet = _sheet(n, rng, known.model_copy(update={"name": "contractor-check"}))
    return [_captured(sheet.pixels, rng, ("unknown-form", None))]


def _crossed_out(n: int, rng: np.random.Generator) -> list[Captured]:
    sheet = _sheet(n, rng)
    truth = random_truth(sheet.layout, rng, ["WL-014"], CREW, date(2026, 2, 2))
    spoil(sheet.pixels, sheet.layout, truth, sheet.writer, rng)
    return [_captured(sheet.pixels, rng, ("read", None))]  # a stroke may run through the code


def _jpeg(pixels: np.ndarray) -> bytes:
    return cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 80])[1].tobytes()


def _cut_short(n: int, rng: np.random.Generator) -> list[Captured]:
    whole = _plain(Grade.OFFICE)(n, rng)[0].encoded
    return [Captured(whole[: len(whole) // 4], ".jpg", (("unreadable", None),))]


def _empty(n: int, rng: np.random.Generator) -> list[Captured]:
    del n, rng
    return [Captured(b"", ".pdf", (("unreadable", None),))]


def _no_scan_at_all(n: int, rng: np.random.Generator) -> list[Captured]:
    del rng
    return [Captured(b"Minutes of toolbox talk %d\n" % n, ".pdf", (("unreadable", None),))]


def _wrong_ending(n: int, rng: np.random.Generator) -> list[Captured]:
    (made,) = _plain(Grade.OFFICE)(n, rng)
    return [Captured(made.encoded, ".pdf", made.sheets)]


def _pixel_bomb(n: int, rng: np.random.Generator) -> list[Captured]:
    """A PNG of a few bytes that says it is 60,000 by 60,000."""
    del rng

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    header = chunk(b"IHDR", struct.pack(">IIBBBBB", 60_000, 60_000, 8, 0, 0, 0, 0))
    body = chunk(b"IDAT", zlib.compress(bytes(100_000 + n))) + chunk(b"IEND", b"")
    return [Captured(b"\x89PNG\r\n\x1a\n" + header + body, ".png", (("unreadable", None),))]


def _locked(n: int, rng: np.random.Generator) -> list[Captured]:
    open_pdf = pdf_of([_plain(Grade.OFFICE)(n, rng)[0]])
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(open_pdf)) as pdf:
        pdf.save(out, encryption=pikepdf.Encryption(owner="office", user="crew"))
    return [Captured(out.getvalue(), ".pdf", (("unreadable", None),))]


def pdf_of(scans: Sequence[Captured]) -> bytes:
    """One PDF of several JPEG or TIFF pages, as a multifunction device sends it."""
    pictures = [Image.open(io.BytesIO(scan.encoded)) for scan in scans]
    out = io.BytesIO()
    first, *others = pictures
    first.save(out, "PDF", save_all=True, append_images=others, resolution=first.info.get("dpi", (200, 200))[0])
    return out.getvalue()


# By name.
TROUBLES: dict[str, Trouble] = {
    "upside down": _plain(Grade.OFFICE, 2),
    "sideways": _plain(Grade.OFFICE, 1),
    "black and white": _plain(Grade.BITONAL),
    "fax": _plain(Grade.FAX),
    "worn": _plain(Grade.WORN),
    "phone": _plain(Grade.PHONE),
    "blank back": _blank_back,
    "show-through back": _back_that_shows_the_front,
    "faint sheet": _damaged(paper.light_toner, 0.9),
    "coffee": _damaged(paper.coffee_ring, 0.8),
    "folded corner": _folded_corner,
    "stapled": _damaged(paper.staple, 1.0),
    "crumpled": _damaged(paper.crumpled, 0.6),
    "scanned twice": _scanned_twice,
    "photocopied serial": _serial_filled_in_twice,
    "letter": _letter,
    "invoice": _invoice,
    "code torn off": _torn_code,
    "two in one photo": _two_in_a_photo,
    "photo from the side": _steep_photo,
    "edge of another sheet": _edge_of_another,
    "covered by a note": _covered,
    "unknown template": _unknown_template,
    "crossed out": _crossed_out,
    "cut short": _cut_short,
    "empty file": _empty,
    "no scan at all": _no_scan_at_all,
    "wrong ending": _wrong_ending,
    "pixel bomb": _pixel_bomb,
    "locked": _locked,
}
# What is not put into a feeder's PDF, and what makes two pages.
OWN_FILE = {
    "two in one photo",
    "photo from the side",
    "edge of another sheet",
    "cut short",
    "empty file",
    "no scan at all",
    "wrong ending",
    "pixel bomb",
    "locked",
    "fax",
    "phone",
}
TWO_PAGES = {"blank back", "show-through back", "scanned twice", "photocopied serial"}


def plain_page(n: int, rng: np.random.Generator) -> list[Captured]:
    """A sheet without any trouble, through an office scanner."""
    return _plain(Grade.OFFICE)(n, rng)
