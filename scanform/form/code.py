"""What a printed sheet says about itself: in a QR symbol, and in plain characters for when that is torn off."""

from __future__ import annotations

import re
import secrets
from dataclasses import dataclass
from datetime import date

from stdnum.iso7064 import mod_37_36

__all__ = ["PAD_ID_LENGTH", "SheetCode", "new_pad_id", "pad_of", "parse_code", "serial_number"]

# 32 signs that people do not mix up on a smudged print: no I, L, O, U.
SERIAL_SIGNS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
PAD_ID_LENGTH = 6
_LEAD = "SF1"
_SEPARATOR = "*"  # in the QR alphanumeric set, so that the symbol stays small, and never in a unit number
_NOTHING = "-"


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
    parts = text.strip().upper().split(_SEPARATOR)
    if len(parts) != 8 or parts[0] != _LEAD:
        return None
    body = _SEPARATOR.join(parts[:-1])
    checked = _checked_part(body) + parts[-1]
    if len(parts[-1]) != 1 or not mod_37_36.is_valid(checked):
        return None
    _, template, version, paper, unit, on, serial, _ = parts
    try:
        day = None if on == _NOTHING else date(int(on[:4]), int(on[4:6]), int(on[6:]))
        return SheetCode(template.lower(), int(version), paper, None if unit == _NOTHING else unit, day, serial)
    except ValueError:
        return None


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
    return serial[:PAD_ID_LENGTH], a * 32 + b, c * 32 + d
