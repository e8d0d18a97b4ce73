"""``scanform patterns``: what on the sheets is worth a talk, as facts."""

from __future__ import annotations

from rich.text import Text

from scanform.binder import open_binder
from scanform.cli.options import BinderFolder, console, say
from scanform.cli.stretch import Since, Until, Week, stretch
from scanform.cli.units import Unit, known_unit
from scanform.report import PATTERNS_CAUTION
from scanform.report import patterns as patterns_found
from scanform.report.wording import counted

__all__ = ["patterns"]


def patterns(
    binder: BinderFolder,
    since: Since = None,
    until: Until = None,
    week: Week = None,
    unit: Unit = None,
) -> None:
    """List what may come of sheets filled in without looking, as facts about the sheets and with their numbers.

    An open defect that later sheets answer OK; marks that lie alike stroke for stroke on two sheets; a week far more
    alike in hand and ink than the unit's other weeks; a meter that stands still while nothing says parked, or moves by
    the very same hours each day.
    """
    with open_binder(binder) as record:
        first, last = stretch(record, since, until, week)
        unit = known_unit(record, unit)
        found = [one for one in patterns_found(record, first, last) if unit in (None, one.unit)]
    for one in found:
        sheets = ", ".join(map(str, one.sheets[:8])) + (", ..." if len(one.sheets) > 8 else "")
        say(f"{one.unit}: {one.sentence} (sheets {sheets})")
    say(f"{counted(len(found), 'pattern')} from {first} to {last}.")
    if found:
        console.print(Text(PATTERNS_CAUTION, style="bold"))
