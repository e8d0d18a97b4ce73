"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from scanform.form import Paper
from scanform.intake import shown

__all__ = ["BinderFolder", "Initials", "PaperSize", "console", "messages", "say"]

_WIDTH = None if Console().is_terminal else 120  # a pipe has no width of its own; 80 would break names apart

console = Console(highlight=False, width=_WIDTH)
messages = Console(stderr=True, highlight=False, width=_WIDTH)

BinderFolder = Annotated[Path, typer.Option("--binder", help="The folder that holds the record.", show_default=False)]
Initials = Annotated[str, typer.Option("--initials", help="Yours, one to four letters; they stand in the journal.")]
PaperSize = Annotated[Paper, typer.Option("--paper", help="Paper size.")]


def say(text: str, to: Console = console) -> None:
    """Print a line as it stands, unbroken: paths and commands in it must survive a copy and a pipe.

    Signs that do not print are escaped: a file's name must not command the terminal.
    """
    to.print("\n".join(shown(line) for line in text.split("\n")), markup=False, soft_wrap=True)
