"""All commands under one name, and the one place where errors become a sentence and an exit code."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable

import typer

from scanform.cli import (
    adopt,
    close,
    confirm,
    defects,
    demo,
    desk,
    desk_people,
    doubts,
    evidence,
    export,
    gaps,
    hours,
    layout,
    letter,
    patterns,
    press,
    read,
    retention,
    settings,
    thresholds,
    trust,
    verify,
    void,
    watch,
)
from scanform.errors import ExitCode, ScanformError
from scanform.files import told
from scanform.form import CAUTION
from scanform.intake import shown

__all__ = ["app", "main"]


def _in_paragraphs(command: Callable[..., None]) -> str:
    """A command's explanation with its lines joined: a terminal breaks them where it is narrow or wide."""
    paragraphs = (inspect.getdoc(command) or "").split("\n\n")
    return "\n\n".join(" ".join(paragraph.split()) for paragraph in paragraphs)


app = typer.Typer(
    name="scanform",
    help="Print daily machine check sheets, read the scanned copies back, settle what is doubtful, keep the record.\n\n"
    "A week at the office: [bold]print[/bold] pads, scan the filled sheets, [bold]read[/bold] them into a binder, look "
    "at the [bold]doubts[/bold], [bold]confirm[/bold] each, [bold]export[/bold] the lists.\n\n" + CAUTION,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command("print")(press.print_sheets)
app.command("layout")(layout.layout)
app.command("adopt")(adopt.adopt)
app.command("read")(read.read)
app.command("watch", help=_in_paragraphs(watch.watch))(watch.watch)
app.command("doubts")(doubts.doubts)
app.command("desk")(desk.desk)
app.command("desk-people")(desk_people.desk_people)
app.command("confirm")(confirm.confirm)
app.command("undo")(confirm.undo)
app.command("void", help=_in_paragraphs(void.void))(void.void)
app.command("defects")(defects.defects)
app.command("close")(close.close)
app.command("reopen")(close.reopen)
app.command("gaps")(gaps.gaps)
app.command("calendar")(gaps.calendar)
app.command("hours")(hours.hours)
app.command("patterns")(patterns.patterns)
app.command("letter")(letter.letter)
app.command("evidence")(evidence.evidence)
app.command("export")(export.export_tables)
app.command("retention")(retention.retention)
app.command("discard")(retention.discard)
app.command("trust")(trust.trust)
app.command("thresholds")(thresholds.thresholds)
app.command("settings")(settings.settings)
app.command("verify")(verify.verify)
app.command("demo")(demo.demo)


def main() -> None:
    """Entry point: a user's mistake ends in one sentence on stderr, never in a traceback."""
    try:
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
