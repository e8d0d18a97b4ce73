"""The files of an adopted form: a YAML file, and the picture of the blank beside it."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import yaml

from scanform.errors import TemplateError
from scanform.files import write_whole
from scanform.form.adopted import AdoptedTemplate

__all__ = ["adopted_files", "adopted_yaml", "picture_bytes", "write_adopted"]

_PNG = b"\x89PNG\r\n\x1a\n"  # ISO/IEC 15948, 5.2
_MOST_BYTES = 40_000_000  # of a picture of A3 at 8 px/mm without any compression: 8 million

_HEAD = (
    "# A form that scanform did not print: where its fields are, in mm from the top left (x, y, width, height), and\n"
    "# what is printed on it. Raise the version whenever a field, an answer or the legend changes, so that sheets\n"
    "# read before stay what they are.\n"
)


def picture_bytes(template_file: Path, entry: Any) -> bytes:
    """The bytes of the picture that an adopted form's ``picture`` key names.

    Raises TemplateError if it is not there, is no PNG, or is another than the one the template was made with.
    """
    name, digest = (entry.get("file"), entry.get("sha256")) if isinstance(entry, dict) else (None, None)
    if not isinstance(name, str) or Path(name).name != name:
        return b""  # the check of the file's keys says what is wrong with this one
    path = template_file.parent / name
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise TemplateError(f"{path}: is far too large for the picture of a blank form; make the form anew.")
        data = path.read_bytes()
    except OSError as problem:
        raise TemplateError(
            f"{template_file}, key 'picture.file': the picture {path} cannot be read ({problem.strerror}); it belongs "
            "beside the template file."
        ) from problem
    if not data.startswith(_PNG):
        raise TemplateError(f"{path}: the picture of a blank form is a PNG file; this is none.")
    if isinstance(digest, str) and hashlib.sha256(data).hexdigest() != digest:
        raise TemplateError(
            f"{path}: is not the picture that {template_file.name} was made with; its fields would lie elsewhere. "
            "Put the right picture back, or adopt the form anew."
        )
    return data


def adopted_yaml(template: AdoptedTemplate) -> str:
    """The template as its file's text; reading that beside its picture gives the same template."""
    data = template.model_dump(mode="json", exclude_defaults=True)
    places = {key: data.pop(key, []) for key in ("fields", "words", "rules_mm")}
    text = _HEAD + yaml.safe_dump(data, sort_keys=False, allow_unicode=True, width=120)
    # One entry a line: a page has hundreds of words and rules.
    for key, entries in places.items():
        if entries:
            text += f"{key}:\n" + "".join(f"  - {_on_one_line(entry)}\n" for entry in entries)
    return text


def adopted_files(template: AdoptedTemplate, path: Path) -> tuple[tuple[Path, bytes], ...]:
    """The picture, under the name that the template gives it beside the YAML file, and that file; with contents."""
    picture = (path.parent / template.picture.file, template.picture_png)
    return picture, (path, adopted_yaml(template).encode())


def write_adopted(template: AdoptedTemplate, path: Path) -> None:
    """Write the YAML file and the picture beside it. May raise OSError."""
    for file, contents in adopted_files(template, path):
        write_whole(file, (contents,))


def _on_one_line(entry: Any) -> str:
    return yaml.safe_dump(entry, default_flow_style=True, sort_keys=False, allow_unicode=True, width=10_000).strip()
