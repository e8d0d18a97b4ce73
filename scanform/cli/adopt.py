"""``scanform adopt``: a template for a form that scanform did not print."""

from __future__ import annotations

import io
import re
from collections import Counter
from pathlib import Path
from typing import Annotated

import cv2
import typer
from PIL import Image
from rich.progress import track

from scanform.adopt import (
    MOST_SORTED,
    FoundPrint,
    Proposal,
    RecoveredBlank,
    SortedPages,
    blank_of,
    evenly,
    pages_in,
    print_of,
    print_of_page,
    proposal_picture,
    propose,
    sorted_pages,
)
from scanform.batch import templates_for
from scanform.binder import open_binder
from scanform.cli.options import messages, say
from scanform.cli.outputs import PICTURE, check_file, check_folder
from scanform.errors import TemplateError, UsageError
from scanform.files import told, write_whole
from scanform.form import AdoptedField, AdoptedTemplate, FieldKind, Sign, adopted_files, write_adopted
from scanform.report.own_files import save_png

__all__ = ["adopt"]

_UNSURE = 0.7
_MOST_NAMED = 12
_NAME_LENGTH = 24


def adopt(
    out: Annotated[Path, typer.Option("--out", help="The template file to write, such as my_form.yaml.")],
    blank: Annotated[
        Path | None, typer.Argument(metavar="[BLANK]", help="The blank form: a PDF, or a scan at 200 dpi or more.")
    ] = None,
    filled: Annotated[
        list[Path] | None,
        typer.Option(help="No blank is left: a file or folder of filled copies, 12 or more; may be given again."),
    ] = None,
    form: Annotated[
        int | None,
        typer.Option(min=1, help="Which form, where filled pages are of several: its number in the list."),
    ] = None,
    page: Annotated[int | None, typer.Option(min=1, help="Which page of the file, if it has several.")] = None,
    version: Annotated[
        int, typer.Option(min=1, max=999, help="Raise it if the form was adopted before and has changed.")
    ] = 1,
    picture: Annotated[
        Path | None, typer.Option(help="A PNG to write: the form with every proposed field drawn on it.")
    ] = None,
    binder: Annotated[
        Path | None, typer.Option(help="Keep the template in this record too, so that its pages are known from now on.")
    ] = None,
) -> None:
    """Propose a template for paper that scanform never printed, from a blank of it or from filled copies.

    Boxes, combs, tables, writing lines and printed words are found; header fields are named by their labels, the check
    list by its columns, signs by the form's legend. What was not understood is said. Look the picture over, put the
    file right where it is wrong, then read the old pages with it.

    Where no blank is left, --filled sorts filled pages by what is printed on them and recovers the blank from a dozen.

    A first try:  scanform adopt blank.pdf --out old_form.yaml --picture old_form_fields.png

    Then:         scanform read old_scans --binder quarry --template old_form.yaml
    """
    name = _name(out)
    check_folder("--out", out, binder)
    if picture is not None:
        check_file("--picture", picture, PICTURE, binder)
    found, source = _print(blank, page, filled or [], form)
    try:
        proposal = propose(found, name, version)
    except TemplateError as problem:
        raise TemplateError(f"{source}: {problem}") from problem
    blanks_own = out.with_name(proposal.template.picture.file)
    if picture is not None and picture.resolve() == blanks_own.resolve():
        raise UsageError(
            f"--picture {picture}: the blank's own picture is kept there, beside {out.name}; give another name, "
            f"such as {out.stem}_fields.png."
        )
    _check_replaced(proposal.template, out)
    try:
        write_adopted(proposal.template, out)
        if picture is not None:
            drawn = io.BytesIO()
            save_png(Image.fromarray(cv2.cvtColor(proposal_picture(proposal), cv2.COLOR_BGR2RGB)), drawn)
            write_whole(picture, (drawn.getvalue(),))
    except OSError as problem:
        raise UsageError(f"{problem.filename or out}: cannot be written: {told(problem)}.") from problem
    if binder is not None:
        with open_binder(binder, create=True) as record:
            templates_for(record, [out])
    _tell(proposal, out, picture, binder)


def _print(blank: Path | None, page: int | None, filled: list[Path], form: int | None) -> tuple[FoundPrint, str]:
    """What is printed on the blank, given or recovered, and what to call it in a message."""
    if (blank is None) == (not filled):
        raise UsageError("Give either a blank form, or filled copies of it with --filled.")
    if blank is not None:
        if form is not None:
            raise UsageError("--form chooses among filled pages; of a blank's pages --page does.")
        return print_of(blank, page), str(blank)
    if page is not None:
        raise UsageError("--page chooses a page of a blank; among filled pages --form chooses the form.")
    recovered = _recovered(filled, form)
    for note in recovered.notes:
        say(note)
    say(
        f"Blank recovered from {recovered.copies} copies: {100 * recovered.agreement:.0f} % of its edges are on nearly "
        f"all of them; in {len(recovered.left_out_mm)} places ink recurs that was taken for writing."
    )
    return print_of_page(recovered.page), recovered.page.source


