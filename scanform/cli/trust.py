"""``scanform trust``: how wrong the accepted fields may be, by the spot checks that people have answered."""

from __future__ import annotations

from pathlib import Path

from scanform.binder import open_binder
from scanform.cli.options import BinderFolder, say
from scanform.cli.tables import Column, show_table
from scanform.report import assurance, assurance_by_family, per_thousand
from scanform.settle import FAMILIES

__all__ = ["say_waiting", "trust"]

_COUNTS = ("accepted", "spot-checked", "waiting", "wrong", "at most wrong in 1,000")
_COLUMNS = (Column("fields", names=True), *(Column(heading, number=True) for heading in _COUNTS))


def trust(binder: BinderFolder) -> None:
    """Say how wrong the accepted fields may be, by the spot checks answered so far.

    A small share of accepted fields, chosen by a hash of the page, is queued for a person without the value that was
    read. What people answer gives an exact upper bound (Clopper and Pearson) on the silent errors of all the rest.

    Answer spot checks like doubts: they stand at the end of scanform doubts.
    """
    with open_binder(binder) as record:
        whole, by_family = assurance(record), assurance_by_family(record)
    say(f"{whole.sentence}.")
    if by_family:
        table = []
        for family, one in by_family.items():
            at_most = per_thousand(one.at_most) if one.checked else "-"
            counts = (one.accepted, one.checked, one.waiting, one.wrong)
            table.append((FAMILIES.get(family, family), *map(str, counts), at_most))
        show_table(_COLUMNS, table)
    if whole.waiting:
        say_waiting(whole.waiting, binder)


def say_waiting(waiting: int, binder: Path) -> None:
    """Where the spot checks are that nobody has answered."""
    checks = "spot check waits" if waiting == 1 else "spot checks wait"
    say(f"{waiting} {checks} for a person: scanform doubts --binder {binder}")
