"""Forms that scanform did not print: proposed from a blank, put right on its picture, tried, kept as a version."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, HTTPException, Path, Request
from fastapi.responses import HTMLResponse, Response
from pydantic import BaseModel, Field

from scanform.batch import keep_adopted, kept_templates
from scanform.binder import Binder
from scanform.desk.access import Clerk, Reader, Role
from scanform.desk.forms_check import checked
from scanform.desk.forms_draft import (
    Draft,
    DraftForm,
    begun,
    blank_of_draft,
    changed,
    draft_file,
    draft_of,
    drafts,
    dropped,
    form_of,
)
from scanform.desk.forms_fault import Fault
from scanform.desk.forms_names import free_name, owner_of_name, version_of
from scanform.desk.forms_work import MOST_TRIED, Tried, proposal_for, tried
from scanform.desk.inbox import MOST_BYTES_A_FILE, arrived, forget, without_folders
from scanform.desk.pages import page
from scanform.desk.wording import STATE_WORDS, value_words
from scanform.errors import ScanformError, UsageError
from scanform.files import write_whole
from scanform.form import AdoptedTemplate
from scanform.intake import shown
from scanform.settle import State

__all__ = ["router"]

router = APIRouter()

_DraftName = Annotated[str, Path(pattern=r"^[0-9a-f]{16}$")]
_Version = Annotated[int, Path(ge=1, le=999)]
_NAME = r"^[a-z][a-z0-9-]*$"
_FormName = Annotated[str, Path(pattern=_NAME, max_length=24)]
_Stack = Annotated[str, Field(pattern=r"^[0-9a-f]{16}$")]
_MOST_VERSIONS = 999
_PNG: dict[int | str, dict[str, Any]] = {200: {"content": {"image/png": {}}}}
_JPEG: dict[int | str, dict[str, Any]] = {200: {"content": {"image/jpeg": {}}}}


class BlankSent(BaseModel):
    """A stack of one file, the blank; ``page`` of it, from 1, if it has several. ``printed_anew``: the form that it is
    a later print of, if it is one.
    """

    stack: _Stack
    printed_anew: Annotated[str | None, Field(pattern=_NAME, max_length=24)] = None
    page: Annotated[int | None, Field(ge=1, le=5000)] = None


class PagesSent(BaseModel):
    """A stack of filled pages."""

    stack: _Stack


class Begun(BaseModel):
    """The name of a draft."""

    draft: str


class Change(BaseModel):
    """A form as it is now; ``rev``: of the draft that it was made from."""

    rev: Annotated[int, Field(ge=1, le=2**31 - 1)]
    form: DraftForm


class Kept(BaseModel):
    """A change that is kept, what is to be put right before it can be a version, and which version that will be."""

    rev: int
    faults: list[Fault]
    version: int


class Seen(BaseModel):
    """The draft as the person sees it. ``none_critical``: asked, they said that no item of it keeps a person safe."""

    rev: Annotated[int, Field(ge=1, le=2**31 - 1)]
    none_critical: bool = False


class KeptVersion(BaseModel):
    """Where the new version is to be seen."""

    at: str


class TriedField(BaseModel):
    """A field of a page that was tried; ``box``: where its ink is, in px of the page's picture."""

    id: str
    words: str
    state: State
    sign: str
    state_words: str
    reasons: list[str]
    box: tuple[float, float, float, float] | None


class TriedPage(BaseModel):
    """A page that was tried. ``picture``: where it is to be had, empty if it cannot be shown."""

    title: str
    said: str
    picture: str
    width: int
    height: int
    fields: list[TriedField]


class TriedPages(BaseModel):
    """What came of trying a form; ``more``: pages left out."""

    pages: list[TriedPage]
    more: int


@router.get("/forms", response_class=HTMLResponse)
def all_forms(request: Request, session: Reader) -> HTMLResponse:
    """The binder's forms with their versions, what is under way, and where a blank is dropped."""
    binder: Binder = request.app.state.binder
    forms: dict[str, list[AdoptedTemplate]] = {}
    for template in sorted(_adopted(binder), key=lambda t: (t.name, -t.version)):
        forms.setdefault(template.name, []).append(template)
    return page(
        request,
        "forms.html",
        session,
        forms=forms,
        drafts=[(name, draft, version_of(binder, draft)) for name, draft in drafts(binder.folder)],
        may_edit=session.may(Role.CLERK),
    )


