"""A disk that is really full: one sentence, an exit code, nothing read is lost, and it goes on with room made."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from commands import Run, json_lines, one_sentence
from intake_files import picture, put
from scanned_stack import scanned
from small_disks import Disk, small_disk

from scanform.binder import open_binder

KEPT = "nothing that was"


@pytest.fixture(scope="module")
def stack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("stack")
    put(folder, "1 sheet.jpg", scanned(0).encoded)
    put(folder, "2 calendar.png", picture("PNG"))
    return folder


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Disk]:
    with small_disk(tmp_path / "disk", 8.0) as disk:
        yield disk


def reading(stack: Path, disk: Disk, *more: object) -> list[object]:
    return ["read", stack, "--binder", disk.at / "binder", "--workers", 1, *more]


def assert_whole(binder: Path, pages: int) -> None:
    with open_binder(binder) as record:
        report = record.verify()
        assert (report.problems, report.pages) == ((), pages)
        assert [entry.kind for entry in record.journal()].count("page") == pages


def test_full_before_there_is_a_binder(run: Run, disk: Disk, stack: Path) -> None:
    disk.fill()
    ran = run(*reading(stack, disk))
    assert ran.code == 2
    assert "full" in one_sentence(ran.err) or "No space left" in ran.err
    disk.make_room()
    assert run(*reading(stack, disk)).code == 0
    assert_whole(disk.at / "binder", 2)


def test_full_while_the_pages_are_archived(run: Run, disk: Disk, stack: Path) -> None:
    assert run(*reading(stack / "2 calendar.png", disk)).code == 0
    size = (stack / "1 sheet.jpg").stat().st_size
    disk.fill(leave_bytes=size // 2)
    ran = run(*reading(stack, disk))
    assert ran.code == 2
    said = one_sentence(ran.err)
    assert "No space left on device; make room" in said
    assert KEPT in said
    assert_whole(disk.at / "binder", 1)
    assert not list((disk.at / "binder" / "pages").rglob("*.unfinished")), "half a copy takes room"
    disk.make_room()
    assert run(*reading(stack, disk)).code == 0
    assert_whole(disk.at / "binder", 2)


def test_full_when_the_record_is_to_be_written(run: Run, disk: Disk, stack: Path) -> None:
    assert run(*reading(stack / "2 calendar.png", disk)).code == 0
    with open_binder(disk.at / "binder") as record:
        record.archive(stack / "1 sheet.jpg", ".jpg")
    for leave_bytes in (0, 4_096, 16_384, 65_536):
        disk.fill(leave_bytes)
        ran = run(*reading(stack, disk))
        assert ran.code == 2, leave_bytes
        said = one_sentence(ran.err)
        assert "make room" in said
        assert KEPT in said
        disk.make_room()
    assert run("verify", "--binder", disk.at / "binder").code == 0
    ran = run(*reading(stack, disk))
    assert ran.code == 0
    assert "Pages in: 2 = 1 read" in ran.out
    assert_whole(disk.at / "binder", 2)


def test_full_where_the_json_goes(run: Run, disk: Disk, stack: Path, tmp_path: Path) -> None:
    reads = ["read", stack, "--binder", tmp_path / "binder", "--workers", 1, "--json", disk.at / "pages.jsonl"]
    last_week = b'{"source":"last.pdf","page":1,"sha256":"","outcome":"blank","fields":[]}\n'
    put(disk.at, "pages.jsonl", last_week)
    disk.fill()
    ran = run(*reads)
    assert ran.code == 2
    said = one_sentence(ran.err)
    assert "pages.jsonl" in said
    assert "the pages are safe in the binder" in said
    assert (disk.at / "pages.jsonl").read_bytes() == last_week, "the old file is not half overwritten"
    assert_whole(tmp_path / "binder", 2)
    disk.make_room()
    assert run(*reads).code == 0
    assert [page["outcome"] for page in json_lines(disk.at / "pages.jsonl")] == ["read", "unknown-form"]
    assert_whole(tmp_path / "binder", 2)


def test_full_where_the_lists_and_pictures_go(run: Run, disk: Disk, stack: Path, tmp_path: Path) -> None:
    binder = ["--binder", tmp_path / "binder"]
    assert run("read", stack, *binder, "--workers", 1).code == 0
    disk.fill()
    for command in (
        ["export", *binder, "--out", disk.at / "lists"],
        ["doubts", *binder, "--crops", disk.at / "ink"],
        ["read", stack, *binder, "--workers", 1, "--show", disk.at / "seen"],
        ["print", "site-machine", "--out", disk.at / "pad.pdf"],
    ):
        ran = run(*command)
        assert ran.code == 2, command
        assert "No space left on device" in one_sentence(ran.err), command
    assert not [
        path for path in disk.at.rglob("*") if path.is_file() and path.name != "ballast" and path.stat().st_size
    ]
    disk.make_room()
    assert run("export", *binder, "--out", disk.at / "lists").code == 0


def test_full_where_temporary_files_go_a_damaged_page_is_still_heard_of_and_a_sound_one_read(
    run: Run, disk: Disk, stack: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # libjpeg tells of lost parts on the terminal only, and what it says has to be caught somewhere.
    hurt = bytearray(scanned(0).encoded)
    start = hurt.index(b"\xff\xda") + 60_000
    hurt[start : start + 400] = bytes(400)
    put(tmp_path, "hurt.jpg", bytes(hurt))
    monkeypatch.setattr("tempfile.tempdir", str(disk.at))
    disk.fill()
    ran = run("read", tmp_path / "hurt.jpg", stack, "--binder", tmp_path / "binder", "--workers", 1)
    assert ran.code == 1
    assert "part of its picture is lost" in ran.err
    assert "Pages in: 3 = 1 read + 0 blank + 0 duplicate + 1 unknown-form + 1 unreadable" in ran.out
