"""The desk as a process of its own: it says how to come in, and when it is killed no decision is lost."""

from __future__ import annotations

import io
import json
import os
import re
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest
from commands import ROOT, Run, environment, one_sentence

from scanform.binder import open_binder


@pytest.fixture
def folder(quarry: Path) -> Path:
    return quarry


@contextmanager
def desk_process(folder: Path, *more: str) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """``scanform desk`` and the link that it prints."""
    command = [sys.executable, "-m", "scanform", "desk", "--binder", str(folder), "--no-browser", "--port", "0", *more]
    process = subprocess.Popen(command, cwd=ROOT, env=environment(), stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        link = next(found[0] for line in process.stdout if (found := re.search(r"http://\S+/open/\S+", line)))
        yield process, link
    finally:
        process.kill()
        process.wait()


def come_in(link: str) -> tuple[httpx.Client, dict]:
    """Somebody who has come in by the link, and what the settling page was given."""
    person = httpx.Client(base_url=link.partition("/open/")[0], timeout=30)
    assert person.get(link).status_code == 303
    page = person.get("/settle/doubts").text
    person.headers["X-Desk-Token"] = re.search(r'data-token="([^"]+)"', page)[1]
    return person, json.loads(re.search(r'id="data">(.*?)</script>', page, re.DOTALL)[1])


def test_a_desk_killed_in_the_middle_of_settling_loses_no_decision(folder: Path) -> None:
    saved: list[str] = []
    with desk_process(folder, "--initials", "KI") as (process, link):
        person, data = come_in(link)
        refs = [doubt["ref"] for doubt in data["first"]["doubts"]]

        def settle() -> None:
            for ref in refs:
                body = {"seat": data["seat"], "ref": ref, "seen": 0, "how": "as-read"}
                try:
                    if person.post("/settle/decide", json=body).json().get("saved"):
                        saved.append(ref)
                except httpx.HTTPError:
                    return

        working = threading.Thread(target=settle)
        working.start()
        while len(saved) < 3 and working.is_alive():
            working.join(0.001)
        os.kill(process.pid, signal.SIGKILL)
        working.join()
    assert len(saved) >= 3
    with open_binder(folder) as binder:
        assert binder.verify().sound
        waiting = binder.count_waiting() + len(binder.decisions())
        decided = {decision.ref for decision in binder.decisions()}
        assert decided >= set(saved), "whatever the desk called saved is in the journal"
        assert decided.isdisjoint(doubt.ref for doubt in binder.queue())
    with desk_process(folder, "--initials", "KI") as (_, link):
        person, data = come_in(link)
        assert decided.isdisjoint(doubt["ref"] for doubt in data["first"]["doubts"])
        assert data["first"]["left"] == waiting - len(decided)


def test_beyond_this_machine_the_desk_wants_people_first(folder: Path, run: Run) -> None:
    refused = run("desk", "--binder", folder, "--host", "0.0.0.0", "--name", "desk.example", "--no-browser")
    assert refused.code == 2
    assert "nobody has been let in" in one_sentence(refused.err)
    unnamed = run("desk", "--binder", folder, "--host", "0.0.0.0", "--no-browser")
    assert "say under which --name browsers call the desk" in one_sentence(unnamed.err)


def test_people_are_let_in_and_shut_out_by_command(folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("four words with spaces\n"))
    own = ("desk-people", "--binder", folder, "--initials", "AB")
    let_in = run(*own, "--let-in", "June Hale", "--known-as", "jh")
    assert (let_in.code, let_in.out) == (0, "June Hale may come in as JH, clerk.\n")
    assert "June Hale" in run("desk-people", "--binder", folder).out
    assert run(*own, "--shut-out", "JH").code == 0
    assert "no longer come in" in run("desk-people", "--binder", folder).out
    assert "Nobody with the initials JH" in one_sentence(run(*own, "--shut-out", "JH").err)


def test_a_port_that_is_taken_ends_in_a_sentence(folder: Path, run: Run) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        refused = run("desk", "--binder", folder, "--port", taken.getsockname()[1], "--no-browser")
    assert "cannot listen at 127.0.0.1" in one_sentence(refused.err)