@router.post("/forms/drafts", status_code=201)
def begin_draft(request: Request, sent: BlankSent, session: Clerk) -> Begun:
    """Propose fields for the blank in a stack of one file."""
    binder: Binder = request.app.state.binder
    files = arrived(binder.folder, sent.stack)
    try:
        if len(files) > 1:
            raise UsageError("Drop one blank at a time: each form becomes a template of its own.")
        before = _newest(binder, sent.printed_anew) if sent.printed_anew else None
        proposal = proposal_for(files[0], sent.page, before.name if before else free_name(binder, files[0].stem))
        draft = begun(
            binder.folder,
            proposal.template,
            files[0].name,
            session.initials,
            sure=proposal.sure,
            notes=proposal.notes,
            follows=before.version if before else None,
        )
    except ScanformError as problem:
        raise UsageError(without_folders(binder.folder, str(problem))) from problem
    finally:
        forget(binder.folder, sent.stack)
    return Begun(draft=draft)


@router.get("/forms/drafts/{draft}", response_class=HTMLResponse)
def edit_draft(request: Request, draft: _DraftName, session: Clerk) -> HTMLResponse:
    """The editor."""
    binder: Binder = request.app.state.binder
    kept = draft_of(binder.folder, draft)
    now = _kept(binder, draft)
    data: dict[str, Any] = {
        "form": kept.form.model_dump(mode="json"),
        "width": kept.width_mm,
        "height": kept.height_mm,
        "blank": f"/forms/drafts/{draft}/blank.png",
        "draft": draft,
        "mostTried": MOST_TRIED,
        "mostBytes": MOST_BYTES_A_FILE,
        **now.model_dump(),
    }
    return page(
        request, "form.html", session, data=data, title=kept.form.title, notes=kept.notes, source=shown(kept.source),
        follows=kept.follows, draft=draft, may_edit=True, name=kept.form.name, version=now.version,
    )  # fmt: skip


@router.get("/forms/drafts/{draft}/blank.png", response_class=Response, responses=_PNG)
def draft_blank(request: Request, draft: _DraftName, _session: Clerk) -> Response:
    """The picture of a draft's blank."""
    folder = request.app.state.binder.folder
    return Response(blank_of_draft(folder, draft, draft_of(folder, draft)), media_type="image/png")


@router.post("/forms/drafts/{draft}")
def change_draft(request: Request, draft: _DraftName, change: Change, session: Clerk) -> Kept:
    """Keep the form as it is now; says what is still to be put right."""
    binder: Binder = request.app.state.binder
    changed(binder.folder, draft, change.rev, change.form, session.initials)
    return _kept(binder, draft)


@router.delete("/forms/drafts/{draft}", status_code=204)
def drop_draft(request: Request, draft: _DraftName, _session: Clerk) -> None:
    """Drop a draft for good."""
    dropped(request.app.state.binder.folder, draft)


@router.post("/forms/drafts/{draft}/version", status_code=201)
def keep_version(request: Request, draft: _DraftName, seen: Seen, session: Clerk) -> KeptVersion:
    """Make the draft a version of the form, which is never changed from then on."""
    binder: Binder = request.app.state.binder
    kept = draft_of(binder.folder, draft)
    if kept.rev != seen.rev:
        raise UsageError("This form was changed in another window meanwhile; load the page again and look at it first.")
    version, template, faults = _checked(binder, kept, blank_of_draft(binder.folder, draft, kept))
    if version > _MOST_VERSIONS:
        raise UsageError(f"The form '{kept.form.name}' has {_MOST_VERSIONS} versions; adopt its blank by another name.")
    if template is None:
        raise UsageError(f"{len(faults)} things are still to be put right; the first: {faults[0].said}")
    if template.items and not any(item.critical for item in template.items) and not seen.none_critical:
        raise UsageError("Say first which items keep a person safe, or that none does: no item of this form is marked.")
    keep_adopted(binder, template, session.initials)
    dropped(binder.folder, draft)
    return KeptVersion(at=f"/forms/kept/{template.name}/{version}")


@router.post("/forms/drafts/{draft}/tries")
def try_draft(request: Request, draft: _DraftName, sent: PagesSent, _session: Clerk) -> TriedPages:
    """Read a few filled pages with the form as it is now; nothing of it goes on record."""
    binder: Binder = request.app.state.binder
    kept = draft_of(binder.folder, draft)
    files = arrived(binder.folder, sent.stack)
    try:
        _, template, faults = _checked(binder, kept, blank_of_draft(binder.folder, draft, kept))
        if template is None:
            raise UsageError(f"Before pages can be read with it this is to be put right: {faults[0].said}")
        results, more = tried(files, template, binder)
    except ScanformError as problem:
        raise UsageError(without_folders(binder.folder, str(problem))) from problem
    finally:
        forget(binder.folder, sent.stack)
    return TriedPages(
        pages=[_tried_page(request, draft, number, result) for number, result in enumerate(results, start=1)], more=more
    )


