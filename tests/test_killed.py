"""The power goes at any instant: what was read is on record, and running the command again finishes the stack."""

from __future__ import annotations

import random
import shutil
import signal
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from command_server import Server, server
from commands import environment, one_sentence
from intake_files import picture, put
from scanned_stack import CREW_CSV, UNITS_CSV, scanned

from scanform.binder import open_binder

PAGES = 3
# What a kill can leave half done; between these only unnamed temporary files and open transactions change.
_TELLING = ("replace", "mkdir")


@dataclass(frozen=True)
class Desk:
    """A small stack, and what an undisturbed read makes of it: its JSON, its writes, the time it takes."""

    stack: Path
    server: Server
    json: bytes = b""
    writes: tuple[str, ...] = ()
    duration_s: float = 0.0

    def reading(self, binder: Path) -> list[object]:
        registers = ["--units", self.stack / "units.csv", "--crew", self.stack / "crew.csv", "--workers", 1]
        return ["read", self.stack, "--binder", binder, "--json", binder.with_suffix(".jsonl"), *registers]


@pytest.fixture(scope="module")
def commands(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    stack = put(tmp_path_factory.mktemp("warm"), "sheet.jpg", scanned(0).encoded)
    with server(environment()) as running:
        running.warm_up("read", stack, "--binder", stack.parent / "binder", "--workers", 1)
        yield running


def _desk(folder: Path, commands: Server, files: dict[str, bytes]) -> Desk:
    (folder / "stack").mkdir()
    for name, data in {**files, "units.csv": UNITS_CSV.encode(), "crew.csv": CREW_CSV.encode()}.items():
        put(folder / "stack", name, data)
    begun = time.monotonic()
    ended = commands.run(*Desk(folder / "stack", commands).reading(folder / "undisturbed"))
    assert ended.status == 1, "one file is damaged"
    json = (folder / "undisturbed.jsonl").read_bytes()
    assert json.count(b"\n") == PAGES
    return Desk(folder / "stack", commands, json, ended.writes, time.monotonic() - begun)


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory, commands: Server) -> Desk:
    """With a sheet that is read."""
    cut, sheet = scanned(0).encoded[:60_000], scanned(0).encoded
    files = {"1 cut short.jpg": cut, "2 calendar.png": picture("PNG"), "3 sheet.jpg": sheet}
    return _desk(tmp_path_factory.mktemp("sheet"), commands, files)


@pytest.fixture(scope="module")
def letters(tmp_path_factory: pytest.TempPathFactory, commands: Server) -> Desk:
    """The same writes at the price of pages that take no reading."""
    files = {"1 cut short.jpg": scanned(0).encoded[:60_000], "2.png": picture("PNG"), "3.tif": picture("TIFF")}
    return _desk(tmp_path_factory.mktemp("letters"), commands, files)


def assert_whole(binder: Path, desk: Desk) -> None:
    """Every page is on record once, and what was written is what an undisturbed read writes."""
    assert binder.with_suffix(".jsonl").read_bytes() == desk.json
    with open_binder(binder) as record:
        report = record.verify()
        assert (report.problems, report.pages, report.files) == ((), PAGES, PAGES)
        assert [entry.kind for entry in record.journal()].count("page") == PAGES
        batch = record.batch(record.last_batch() or 0)
        assert (batch.pages_in, len(batch.pages)) == (PAGES, PAGES)


def assert_sound_so_far(binder: Path) -> None:
    if (binder / "journal.head").is_file():
        with open_binder(binder) as record:
            assert record.verify().problems == ()


def telling_instants(writes: tuple[str, ...]) -> list[int]:
    """The numbers of the writes before which a kill leaves something new, and a few of the others."""
    numbered = list(enumerate(writes, start=1))
    telling = [
        n for n, name in numbered if name in _TELLING or (name == "commit" and writes[n - 2] in ("statement", "fsync"))
    ]
    others = sorted({n for n, _ in numbered} - set(telling))
    return sorted(telling + random.Random(8_004_001).sample(others, 4))


