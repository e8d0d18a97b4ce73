"""Closing defects as the workshop says: one by its name, or many from a CSV file, always against the register."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from pathlib import Path

from scanform.binder import Binder, Closing, ClosingWish
from scanform.binder.csvfile import CsvRow, csv_rows
from scanform.binder.values import iso_date_from
from scanform.errors import UsageError
from scanform.report.register import Defect, defect_register
from scanform.report.scanned_again import named_now
from scanform.report.sheet_days import counted_sheets

__all__ = ["CLOSING_COLUMNS", "close_by_name", "close_from_csv", "defect_named", "standing_closing"]

CLOSING_COLUMNS = ("repair", "closed_on", "closed_by", "paper")


def close_by_name(binder: Binder, wishes: Sequence[ClosingWish], initials: str) -> list[tuple[Defect, Closing]]:
    """Close open defects, all or none; returns each with its closing.

    A name is any report of the defect, on an earlier scan of its sheet too. What is closed already in just these
    words is passed over. UsageError if a name is none, or if the defect is closed already.
    """
    register = defect_register(binder)
    by_ref = {entry.ref: defect for defect in register for entry in defect.reports}
    found, fresh = [], []
    for wish in wishes:
        defect = by_ref.get(wish.ref) or defect_named(binder, register, wish.ref)
        if defect is None:
            raise UsageError(f"{wish.ref}: no defect has this name; take it from the list: scanform defects")
        if _says_the_same(defect, wish):
            continue
        if defect.closed is not None:
            raise UsageError(
                f"{wish.ref}: it was closed on {defect.closed.on} ({defect.closed.where}); a complaint that comes back "
                "is a defect of its own, with a name of its own."
            )
        if defect.last is not None and wish.closed_on < defect.last:
            raise UsageError(
                f"{wish.ref}: it was reported again on {defect.last}, so it cannot have been closed for good on "
                f"{wish.closed_on}; check the date."
            )
        found.append(defect)
        fresh.append(wish)
    return list(zip(found, binder.close_defects(fresh, initials), strict=True))


def defect_named(binder: Binder, register: Iterable[Defect], name: str) -> Defect | None:
    """The defect that has a report of this name, or had it before its sheet was scanned again with more on it."""
    by_ref = {entry.ref: defect for defect in register for entry in defect.reports}
    return by_ref.get(name) or by_ref.get(named_now(binder, [name], _counted(binder)).get(name, ""))


def standing_closing(binder: Binder, names: Collection[str]) -> str | None:
    """By what name the last standing closing of a report was entered; ``names``: the report's, or its defect's."""
    standing = [closing.ref for closing in binder.closings() if closing.undone_by is None]
    now = named_now(binder, standing, _counted(binder))
    return next((ref for ref in reversed(standing) if ref in names or now.get(ref) in names), None)


def _counted(binder: Binder) -> set[int]:
    return set(counted_sheets(binder)["sheet"])


def close_from_csv(binder: Binder, path: Path, initials: str) -> list[tuple[Defect, Closing]]:
    """Close what a CSV file says: columns ``defect`` (a name), ``repair``, ``closed_on``, ``closed_by``, ``paper``.

    Rows with an empty ``repair`` are still open and left alone, so the exported list can be filled in and given back.
    UsageError names file, line and column; then nothing is closed.
    """
    rows = [row for row in csv_rows(path, "defect", CLOSING_COLUMNS) if row.cells.get("repair")]
    return close_by_name(binder, [_wish(path, row) for row in rows], initials)


def _says_the_same(defect: Defect, wish: ClosingWish) -> bool:
    closed = defect.closed
    return closed is not None and (closed.repair, closed.on, closed.by, closed.where) == (
        *(wish.repair, wish.closed_on, wish.closed_by, wish.paper),
    )


def _wish(path: Path, row: CsvRow) -> ClosingWish:
    where = f"{path}, line {row.line}, column "
    for column in CLOSING_COLUMNS:
        if not row.cells.get(column):
            raise UsageError(f"{where}{column}: it is empty; a closing says what, when, by whom and on what paper.")
    on = dt.date.fromisoformat(iso_date_from(row.cells["closed_on"], where + "closed_on"))
    repair = row.cells["repair"].casefold().replace(" ", "-")
    repair = "not-needed" if repair == "repair-not-needed" else repair
    return ClosingWish(row.cells["defect"].lower(), repair, on, row.cells["closed_by"], row.cells["paper"])
