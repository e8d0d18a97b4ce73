"""Batches: dropping files in, watching them being read, and what became of every page."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, HTTPException, Path, Query, Request
from fastapi.responses import HTMLResponse
from pydantic import BaseModel

from scanform.binder import MAY_BE_ENTERED, NOT_READ, BatchRecord, Binder
from scanform.desk.access import Clerk, Reader, Role
from scanform.desk.inbox import MOST_BYTES_A_FILE, MOST_FILES, completed, new_stack, put, without_folders
from scanform.desk.pages import page
from scanform.desk.record_words import OUTCOME_WORDS, file_name
from scanform.desk.stack_reader import Progress, StackReader, Stage
from scanform.errors import BinderError
from scanform.report import pads_back, unread_sentence
from scanform.settle import Outcome

__all__ = ["router"]

router = APIRouter()

_A_PAGE = 30
_MOST_PAGES = 1_000_000
_StackName = Annotated[str, Path(pattern=r"^[0-9a-f]{16}$")]
_BatchNumber = Annotated[int, Path(ge=1, le=2**31 - 1)]


class StackNow(BaseModel):
    """How far a stack is: ``outcomes``: words and pages, for people."""

    stack: str
    initials: str
    files: list[str]
    stage: Stage
    pages_in: int | None
    pages_done: int
    doubts: int
    outcomes: list[tuple[str, int]]
    batch: int | None
    said: str


class NewStack(BaseModel):
    """The name under which files of a new stack are sent."""

    stack: str


class KeptFile(BaseModel):
    """The name that a file is kept under."""

    name: str


@router.get("/batches", response_class=HTMLResponse)
def all_batches(request: Request, session: Reader, at: Annotated[int, Query(ge=1, le=_MOST_PAGES)] = 1) -> HTMLResponse:
    """Where files are dropped, what is being read, and every batch there was."""
    binder: Binder = request.app.state.binder
    batches = binder.batches((at - 1) * _A_PAGE, _A_PAGE + 1)
    return page(
        request,
        "batches.html",
        session,
        batches=[(batch, _balance(binder, batch)) for batch in batches[:_A_PAGE]],
        outcomes=OUTCOME_WORDS,
        at=at,
        more=len(batches) > _A_PAGE,
        may_feed=session.may(Role.CLERK),
        most_files=MOST_FILES,
        most_bytes=MOST_BYTES_A_FILE,
    )


@router.get("/batches/under-way")
def under_way(request: Request, _session: Reader) -> list[StackNow]:
    """Every stack since the desk was started, the newest first."""
    reader: StackReader = request.app.state.reader
    return [_now(progress) for progress in reader.progress()]


@router.get("/batches/{number}", response_class=HTMLResponse)
def one_batch(request: Request, number: _BatchNumber, session: Reader) -> HTMLResponse:
    """The balance of a batch, the pages that were not read with their reasons, and sheets that never came back."""
    binder: Binder = request.app.state.binder
    try:
        batch = binder.batch(number)
    except BinderError as problem:
        raise HTTPException(404, str(problem)) from problem
    balance = _balance(binder, batch)
    fed = binder.sheets_of_batch(number)
    # As they are now: a page that was read again or entered by hand since is a sheet.
    others = {found.number: found for found in fed if found.outcome is not Outcome.READ}
    in_order = sorted(others.values(), key=lambda found: (_FIRST_TO_LOOK_AT.index(found.outcome), found.number))
    pads = [pad for pad in pads_back(binder, (found.serial for found in fed)) if pad.missing]
    return page(
        request,
        "batch.html",
        session,
        batch=batch,
        balance=balance,
        accounted=sum(balance.values()),
        holds=_holds(binder, batch),
        sheets=len({found.number for found in fed if found.outcome is Outcome.READ}),
        doubts=sum(found.doubtful for found in set(fed)),
        others=[(found, _reason(binder, found.reason)) for found in in_order],
        unread=unread_sentence(sum(found.outcome in NOT_READ and not found.void for found in in_order)),
        may_be_entered=MAY_BE_ENTERED,
        outcomes=OUTCOME_WORDS,
        pads=pads,
        names=[file_name(source) for source in batch.sources],
        may_feed=session.may(Role.CLERK),
    )


# On the page of a batch: what needs a person stands above what does not.
_FIRST_TO_LOOK_AT = (Outcome.UNREADABLE, Outcome.UNKNOWN_FORM, Outcome.DUPLICATE, Outcome.BLANK)


@router.post("/batches/stacks", status_code=201)
def begin_stack(request: Request, _session: Clerk) -> NewStack:
    """Begin a stack of files to be read."""
    return NewStack(stack=new_stack(request.app.state.binder.folder))


@router.put(
    "/batches/stacks/{stack}/files",
    status_code=201,
    openapi_extra={"requestBody": {"content": {"application/octet-stream": {"schema": {"type": "string"}}}}},
)
async def add_file(
    request: Request, stack: _StackName, _session: Clerk, name: Annotated[str, Query(min_length=1, max_length=300)]
) -> KeptFile:
    """Add a file to a stack; its bytes are the body."""
    return KeptFile(name=await put(request.app.state.binder.folder, stack, name, request.stream()))


@router.post("/batches/stacks/{stack}/read", status_code=202)
def read_files(request: Request, stack: _StackName, session: Clerk) -> StackNow:
    """Have a stack read in the background, once all its files have arrived."""
    files = completed(request.app.state.binder.folder, stack, session.initials)
    reader: StackReader = request.app.state.reader
    reader.add(stack, files, session.initials)
    return next(_now(progress) for progress in reader.progress() if progress.stack == stack)


def _balance(binder: Binder, batch: BatchRecord) -> dict[Outcome, int]:
    return {outcome: count for outcome, count in binder.balance(batch.id).items() if count}


def _holds(binder: Binder, batch: BatchRecord) -> bool:
    """Whether as many pages are accounted for as came in, by the record's own count."""
    accounted = sum(binder.balance(batch.id).values())
    return batch.pages_in is not None and accounted == batch.pages_in + batch.more_sheets


def _reason(binder: Binder, reason: str | None) -> str:
    return without_folders(binder.folder, reason or "")


def _now(progress: Progress) -> StackNow:
    return StackNow(
        stack=progress.stack,
        initials=progress.initials,
        files=list(progress.files),
        stage=progress.stage,
        pages_in=progress.pages_in,
        pages_done=progress.pages_done,
        doubts=progress.doubts,
        outcomes=[(OUTCOME_WORDS[o], n) for o in Outcome if (n := progress.outcomes.get(o, 0))],
        batch=progress.batch,
        said=progress.said,
    )
