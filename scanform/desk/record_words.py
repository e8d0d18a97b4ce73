"""What the desk calls what is on record: outcomes of pages, states of sheets, answers, what happened to a field."""

from __future__ import annotations

import datetime as dt
import re

from scanform.binder import FieldEvent, SheetState
from scanform.report import value_in_words
from scanform.settle import Outcome

__all__ = ["OUTCOME_WORDS", "SHEET_STATE_WORDS", "event_in_words", "event_without_values", "file_name", "local_time"]

OUTCOME_WORDS = {
    Outcome.READ: "read as a sheet",
    Outcome.BLANK: "blank",
    Outcome.DUPLICATE: "seen before",
    Outcome.UNKNOWN_FORM: "other paper",
    Outcome.UNREADABLE: "not readable",
}

# A sign and a word each, as for fields.
SHEET_STATE_WORDS = {
    SheetState.DOUBTFUL: ("?", "has doubts"),
    SheetState.CONFIRMED: ("✓", "confirmed by a person"),
    SheetState.ACCEPTED: ("○", "read by the machine"),
}


def event_in_words(event: FieldEvent) -> str:
    """What happened, without who and when: ``"corrected 4510.5 to 4510.9"``."""
    old, new = value_in_words(event.old_value), value_in_words(event.new_value)
    match event.what:
        case "read":
            return f"read {new} ({event.new_state})"
        case "entered":
            return f"entered {new} by hand"
        case "entry-taken-back":
            return "took back the whole entry by hand"
        case "doubted":
            return f"doubted {new} after all: {event.reason}"
        case "resolved":
            return f"settled as {new}: {event.reason}"
        case "taken-back":
            return f"took that back: {old} is {new} again ({event.new_state})"
        case _:
            return f"confirmed {new}" if old == new else f"corrected {old} to {new}"


def event_without_values(event: FieldEvent) -> str:
    """The same where nobody may see yet what was read or said before."""
    match event.what:
        case "read":
            return "read it"
        case "entered":
            return "entered the sheet by hand"
        case "doubted":
            return "doubted it after all"
        case "resolved":
            return "settled it by other sheets"
        case "taken-back" | "entry-taken-back":
            return "took that back"
        case _:
            return "said what it is"


def file_name(source: str) -> str:
    """A file without its folders, whichever system named it."""
    return re.split(r"[/\\]", source)[-1] or source


def local_time(moment: dt.datetime) -> str:
    """A moment by the clock of the machine that the desk runs on, to the minute."""
    return moment.astimezone().strftime("%Y-%m-%d %H:%M")
