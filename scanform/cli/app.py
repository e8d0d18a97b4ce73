"""All commands under one name, and the one place where errors become a sentence and an exit code."""

from __future__ import annotations

import gc
import inspect
import sys
from collections.abc import Callable, Iterable
from importlib import import_module
from typing import NamedTuple

import typer

from scanform.errors import ExitCode, ScanformError
from scanform.files import told
from scanform.form import CAUTION
from scanform.intake import shown

__all__ = ["COMMANDS", "app_with", "main"]


def _in_paragraphs(command: Callable[..., None]) -> str:
    """A command's explanation with its lines joined: a terminal breaks them where it is narrow or wide."""
    paragraphs = (inspect.getdoc(command) or "").split("\n\n")
    return "\n\n".join(" ".join(paragraph.split()) for paragraph in paragraphs)


_HELP = (
    "Print daily machine check sheets, read the scanned copies back, settle what is doubtful, keep the record.\n\n"
    "A week at the office: [bold]print[/bold] pads, scan the filled sheets, [bold]read[/bold] them into a binder, look "
    "at the [bold]doubts[/bold], [bold]confirm[/bold] each, [bold]export[/bold] the lists.\n\n" + CAUTION
)


class _Command(NamedTuple):
    """Where a command stands: its module in this package, and the function."""

    module: str
    function: str


# In the order in which ``scanform --help`` names them.
COMMANDS = {
    "print": _Command("press", "print_sheets"),
    "layout": _Command("layout", "layout"),
    "adopt": _Command("adopt", "adopt"),
    "read": _Command("read", "read"),
    "watch": _Command("watch", "watch"),
    "doubts": _Command("doubts", "doubts"),
    "desk": _Command("desk", "desk"),
    "desk-people": _Command("desk_people", "desk_people"),
    "confirm": _Command("confirm", "confirm"),
    "undo": _Command("confirm", "undo"),
    "void": _Command("void", "void"),
    "defects": _Command("defects", "defects"),
    "close": _Command("close", "close"),
    "reopen": _Command("close", "reopen"),
    "gaps": _Command("gaps", "gaps"),
    "calendar": _Command("gaps", "calendar"),
    "hours": _Command("hours", "hours"),
    "patterns": _Command("patterns", "patterns"),
    "letter": _Command("letter", "letter"),
    "evidence": _Command("evidence", "evidence"),
    "export": _Command("export", "export_tables"),
    "retention": _Command("retention", "retention"),
    "discard": _Command("retention", "discard"),
    "trust": _Command("trust", "trust"),
    "thresholds": _Command("thresholds", "thresholds"),
    "settings": _Command("settings", "settings"),
    "verify": _Command("verify", "verify"),
    "demo": _Command("demo", "demo"),
}


def app_with(names: Iterable[str]) -> typer.Typer:
    """The program with these of its commands. Each brings libraries along that take a second to load together."""
    app = typer.Typer(
        name="scanform",
        help=_HELP,
        no_args_is_help=True,
        pretty_exceptions_enable=False,
        rich_markup_mode="rich",
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    app.callback()(lambda: None)  # a program with one command would else go without its name
    for name in names:
        command = getattr(import_module(f"scanform.cli.{COMMANDS[name].module}"), COMMANDS[name].function)
        app.command(name, help=_in_paragraphs(command))(command)
    return app


def main() -> None:
    """Entry point: a user's mistake ends in one sentence on stderr, never in a traceback."""
    asked = sys.argv[1] if len(sys.argv) > 1 else ""
    try:
        app = app_with([asked] if asked in COMMANDS else COMMANDS)
        gc.enable()  # off while commands are loaded, if this is the program itself
        app()
    except ScanformError as problem:
        sys.stderr.write(f"scanform: {shown(str(problem))}\n")
        sys.exit(problem.exit_code)
    except BrokenPipeError:
        sys.exit(0)  # the reader of a pipe (head, less) has seen enough
    except OSError as problem:  # a disk or a share that failed where no command foresaw it
        name = f"{problem.filename}: " if problem.filename else ""
        sys.stderr.write(f"scanform: {name}{told(problem)}, then run the same command again; the record is kept.\n")
        sys.exit(ExitCode.BAD_INPUT)
