"""Two people read into one binder at the same time: as if one had waited for the other."""

from __future__ import annotations

import contextlib
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import pytest
from commands import ROOT, Run, environment, json_lines
from intake_files import picture, put
from scanned_stack import scanned

from scanform.batch import gather, read_stack
from scanform.batch.duplicates import seen_before
from scanform.binder import Binder, PageRecord, RecordedPage, open_binder
from scanform.errors import Stopped
from scanform.form import built_in_templates


def write_scans(folder: Path, *days: int) -> Path:
    folder.mkdir()
    for day in days:
        put(folder, f"{day}.jpg", scanned(day).encoded)
    put(folder, "calendar.png", picture("PNG"))
    return folder


def read_at_once(binder: Path, *stacks: Path) -> list[list[dict[str, object]]]:
    """Start a process for each stack, wait for all; what each wrote."""
    outs = [binder.with_name(f"{n}.jsonl") for n in range(len(stacks))]
    started = [
        subprocess.Popen(
            [sys.executable, "-m", "scanform", "read", stack, "--binder", binder, "--json", out, "--workers", "1"],
            cwd=ROOT,
            env=environment(),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        for stack, out in zip(stacks, outs, strict=True)
    ]
    for process in started:
        said = process.communicate()[1]
        assert process.returncode == 0, said
        assert "Traceback" not in said
    return [json_lines(out) for out in outs]


def assert_sound(binder: Path, pages: int) -> None:
    with open_binder(binder) as record:
        report = record.verify()
        assert (report.problems, report.notes, report.pages) == ((), (), pages)
        assert [entry.kind for entry in record.journal()].count("page") == pages


def test_the_same_stack_read_twice_at_once_is_read_once(tmp_path: Path) -> None:
    stack, binder = write_scans(tmp_path / "stack", 0, 1), tmp_path / "binder"
    one, other = read_at_once(binder, stack, stack)
    assert one == other
    assert [page["outcome"] for page in one] == ["read", "read", "unknown-form"]
    assert_sound(binder, pages=3)
    with open_binder(binder) as record:
        assert record.last_batch() == 1, "the second found all of it done"


def test_two_stacks_with_one_sheet_in_both_make_it_one_sheet_and_a_duplicate(tmp_path: Path) -> None:
    stacks = [write_scans(tmp_path / name, 0) for name in ("monday", "friday")]
    monday, friday = read_at_once(tmp_path / "binder", *stacks)
    assert sorted([str(monday[0]["outcome"]), str(friday[0]["outcome"])]) == ["duplicate", "read"]
    assert_sound(tmp_path / "binder", pages=4)


def test_neither_of_two_runs_can_miss_what_the_other_is_about_to_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Each run is held up between seeing that the sheet is new and recording it, until the other is there as well: the
    # worst there could be. Since they take turns, the other one never comes.
    both = threading.Barrier(2)

    def slowly(*seen: Any) -> PageRecord:
        record = seen_before(*seen)
        with contextlib.suppress(threading.BrokenBarrierError):
            both.wait(timeout=3)
        return record

    monkeypatch.setattr("scanform.batch.run.seen_before", slowly)
    files = [put(write_scans(tmp_path / name), "sheet.jpg", scanned(0).encoded) for name in ("monday", "friday")]

    def read(file: Path) -> None:
        with open_binder(tmp_path / "binder", create=True) as record:
            read_stack(gather([file]), record, built_in_templates(), workers=1)

    readers = [threading.Thread(target=read, args=(file,)) for file in files]
    for reader in readers:
        reader.start()
    for reader in readers:
        reader.join(120)
    with open_binder(tmp_path / "binder") as record:
        assert sorted(page.record.outcome.value for page in record.pages()) == ["duplicate", "read"]


def test_whoever_waits_is_told_so_and_goes_on_by_itself(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("scanform.binder.turn._SHORT_WAIT_S", 0.05)
    stack, told = write_scans(tmp_path / "stack"), threading.Event()
    sentences: list[str] = []

    def on_wait(sentence: str) -> None:
        sentences.append(sentence)
        told.set()

    def read_too() -> None:
        with open_binder(tmp_path / "binder") as record:
            read_stack(gather([stack]), record, built_in_templates(), workers=1, on_wait=on_wait)

    with open_binder(tmp_path / "binder", create=True) as first:
        with first.one_reader(lambda _: None):
            second = threading.Thread(target=read_too)
            second.start()
            assert told.wait(60)
            assert first.pages() == [], "it waits"
        second.join(60)
        assert len(first.pages()) == 1
    assert set(sentences) == {
        f"Another run is reading into {tmp_path / 'binder'}; this one goes on when that has finished."
    }


def test_who_does_not_want_to_wait_may_leave(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("scanform.binder.turn._SHORT_WAIT_S", 0.05)

    def leaves(_: str) -> None:
        raise Stopped("Enough.")

    with (
        open_binder(tmp_path / "binder", create=True) as first,
        open_binder(tmp_path / "binder") as second,
        first.one_reader(leaves),
        pytest.raises(Stopped),
        second.one_reader(leaves),
    ):
        pytest.fail("two hold the binder")


def test_the_turn_of_a_process_that_was_killed_is_free_at_once(tmp_path: Path) -> None:
    with open_binder(tmp_path / "binder", create=True):
        pass
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLDS, tmp_path / "binder"], cwd=ROOT, env=environment(), stdout=subprocess.PIPE
    )
    assert holder.stdout is not None
    assert holder.stdout.readline() == b"held\n"
    holder.kill()
    holder.wait()
    holder.stdout.close()
    with open_binder(tmp_path / "binder") as record, record.one_reader(pytest.fail):
        pass


HOLDS = """
import sys, time
from pathlib import Path
from typing import Any
from scanform.binder.turn import one_reader
with one_reader(Path(sys.argv[1]), print):
    print("held", flush=True)
    time.sleep(600)
"""


def test_the_same_file_in_two_batches_is_on_record_once(tmp_path: Path, run: Run) -> None:
    stack, binder = write_scans(tmp_path / "stack", 0), tmp_path / "binder"
    assert run("read", stack / "0.jpg", "--binder", binder, "--workers", 1).code == 0
    ran = run("read", stack, "--binder", binder, "--workers", 1)
    assert "Pages in: 2 = 1 read + 0 blank + 0 duplicate + 1 unknown-form" in ran.out
    assert_sound(binder, pages=2)


def test_a_person_may_confirm_while_a_stack_is_read(tmp_path: Path) -> None:
    stack = write_scans(tmp_path / "stack", 0, 1)
    with open_binder(tmp_path / "binder", create=True) as reader, open_binder(tmp_path / "binder") as person:

        def on_page(page: RecordedPage, _: object) -> None:
            if page.number == 1:
                confirm_all(person)

        read_stack(gather([stack]), reader, built_in_templates(), workers=1, on_page=on_page)
        assert {field.state.value for field in reader.pages()[0].record.fields} <= {"accepted", "confirmed"}
    assert_sound(tmp_path / "binder", pages=3)


def confirm_all(binder: Binder) -> None:
    waiting = binder.queue()
    assert waiting
    for doubt in waiting:
        binder.confirm(doubt.ref, None, "AB")
