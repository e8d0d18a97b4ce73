"""Which items the sheets of a template's version have, kept so that old records stay readable without its file."""

from __future__ import annotations

import hashlib
from pathlib import Path

from sqlalchemy import Engine, insert, select

from scanform.binder import journal
from scanform.binder.schema import template as template_table
from scanform.binder.schema import template_item
from scanform.binder.store import reading, writing
from scanform.binder.types import ItemLabel
from scanform.errors import BinderError
from scanform.form import AdoptedTemplate, Template, adopted_yaml

__all__ = ["items", "note_adopted", "remember_template"]


def remember_template(engine: Engine, folder: Path, template: Template) -> None:
    """Keep a template's title and items; the same version again writes nothing.

    BinderError if this version is on record with other items: its number has to go up, or the sheets filled in
    before would be read with the wrong words.
    """
    kept = {item.field_id: item for item in items(engine, template.name, template.version)}
    labels = [ItemLabel(f"item.{i.name}", i.number, i.text, i.critical) for i in template.items]
    if kept:
        _check_same(template, kept, labels)
        return
    with writing(engine, folder) as connection:
        same = (template_table.c.template == template.name) & (template_table.c.version == template.version)
        if connection.execute(select(template_table).where(same)).first() is not None:
            return  # another process was faster
        key = {"template": template.name, "version": template.version}
        rows = [
            {"item": label.field_id, "number": label.number, "text": label.text, "critical": label.critical}
            for label in labels
        ]
        connection.execute(insert(template_table), [key | {"title": template.title}])
        connection.execute(insert(template_item), [key | row for row in rows])
        journal.append(connection, "template-kept", key | {"title": template.title, "items": rows})


def note_adopted(engine: Engine, folder: Path, template: AdoptedTemplate, initials: str) -> None:
    """A journal entry on who has kept a form's version, with the SHA-256 of its file's text and of its blank."""
    body = {
        "template": template.name,
        "version": template.version,
        "initials": initials,
        "fields": len(template.fields),
        "sha256": hashlib.sha256(adopted_yaml(template).encode()).hexdigest(),
        "picture": template.picture.sha256,
    }
    with writing(engine, folder) as connection:
        journal.append(connection, "form-adopted", body)


def items(engine: Engine, template: str, version: int) -> list[ItemLabel]:
    """The items of a template's version by number; empty if the binder has never seen it."""
    table = template_item.c
    query = select(table.item, table.number, table.text, table.critical)
    with reading(engine) as connection:
        rows = connection.execute(
            query.where((table.template == template) & (table.version == version)).order_by(table.number)
        )
        return [ItemLabel(*row) for row in rows]


def _check_same(template: Template, kept: dict[str, ItemLabel], labels: list[ItemLabel]) -> None:
    names = [label.field_id for label in labels]
    changed = [label.field_id for label in labels if kept.get(label.field_id) != label]
    changed += [name for name in kept if name not in names]
    if changed:
        raise BinderError(
            f"Template '{template.name}' version {template.version} is in this binder with other items "
            f"({changed[0]} differs); raise its version number before reading sheets of the changed one."
        )
