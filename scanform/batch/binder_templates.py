"""The templates that a binder's pages may be of: the built-in ones, and its own copies of others."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path

from scanform.binder import Binder
from scanform.errors import TemplateError
from scanform.files import write_whole
from scanform.form import AdoptedTemplate, Template, built_in_templates, load_template, write_adopted

__all__ = ["keep_adopted", "kept_templates", "templates_for"]


def templates_for(binder: Binder, given: Sequence[Path]) -> tuple[Template, ...]:
    """All templates to look for; files given now are checked and copied into the binder for the next time.

    Of an adopted form's versions with the same blank it is the newest: no page could be told to be of one of them.
    TemplateError if a file says something else than a template of the same name and version that is known already.
    """
    kept = binder.folder / "templates"
    by_identity = {(t.name, t.version): t for t in [*built_in_templates(), *kept_templates(binder)]}
    for path in given:
        template = load_template(path)
        known = by_identity.setdefault((template.name, template.version), template)
        if known != template:
            raise TemplateError(
                f"{path}: template '{template.name}' version {template.version} is known here with other contents; "
                "raise its version number, so that sheets printed before are still read as what they are."
            )
        binder.remember_template(template)
        _keep(kept, path, template)
    return _newest_of_each_print(by_identity.values())


def kept_templates(binder: Binder) -> tuple[Template, ...]:
    """The binder's own copies of templates, every version of them."""
    kept = binder.folder / "templates"
    return tuple(load_template(path) for path in (*sorted(kept.glob("*.yaml")), *sorted(kept.glob("*/*.yaml"))))


def keep_adopted(binder: Binder, template: AdoptedTemplate, initials: str) -> None:
    """Keep a form's new version for all pages to come, with a journal entry that says whose it is.

    TemplateError if that version is there already with other contents: a version is never changed.
    """
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{template.name}.yaml"
        write_adopted(template, path)
        templates_for(binder, [path])
    binder.note_adopted(template, initials)


def _newest_of_each_print(templates: Iterable[Template]) -> tuple[Template, ...]:
    every = tuple(templates)
    newest: dict[tuple[str, str], int] = {}
    for template in every:
        if isinstance(template, AdoptedTemplate):
            key = (template.name, template.picture.sha256)
            newest[key] = max(template.version, newest.get(key, 0))
    return tuple(
        t for t in every if not isinstance(t, AdoptedTemplate) or newest[t.name, t.picture.sha256] == t.version
    )


def _keep(kept: Path, path: Path, template: Template) -> None:
    """A copy for the next time; an adopted form has a folder of its own, since its picture lies beside it."""
    identity = f"{template.name}-{template.version}"
    if isinstance(template, AdoptedTemplate):
        copy = kept / identity / f"{identity}.yaml"
        copy.parent.mkdir(parents=True, exist_ok=True)
        if not copy.exists():
            # The picture first: a template without its picture would keep the whole binder from being read.
            write_whole(copy.parent / template.picture.file, (template.picture_png,))
            write_whole(copy, (path.read_bytes(),))
        return
    kept.mkdir(exist_ok=True)
    copy = kept / f"{identity}.yaml"
    if not copy.exists():
        write_whole(copy, (path.read_bytes(),))
