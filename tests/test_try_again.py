"""A page that was given up on is read anew when asked for, as a new reading beside the first one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest
from commands import Run
from intake_files import picture, put
from pages_that_kill import first_kills
from scanned_stack import scanned

from scanform.batch import run as batch_run
from scanform.batch.pool import carried_in_order
from scanform.batch.worker import CarriedPage, Task
from scanform.binder import PageRecord, open_binder
from scanform.errors import BinderError
from scanform.form import Template
from scanform.settle import Outcome


def test_a_page_whose_reader_died_is_read_when_it_is_tried_again(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scans, binder = tmp_path / "scans", tmp_path / "binder"
    scans.mkdir()
    put(scans, "1.jpg", scanned(0).encoded)
    put(scans, "2.png", picture("PNG"))
    reading = ["read", scans, "--binder", binder, "--workers", 1]

    def killing(tasks: Iterable[Task], _: tuple[Template, ...], _workers: int) -> Iterator[CarriedPage]:
        return carried_in_order(tasks, (), 2, first_kills)

    monkeypatch.setattr(batch_run, "carried_in_order", killing)
    ran = run(*reading)
    assert "Pages in: 2 = 0 read + 1 blank + 0 duplicate + 0 unknown-form + 1 unreadable" in ran.out
    assert "ended the process that read it" in ran.err
    assert "--try-again" in ran.err
    monkeypatch.setattr(batch_run, "carried_in_order", carried_in_order)  # there is more memory now, say

    with open_binder(binder) as record:
        before = record.verify().entries
    assert "1 unreadable" in run(*reading).out, "not by itself: it might end the process every time"
    with open_binder(binder) as record:
        assert record.verify().entries == before

    ran = run(*reading, "--try-again")
    assert "Pages in: 2 = 1 read + 1 blank + 0 duplicate + 0 unknown-form + 0 unreadable" in ran.out
    assert ran.code == 0
    with open_binder(binder) as record:
        assert record.verify().problems == ()
        first, second = record.pages()
        assert (first.record.outcome, second.record.outcome) == (Outcome.READ, Outcome.BLANK)
        assert len(first.record.fields) > 20
        (told,) = [entry.body for entry in record.journal() if entry.kind == "page" and entry.body["page"] == 1]
        assert told["outcome"] == "unreadable", "the first reading is history and stays in it"
        (again,) = [entry.body for entry in record.journal() if entry.kind == "page-read-again"]
        assert (again["page"], again["outcome"]) == (1, "read")
        assert record.balance(record.last_batch() or 0)[Outcome.READ] == 1

    ran = run(*reading)
    assert "1 read + 1 blank" in ran.out, "and from now on it is simply on record"
    # A batch that was closed with other outcomes is not taken for one over the pages as they are now.
    assert run("read", scans / "1.jpg", "--binder", binder, "--workers", 1).code == 0


def test_an_old_batch_over_pages_that_were_read_anew_does_not_stand_for_them(run: Run, tmp_path: Path) -> None:
    scans, binder = tmp_path / "scans", tmp_path / "binder"
    scans.mkdir()
    whole = scanned(0).encoded
    put(scans, "1.jpg", whole)
    put(scans, "2.png", picture("PNG"))
    reading = ["--binder", binder, "--workers", 1]
    ran = run("read", scans, *reading)
    assert ran.code == 0
    assert f"{scans / '2.png'}, page 1, unknown-form: No registration marks" in ran.out
    with open_binder(binder) as record:
        second = record.pages()[1]
        assert second.record.outcome is Outcome.UNKNOWN_FORM
        record.read_again(second.number, like(second.record, Outcome.BLANK))
    ran = run("read", scans, *reading)
    assert "Pages in: 2 = 1 read + 1 blank" in ran.out


def like(record: PageRecord, outcome: Outcome) -> PageRecord:
    return PageRecord(record.source, record.source_path, record.page_number, record.sha256, outcome, "looked at again")


def test_a_page_that_stays_unreadable_is_not_written_down_again(run: Run, tmp_path: Path) -> None:
    binder, scan = tmp_path / "binder", put(tmp_path, "cut short.jpg", scanned(0).encoded[:60_000])
    for more in ([], ["--try-again"], ["--try-again"]):
        assert run("read", scan, "--binder", binder, "--workers", 1, *more).code == 1
    with open_binder(binder) as record:
        kinds = [entry.kind for entry in record.journal()]
        assert (kinds.count("page"), kinds.count("page-read-again")) == (1, 0)
        assert record.verify().problems == ()


def test_a_page_with_fields_is_never_replaced(run: Run, tmp_path: Path) -> None:
    binder, scan = tmp_path / "binder", put(tmp_path, "sheet.jpg", scanned(0).encoded)
    assert run("read", scan, "--binder", binder, "--workers", 1).code == 0
    with open_binder(binder) as record:
        (page,) = record.pages()
        with pytest.raises(BinderError, match="stays as it is"):
            record.read_again(page.number, like(page.record, Outcome.BLANK))
        before = record.verify().entries
    assert run("read", scan, "--binder", binder, "--workers", 1, "--try-again").code == 0
    with open_binder(binder) as record:
        assert record.verify().entries == before
