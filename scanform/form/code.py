"""What a printed sheet says about itself: in a QR symbol, and in plain characters for when that is torn off."""

from __future__ import annotations

import re
import secrets
from dataclasses import dataclass
from datetime import date

from stdnum.iso7064 import mod_37_36

__all__ = ["PAD_ID_LENGTH", "SheetCode", "new_pad_id", "pad_of", "parse_code", "serial_number", "unit_characters"]

# 32 signs that people do not mix up on a smudged print: no I, L, O, U.
SERIAL_SIGNS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
PAD_ID_LENGTH = 6
_LEAD = "SF1"
_SEPARATOR = "*"  # in the QR alphanumeric set, so that the symbol stays small, and never in a unit number
_NOTHING = "-"
# Strict, because the check character has no value for punctuation: the form of each part guards that.
_PARTS = re.compile(
    r"SF1\*(?P<template>[A-Z][0-9A-Z]*(?:-[0-9A-Z]+)*)\*(?P<version>[1-9][0-9]{0,2})\*(?P<paper>[AL])"
    r"\*(?P<unit>-|[0-9A-Z](?:[0-9A-Z ./-]*[0-9A-Z])?)\*(?P<on>-|[0-9]{8})"
    rf"\*(?P<serial>[{SERIAL_SIGNS}]{{{PAD_ID_LENGTH + 4}}})\*(?P<check>[0-9A-Z])"
)


@dataclass(frozen=True)
class SheetCode:
    """Identity of one sheet of paper. ``unit`` and ``on`` are None where they are to be written by hand.

    ``paper`` is the first letter of the paper size ("A" or "L"): the same template lies differently on each.
    """

    template: str
    version: int
    paper: str
    unit: str | None
    on: date | None
    serial: str

    def text(self) -> str:
        """The code as characters, with an ISO/IEC 7064 MOD 37,36 check character at its end."""
        body = _SEPARATOR.join(
            [
                _LEAD,
                self.template.upper(),
                str(self.version),
                self.paper,
                self.unit.upper() if self.unit else _NOTHING,
                self.on.strftime("%Y%m%d") if self.on else _NOTHING,
                self.serial,
            ]
        )
        return f"{body}{_SEPARATOR}{mod_37_36.calc_check_digit(_checked_part(body))}"


def _checked_part(body: str) -> str:
    return re.sub(r"[^0-9A-Z]", "", body)


def parse_code(text: str) -> SheetCode | None:
    """The sheet's identity, or None if the text is not one of our codes or its check character is wrong."""
    match = _PARTS.fullmatch(text.strip().upper())
    if match is None or not mod_37_36.is_valid(_checked_part(match[0])):
        return None
    unit, on = match["unit"], match["on"]
    try:
        day = None if on == _NOTHING else date(int(on[:4]), int(on[4:6]), int(on[6:]))
    except ValueError:
        return None
    return SheetCode(
        match["template"].lower(),
        int(match["version"]),
        match["paper"],
        None if unit == _NOTHING else unit,
        day,
        match["serial"],
    )


def new_pad_id() -> str:
    """A fresh random name for a pad: 30 bits, so that two pads of one site do not share a name by chance."""
    return "".join(secrets.choice(SERIAL_SIGNS) for _ in range(PAD_ID_LENGTH))


def serial_number(pad_id: str, sheet: int, of: int) -> str:
    """Serial of sheet ``sheet`` (from 1) of a pad of ``of`` sheets: pad name, place, pad length, two signs each.

    The pad's length is part of it so that sheets that never came back can be told from the ones that did.
    """
    if not 1 <= sheet <= of <= 32**2 - 1:
        raise ValueError(f"sheet {sheet} of {of}: a pad has 1 to {32**2 - 1} sheets")
    return pad_id + _two_signs(sheet) + _two_signs(of)


def _two_signs(number: int) -> str:
    return SERIAL_SIGNS[number // 32] + SERIAL_SIGNS[number % 32]


def pad_of(serial: str) -> tuple[str, int, int] | None:
    """``(pad name, sheet, sheets in the pad)`` of a serial, or None if it is not one of a pad."""
    if len(serial) != PAD_ID_LENGTH + 4 or any(sign not in SERIAL_SIGNS for sign in serial):
        return None
    a, b, c, d = (SERIAL_SIGNS.index(sign) for sign in serial[PAD_ID_LENGTH:])
    sheet, of = a * 32 + b, c * 32 + d
    return (serial[:PAD_ID_LENGTH], sheet, of) if 1 <= sheet <= of else None


def unit_characters(unit: str) -> str:
    """The unit number as it stands in the comb: capitals and digits, without spaces, hyphens, dots or slashes."""
    return re.sub(r"[^0-9A-Z]", "", unit.upper())
