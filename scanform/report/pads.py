"""Pads of which some sheets have come back and others have not: the paper that may be lying in a cab, or lost."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from scanform.binder import Binder, FiledSheet
from scanform.form import pad_of, serial_number

__all__ = ["PadBack", "pads_back"]


@dataclass(frozen=True)
class PadBack:
    """One printed pad, as far as its sheets have come back.

    ``unit``, ``template``: as most of its sheets say, ``unit`` None if none does. ``first``, ``last``: the dates on
    them. ``missing``: serials of the sheets that no page on record carries, in the order of the pad.
    """

    pad: str
    unit: str | None
    template: str | None
    sheets: int
    first: date | None
    last: date | None
    missing: tuple[str, ...]

    @property
    def half_back(self) -> bool:
        """Whether at least half of it is back; of one in use in a cab most sheets are naturally still out."""
        return 2 * len(self.missing) <= self.sheets

    @property
    def dated(self) -> str:
        """Of which days the sheets are that came back: ``"of 2026-11-20 to 2026-11-21"``."""
        if self.first is None or self.last is None:
            return "undated"
        return f"of {self.first}" + (f" to {self.last}" if self.last != self.first else "")

    @property
    def missing_sheets(self) -> str:
        """Their places in the pad, for people: ``"3, 5 to 7 and 9"``."""
        places = [found[1] for serial in self.missing if (found := pad_of(serial)) is not None]
        runs: list[list[int]] = []
        for place in places:
            if runs and place == runs[-1][-1] + 1:
                runs[-1].append(place)
            else:
                runs.append([place])
        named = [str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs]
        return " and ".join(filter(None, [", ".join(named[:-1]), *named[-1:]]))


def pads_back(binder: Binder, serials: Iterable[str | None] | None = None) -> list[PadBack]:
    """Every pad of which at least one sheet is on record, in order of unit and first date.

    ``serials``: only the pads that sheets with these belong to. What is missing is told from the whole record anyway.
    Only a sheet's code tells its pad, so a sheet whose code is torn off counts as missing until a person finds it.
    """
    if serials is None:
        sheets = binder.filed_sheets()
    else:
        pads = sorted({pad for serial in serials if (pad := _pad(serial)) is not None})
        sheets = [sheet for pad in pads for sheet in binder.filed_sheets(pad)]
    by_pad: dict[str, list[FiledSheet]] = {}
    for sheet in sheets:
        pad = _pad(sheet.serial)
        if pad is not None:
            by_pad.setdefault(pad, []).append(sheet)
    found = [_pad_back(pad, of_pad) for pad, of_pad in by_pad.items()]
    return sorted(found, key=lambda p: (p.unit or "", p.first or date.min, p.pad))


def _pad(serial: str | None) -> str | None:
    found = pad_of(serial) if serial else None
    return found[0] if found else None


def _pad_back(pad: str, back: list[FiledSheet]) -> PadBack:
    serials = {sheet.serial for sheet in back}
    sheets = max(found[2] for serial in serials if (found := pad_of(serial)) is not None)
    days = sorted(sheet.date for sheet in back if sheet.date is not None)
    return PadBack(
        pad=pad,
        unit=_most([sheet.unit for sheet in back]),
        template=_most([sheet.template for sheet in back]),
        sheets=sheets,
        first=days[0] if days else None,
        last=days[-1] if days else None,
        missing=tuple(s for n in range(1, sheets + 1) if (s := serial_number(pad, n, sheets)) not in serials),
    )


def _most(values: Iterable[str | None]) -> str | None:
    counted = Counter(value for value in values if value)
    return counted.most_common(1)[0][0] if counted else None
