"""Running the desk: the port it listens on, the server, and the browser that opens."""

from __future__ import annotations

import socket
import threading
import webbrowser
from collections.abc import Callable

import uvicorn
from fastapi import FastAPI

from scanform.errors import UsageError

__all__ = ["listening", "open_browser", "serve"]

_ENDS_WITHIN_S = 3  # an open page must not keep the desk from closing


def listening(host: str, port: int) -> socket.socket:
    """A socket that listens there; ``port`` 0 takes any that is free. UsageError if it cannot be had."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    ear = socket.socket(family, socket.SOCK_STREAM)
    ear.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        ear.bind((host, port))
        ear.listen(128)
    except (OSError, OverflowError) as problem:
        ear.close()
        why = getattr(problem, "strerror", None) or str(problem)
        raise UsageError(
            f"The desk cannot listen at {host}, port {port} ({why}); close what runs there, or name another --port."
        ) from problem
    return ear


def serve(app: FastAPI, ear: socket.socket, tls: bool, ready: Callable[[], None]) -> None:
    """Run the desk until it is stopped; ``ready`` is called once it answers."""
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        server_header=False,
        # Only a proxy on this machine is believed about who is asking.
        proxy_headers=tls,
        forwarded_allow_ips="127.0.0.1",
        timeout_graceful_shutdown=_ENDS_WITHIN_S,
    )
    server = uvicorn.Server(config)

    def wait_and_tell() -> None:
        waiting = threading.Event()
        while not server.started and not server.should_exit:
            waiting.wait(0.02)
        if server.started:
            ready()

    threading.Thread(target=wait_and_tell, daemon=True).start()
    server.run(sockets=[ear])


def open_browser(link: str) -> None:
    """Open a link in the person's browser; nothing happens where there is none."""
    webbrowser.open(link)
