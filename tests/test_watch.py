"""A scanner's folder: files are read when they are whole, moved when they are on record, never lost or overwritten."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from command_server import server
from commands import ROOT, Run, environment, one_sentence
from intake_files import picture, put
from scanned_stack import blank_back, pdf_of, scanned
from small_disks import small_disk

from scanform.batch.arrivals import Arrivals
from scanform.batch.drawers import put_away
from scanform.batch.watch import watch_folder
from scanform.binder import open_binder
from scanform.errors import BinderError
from scanform.intake import sha256_of

ENOUGH_S = 120  # to be waited for what has to happen; nothing here takes a second on an idle machine


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "scanner").mkdir()
    return tmp_path / "scanner"


def once(folder: Path) -> list[object]:
    binder = folder.parent / "binder"
    return ["watch", folder, "--binder", binder, "--once", "--settled-for", 0.1, "--workers", 1]


def lying_in(folder: Path) -> list[str]:
    return sorted(
        str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file() and ".watch" not in path.name
    )


def on_record(binder: Path) -> list[tuple[str, int, str]]:
    with open_binder(binder) as record:
        assert record.verify().problems == ()
        pages = [(Path(p.record.source).name, p.record.page_number, p.record.outcome.value) for p in record.pages()]
    assert len(set(pages)) == len(pages)
    return pages


def wait_for(what: Callable[[], bool]) -> None:
    patience = time.monotonic() + ENOUGH_S
    while not what():
        assert time.monotonic() < patience, "it never came"
        time.sleep(0.02)


# What lies there


def test_what_was_there_before_is_read_and_moved_with_a_line_each_and_a_balance(run: Run, folder: Path) -> None:
    put(folder, "monday.pdf", pdf_of([scanned(0).encoded, blank_back()]))
    put(folder, "photo.jpg", scanned(1).encoded[:60_000])
    (folder / "cab").mkdir()
    put(folder / "cab", "letter.png", picture("PNG"))
    ran = run(*once(folder))
    assert ran.code == 1, "two files need a person"
    assert lying_in(folder) == [
        "done/monday.pdf",
        *("problem/cab/letter.png", "problem/cab/letter.png.txt", "problem/photo.jpg", "problem/photo.jpg.txt"),
    ]
    lines = [re.sub(r"^[-\d]+ [:\d]+  ", "", line) for line in ran.out.splitlines()]
    assert any(
        re.fullmatch(r"monday\.pdf: 2 pages = 1 read \+ 1 blank; \d+ doubts?; now done/monday\.pdf", x) for x in lines
    )
    assert "photo.jpg: 1 page = 1 unreadable; 0 doubts; now problem/photo.jpg" in lines
    assert "Pages in: 4 = 1 read + 1 blank + 0 duplicate + 1 unknown-form + 1 unreadable" in lines
    assert "Files: 1 moved to done/, 2 to problem/, 0 left where they were" in lines
    why = (folder / "problem" / "photo.jpg.txt").read_text()
    assert "photo.jpg is cut short" in why
    assert "Page 1, unknown-form: " in (folder / "problem" / "cab" / "letter.png.txt").read_text()
    assert len(on_record(folder.parent / "binder")) == 4
    # Nothing is left to do, and nothing is done.
    assert "Pages in: 0 =" in run(*once(folder)).out


def test_partial_names_links_and_what_is_no_scan_are_left_alone(run: Run, folder: Path) -> None:
    whole = picture("PNG")
    names = ["a.png.part", "b.png.tmp", "c.png~", ".d.png", "~e.png", "F.PNG.PART", "g.partial", "h.unfinished"]
    for name in names:
        put(folder, name, whole)
    put(folder, "notes.txt", b"ask about the scanner\n")
    outside = put(folder.parent, "outside.png", whole)
    (folder / "link.png").symlink_to(outside)
    ran = run(*once(folder))
    assert ran.code == 0
    assert lying_in(folder) == sorted([*names, "notes.txt", "link.png"])
    assert "notes.txt (not a kind of file that is read)" in ran.out
    assert ".part" not in ran.out, "what is being copied is nobody's business yet"


def test_a_name_that_is_taken_in_done_gets_a_number(run: Run, folder: Path) -> None:
    (folder / "done").mkdir()
    put(folder / "done", "scan.jpg", b"of last year")
    for day, name in ((0, "scan.jpg"), (1, "scan.jpg")):
        put(folder, name, scanned(day).encoded)
        assert run(*once(folder)).code == 0
    assert lying_in(folder) == ["done/scan (2).jpg", "done/scan (3).jpg", "done/scan.jpg"]
    assert (folder / "done" / "scan.jpg").read_bytes() == b"of last year"
    assert (folder / "done" / "scan (2).jpg").read_bytes() == scanned(0).encoded
    assert (folder / "done" / "scan (3).jpg").read_bytes() == scanned(1).encoded
    assert [outcome for _, _, outcome in on_record_all(folder.parent / "binder")] == ["read", "read"]


def on_record_all(binder: Path) -> list[tuple[str, str, str]]:
    with open_binder(binder) as record:
        assert record.verify().problems == ()
        return [(p.record.source, p.record.sha256, p.record.outcome.value) for p in record.pages()]


def test_a_scan_that_took_the_name_of_one_just_read_is_not_moved_unread(folder: Path) -> None:
    file = put(folder, "scan.png", picture("PNG"))
    read = sha256_of(file)
    put(folder, "scan.png", picture("PNG") + b" and another")
    assert put_away(file, folder, "done", read) is None
    assert lying_in(folder) == ["scan.png"]


def test_folders_that_lie_in_each_other_are_refused(run: Run, folder: Path) -> None:
    for binder in (folder / "binder", folder.parent):
        ran = run("watch", folder, "--binder", binder, "--once")
        assert ran.code == 2
        assert "keep them apart" in one_sentence(ran.err)
    ran = run("watch", folder / "nowhere", "--binder", folder.parent / "binder")
    assert ran.code == 2
    assert "is no folder" in one_sentence(ran.err)


# When a file is whole


class Clock:
    def __init__(self) -> None:
        self.now_s = 1000.0

    def __call__(self) -> float:
        return self.now_s


def arrivals(folder: Path, quiet_s: float = 5.0) -> tuple[Arrivals, Callable[[float], list[str]]]:
    """A folder looked at by a clock of the test's own: passes so many seconds, then names what is ready."""
    clock = Clock()
    watched = Arrivals(folder, (), quiet_s, clock)

    def after(seconds: float) -> list[str]:
        clock.now_s += seconds
        return [path.name for path in watched.look().ready]

    return watched, after