@router.get("/forms/drafts/{draft}/tries/{number}.jpg", response_class=Response, responses=_JPEG)
def tried_picture(
    request: Request, draft: _DraftName, number: Annotated[int, Path(ge=1, le=MOST_TRIED)], _session: Clerk
) -> Response:
    """The picture of a page that was tried last."""
    try:
        jpeg = draft_file(request.app.state.binder.folder, draft, f"-{number}.jpg").read_bytes()
    except OSError as problem:
        raise HTTPException(404, "There is no such page; try the form again.") from problem
    return Response(jpeg, media_type="image/jpeg")


@router.get("/forms/kept/{name}/{version}", response_class=HTMLResponse)
def one_version(request: Request, name: _FormName, version: _Version, session: Reader) -> HTMLResponse:
    """A version as it is kept, to look at."""
    template = _of_version(request, name, version)
    data: dict[str, Any] = {
        "form": form_of(template).model_dump(mode="json"),
        "width": template.width_mm,
        "height": template.height_mm,
        "blank": f"/forms/kept/{name}/{version}/blank.png",
        "faults": [],
    }
    return page(
        request, "form.html", session, data=data, title=template.title, notes=(), source="", follows=None, draft="",
        may_edit=False, may_change=session.may(Role.CLERK), name=name, version=version,
    )  # fmt: skip


@router.get("/forms/kept/{name}/{version}/blank.png", response_class=Response, responses=_PNG)
def version_blank(request: Request, name: _FormName, version: _Version, _session: Reader) -> Response:
    """The picture of a version's blank."""
    return Response(_of_version(request, name, version).picture_png, media_type="image/png")


@router.post("/forms/kept/{name}/{version}/drafts", status_code=201)
def change_version(request: Request, name: _FormName, version: _Version, session: Clerk) -> Begun:
    """Begin the form's next version from this one, which stays as it is."""
    binder: Binder = request.app.state.binder
    template = _of_version(request, name, version)
    source = f"{name}, version {version}"
    return Begun(draft=begun(binder.folder, template, source, session.initials, sure={}, follows=version))


def _newest(binder: Binder, name: str) -> AdoptedTemplate:
    """The newest version of a form; UsageError if there is none."""
    own = [template for template in _adopted(binder) if template.name == name]
    if not own:
        raise UsageError(f"The binder has no form '{name}' that this could be a later print of; see Forms.")
    return max(own, key=lambda template: template.version)


def _adopted(binder: Binder) -> list[AdoptedTemplate]:
    return [template for template in kept_templates(binder) if isinstance(template, AdoptedTemplate)]


def _of_version(request: Request, name: str, version: int) -> AdoptedTemplate:
    for template in _adopted(request.app.state.binder):
        if (template.name, template.version) == (name, version):
            return template
    raise HTTPException(404, f"The binder has no form '{name}' of version {version}; see Forms.")


def _checked(binder: Binder, draft: Draft, png: bytes = b"") -> tuple[int, AdoptedTemplate | None, list[Fault]]:
    """The version that the draft will be, and it as a template or what keeps it from being one."""
    version = version_of(binder, draft)
    return version, *checked(draft, version, owner_of_name(binder, draft), png)


def _kept(binder: Binder, draft: str) -> Kept:
    kept = draft_of(binder.folder, draft)
    version, _, faults = _checked(binder, kept)
    return Kept(rev=kept.rev, faults=faults, version=version)


def _tried_page(request: Request, draft: str, number: int, result: Tried) -> TriedPage:
    picture = ""
    if result.picture:
        write_whole(draft_file(request.app.state.binder.folder, draft, f"-{number}.jpg"), (result.picture,))
        picture = f"/forms/drafts/{draft}/tries/{number}.jpg"
    return TriedPage(
        title=f"{shown(result.source)}, page {result.number}",
        said=without_folders(request.app.state.binder.folder, result.said),
        picture=picture,
        width=result.size_px[0],
        height=result.size_px[1],
        fields=[
            TriedField(
                id=field.id,
                words=value_words(field.kind, field.value),
                state=field.state,
                sign=STATE_WORDS[field.state][0],
                state_words=STATE_WORDS[field.state][1],
                reasons=list(field.reasons),
                box=box,
            )
            for field, box in result.fields
        ],
    )
