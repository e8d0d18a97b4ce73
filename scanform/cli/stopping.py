"""Ctrl-C and a shutdown end a long run after the page under way, with everything up to it on record."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

__all__ = ["stop_asked"]

_SIGNALS = (signal.SIGINT, signal.SIGTERM)


@contextmanager
def stop_asked() -> Iterator[threading.Event]:
    """An event that Ctrl-C or SIGTERM sets while the block runs; asked a second time they end the process at once."""
    stop = threading.Event()

    def asked(_number: int, _frame: FrameType | None) -> None:
        if stop.is_set():
            raise KeyboardInterrupt
        stop.set()

    before: list[Any] = [signal.signal(number, asked) for number in _SIGNALS]
    try:
        yield stop
    finally:
        for number, handler in zip(_SIGNALS, before, strict=True):
            signal.signal(number, handler)
