"""The README cannot lie: what it tells people to type exists, and no command is missing from it."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
import typer

from scanform.cli import app

ROOT = Path(__file__).resolve().parents[1]
COMMANDS: dict[str, typer.core.TyperCommand] = typer.main.get_command(app.app_with(app.COMMANDS)).commands  # type: ignore[attr-defined]


@pytest.fixture(scope="module")
def readme() -> str:
    path = ROOT / "README.md"
    text = path.read_text(encoding="utf-8") if path.is_file() else ""
    if not text.strip():
        pytest.skip("README.md is empty")
    return text


def typed(readme: str) -> list[list[str]]:
    """The words of every line that a reader is told to type, up to a pipe or a redirection."""
    lines = []
    for block in re.findall(r"^```console\n(.*?)^```", readme, re.DOTALL | re.MULTILINE):
        joined = re.sub(r"\\\n[> ]*", " ", block)
        for line in joined.splitlines():
            if line.startswith("$ "):
                for part in re.split(r"\s(?:\||&&|>{1,2})\s", line[2:]):
                    lines.append(shlex.split(part, comments=True))
    return lines


def test_every_command_is_in_the_readme(readme: str) -> None:
    missing = [name for name in COMMANDS if not re.search(rf"\bscanform {name}\b", readme)]
    assert missing == []


def test_the_readme_shows_commands_to_type(readme: str) -> None:
    programs = {words[0] for words in typed(readme)}
    assert {"scanform", "make"} <= programs


def test_what_the_readme_says_to_type_exists(readme: str) -> None:
    for words in typed(readme):
        if words[0] == "scanform" and len(words) > 1 and not words[1].startswith("-"):
            name, rest = words[1], words[2:]
            assert name in COMMANDS, " ".join(words)
            options = {option for parameter in COMMANDS[name].params for option in parameter.opts}
            for word in rest:
                if word.startswith("-") and word != "-":
                    assert word.partition("=")[0] in options | {"--help", "-h"}, " ".join(words)


def test_the_targets_that_the_readme_makes_are_in_the_makefile(readme: str) -> None:
    targets = set(re.findall(r"^([a-z][a-z-]*):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE))
    for words in typed(readme):
        if words[0] == "make":
            assert {word for word in words[1:] if "=" not in word} <= targets, " ".join(words)


def test_files_that_the_commands_name_come_with_the_project(readme: str) -> None:
    for words in typed(readme):
        if words[:2] == ["scanform", "print"] or words[:2] == ["scanform", "layout"]:
            template = next(word for word in words[2:] if not word.startswith("-"))
            assert (ROOT / "form_templates" / f"{template}.yaml").is_file() or (ROOT / template).is_file()


def cells_of(document: str, row: str) -> list[str]:
    """The first table row of that name, cell by cell."""
    line = next(line for line in document.splitlines() if line.startswith(f"| {row} |"))
    return [cell.strip() for cell in line.strip("|").split("|")[1:]]


@pytest.mark.parametrize(
    ("in_readme", "measured"),
    [
        ("answers accepted", "choices accepted"),
        ("of these silently wrong", "choices silently wrong"),
        ("unit, date, hours accepted", "unit, date, hours accepted (register and history known)"),
        (
            "the same without numbers that hold such a digit (below)",
            "the same without numbers that hold a digit whose label no reader gives: accepted; wrong",
        ),
        ("characters wrong in defect words", "text, character error"),
    ],
)
def test_how_far_to_trust_it_is_what_was_measured_last(readme: str, in_readme: str, measured: str) -> None:
    office, worn, bitonal, phone, fax = cells_of((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"), measured)
    for said, found in zip(cells_of(readme, in_readme), (office, bitonal, worn, phone, fax), strict=True):
        if said.endswith("%"):
            assert float(said.rstrip("% ")) == pytest.approx(float(found.split("%")[0]), abs=0.06)
        else:
            assert f"{said} " in found


def test_wrong_numbers_are_those_that_were_measured_last(readme: str) -> None:
    table = readme.partition("| unit, date, hours accepted |")[2]
    measured = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("| unit, date, hours accepted (")[2]
    office, worn, bitonal, phone, fax = cells_of(measured, "the same, silently wrong")
    for said, found in zip(
        cells_of(table, "of these silently wrong"), (office, bitonal, worn, phone, fax), strict=True
    ):
        assert found.startswith(f"{said} ")
