"""Running scanform's commands in the tests: within this process, or as a process of its own."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from scanform.cli import main

ROOT = Path(__file__).resolve().parents[1]


@dataclass(frozen=True)
class Ran:
    """What a command came to."""

    code: int
    out: str
    err: str


Run = Callable[..., Ran]


def runner(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs a command through the entry point, as the shell does, but in this process."""

    def run(*arguments: object) -> Ran:
        monkeypatch.setattr(sys, "argv", ["scanform", *map(str, arguments)])
        monkeypatch.setenv("COLUMNS", "250")
        monkeypatch.setenv("NO_COLOR", "1")
        capsys.readouterr()
        try:
            main()
            code = 0
        except SystemExit as left:
            code = int(left.code or 0)
        said = capsys.readouterr()
        assert "Traceback" not in said.err + said.out
        return Ran(code, said.out, said.err)

    return run


def environment(**changed: str) -> dict[str, str]:
    return {**os.environ, "OMP_NUM_THREADS": "1", "COLUMNS": "250", "NO_COLOR": "1", **changed}


def run_process(*arguments: object, env: Mapping[str, str] | None = None) -> Ran:
    """Runs a command as a process of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "scanform", *map(str, arguments)],
        cwd=ROOT,
        env=env or environment(),
        capture_output=True,
        text=True,
        timeout=300,
    )
    return Ran(done.returncode, done.stdout, done.stderr)


def json_lines(path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def one_sentence(text: str) -> str:
    """What a command said on failing: one line with the program's name, a sentence or one that ends in a command."""
    (line,) = [line for line in text.splitlines() if line.startswith("scanform: ")]
    assert line.endswith(".") or ": scanform " in line, line
    return line