@pytest.mark.parametrize("kind", ["PDF", "TIFF", "JPEG", "PNG"])
def test_a_file_that_grows_is_not_touched_however_long_it_pauses_until_it_is_whole(folder: Path, kind: str) -> None:
    data = pdf_of([scanned(0).encoded]) if kind == "PDF" else scanned(0).encoded if kind == "JPEG" else picture(kind)
    _, after = arrivals(folder)
    for share in (0.1, 0.5, 0.9, 0.999):
        put(folder, f"scan.{kind.lower()}", data[: int(len(data) * share)])
        assert after(0) == after(4.9) == after(0.2) == after(50) == [], f"{share} of it are there"
    put(folder, f"scan.{kind.lower()}", data)
    assert after(0) == after(4.9) == []
    assert after(0.2) == [f"scan.{kind.lower()}"]


def test_a_file_that_stays_half_is_in_the_end_taken_for_damaged(folder: Path) -> None:
    put(folder, "scan.jpg", scanned(0).encoded[:60_000])
    _, after = arrivals(folder)
    assert after(0) == after(59) == []
    assert after(2) == ["scan.jpg"]


def test_a_whole_file_that_is_still_open_for_writing_is_not_touched(folder: Path) -> None:
    # A TIFF to which the scanner appends pages is a whole file after each of them.
    file = put(folder, "scan.tif", picture("TIFF"))
    _, after = arrivals(folder)
    scanner = subprocess.Popen(["sleep", "600"], stdout=file.open("ab"))
    try:
        assert after(0) == after(6) == after(600) == []
    finally:
        scanner.kill()
        scanner.wait()
    assert after(1) == ["scan.tif"]
    with file.open("rb"):
        assert after(1) == ["scan.tif"], "somebody looks at it, which does no harm"


