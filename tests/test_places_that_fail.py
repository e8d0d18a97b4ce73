"""Folders that may only be read, shares that go away, files that are gone or changed: the rest of the stack is read."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

import pytest
from command_server import server
from commands import Run, environment, json_lines, one_sentence
from intake_files import picture, put
from scanned_stack import pdf_of, scanned
from small_disks import small_disk

from scanform.batch import gather, read_stack
from scanform.binder import open_binder
from scanform.errors import BinderError, FileUnreadable, JournalBroken, StorageFailed
from scanform.form import built_in_templates
from scanform.settle import Outcome

SHEET = "2 sheet.jpg"
NOBODY = 65_534


def write_scans(folder: Path) -> Path:
    folder.mkdir(exist_ok=True)
    put(folder, "1 calendar.png", picture("PNG"))
    put(folder, SHEET, scanned(0).encoded)
    put(folder, "3 calendar.tif", picture("TIFF"))
    return folder


@pytest.fixture
def scans(tmp_path: Path) -> Path:
    return write_scans(tmp_path / "scans")


def outcomes(binder: Path) -> list[str]:
    with open_binder(binder) as record:
        report = record.verify()
        assert report.problems == ()
        return [page.record.outcome.value for page in record.pages()]


ALL = ["unknown-form", "read", "unknown-form"]


# Between counting and reading


def read_with(scans: Path, binder: Path, meanwhile: Callable[[], None]) -> tuple[list[str], tuple[str, ...]]:
    """Count a stack's pages, let something happen, then read it."""
    stack = gather([scans])
    meanwhile()
    with open_binder(binder, create=True) as record:
        result = read_stack(stack, record, built_in_templates(), workers=1)
        assert sum(result.balance.values()) == len(result.pages) == (record.batch(result.batch_id).pages_in or 0)
        return [page.record.outcome.value for page in result.pages], result.damaged


def test_a_file_deleted_after_it_was_counted_costs_itself_and_a_sentence(scans: Path, tmp_path: Path) -> None:
    read, damaged = read_with(scans, tmp_path / "binder", (scans / SHEET).unlink)
    assert read == ["unknown-form", "unknown-form"]
    (sentence,) = damaged
    assert SHEET in sentence
    assert sentence.endswith(".")
    assert outcomes(tmp_path / "binder") == read


def test_a_file_that_got_more_pages_after_it_was_counted_is_read_whole(scans: Path, tmp_path: Path) -> None:
    grown = pdf_of([scanned(0).encoded, scanned(1).encoded])
    file = put(scans, "4 feeder.pdf", pdf_of([scanned(0).encoded]))
    read, _ = read_with(file, tmp_path / "binder", lambda: put(scans, file.name, grown) and None)
    assert read == ["read", "read"]


def test_a_file_cut_short_after_it_was_counted_is_an_unreadable_page(scans: Path, tmp_path: Path) -> None:
    whole = scanned(0).encoded
    read, damaged = read_with(scans, tmp_path / "binder", lambda: put(scans, SHEET, whole[:60_000]) and None)
    assert read == ["unknown-form", "unreadable", "unknown-form"]
    assert "cut short" in damaged[0]
    # Once it is complete, reading again adds what was missing and loses nothing.
    put(scans, SHEET, whole)
    assert read_with(scans, tmp_path / "binder", lambda: None) == (ALL, ())
    assert sorted(outcomes(tmp_path / "binder")) == sorted([*ALL, "unreadable"])


def test_a_share_that_is_gone_before_anything_was_copied_is_one_sentence(scans: Path, tmp_path: Path) -> None:
    with pytest.raises(FileUnreadable, match=r"1 calendar\.png cannot be read: .*network share"):
        read_with(scans, tmp_path / "binder", lambda: scans.rename(tmp_path / "elsewhere") and None)
    assert outcomes(tmp_path / "binder") == []


# In the middle of reading


def test_a_share_that_goes_away_in_the_middle_stops_nothing_since_the_copies_are_read(tmp_path: Path) -> None:
    with small_disk(tmp_path / "share", 8.0) as share, open_binder(tmp_path / "binder", create=True) as record:
        scans = write_scans(share.at / "scans")
        seen: list[Outcome] = []

        def on_page(page: object, _: object) -> None:
            if not seen:
                share.vanish()
            seen.append(page.record.outcome)  # type: ignore[attr-defined]

        result = read_stack(gather([scans]), record, built_in_templates(), workers=1, on_page=on_page)
        assert not scans.exists()
        assert ([outcome.value for outcome in seen], result.damaged) == (ALL, ())
    assert outcomes(tmp_path / "binder") == ALL


def test_a_folder_renamed_away_in_the_middle_stops_nothing(scans: Path, tmp_path: Path) -> None:
    with open_binder(tmp_path / "binder", create=True) as record:

        def on_page(*_: object) -> None:
            if scans.exists():
                scans.rename(tmp_path / "elsewhere")

        read_stack(gather([scans]), record, built_in_templates(), workers=2, on_page=on_page)
    assert outcomes(tmp_path / "binder") == ALL


