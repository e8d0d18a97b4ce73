"""What each room outside the check list asks for: known labels first, then likely ones, then what is left over."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from scanform.adopt.label_sense import spelt_out
from scanform.adopt.labels import Asked, asked_by, guessed_by, numbered, order_of, plain
from scanform.adopt.rooms import Room
from scanform.form import FieldKind

__all__ = ["UNNAMED_SURE", "asked_of"]

UNNAMED_SURE = 0.5
_AT_START = {"start", "begin", "beginning", "opening", "out"}
_METERS = {"hours", "hrs", "hour", "meter", "smu", "clock"}
_OF_THE_HEAD, _ON_LINE_MM = {"unit", "date", "week"}, 3.0
_DATE_GROUPS = {(2, 2, 2), (2, 2, 4), (4, 2, 2)}
_ROOM_FOR_REMARKS_MM = (80.0, 14.0)  # least width and height of an area that several lines go into


def asked_of(rooms: Sequence[Room], title: str) -> list[Asked | None]:
    """For each room in turn what it asks for; None where nobody knows. ``title``: the form's own, for what it is of."""
    printed = [room.label.text if room.label is not None else "" for room in rooms]
    labels = [order_of(label)[1] or label for label in printed]
    asks = [asked_by(label) for label in labels]
    # Of what a lorry pulls the number counts only where nothing else on the form has one.
    for n in [n for n, label in enumerate(labels) if "trailer" in spelt_out(label) and _asked(asks, "unit")]:
        if any(m != n and asked is not None and asked.id == "unit" for m, asked in enumerate(asks)):
            asks[n] = None
    # A longer wording counts only where no label says the same in the usual words; the surest come first.
    guesses = [(guess.sure, -n, guess) for n, label in enumerate(labels) if asks[n] is None
               and (guess := guessed_by(label)) is not None]  # fmt: skip
    for _, n, guess in sorted(guesses, reverse=True, key=lambda g: g[:2]):
        # Several lines under a long wording are for telling something, whoever it names.
        if not _asked(asks, guess.id) and (guess.id == "remarks" or not rooms[-n].of):
            asks[-n] = guess
    _by_cells(rooms, asks)
    if not _asked(asks, "unit"):
        _likely_unit(labels, asks, title)
    if not _asked(asks, "hours"):
        _hours_at_start(labels, asks)
    _last_signature(rooms, asks, labels)
    if not _asked(asks, "remarks"):
        _likely_remarks(rooms, asks)
    return asks


def _asked(asks: Sequence[Asked | None], field_id: str) -> bool:
    return any(asked is not None and asked.id == field_id for asked in asks)


def _by_cells(rooms: Sequence[Room], asks: list[Asked | None]) -> None:
    """Combs whose labels say nothing known: in two, two and four or two cells a date, with one cell apart the hours."""
    for n, room in enumerate(rooms):
        groups = room.comb.groups if room.comb is not None and asks[n] is None else ()
        if groups in _DATE_GROUPS and not _asked(asks, "date"):
            asks[n] = Asked("date", FieldKind.DATE, UNNAMED_SURE)
        if len(groups) == 2 and groups[0] > 2 and groups[1] == 1 and not _asked(asks, "hours"):
            asks[n] = Asked("hours", FieldKind.NUMBER, UNNAMED_SURE)


def _last_signature(rooms: Sequence[Room], asks: list[Asked | None], labels: Sequence[str]) -> None:
    """The last label that could be a signature's is one, where no label says so: a second name, a foreman's line.

    A foreman who is named on a line with the machine or the date is no one who signs at the foot.
    """
    if _asked(asks, "signature"):
        return
    names = [n for n, label in enumerate(labels) if (said := guessed_by(label)) is not None and said.id == "operator"]
    if names and names[-1] == len(asks) - 1 and _asked(asks[:-1], "operator"):
        asks[-1] = Asked("signature", FieldKind.SIGNATURE, UNNAMED_SURE)
        return
    head = [r.box_mm for r, asked in zip(rooms, asks, strict=True) if asked is not None and asked.id in _OF_THE_HEAD]
    feet = [
        n
        for n, asked in enumerate(asks)
        if asked is not None
        and asked.id == "foreman"
        and not any(abs(box.centre_mm[1] - rooms[n].box_mm.centre_mm[1]) < _ON_LINE_MM for box in head)
    ]
    foot = max(feet, default=None)
    if foot is not None:
        asks[foot] = Asked("signature", FieldKind.SIGNATURE, UNNAMED_SURE)


def _likely_unit(labels: Sequence[str], asks: list[Asked | None], title: str) -> None:
    """Where no label says unit: the first number of something, "Tug no.", else what the form's title is about."""
    numbers = [n for n, label in enumerate(labels) if asks[n] is None and numbered(label)]
    subject = set(plain(title).split())
    named = [n for n, label in enumerate(labels) if asks[n] is None and _bare(label) and _bare(label) in subject]
    for n in (numbers or named)[:1]:
        asks[n] = Asked("unit", FieldKind.TEXT, UNNAMED_SURE)


def _bare(label: str) -> str:
    """The label without a word that asks: "which quad"."""
    return plain(label).removeprefix("which ").removeprefix("what ")


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