def test_a_file_that_had_to_be_left_rests_a_while_unless_it_changes(folder: Path) -> None:
    file = put(folder, "scan.png", picture("PNG"))
    watched, after = arrivals(folder)
    assert after(0) == []
    assert after(6) == ["scan.png"]
    watched.leave(file, 60)
    assert after(30) == []
    assert after(31) == ["scan.png"]
    watched.leave(file, 60)
    put(folder, "scan.png", picture("PNG") + b" ")
    assert after(0) == []
    assert after(6) == ["scan.png"]


# While it runs


@contextmanager
def watching(folder: Path, *more: object) -> Iterator[subprocess.Popen[str]]:
    """The command as a process, from when it watches."""
    process = subprocess.Popen(
        [sys.executable, "-m", "scanform", "watch", str(folder), "--binder", str(folder.parent / "binder")]
        + ["--settled-for", "0.3", "--look-every", "0.3", "--workers", "1", *map(str, more)],
        cwd=ROOT,
        env=environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stderr is not None
    try:
        while "Watching" not in (line := process.stderr.readline()):
            assert line, "it ended at once"
        yield process
    finally:
        process.kill()
        process.communicate()


def test_what_arrives_is_read_until_a_shutdown_ends_it_with_a_balance(folder: Path, run: Run) -> None:
    with watching(folder) as process:
        data = scanned(0).encoded
        with (folder / "slow.jpg").open("wb") as slow:  # a slow copy
            for start in range(0, len(data), len(data) // 4 + 1):
                slow.write(data[start : start + len(data) // 4 + 1])
                slow.flush()
                time.sleep(0.2)
                assert not (folder / "done" / "slow.jpg").exists()
        put(folder, "letter.png.part", picture("PNG")).rename(folder / "letter.png")
        wait_for(lambda: (folder / "done" / "slow.jpg").exists() and (folder / "problem" / "letter.png").exists())
        ran = run(*once(folder))
        assert ran.code == 2
        assert "Another watch is at work" in one_sentence(ran.err)
        process.send_signal(signal.SIGTERM)
        out, err = process.communicate()
        assert process.returncode == 0, err
        assert "Pages in: 2 = 1 read + 0 blank + 0 duplicate + 1 unknown-form + 0 unreadable" in out
        assert "Traceback" not in err
    assert sorted(on_record(folder.parent / "binder")) == [("letter.png", 1, "unknown-form"), ("slow.jpg", 1, "read")]


def test_ctrl_c_ends_it_after_the_page_under_way_and_the_next_start_goes_on(folder: Path, run: Run) -> None:
    put(folder, "long.pdf", pdf_of([scanned(day).encoded for day in (0, 1, 2, 3)] * 4))
    binder = folder.parent / "binder"
    with watching(folder) as process:
        wait_for(lambda: (binder / "record.sqlite").is_file() and len(on_record(binder)) >= 1)
        process.send_signal(signal.SIGINT)
        out, err = process.communicate()
        assert process.returncode == 0, err
        assert "Stopped after page" in out
        assert "Traceback" not in err
    read = len(on_record(binder))
    assert 1 <= read < 16
    assert lying_in(folder) == ["long.pdf"]
    ran = run(*once(folder))
    assert "long.pdf: 16 pages = 4 read + 12 duplicate" in ran.out
    assert lying_in(folder) == ["done/long.pdf"]
    assert len(on_record(binder)) == 16


def test_killed_before_any_of_its_writes_the_next_start_records_and_moves_everything_once(tmp_path: Path) -> None:
    def filled(folder: Path) -> Path:
        folder.mkdir(parents=True)
        put(folder, "1 blank.jpg", blank_back())
        put(folder, "2 letter.png", picture("PNG"))
        return folder

    with server(environment()) as commands:
        commands.warm_up(*once(filled(tmp_path / "warm" / "scanner")))
        whole = commands.run(*once(filled(tmp_path / "whole" / "scanner")))
        assert whole.status == 1, whole.said
        numbered = [(n, name) for n, name in enumerate(whole.writes, start=1) if name not in ("fsync", "commit")]
        # From the first file on record to the last one moved: what comes before is as in any read.
        moves = [n for n, name in numbered if name == "replace"][-4:]
        for at in [n for n, name in numbered if moves[0] <= n <= moves[-1]]:
            folder = filled(tmp_path / str(at) / "scanner")
            assert commands.run(*once(folder), at=at).status == -signal.SIGKILL
            assert len([name for name in lying_in(folder) if name.endswith(("g", "f"))]) >= 2, "none is lost"
            assert commands.run(*once(folder)).status in (0, 1)
            assert lying_in(folder) == ["done/1 blank.jpg", "problem/2 letter.png", "problem/2 letter.png.txt"], at
            assert (folder / "done" / "1 blank.jpg").read_bytes() == blank_back()
            assert on_record(folder.parent / "binder") == [
                ("1 blank.jpg", 1, "blank"),
                ("2 letter.png", 1, "unknown-form"),
            ]


# Trouble while it runs


class Watched:
    """``watch_folder`` in a thread, with a reader that the test decides about."""

    def __init__(self, folder: Path, read: Callable[[list[Path]], list[Path]]) -> None:
        self.said: list[str] = []
        self.stop = threading.Event()
        self.thread = threading.Thread(
            target=watch_folder,
            args=(folder, lambda files: read(list(files)), self.said.append, self.stop),
            kwargs={"quiet_s": 0.05, "look_every_s": 0.05},
        )
        self.thread.start()

    def end(self) -> None:
        self.stop.set()
        self.thread.join(ENOUGH_S)
        assert not self.thread.is_alive()


def test_a_full_disk_is_told_once_and_tried_again_until_there_is_room(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("scanform.batch.watch._TRY_AGAIN_S", 0.05)
    put(folder, "scan.png", picture("PNG"))
    tries: list[list[Path]] = []

    def read(files: list[Path]) -> list[Path]:
        tries.append(files)
        if len(tries) < 4:
            raise BinderError("The archive cannot be written: no room.")
        files[0].unlink()
        return []

    watched = Watched(folder, read)
    wait_for(lambda: not (folder / "scan.png").exists())
    watched.end()
    assert len(tries) == 4
    assert len(watched.said) == 1
    assert watched.said[0].startswith("The archive cannot be written: no room. Trying again in")


def test_a_share_that_goes_away_is_waited_for(folder: Path) -> None:
    seen: list[str] = []

    def read(files: list[Path]) -> list[Path]:
        for file in files:
            seen.append(file.name)
            file.unlink()
        return []

    watched = Watched(folder, read)
    put(folder, "before.png", picture("PNG"))
    wait_for(lambda: seen == ["before.png"])
    folder.rename(folder.parent / "away")
    wait_for(lambda: len(watched.said) == 1)
    assert "does not exist" in watched.said[0] or "cannot be listed" in watched.said[0]
    (folder.parent / "away").rename(folder)
    put(folder, "after.png", picture("PNG"))
    wait_for(lambda: seen == ["before.png", "after.png"])
    watched.end()


def test_a_folder_without_notices_is_looked_at_by_the_clock(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # What a network share does: nothing that another computer writes there is told to this one.
    def none(*_: object, **__: object) -> Iterator[set[object]]:
        raise OSError("no notices here")
        yield set()

    monkeypatch.setattr("scanform.batch.watch.watchfiles.watch", none)
    seen: list[str] = []
    watched = Watched(folder, lambda files: seen.extend(file.name for file in files) or files)
    put(folder, "scan.png", picture("PNG"))
    wait_for(lambda: seen == ["scan.png"])
    watched.end()


def test_a_file_on_record_that_cannot_be_moved_stays_and_is_moved_later(run: Run, tmp_path: Path) -> None:
    with small_disk(tmp_path / "share", 4.0) as share:
        folder = share.at / "scanner"
        folder.mkdir()
        watch = ["watch", folder, "--binder", tmp_path / "binder", "--once", "--settled-for", 0.1, "--workers", 1]
        assert run(*watch).code == 0
        put(folder, "1.jpg", blank_back())
        put(folder, "2.png", picture("PNG"))
        share.fill()
        ran = run(*watch)
        assert ran.code == 1
        assert "2.png is on record, but cannot be moved to problem/: No space left on device; make room" in ran.out
        assert "Files: 1 moved to done/, 0 to problem/, 1 left where they were" in ran.out
        share.make_room()
        assert lying_in(folder) == ["2.png", "done/1.jpg"], "moving takes no room, writing down why does"
        ran = run(*watch)
        assert "2.png: 1 page = 1 unknown-form; 0 doubts; now problem/2.png" in ran.out
        assert lying_in(folder) == ["done/1.jpg", "problem/2.png", "problem/2.png.txt"]
    assert len(on_record(tmp_path / "binder")) == 2
