"""Forms that people are at work on: kept in the binder's folder after every change, so that none is lost.

A draft is a JSON file with whatever has been typed so far, right or wrong, and beside it the picture of the blank.
"""

from __future__ import annotations

import hashlib
import re
import secrets
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Literal

import cv2
import numpy as np
from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from scanform.adopt import printed_places
from scanform.errors import UsageError
from scanform.files import write_whole
from scanform.form import AdoptedTemplate, FieldKind, PrintedWord, Rule

__all__ = [
    "Draft",
    "DraftAnswer",
    "DraftField",
    "DraftForm",
    "DraftSign",
    "begun",
    "blank_of_draft",
    "changed",
    "draft_file",
    "draft_of",
    "drafts",
    "dropped",
    "form_of",
]

DRAFTS = "form_drafts"
_NAME = re.compile(r"[0-9a-f]{16}")
_UNSURE = 0.7  # of a proposed field: below this the person is asked to look at it
_MOST_FIELDS = 2000  # a month's grid of 60 items
_writing = threading.Lock()

# Wider than any form: what lies beside the page is for the check to say, not lost.
_Mm = Annotated[float, Field(ge=-1000.0, le=2000.0, allow_inf_nan=False)]
_BoxMm = tuple[_Mm, _Mm, _Mm, _Mm]
_Short = Annotated[str, StringConstraints(max_length=80)]
_Long = Annotated[str, StringConstraints(max_length=300)]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class DraftAnswer(_Strict):
    """A box to tick or a word to circle, as far as it is known."""

    answer: _Short
    box_mm: _BoxMm


class DraftField(_Strict):
    """A field as far as it is known; of the three places its kind says which one counts.

    The other two are what it had as another kind. ``stage`` and ``critical``: of the item that it belongs to.
    ``unsure``: proposed or made, and nobody has looked at it yet. ``placed``: a person has said that its answers stand
    where they are meant to, though nothing is printed there.
    """

    id: _Short
    kind: FieldKind
    label: _Long = ""
    box_mm: _BoxMm | None = None
    cells_mm: Annotated[tuple[_BoxMm, ...], Field(max_length=99)] = ()
    answers: Annotated[tuple[DraftAnswer, ...], Field(max_length=40)] = ()
    charset: Literal["digits", "alnum", ""] = ""
    pattern: _Short = ""
    critical: bool = False
    stage: _Long = ""
    unsure: bool = False
    placed: bool = False


class DraftSign(_Strict):
    """A line of the legend."""

    sign: _Short
    answer: _Short
    words: _Long = ""


class DraftForm(_Strict):
    """What a person may change."""

    name: _Short
    title: _Long
    machines: _Long
    covers: Literal["day", "week", "month"]
    fields: Annotated[tuple[DraftField, ...], Field(max_length=_MOST_FIELDS)]
    signs: Annotated[tuple[DraftSign, ...], Field(max_length=60)] = ()


class Draft(_Strict):
    """A form under way. ``rev`` counts its changes; ``notes``: what the proposal did not understand.

    ``follows``: the version that it is to take the place of, None for a form that is new. ``picture``: the SHA-256 of
    the picture of the blank, ``picture_file`` its name beside the template. ``places_mm``: the places to tick that the
    draft began with, and all that its blank shows; None if they are not known.
    """

    rev: int
    initials: str
    source: str
    follows: int | None
    form: DraftForm
    notes: tuple[str, ...] = ()
    width_mm: float
    height_mm: float
    picture: str
    picture_file: str
    words: tuple[PrintedWord, ...] = ()
    rules_mm: tuple[Rule, ...] = ()
    places_mm: tuple[_BoxMm, ...] | None = None


def begun(
    folder: Path,
    template: AdoptedTemplate,
    source: str,
    initials: str,
    *,
    sure: Mapping[str, float],
    notes: tuple[str, ...] = (),
    follows: int | None = None,
) -> str:
    """Begin a draft in the binder ``folder`` from a template; returns its name. ``sure``: by field id, 0 to 1."""
    name = secrets.token_hex(8)
    draft = Draft(
        rev=1,
        initials=initials,
        source=source,
        follows=follows,
        form=form_of(template, sure),
        notes=notes,
        width_mm=template.width_mm,
        height_mm=template.height_mm,
        picture=template.picture.sha256,
        picture_file=template.picture.file,
        words=template.words,
        rules_mm=template.rules_mm,
        places_mm=_places(template),
    )
    (folder / DRAFTS).mkdir(exist_ok=True)
    # The picture first: a draft is there as soon as its file is.
    write_whole(draft_file(folder, name, ".png"), (template.picture_png,))
    _write(folder, name, draft)
    return name


