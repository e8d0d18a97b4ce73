"""``scanform desk``: the web page on which doubts are settled."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from scanform.binder import checked_initials
from scanform.cli.options import BinderFolder, say
from scanform.desk import create_app, listening, open_browser, serve

__all__ = ["desk"]

PORT = 8470


def desk(
    binder: BinderFolder,
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port to listen on; 0 takes any that is free.")] = PORT,
    initials: Annotated[
        str | None, typer.Option(help="Yours, one to four letters; asked for in the browser if left out.")
    ] = None,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the browser.")] = True,
) -> None:
    """Open the desk: settle doubts in the browser, ink beside reading, by keyboard alone if you like.

    It listens on this machine only and opens by a link that works once.
    """
    app = create_app(Path(binder), initials=checked_initials(initials) if initials else None)
    ear = listening("127.0.0.1", port)
    address = f"http://127.0.0.1:{ear.getsockname()[1]}"

    def ready() -> None:
        link = f"{address}/open/{app.state.sessions.new_link()}"
        say(f"The desk is open at {address}; Ctrl+C closes it.")
        say(f"This link opens it once: {link}")
        if browser:
            open_browser(link)

    serve(app, ear, tls=False, ready=ready)