def _recovered(filled: list[Path], form: int | None) -> RecoveredBlank:
    places = pages_in(filled)
    looked_at = evenly(places, MOST_SORTED)
    found = sorted_pages(track(looked_at, "Looking at the pages", console=messages, transient=True))
    for note in found.notes:
        say(note)
    if len(looked_at) < len(places):
        say(f"{len(looked_at)} of {len(places)} pages were looked at, from all over the binder.")
    if len(found.forms) > 1:
        _list(found)
    return blank_of(found, form)


def _list(found: SortedPages) -> None:
    """The forms that were told apart, with their numbers."""
    for number, pages in enumerate(found.usable, start=1):
        first = pages.sheets[0]
        run = ""
        if pages.like is not None:
            run = f"; like form {pages.like}, of which {100 * pages.shared:.0f} % is printed in the same place"
        say(f"Form {number}: {len(pages.sheets)} pages, the first is {first.source}, page {first.number}{run}.")
    few = [pages for pages in found.forms if pages not in found.usable]
    if few:
        first = few[0].sheets[0]
        say(
            f"{sum(len(pages.sheets) for pages in few)} pages are of {len(few)} other forms with too few copies each, "
            f"such as {first.source}, page {first.number}."
        )


def _name(out: Path) -> str:
    """The template's name, from its file's."""
    if out.suffix.lower() not in {".yaml", ".yml"}:
        raise UsageError(f"--out {out}: a template file ends in .yaml; name it such as {out.stem or 'my_form'}.yaml.")
    name = "-".join(re.findall(r"[a-z0-9]+", out.stem.lower()))[:_NAME_LENGTH].strip("-")
    if not name or not name[0].isalpha():
        raise UsageError(f"--out {out}: the file's name becomes the template's; let it begin with a letter.")
    return name


def _check_replaced(template: AdoptedTemplate, out: Path) -> None:
    """UsageError if what would be replaced says something else: somebody has put it right by hand, or it is a scan."""
    for file, contents in adopted_files(template, out):
        if not file.is_file() or file.read_bytes() == contents:
            continue
        if file == out:
            raise UsageError(
                f"--out {out}: it is there already and says something else than this proposal; what was put right in "
                "it by hand would be lost. Move it away, or give another name."
            )
        raise UsageError(
            f"--out {out}: the blank's own picture is kept beside it as {file.name}, and another picture has that "
            "name; give another name."
        )


def _tell(proposal: Proposal, out: Path, picture: Path | None, binder: Path | None) -> None:
    template = proposal.template
    say(f"{template.title} ({template.name}, version {template.version}): {len(template.fields)} fields in {out}.")
    say(_check_list(template))
    others = [made for made in template.fields if not made.id.startswith("item.")]
    say("Other fields: " + (", ".join(_named(made) for made in _first_of_each(others)) or "none") + ".")
    if template.signs:
        say("Signs: " + ", ".join(_told(sign) for sign in template.signs) + ".")
    unsure = [field_id for field_id, sure in proposal.sure.items() if sure < _UNSURE]
    if unsure:
        more = f" and {len(unsure) - _MOST_NAMED} more" if len(unsure) > _MOST_NAMED else ""
        say(f"Not sure of: {', '.join(unsure[:_MOST_NAMED])}{more}.")
    for note in proposal.notes:
        say(note)
    if picture is not None:
        say(f"Look it over: {picture}")
    kept = f" and in {binder}" if binder is not None else ""
    say(f"Kept with the picture of the blank ({template.picture.file}){kept}; mark what keeps a person safe with "
        "'critical: true' in the file.")  # fmt: skip


def _told(sign: Sign) -> str:
    """What a sign is taken to mean beside the form's own words for it: a cross may mean that all is well."""
    return f"{sign.sign} = {sign.answer}" + (f" ({sign.words})" if sign.words else "")


def _check_list(template: AdoptedTemplate) -> str:
    kinds = Counter(made.kind for made in template.fields if made.id.startswith("item."))
    if not template.items:
        return "Check list: none."
    how = {
        FieldKind.CHOICE: "boxes to tick",
        FieldKind.CIRCLE: "words to circle",
        FieldKind.MARK: "places for a sign",
    }
    words = " and ".join(f"{count} with {how[kind]}" if kind is not FieldKind.MARK else f"{count} {how[kind]}"
                         for kind, count in kinds.items())  # fmt: skip
    return f"Check list: {len(template.items)} items, {words}, for a {template.covers}."


def _first_of_each(fields: list[AdoptedField]) -> list[AdoptedField]:
    stems: dict[str, AdoptedField] = {}
    for made in fields:
        stems.setdefault(made.id.split(".")[0], made)
    return list(stems.values())


def _named(made: AdoptedField) -> str:
    return f"{made.id.split('.')[0]} ({made.kind.value}{': ' + made.label if made.label else ''})"
