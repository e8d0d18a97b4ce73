"""The summary of a batch on the terminal: danger first, then the count, then sheets and fields."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.text import Text

from scanform.cli.options import console, messages, say
from scanform.cli.tables import Column, show_table
from scanform.report import CAUTION, BatchSummary, Pace
from scanform.report.defects import DefectEntry
from scanform.report.unread_pages import in_lines
from scanform.settle import Outcome, State

__all__ = ["show_summary"]

_COLUMNS = (
    Column(""),
    Column("unit", names=True),
    Column("date", names=True),
    Column("item", words=True),
    Column("words as read", words=True),
    Column("state"),
)


def show_summary(summary: BatchSummary, pace: Pace, binder: Path, *, to_stderr: bool) -> None:
    """Print the summary; to stderr if stdout carries JSON."""
    out = messages if to_stderr else console
    _show_defects(out, summary)
    void = f" ({summary.void} of these void)" if summary.void else ""
    balance = " + ".join(
        f"{count} {outcome.value}{void if outcome is Outcome.UNREADABLE else ''}"
        for outcome, count in summary.balance.items()
    )
    say(f"Pages in: {summary.pages_in}{_more(summary.more_sheets)} = {balance}", out)
    for line in in_lines(summary.to_look_at):
        say(f"  {line}", out)
    units = ", ".join(f"{unit or '(no unit)'} {count}" for unit, count in summary.sheets_by_unit.items())
    if units:
        say(f"Sheets a unit: {units}", out)
    for pad in summary.incomplete_pads:
        of = f"{pad.unit or '(no unit)'}; those that came back are {pad.dated}"
        sheets = "sheet" if len(pad.missing) == 1 else "sheets"
        say(f"Not back yet: {sheets} {pad.missing_sheets} of {pad.sheets} of pad {pad.pad} ({of})", out)
    total = sum(summary.fields.values())
    if total:
        confirmed = summary.fields[State.CONFIRMED]
        say(
            f"Fields: {total} = {summary.fields[State.ACCEPTED]} accepted + {summary.fields[State.DOUBTFUL]} doubtful"
            + (f" + {confirmed} confirmed" if confirmed else "")
            + (f"; {summary.critical_doubts} of the doubts are safety-critical" if summary.critical_doubts else ""),
            out,
        )
    if summary.trust.accepted:
        say(f"In the whole record: {summary.trust.sentence}", out)
    if doubts := summary.fields[State.DOUBTFUL]:
        say(f"Settling the {doubts} doubtful fields takes {pace.words(doubts)}", out)
        say(f"Next: scanform doubts --binder {binder}", out)


def _more(sheets: int) -> str:
    if not sheets:
        return ""
    return f" + {sheets} more {'sheet' if sheets == 1 else 'sheets'} beside another in one picture"


def _show_defects(out: Console, summary: BatchSummary) -> None:
    if not summary.defects:
        return
    table = [_row(entry) for entry in summary.defects]
    show_table(_COLUMNS, table, "Defects reported, safety-critical first", out)
    if summary.critical_defects:
        out.print(Text(CAUTION, style="bold"))


def _row(entry: DefectEntry) -> list[str]:
    # A line whose item is unclear may be about a safety-critical one, so it must not look harmless.
    danger = {True: "SAFETY", False: "", None: "item unclear"}[entry.critical]
    item = f"{entry.item_number} {entry.item_text or ''}" if entry.item_number else "?"
    return [
        danger,
        entry.unit or "?",
        entry.date.isoformat() if entry.date else "?",
        item,
        entry.words or "(no words)",
        entry.state.value,
    ]
