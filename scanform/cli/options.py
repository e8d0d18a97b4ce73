"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from scanform.binder import Binder
from scanform.form import Paper
from scanform.intake import shown
from scanform.press import can_be_printed

__all__ = [
    "BinderFolder",
    "CrewFile",
    "Initials",
    "PaperSize",
    "UnitsFile",
    "WordsFile",
    "Workers",
    "console",
    "load_lists",
    "messages",
    "say",
]

_WIDTH = None if Console().is_terminal else 120  # a pipe has no width of its own; 80 would break names apart

console = Console(highlight=False, width=_WIDTH)
messages = Console(stderr=True, highlight=False, width=_WIDTH)

BinderFolder = Annotated[Path, typer.Option("--binder", help="The folder that holds the record.", show_default=False)]
Initials = Annotated[str, typer.Option("--initials", help="Yours, one to four letters; they stand in the journal.")]
PaperSize = Annotated[Paper, typer.Option("--paper", help="Paper size.")]
UnitsFile = Annotated[Path | None, typer.Option(help="CSV of machines: unit, and if known kind, hours, hours_on.")]
CrewFile = Annotated[Path | None, typer.Option(help="CSV of people: name.")]
WordsFile = Annotated[Path | None, typer.Option(help="CSV of the site's own words: word, and if wanted normal, class.")]
Workers = Annotated[
    int | None, typer.Option(min=1, help="Pages read at the same time; one a processor core if left out.")
]


def load_lists(binder: Binder, units: Path | None, crew: Path | None, words: Path | None) -> None:
    """Take what is known at the site from its CSV files, as far as they are given; UsageError names file and line."""
    if units is not None:
        loaded = binder.load_units(units)
        strange = [name for name in (*loaded.added, *loaded.changed) if not can_be_printed(name)]
        if strange:
            say(
                f"Note: {units}: {', '.join(strange)} cannot be printed on a sheet; its code takes 16 letters, "
                "digits, spaces, dots, slashes and hyphens.",
                messages,
            )
    for path, load in ((crew, binder.load_crew), (words, binder.load_words)):
        if path is not None:
            load(path)


def say(text: str, to: Console = console) -> None:
    """Print a line as it stands, unbroken: paths and commands in it must survive a copy and a pipe.

    Signs that do not print are escaped: a file's name must not command the terminal.
    """
    to.print("\n".join(shown(line) for line in text.split("\n")), markup=False, soft_wrap=True)
