"""A room's door gives out some of its names only when they are asked for.

Drawing, opening scans and reading ink take libraries that need a second to load together. A command that prints a list
goes through the doors of the same rooms and needs none of them. (A module's ``__getattr__``: PEP 562.)

A name that is given out so must not be that of a module of the room: once that is imported, it stands there itself.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from importlib import import_module
from typing import Any

__all__ = ["given_when_asked"]


def given_when_asked(room: str, places: Mapping[str, Sequence[str]]) -> Callable[[str], Any]:
    """The ``__getattr__`` of a room: ``places`` has, by module of the room, the names that are fetched from it."""
    place_of = {name: place for place, names in places.items() for name in names}

    def give(name: str) -> Any:
        if name not in place_of:
            raise AttributeError(f"module {room!r} has no attribute {name!r}")
        value = getattr(import_module(f"{room}.{place_of[name]}"), name)
        setattr(sys.modules[room], name, value)
        return value

    return give
