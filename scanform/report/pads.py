"""Pads of which some sheets have come back and others have not: the paper that may be lying in a cab, or lost."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from scanform.binder import Binder, RecordedPage
from scanform.form import pad_of, serial_number
from scanform.settle.types import Outcome

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


def pads_back(binder: Binder, among: Iterable[RecordedPage] | None = None) -> list[PadBack]:
    """Every pad of which at least one sheet is on record, in order of unit and first date.

    ``among``: only the pads that these pages belong to. What is missing is told from the whole record either way.
    Only a sheet's code tells its pad, so a sheet whose code is torn off counts as missing until a person finds it.
    """
    by_pad: dict[str, list[RecordedPage]] = {}
    for page in binder.pages():
        pad = _pad(page)
        if pad is not None:
            by_pad.setdefault(pad, []).append(page)
    wanted = by_pad.keys() if among is None else {_pad(page) for page in among}
    found = [_pad_back(pad, pages) for pad, pages in by_pad.items() if pad in wanted]
    return sorted(found, key=lambda p: (p.unit or "", p.first or date.min, p.pad))


def _pad(page: RecordedPage) -> str | None:
    record = page.record
    found = pad_of(record.serial) if record.serial and record.outcome in (Outcome.READ, Outcome.DUPLICATE) else None
    return found[0] if found else None


def _pad_back(pad: str, pages: list[RecordedPage]) -> PadBack:
    serials = {str(page.record.serial) for page in pages}
    sheets = max(found[2] for serial in serials if (found := pad_of(serial)) is not None)
    days = sorted(page.record.date for page in pages if page.record.date is not None)
    return PadBack(
        pad=pad,
        unit=_most([page.record.unit for page in pages]),
        template=_most([page.record.template for page in pages]),
        sheets=sheets,
        first=days[0] if days else None,
        last=days[-1] if days else None,
        missing=tuple(s for n in range(1, sheets + 1) if (s := serial_number(pad, n, sheets)) not in serials),
    )


def _most(values: Iterable[str | None]) -> str | None:
    counted = Counter(value for value in values if value)
    return counted.most_common(1)[0][0] if counted else None
