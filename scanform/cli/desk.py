"""``scanform desk``: the web page on which doubts are settled."""

from __future__ import annotations

import ipaddress
from pathlib import Path
from typing import Annotated

import typer

from scanform.binder import checked_initials, open_binder
from scanform.cli.options import BinderFolder, messages, say
from scanform.desk import LOOPBACK, create_app, listening, open_browser, serve
from scanform.errors import UsageError

__all__ = ["desk"]

PORT = 8470
_HERE = "127.0.0.1"


def desk(
    binder: BinderFolder,
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port to listen on; 0 takes any that is free.")] = PORT,
    initials: Annotated[
        str | None, typer.Option(help="Yours, one to four letters; asked for in the browser if left out.")
    ] = None,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the browser.")] = True,
    host: Annotated[
        str, typer.Option(help="Address to listen at; any but 127.0.0.1 needs people: see scanform desk-people.")
    ] = _HERE,
    name: Annotated[
        list[str] | None, typer.Option("--name", help="A name under which browsers call the desk; repeat for more.")
    ] = None,
    behind_tls: Annotated[
        bool, typer.Option("--behind-tls", help="A proxy on this machine speaks TLS for the desk.")
    ] = False,
) -> None:
    """Open the desk: settle doubts in the browser, ink beside reading, by keyboard alone if you like.

    It listens on this machine only and opens by a link that works once. For other machines let people in first with
    scanform desk-people, and put a proxy that speaks TLS before it.
    """
    for_others = host != _HERE or bool(name) or behind_tls
    names = _names(host, name or []) if for_others else LOOPBACK
    if for_others:
        _check_people(binder)
    who = checked_initials(initials) if initials else None
    app = create_app(Path(binder), hosts=names, tls=behind_tls, by_link=not for_others, initials=who)
    ear = listening(host, port)
    address = f"http://{names[0]}:{ear.getsockname()[1]}"

    def ready() -> None:
        if for_others:
            say(f"The desk is open for {', '.join(names)} at port {ear.getsockname()[1]}; Ctrl+C closes it.")
            if not behind_tls:
                say(
                    "Without TLS passwords can be read on the way; put a proxy before it: --behind-tls.",
                    messages,
                )
            return
        link = f"{address}/open/{app.state.sessions.new_link()}"
        say(f"The desk is open at {address}; Ctrl+C closes it.")
        say(f"This link opens it once: {link}")
        if browser:
            open_browser(link)

    def used() -> None:
        say(f"A further browser comes in by: {address}/open/{app.state.sessions.new_link()}")

    app.state.sessions.on_link_used = used
    serve(app, ear, tls=behind_tls, ready=ready)


def _names(host: str, names: list[str]) -> tuple[str, ...]:
    """The names that the desk answers to; UsageError if none can be told from the address."""
    try:
        any_address = ipaddress.ip_address(host).is_unspecified
    except ValueError:
        any_address = False
    if any_address and not names:
        raise UsageError(f"--host {host} listens at every address; say under which --name browsers call the desk.")
    own = [] if any_address or (host == _HERE and names) else [f"[{host}]" if ":" in host else host]
    return (*names, *own)


def _check_people(binder: Path) -> None:
    with open_binder(binder) as record:
        if not any(person.role for person in record.people()):
            raise UsageError(
                "Beyond this machine only named people may come in, and nobody has been let in; "
                f"begin with: scanform desk-people --let-in NAME --known-as INITIALS --binder {binder}"
            )
