"""Files made to do harm cost themselves and nothing else: bounded memory and time, one sentence, the rest is read."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

import hostile_files
import pytest
from commands import Run, json_lines
from intake_files import jpeg_bytes, put, sheet
from opened_files import first_page
from pages_that_kill import aborts, aborts_for_bad, file_of
from scanned_stack import blank_back

from scanform.batch import gather
from scanform.batch.bounds import MOST_LOST_PAGES
from scanform.batch.crew import Job, Loss, WorkersFailed, done_in_order

MEMORY = 700_000_000  # less than workers have, so that bombs are quick to go off


def opened(paths: Iterable[Path], longest_s: float = 60.0) -> list[str | Loss]:
    job: Job[Path, str] = Job(first_page, longest_s, memory_bytes=MEMORY)
    return list(done_in_order(job, paths, Path, 2))


def test_a_file_that_ends_its_process_costs_itself_alone(tmp_path: Path) -> None:
    files = [put(tmp_path, name, data) for name, data in hostile_files.ending().items()]
    good = put(tmp_path, "sheet.jpg", jpeg_bytes(sheet()))
    found = opened([path for hostile in files for path in (hostile, good)])
    assert found[1::2] == ["425x550"] * len(files)
    assert all(isinstance(end, Loss) or end.endswith(".") for end in found[::2]), found
    assert Loss.DIED in found, "none of them went off, so this shows nothing"


def test_a_file_that_asks_for_too_much_is_refused_in_a_sentence(tmp_path: Path) -> None:
    files = hostile_files.refused()
    paths = [put(tmp_path, name, data) for name, (data, _) in files.items()]
    for path, sentence, (_, words) in zip(paths, opened(paths), files.values(), strict=True):
        assert isinstance(sentence, str), path.name
        assert path.name in sentence
        assert words in sentence, sentence
        assert sentence.endswith(".")
        assert "\n" not in sentence


def test_odd_files_are_read_as_what_their_first_bytes_are(tmp_path: Path) -> None:
    paths = [put(tmp_path, name, data) for name, data in hostile_files.read().items()]
    for path, size in zip(paths, opened(paths), strict=True):
        assert isinstance(size, str)
        width, height = (int(side) for side in size.split("x"))
        assert 0 < width * height < 36_000_000, path.name


def test_a_pattern_that_is_painted_for_ever_is_given_up(tmp_path: Path) -> None:
    tile = b"/Type /Pattern /PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 1 1] /XStep 0.0001 /YStep 0.0001"
    painted = hostile_files.one_page(
        b"/Pattern cs /P scn 0 0 612 792 re f",
        hostile_files.stream(tile + b" /Resources << >>", b"0 0 1 1 re f"),
        head=hostile_files.page(resources=b"/Pattern << /P 5 0 R >>"),
    )
    assert opened([put(tmp_path, "paint.pdf", painted)], longest_s=1.0) == [Loss.HUNG]


def test_a_file_that_ends_process_after_process_is_not_tried_to_its_end() -> None:
    pieces = [("bad", n) for n in range(MOST_LOST_PAGES + 20)] + [("good", n) for n in range(5)]
    found = list(done_in_order(Job(aborts_for_bad, 60.0), pieces, file_of, 1))
    assert found[:MOST_LOST_PAGES] == [Loss.DIED] * MOST_LOST_PAGES
    assert found[MOST_LOST_PAGES:-5] == [Loss.NOT_TRIED] * 20
    assert found[-5:] == [0, 1, 2, 3, 4]


def test_workers_that_cannot_start_are_no_pages_fault() -> None:
    with pytest.raises(WorkersFailed, match="end as soon as they are started"):
        list(done_in_order(Job(aborts_for_bad, 60.0, aborts), [("good", 1)], file_of, 1))


ODD_NAMES = [
    b"new\nline.jpg",
    b"\x1b[2J\x1b[31mred.jpg",
    b"h\xf6he.jpg",
    "\u202egpj.exe.jpg".encode(),
    b"x" * 251 + b".jpg",
    b"'; drop table page; --.jpg",
    b"[bold]loud[bold].jpg",
    b"-rf.jpg",
]


def test_names_of_any_kind_are_read_recorded_and_shown_without_harm(tmp_path: Path, run: Run) -> None:
    tray = tmp_path / "tray"
    tray.mkdir()
    for n, name in enumerate(ODD_NAMES):
        # Some end as a page, some as a sentence that names them.
        (tray / os.fsdecode(name)).write_bytes(blank_back() + b"%d" % n if n % 2 else b"no picture %d" % n)
    (tray / "folder.pdf").mkdir()
    os.mkfifo(tray / "pipe.pdf")
    (tray / "zero.pdf").symlink_to("/dev/zero")
    (tray / "passwords.pdf").symlink_to("/etc/passwd")
    assert gather([tray]).pages_in == len(ODD_NAMES)
    out = tmp_path / "pages.jsonl"
    ran = run("read", tray, "--binder", tmp_path / "binder", "--json", out, "--workers", 1)
    assert ran.code == 1
    pages = json_lines(out)
    assert sorted(page["outcome"] for page in pages) == ["blank"] * 4 + ["unreadable"] * 4
    assert {page["source"].encode() for page in pages} == {
        os.fsencode(tray) + b"/" + (b"h\\udcf6he.jpg" if name == b"h\xf6he.jpg" else name) for name in ODD_NAMES
    }
    said = ran.out + ran.err
    assert "\x1b" not in said
    assert "\u202e" not in said
    assert all(line.isprintable() for line in said.splitlines())
    assert "[bold]loud[bold].jpg is not a PDF" in said
    assert "pipe.pdf (not a regular file)" in said
    assert said.count("a link that leads out of the folder") == 2
    assert run("verify", "--binder", tmp_path / "binder").code == 0
    assert run("read", tray, "--binder", tmp_path / "binder", "--json", out, "--workers", 1).code == 1
    assert json_lines(out) == pages


def test_a_device_named_directly_is_refused(tmp_path: Path, run: Run) -> None:
    ran = run("read", "/dev/zero", "--binder", tmp_path / "binder")
    assert ran.code == 1
    assert "/dev/zero is not a regular file" in ran.err
