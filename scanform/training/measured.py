"""What the published table was measured on: every network and calibration file, every threshold of the reading rooms.

:func:`state` says what is there now, ``fixtures/measured.json`` what the benchmark last wrote down; a test compares the
two, so that no figure outlives what it was measured on.
"""

from __future__ import annotations

import ast
import hashlib
import json
from collections.abc import Iterator, Mapping
from pathlib import Path

__all__ = ["RECORD", "changes", "recorded", "state", "write_record"]

_PACKAGE = Path(__file__).parents[1]
RECORD = _PACKAGE.parent / "fixtures" / "measured.json"
_ROOMS = ("locate", "read", "settle")
_MODELS = (".onnx", ".json")  # the cards beside them may be reworded

State = dict[str, dict[str, str]]


def state(package: Path = _PACKAGE) -> State:
    """``{"models": {file name: SHA-256}, "thresholds": {"room/file.py:NAME": its value as written}}`` of a checkout.

    A threshold is any constant of a room that holds a number: a name in capitals at the top of a file. The rooms'
    folders for adopted forms are left out: no page of the benchmark comes there.
    """
    files = sorted(p for p in (package / "models").iterdir() if p.suffix in _MODELS)
    models = {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in files}
    thresholds: dict[str, str] = {}
    for room in _ROOMS:
        for path in sorted((package / room).glob("*.py")):
            tree = ast.parse(path.read_text(encoding="utf-8"))
            thresholds.update((f"{room}/{path.name}:{name}", value) for name, value in _constants(tree))
    return {"models": models, "thresholds": thresholds}


def _constants(tree: ast.Module) -> Iterator[tuple[str, str]]:
    for node in tree.body:
        if isinstance(node, ast.AnnAssign) and node.value is not None:
            targets: list[ast.expr] = [node.target]
        elif isinstance(node, ast.Assign):
            targets = node.targets
        else:
            continue
        assert node.value is not None
        if not any(isinstance(part, ast.Constant) and _is_number(part.value) for part in ast.walk(node.value)):
            continue
        names = [part.id for target in targets for part in ast.walk(target) if isinstance(part, ast.Name)]
        for name in names:
            if name.isupper() and not name.startswith("__"):
                yield name, ast.unparse(node.value)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def recorded(path: Path = RECORD) -> State:
    """What the benchmark wrote down when the published table was measured."""
    found: State = json.loads(path.read_text(encoding="utf-8"))
    return found


def write_record(path: Path = RECORD) -> None:
    """Write down what is there now, beside a table that was just measured on it."""
    path.write_text(json.dumps(state(), indent=1, sort_keys=True) + "\n", encoding="utf-8")


def changes(then: Mapping[str, Mapping[str, str]], now: Mapping[str, Mapping[str, str]]) -> list[str]:
    """In words, what differs between two states; empty if nothing does."""
    said = []
    for sort, what in (("models", "file"), ("thresholds", "threshold")):
        before, after = then.get(sort, {}), now.get(sort, {})
        for name in sorted(before.keys() | after.keys()):
            if name not in after:
                said.append(f"{what} {name} is gone")
            elif name not in before:
                said.append(f"{what} {name} is new")
            elif before[name] != after[name]:
                detail = f" ({before[name]} became {after[name]})" if sort == "thresholds" else ""
                said.append(f"{what} {name} has changed{detail}")
    return said
