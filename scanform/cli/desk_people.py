"""``scanform desk-people``: who may come to the desk from other machines."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from scanform.binder import ROLES, Binder, Person, open_binder
from scanform.cli.options import BinderFolder, say
from scanform.cli.tables import Column, show_table
from scanform.errors import UsageError

__all__ = ["desk_people"]


def desk_people(
    binder: BinderFolder,
    let_in: Annotated[
        str | None, typer.Option("--let-in", metavar="NAME", help="Let this person in, or set role and password anew.")
    ] = None,
    known_as: Annotated[
        str | None, typer.Option("--known-as", metavar="INITIALS", help="Their initials, one to four letters.")
    ] = None,
    role: Annotated[str, typer.Option(help=f"What they may do: {', '.join(ROLES)}.")] = "clerk",
    shut_out: Annotated[
        str | None, typer.Option("--shut-out", metavar="INITIALS", help="Let this person in no longer.")
    ] = None,
    initials: Annotated[
        str | None, typer.Option("--initials", help="Yours; they stand in the journal beside a change.")
    ] = None,
) -> None:
    """List, let in or shut out the people who may use the desk from other machines.

    A reader looks, a clerk settles and feeds scans as well, a coordinator may do everything. The password is asked for;
    from a pipe it is the first line.

    scanform desk-people --let-in "June Hale" --known-as JH --role clerk --initials AB --binder quarry
    """
    if let_in is not None and shut_out is not None:
        raise UsageError("Let in or shut out, not both at once.")
    with open_binder(binder) as record:
        if let_in is None and shut_out is None:
            _show(record)
            return
        if initials is None:
            raise UsageError("Give your own --initials; they stand in the journal beside the change.")
        if shut_out is not None:
            record.shut_out(shut_out, initials)
            say(f"{shut_out.upper()} may come in no longer; sessions of theirs have ended.")
            return
        if known_as is None:
            raise UsageError("Give the person's initials with --known-as.")
        person = Person(known_as, let_in or "", role)
        record.let_in(person, _password(), initials)
        say(f"{let_in} may come in as {known_as.upper()}, {role}.")


def _password() -> str:
    if sys.stdin.isatty():
        return str(typer.prompt("Password", hide_input=True, confirmation_prompt="The same again"))
    return sys.stdin.readline().rstrip("\r\n")


def _show(record: Binder) -> None:
    everybody = record.people()
    if not everybody:
        say("Nobody has been let in: the desk opens on this machine alone, by its link.")
        return
    columns = (Column("initials", names=True), Column("name", words=True), Column("may"))
    show_table(columns, [(one.initials, one.name, one.role or "no longer come in") for one in everybody])
