"""Which names of forms are taken, and which version a form under way will be.

A name belongs to one form. Another form under it would hide the first in the list of forms and could be taken for a
later version of it, so a form that follows none gets a name of its own; a built-in sheet's name is taken as well.
"""

from __future__ import annotations

import re
from itertools import count

from scanform.batch import kept_templates
from scanform.binder import Binder
from scanform.desk.forms_draft import Draft, drafts
from scanform.form import Template, built_in_templates

__all__ = ["free_name", "owner_of_name", "version_of"]

_NAME_LENGTH = 24


def version_of(binder: Binder, draft: Draft) -> int:
    """The version that the draft will be: the first, or the one after all that are known of the form it follows."""
    if draft.follows is None:
        return 1
    return max((t.version for t in _known(binder) if t.name == draft.form.name), default=0) + 1


def owner_of_name(binder: Binder, draft: Draft) -> str | None:
    """The title of the form that has the draft's name already, None if it is free or of the form that it follows."""
    if draft.follows is not None:
        return None
    own = [template for template in _known(binder) if template.name == draft.form.name]
    return max(own, key=lambda template: template.version).title if own else None


def free_name(binder: Binder, stem: str) -> str:
    """A form's name after the name of its file, which neither a form nor a draft has."""
    taken = {t.name for t in _known(binder)} | {draft.form.name for _, draft in drafts(binder.folder)}
    name = "-".join(re.findall(r"[a-z0-9]+", stem.lower()))[:_NAME_LENGTH].strip("-")
    if not name or not name[0].isalpha():
        name = f"form-{name}"[:_NAME_LENGTH].strip("-")
    numbered = (f"{name[: _NAME_LENGTH - len(str(n)) - 1].strip('-')}-{n}" for n in count(2))
    return name if name not in taken else next(other for other in numbered if other not in taken)


def _known(binder: Binder) -> list[Template]:
    return [*built_in_templates(), *kept_templates(binder)]
