"""The templates that a binder's pages may be of: the built-in ones, and its own copies of others."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from pathlib import Path

from scanform.binder import Binder
from scanform.form import Template, built_in_templates, load_template

__all__ = ["templates_for"]


def templates_for(binder: Binder, given: Sequence[Path]) -> tuple[Template, ...]:
    """All templates to look for; files given now are checked and copied into the binder for the next time."""
    kept = binder.folder / "templates"
    for path in given:
        template = load_template(path)
        kept.mkdir(exist_ok=True)
        shutil.copyfile(path, kept / f"{template.name}-{template.version}.yaml")
    own = [load_template(path) for path in sorted(kept.glob("*.yaml"))] if kept.is_dir() else []
    by_identity = {(t.name, t.version): t for t in [*built_in_templates(), *own]}
    return tuple(by_identity.values())