def form_of(template: AdoptedTemplate, sure: Mapping[str, float] | None = None) -> DraftForm:
    """What a person may change of a template."""
    items = {item.name: item for item in template.items}
    fields = []
    for field in template.fields:
        item = items.get(field.id.split(".")[1]) if field.id.startswith("item.") else None
        fields.append(
            DraftField(
                **field.model_dump(exclude={"label"}),
                label=item.text if item is not None else field.label,
                critical=item is not None and item.critical,
                stage=item.stage if item is not None else "",
                unsure=sure is not None and sure.get(field.id, 1.0) < _UNSURE,
            )
        )
    return DraftForm(
        name=template.name,
        title=template.title,
        machines=template.machines,
        covers=template.covers,
        fields=tuple(fields),
        signs=tuple(DraftSign(**sign.model_dump()) for sign in template.signs),
    )


def _places(template: AdoptedTemplate) -> tuple[_BoxMm, ...]:
    own = [answer.box_mm for field in template.fields for answer in field.answers]
    own += [field.box_mm for field in template.fields if field.kind is FieldKind.MARK and field.box_mm is not None]
    picture = cv2.imdecode(np.frombuffer(template.picture_png, np.uint8), cv2.IMREAD_GRAYSCALE)
    if picture is None:
        raise UsageError("The picture of this blank cannot be opened; give the blank anew.")
    return (*own, *((box.x_mm, box.y_mm, box.w_mm, box.h_mm) for box in printed_places(np.asarray(picture))))


def draft_of(folder: Path, name: str) -> Draft:
    """The draft of that name; UsageError if there is none."""
    try:
        return Draft.model_validate_json(draft_file(folder, name, ".json").read_bytes())
    except (OSError, ValidationError) as problem:
        raise UsageError(
            "This draft is no longer there: it was saved as a version, or dropped. See Forms."
        ) from problem


def drafts(folder: Path) -> list[tuple[str, Draft]]:
    """Every draft with its name, the one changed last first."""
    files = sorted((folder / DRAFTS).glob("*.json"), key=lambda path: -path.stat().st_mtime)
    found = []
    for path in files:
        try:
            found.append((path.stem, draft_of(folder, path.stem)))
        except UsageError:
            continue  # dropped by somebody else just now
    return found


def changed(folder: Path, name: str, rev: int, form: DraftForm, initials: str) -> Draft:
    """Keep a change to the draft as it was at ``rev``; UsageError if somebody else has changed it since."""
    with _writing:
        before = draft_of(folder, name)
        if before.rev != rev:
            raise UsageError(
                f"This form was changed in another window meanwhile (by {before.initials}); what you did last is not "
                "kept. Load the page again and go on from there."
            )
        if before.follows is not None and form.name != before.form.name:
            raise UsageError(
                f"This is to be the next version of '{before.form.name}' and keeps its name; for a form of another "
                "name drop its blank under Forms."
            )
        draft = before.model_copy(update={"rev": rev + 1, "form": form, "initials": initials})
        _write(folder, name, draft)
    return draft


def dropped(folder: Path, name: str) -> None:
    """Put a draft away for good, with all that lies beside it; harmless if there is none."""
    draft_file(folder, name, ".json").unlink(missing_ok=True)
    for path in (folder / DRAFTS).glob(f"{name}*"):
        path.unlink(missing_ok=True)


def blank_of_draft(folder: Path, name: str, draft: Draft) -> bytes:
    """The bytes of the picture of the blank (PNG). UsageError if it is not the one that the draft was begun with."""
    try:
        png = draft_file(folder, name, ".png").read_bytes()
    except OSError as problem:
        raise UsageError("The picture of this draft's blank is gone; drop the draft and begin anew.") from problem
    if hashlib.sha256(png).hexdigest() != draft.picture:
        raise UsageError("The picture of this draft's blank is another one now; drop the draft and begin anew.")
    return png


def draft_file(folder: Path, name: str, ending: str) -> Path:
    """Where a file of a draft lies; UsageError for what is no draft's name."""
    if not _NAME.fullmatch(name):
        raise UsageError("There is no such draft; see Forms.")
    return folder / DRAFTS / f"{name}{ending}"


def _write(folder: Path, name: str, draft: Draft) -> None:
    write_whole(draft_file(folder, name, ".json"), (draft.model_dump_json(exclude_defaults=True).encode(),))
