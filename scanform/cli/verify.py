"""``scanform verify``: does the record still follow from its journal?"""

from __future__ import annotations

from scanform.binder import open_binder
from scanform.cli.options import BinderFolder, say
from scanform.errors import JournalBroken

__all__ = ["verify"]


def verify(binder: BinderFolder) -> None:
    """Check the journal's chain of hashes, every table against it, and every archived page's SHA-256.

    Exit code 3 if anything does not fit. Write the head hash down elsewhere (on the printed list, say): with it a
    journal that was cut short and patched can be told.
    """
    with open_binder(binder) as record:
        report = record.verify()
    for note in report.notes:
        say(f"Note: {note}")
    for problem in report.problems:
        say(f"PROBLEM: {problem}")
    if not report.sound:
        raise JournalBroken(f"{binder}: {len(report.problems)} things in the record do not fit its journal, see above.")
    say(
        f"Sound: {report.entries} journal entries, {report.pages} pages, {report.files} archived files.\n"
        f"Head of the journal: {report.head_hash}"
    )
