"""What each room outside the check list asks for: known labels first, then likely ones, then what is left over."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from scanform.adopt.labels import Asked, asked_by, guessed_by, numbered, order_of, plain
from scanform.adopt.rooms import Room
from scanform.form import FieldKind

__all__ = ["UNNAMED_SURE", "asked_of"]

UNNAMED_SURE = 0.5
_AT_START = {"start", "begin", "beginning", "opening", "out"}
_METERS = {"hours", "hrs", "hour", "meter", "smu", "clock"}
_ROOM_FOR_REMARKS_MM = (80.0, 14.0)  # least width and height of an area that several lines go into


def asked_of(rooms: Sequence[Room], title: str) -> list[Asked | None]:
    """For each room in turn what it asks for; None where nobody knows. ``title``: the form's own, for what it is of."""
    labels = [order_of(room.label.text)[1] if room.label is not None else "" for room in rooms]
    asks = [asked_by(label) for label in labels]
    for n, label in enumerate(labels):
        # A longer wording counts only where no label says the same in the usual words.
        guess = guessed_by(label) if asks[n] is None else None
        if guess is not None and not _asked(asks, guess.id):
            asks[n] = guess
    if not _asked(asks, "unit"):
        _likely_unit(labels, asks, title)
    if not _asked(asks, "hours"):
        _hours_at_start(labels, asks)
    _last_signature(asks, labels)
    if not _asked(asks, "remarks"):
        _likely_remarks(rooms, asks)
    return asks


def _asked(asks: Sequence[Asked | None], field_id: str) -> bool:
    return any(asked is not None and asked.id == field_id for asked in asks)


def _last_signature(asks: list[Asked | None], labels: Sequence[str]) -> None:
    """The last label that could be a signature's is one, where no label says so: a second name, a foreman's line."""
    if _asked(asks, "signature"):
        return
    names = [n for n, label in enumerate(labels) if (said := guessed_by(label)) is not None and said.id == "operator"]
    if names and names[-1] == len(asks) - 1 and _asked(asks[:-1], "operator"):
        asks[-1] = Asked("signature", FieldKind.SIGNATURE, UNNAMED_SURE)
        return
    foot = max((n for n, asked in enumerate(asks) if asked is not None and asked.id == "foreman"), default=None)
    if foot is not None:
        asks[foot] = Asked("signature", FieldKind.SIGNATURE, UNNAMED_SURE)


def _likely_unit(labels: Sequence[str], asks: list[Asked | None], title: str) -> None:
    """Where no label says unit: the first number of something, "Tug no.", else what the form's title is about."""
    numbers = [n for n, label in enumerate(labels) if asks[n] is None and numbered(label)]
    subject = set(plain(title).split())
    named = [n for n, label in enumerate(labels) if asks[n] is None and plain(label) and plain(label) in subject]
    for n in (numbers or named)[:1]:
        asks[n] = Asked("unit", FieldKind.TEXT, UNNAMED_SURE)


def _hours_at_start(labels: Sequence[str], asks: list[Asked | None]) -> None:
    """Where hours are asked for twice, at the start and at the end of a shift, the first are the sheet's hours."""
    for n, label in enumerate(labels):
        said = set(plain(label).split())
        if asks[n] is None and said & _AT_START and said & _METERS:
            asks[n] = Asked("hours", FieldKind.NUMBER, UNNAMED_SURE)
            return


def _likely_remarks(rooms: Sequence[Room], asks: list[Asked | None]) -> None:
    """Where no label says remarks: the block of lines, or the large area, under words that nobody knows."""
    lines = Counter(room.block for room in rooms if room.of)
    for n, room in enumerate(rooms):
        large = room.box_mm.w_mm >= _ROOM_FOR_REMARKS_MM[0] and room.box_mm.h_mm >= _ROOM_FOR_REMARKS_MM[1]
        if asks[n] is None and (large or room.label is not None) and (large or (room.of and lines[room.block] > 1)):
            asks[n] = Asked("remarks", FieldKind.TEXT, UNNAMED_SURE)
            return