def test_a_binder_whose_share_goes_away_is_one_sentence_and_goes_on_when_it_is_back(
    scans: Path, run: Run, tmp_path: Path
) -> None:
    binder = tmp_path / "share" / "binder"
    binder.parent.mkdir()
    stack = gather([scans])
    with open_binder(binder, create=True) as record:

        def on_page(*_: object) -> None:
            binder.rename(tmp_path / "away")

        with pytest.raises((BinderError, StorageFailed), match="no longer there") as stopped:
            read_stack(stack, record, built_in_templates(), workers=1, on_page=on_page)
        assert not isinstance(stopped.value, JournalBroken)
    assert not binder.exists(), "nothing is written where the binder was"
    (tmp_path / "away").rename(binder)
    assert outcomes(binder) == ALL[:1]
    assert run("read", scans, "--binder", binder, "--workers", 1).code == 0
    assert outcomes(binder) == ALL


def test_a_disk_that_fails_never_makes_a_page_unreadable_on_record(
    scans: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # No disk can be made to fail here, so the error is put where the disk would raise it, and the workers' work is done
    # where it can be put there.
    def fails(*_: object) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    def done_here(job: Any, pieces: Iterable[Any], *_: object) -> Iterator[Any]:
        if job.prepare is not None:
            job.prepare(*job.prepared_with)
        yield from map(job.work, pieces)

    for where in ("pool", "counting"):
        monkeypatch.setattr(f"scanform.batch.{where}.done_in_order", done_here)
    stack = gather([scans])
    with open_binder(tmp_path / "binder", create=True) as record:
        monkeypatch.setattr("scanform.intake.load._looked_at", fails)
        with pytest.raises(StorageFailed, match=r"Input/output error; check that"):
            read_stack(stack, record, built_in_templates(), workers=1)
        monkeypatch.undo()
        assert record.pages() == []
        read_stack(stack, record, built_in_templates(), workers=1)
    assert outcomes(tmp_path / "binder") == ALL


# Folders that may only be read


def test_scans_on_a_disk_that_may_only_be_read_are_read(run: Run, tmp_path: Path) -> None:
    with small_disk(tmp_path / "cd", 8.0) as disk:
        write_scans(disk.at / "scans")
        disk.only_for_reading()
        assert run("read", disk.at / "scans", "--binder", tmp_path / "binder", "--workers", 1).code == 0
        ran = run("watch", disk.at / "scans", "--binder", tmp_path / "binder", "--once")
        assert ran.code == 2
        assert "Read-only file system" in one_sentence(ran.err)
        assert "scanform read" in one_sentence(ran.err), "what can be done instead"
    assert outcomes(tmp_path / "binder") == ALL


def test_a_binder_that_may_only_be_read_is_one_sentence_and_stays_as_it_is(
    scans: Path, run: Run, tmp_path: Path
) -> None:
    with small_disk(tmp_path / "cd", 8.0) as disk:
        binder = disk.at / "binder"
        assert run("read", scans / "1 calendar.png", "--binder", binder, "--workers", 1).code == 0
        disk.only_for_reading()
        for command in (["read", scans], ["read", scans, "--json", tmp_path / "pages.jsonl"]):
            ran = run(*command, "--binder", binder, "--workers", 1)
            assert ran.code == 2
            assert str(disk.at) in one_sentence(ran.err)
        ran = run("read", scans, "--binder", disk.at / "another", "--workers", 1)
        assert ran.code == 2
        assert "Read-only file system" in one_sentence(ran.err)
        disk.for_writing()
        assert run("read", scans, "--binder", binder, "--workers", 1).code == 0
        assert sorted(outcomes(binder)) == sorted(ALL)


# Permissions, which root does not feel


def test_without_permission_the_file_is_named_and_the_others_are_read(scans: Path, tmp_path: Path) -> None:
    if os.geteuid() != 0:
        pytest.skip("only root can run a command as somebody else")
    folder = Path("/tmp") / f"scanform-permissions-{os.getpid()}"  # pytest's own folders are closed to others
    try:
        shutil.copytree(scans, folder / "scans")
        (folder / "scans" / "1 calendar.png").chmod(0o000)
        (folder / "closed").mkdir(mode=0o700)
        (folder / "own").mkdir()
        os.chown(folder / "own", NOBODY, NOBODY)
        for path in (folder, folder / "scans"):
            path.chmod(0o755)
        out = folder / "own" / "pages.jsonl"

        def reading(binder: Path) -> list[object]:
            return ["read", folder / "scans", "--binder", binder, "--json", out, "--workers", 1]

        with server(environment()) as commands:
            commands.warm_up(*reading(tmp_path / "warm"))  # imports all, since nobody may not see Python's own files
            ended = commands.run(*reading(folder / "own" / "binder"), user=NOBODY)
            assert ended.status == 1, ended.said
            assert "1 calendar.png cannot be opened; check that you may read it" in one_sentence(ended.said)
            assert [page["outcome"] for page in json_lines(out)] == ALL[1:]
            named = sorted((folder / "scans").iterdir())
            ended = commands.run("read", *named, "--binder", folder / "own" / "binder", user=NOBODY)
            assert ended.status == 1, ended.said
            assert "1 calendar.png cannot be opened; check that you may read it" in one_sentence(ended.said)
            assert f"Pages in: {len(ALL) - 1} " in ended.said
            ended = commands.run(*reading(folder / "closed" / "binder"), user=NOBODY)
            assert ended.status == 2
            assert "Permission denied; check that you may use it" in one_sentence(ended.said)
            assert "Traceback" not in ended.said
    finally:
        shutil.rmtree(folder)
