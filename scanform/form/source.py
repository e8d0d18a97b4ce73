"""Template files: find them, read the YAML, and name file, line and key of anything that is wrong."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path

import yaml
from pydantic import ValidationError

from scanform.errors import TemplateError
from scanform.form.adopted import AdoptedTemplate
from scanform.form.adopted_file import picture_bytes
from scanform.form.template import Template

__all__ = ["built_in_templates", "find_template", "load_template", "template_folder"]


def template_folder() -> Path:
    """The folder ``form_templates/`` beside the package, in a checkout or an editable install."""
    return Path(__file__).resolve().parents[2] / "form_templates"


@cache
def built_in_templates() -> tuple[Template, ...]:
    """Every template in ``form_templates/``, by file name; read once a process."""
    return tuple(load_template(path) for path in sorted(template_folder().glob("*.yaml")))


def find_template(name_or_path: str) -> Template:
    """A template by its name under ``form_templates/`` or by the path of its file."""
    path = Path(name_or_path)
    if path.suffix in {".yaml", ".yml"} or path.is_file():
        if not path.is_file():
            raise TemplateError(f"{path}: there is no such template file; check the path.")
        return load_template(path)
    candidate = template_folder() / f"{name_or_path}.yaml"
    if candidate.is_file():
        return load_template(candidate)
    known = ", ".join(sorted(p.stem for p in template_folder().glob("*.yaml"))) or "none"
    raise TemplateError(
        f"There is no template called '{name_or_path}'; the ones in {template_folder()} are: {known}. "
        "Give one of these names or the path of a template file."
    )


def load_template(path: Path) -> Template:
    """Read and check one template file; of an adopted form the picture that lies beside it too.

    Raises TemplateError whose message names the file, the line and the key of the first thing that is wrong.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError as problem:
        own = template_folder() / f"{path}.yaml"
        hint = " scanform's own sheets are known without being named." if own.is_file() else ""
        raise TemplateError(f"{path}: there is no such template file; give the path of one.{hint}") from problem
    except OSError as problem:
        raise TemplateError(f"{path}: cannot be read ({problem.strerror}); check the file.") from problem
    except UnicodeDecodeError as problem:
        raise TemplateError(f"{path}: cannot be read as UTF-8 text ({problem}).") from problem
    try:
        loader = yaml.SafeLoader(text)
        root = loader.get_single_node()
        data = loader.construct_document(root) if root is not None else None
    except yaml.MarkedYAMLError as problem:
        line = problem.problem_mark.line + 1 if problem.problem_mark else 1
        raise TemplateError(f"{path}, line {line}: this is not YAML: {problem.problem}.") from problem
    except yaml.YAMLError as problem:
        raise TemplateError(f"{path}: this is not YAML: {' '.join(str(problem).split())}.") from problem
    except RecursionError as problem:
        raise TemplateError(f"{path}: lists or keys are nested far too deep for a template.") from problem
    if root is None or not isinstance(data, dict):
        raise TemplateError(f"{path}, line 1: a template file is a list of keys and values; this one is not.")
    _refuse_repeated_keys(path, root, set())
    try:
        if "picture" in data:
            return AdoptedTemplate.model_validate(data | {"picture_png": picture_bytes(path, data["picture"])})
        return Template.model_validate(data)
    except ValidationError as problem:
        # A misspelt key is also a missing one: the line to mend is the one with the wrong spelling.
        first = min(problem.errors(), key=lambda error: error["type"] not in ("extra_forbidden", "invalid_key"))
        where = (*first["loc"], *first.get("ctx", {}).get("at", ()))
        line = _line_of(root, where)
        key = _key(root, where)
        raise TemplateError(f"{path}, line {line}, key '{key}': {_sentence(first['type'], first['msg'])}") from problem


def _sentence(kind: str, message: str) -> str:
    plain = {
        "missing": "this key is missing; add it.",
        "extra_forbidden": "there is no such key in a template; remove it or correct its spelling.",
        "invalid_key": "there is no such key in a template; remove it or correct its spelling.",
        "string_pattern_mismatch": "a name is small letters and digits with single hyphens between, as in road-truck.",
    }
    return plain.get(kind, message.removeprefix("Value error, ").rstrip(".") + ".")


def _key(root: yaml.Node, where: Sequence[str | int]) -> str:
    """The path as a person counts it: list entries from 1."""
    if isinstance(root, yaml.MappingNode) and where and isinstance(where[0], int):
        return str(where[0])  # a key that is itself a number
    return ".".join(str(part + 1) if isinstance(part, int) else part for part in where) or "the template"


def _line_of(root: yaml.Node, where: Sequence[str | int]) -> int:
    """The line (from 1) of the deepest node on the path ``where`` that the file has."""
    node, line = root, root.start_mark.line
    for part in where:
        if isinstance(node, yaml.MappingNode):
            match = next(((k, v) for k, v in node.value if k.value == str(part)), None)
            if match is None:
                break
            line, node = match[0].start_mark.line, match[1]
        elif isinstance(node, yaml.SequenceNode) and isinstance(part, int) and part < len(node.value):
            node = node.value[part]
            line = node.start_mark.line
        else:
            break
    return line + 1


def _refuse_repeated_keys(path: Path, node: yaml.Node, checked: set[int]) -> None:
    # YAML lets a later key silently replace an earlier one: an item would vanish from the sheet unseen.
    # An alias leads back to a node that was checked before, perhaps to the very one that holds it.
    if id(node) in checked:
        return
    checked.add(id(node))
    if isinstance(node, yaml.MappingNode):
        seen: set[str] = set()
        for key, value in node.value:
            if key.value in seen:
                raise TemplateError(
                    f"{path}, line {key.start_mark.line + 1}, key '{key.value}': this key stands here twice; keep one."
                )
            seen.add(key.value)
            _refuse_repeated_keys(path, value, checked)
    elif isinstance(node, yaml.SequenceNode):
        for child in node.value:
            _refuse_repeated_keys(path, child, checked)