def test_a_read_killed_between_any_two_writes_is_finished_by_running_it_again(letters: Desk, tmp_path: Path) -> None:
    desk = letters
    instants = telling_instants(desk.writes)
    assert len(instants) > 25, "the writes are no longer seen"
    for at in instants:
        binder = tmp_path / f"{at}"
        assert desk.server.run(*desk.reading(binder), at=at).status == -signal.SIGKILL
        assert_sound_so_far(binder)
        assert desk.server.run(*desk.reading(binder)).status == 1, (at, desk.writes[at - 1])
        assert_whole(binder, desk)


def test_a_read_killed_again_and_again_by_the_clock_ends_whole(desk: Desk, tmp_path: Path) -> None:
    clock, killed = random.Random(8_004_002), 0
    for attempt in range(8):
        binder = tmp_path / f"{attempt // 4}"
        ended = desk.server.run(*desk.reading(binder), after_s=clock.uniform(0.0, 0.8) * desk.duration_s)
        killed += ended.status == -signal.SIGKILL
        assert_sound_so_far(binder)
    assert killed >= 4
    for binder in (tmp_path / "0", tmp_path / "1"):
        assert desk.server.run(*desk.reading(binder)).status == 1
        assert_whole(binder, desk)


def test_a_binder_killed_twice_before_its_head_was_ever_noted_is_still_a_binder(letters: Desk, tmp_path: Path) -> None:
    # Its first entry is committed and not noted; then the run that commits the second is killed before noting that.
    # A journal of two entries and no head is what a binder looks like that somebody has cut short.
    first_note = letters.writes.index("replace") + 1
    born = tmp_path / "born"
    assert letters.server.run(*letters.reading(born), at=first_note).status == -signal.SIGKILL
    assert not (born / "journal.head").exists()
    writes = letters.server.run(*letters.reading(shutil.copytree(born, tmp_path / "undisturbed"))).writes
    for at in [n for n, name in enumerate(writes, start=1) if name == "replace"][:3]:
        binder = shutil.copytree(born, tmp_path / f"{at}")
        assert letters.server.run(*letters.reading(binder), at=at).status == -signal.SIGKILL
        assert letters.server.run(*letters.reading(binder)).status == 1, at
        assert_whole(binder, letters)


def test_what_was_written_for_other_programs_is_whole_or_as_it_was(desk: Desk, tmp_path: Path) -> None:
    binder = tmp_path / "binder"
    assert desk.server.run(*desk.reading(binder)).status == 1
    put(tmp_path, "binder.jsonl", b"of last week\n")
    lists = tmp_path / "lists"
    for command, file in (
        (desk.reading(binder), tmp_path / "binder.jsonl"),
        (["export", "--binder", binder, "--out", lists, "--format", "json"], lists / "answers.json"),
    ):
        writes = desk.server.run(*command).writes
        whole = file.read_bytes()
        put(file.parent, file.name, b"of last week\n")
        for at in (n for n, name in enumerate(writes, start=1) if name in ("replace", "fsync")):
            assert desk.server.run(*command, at=at).status == -signal.SIGKILL
            assert file.read_bytes() in (b"of last week\n", whole)


def test_ctrl_c_ends_a_read_after_the_page_under_way(desk: Desk, tmp_path: Path) -> None:
    binder = tmp_path / "binder"
    # The last four commits of something new are those of the three pages and of the batch's end.
    commits = [
        n for n, name in enumerate(desk.writes, start=1) if name == "commit" and desk.writes[n - 2] == "statement"
    ]
    ended = desk.server.run(*desk.reading(binder), at=commits[-3], by=signal.SIGINT)
    assert ended.status == 4, ended.said
    assert "2 calendar.png, as asked; run the same command again to go on from there." in one_sentence(ended.said)
    with open_binder(binder) as record:
        assert len(record.pages()) == 2
    assert "Traceback" not in ended.said
    assert_sound_so_far(binder)
    assert desk.server.run(*desk.reading(binder)).status == 1
    assert_whole(binder, desk)
