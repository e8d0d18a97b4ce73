"""The record keeps every page once, keeps people's decisions beside what was read, and survives being killed."""

from __future__ import annotations

import datetime as dt
import hashlib
import multiprocessing
import os
import random
import signal
import sqlite3
import threading
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from recorded_sheets import (
    BYTES,
    TEMPLATE,
    a_field,
    a_page,
    a_sheet,
    archived_path,
    doubtful,
    record_sheets,
    sheet_fields,
    with_field,
)

from scanform.binder import Binder, open_binder
from scanform.errors import BinderError, FileUnreadable
from scanform.settle.types import MeterReading, Outcome


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        yield opened


# The folder


def test_a_folder_that_is_no_binder_is_refused_in_one_sentence(tmp_path):
    with pytest.raises(BinderError, match="is no binder") as refusal:
        open_binder(tmp_path / "nothing-here")
    assert str(refusal.value).count("\n") == 0


def test_a_folder_with_other_files_does_not_become_a_binder(tmp_path):
    (tmp_path / "holiday.jpg").write_bytes(b"picture")
    with pytest.raises(BinderError, match=r"holds other files \(holiday\.jpg\)"):
        open_binder(tmp_path, create=True)
    assert [p.name for p in tmp_path.iterdir()] == ["holiday.jpg"]


def test_a_record_of_a_newer_version_is_left_alone(binder):
    path = binder.folder / "record.sqlite"
    with sqlite3.connect(path) as raw:
        raw.execute("UPDATE meta SET value = '99' WHERE key = 'schema'")
    with pytest.raises(BinderError, match=r"newer scanform \(record version 99"):
        open_binder(binder.folder)


def test_a_record_of_an_older_version_gets_what_it_lacks_and_keeps_the_rest(binder):
    (page,) = record_sheets(binder, 1)
    number = page.number
    binder.close()
    with sqlite3.connect(binder.folder / "record.sqlite") as raw:
        raw.execute("DROP TABLE word")
        raw.execute("UPDATE meta SET value = '1' WHERE key = 'schema'")
    with open_binder(binder.folder) as opened:
        assert opened.words() == ()
        assert opened.page_numbered(number) is not None
        assert opened.verify().problems == ()


def test_the_inks_own_reading_is_kept_beside_the_words(binder):
    words = replace(a_field("defect.1", "text", "horn dead"), original="hom deod")
    number = binder.record_page(a_sheet("a" * 64, fields=with_field(sheet_fields(), words))).number
    kept = binder.page_numbered(number).record
    assert (kept.field("defect.1").value, kept.field("defect.1").original) == ("horn dead", "hom deod")
    assert kept.field("told").original is None
    binder.confirm(f"{number}.defect.1", "horn weak", "AB")
    confirmed = binder.page_numbered(number).record.field("defect.1")
    assert (confirmed.value, confirmed.original) == ("horn weak", "hom deod")


@pytest.mark.parametrize("content", [b"not a database at all" * 100, b""])
def test_a_record_that_is_not_ours_is_refused(tmp_path, content):
    (tmp_path / "record.sqlite").write_bytes(content)
    with pytest.raises(BinderError):
        open_binder(tmp_path)


def test_somebody_elses_database_is_not_taken_over(tmp_path):
    with sqlite3.connect(tmp_path / "record.sqlite") as raw:
        raw.execute("CREATE TABLE invoices (id INTEGER)")
    with pytest.raises(BinderError, match="something else"):
        open_binder(tmp_path, create=True)


def test_the_database_waits_writes_ahead_and_syncs_fully(binder):
    with binder._engine.connect() as connection:
        said = {p: connection.exec_driver_sql(f"PRAGMA {p}").scalar() for p in ("journal_mode", "synchronous")}
    assert said == {"journal_mode": "wal", "synchronous": 2}  # https://sqlite.org/pragma.html: 2 is FULL


# The archive


def test_the_same_bytes_are_kept_once_under_their_hash(binder, tmp_path):
    scan = tmp_path / "Monday.PDF"
    scan.write_bytes(BYTES)
    sha256 = binder.archive(scan, scan.suffix)
    assert sha256 == hashlib.sha256(BYTES).hexdigest()
    assert binder.archive(BYTES, "tif") == sha256
    kept = archived_path(binder.folder)
    assert kept.relative_to(binder.folder) == Path("pages") / sha256[:2] / f"{sha256}.pdf"
    assert kept.read_bytes() == BYTES
    assert binder.archived(sha256) == kept


def test_a_damaged_copy_of_another_length_is_written_again(binder):
    sha256 = binder.archive(BYTES, "pdf")
    archived_path(binder.folder).write_bytes(BYTES[:7])
    binder.archive(BYTES, "pdf")
    assert binder.archived(sha256).read_bytes() == BYTES


def test_a_file_that_is_not_there_is_one_sentence(binder, tmp_path):
    with pytest.raises(FileUnreadable, match=r"lost\.pdf cannot be read"):
        binder.archive(tmp_path / "lost.pdf", "pdf")


@pytest.mark.parametrize("suffix", ["../../evil", "", ".j p/g"])
def test_a_strange_suffix_cannot_leave_the_archive(binder, suffix):
    path = binder.archived(binder.archive(BYTES, suffix))
    assert path.parent.parent == binder.folder / "pages"


# Pages


def test_a_page_comes_back_as_it_was_recorded(binder):
    record = a_sheet(
        binder.archive(BYTES, "pdf"), fields=with_field(sheet_fields(), doubtful(a_field("hours", "comb", "12?4.5")))
    )
    recorded = binder.record_page(record)
    assert recorded.new
    found = binder.page_for(record.sha256, 1, record.source_path)
    assert found == replace(recorded, new=False)
    # Rounded on the way in, so that what is hashed is what is kept: 6 places, 0.1 px, 0.1 um.
    assert found.record.field("hours").reasons == ("Cell 3 may be a 3 or an 8.",)
    assert found.record.field("unit").confidence == 0.998765
    assert found.record.field("unit").polygon_px[0] == (100.0, 200.0)
    assert found.record.field("unit").alternatives[1].value is None
    assert found.record.field("signature").value is True
    assert found.record.ink_signature == record.ink_signature
    assert [f.id for f in found.record.fields] == [f.id for f in record.fields]
    assert (found.record.unit, found.record.date) == ("LD-01", dt.date(2026, 11, 23))


def test_recording_a_page_again_changes_nothing(binder):
    (first,) = record_sheets(binder, 1)
    entries = binder.journal()
    again = binder.record_page(replace(first.record, outcome=Outcome.BLANK, fields=(), unit="XX-99"))
    assert again == replace(first, new=False)
    assert binder.journal() == entries
    assert len(binder.pages()) == 1


def test_the_same_bytes_under_another_name_are_found(binder):
    (first,) = record_sheets(binder, 1)
    assert binder.page_for(first.record.sha256, 1, "/scans/copy of monday.pdf") is None
    assert binder.head_with_bytes(first.record.sha256, 1).number == first.number
    assert binder.head_with_bytes(first.record.sha256, 2) is None
    copy = binder.record_page(replace(first.record, source_path="/scans/copy of monday.pdf", outcome=Outcome.DUPLICATE))
    assert copy.number != first.number


def test_only_sheets_that_were_read_answer_to_a_serial(binder):
    first, second = record_sheets(binder, 2)
    serial = first.record.serial
    binder.record_page(replace(a_page(first.record.sha256, 9, Outcome.DUPLICATE), serial=serial))
    again = binder.record_page(a_sheet(first.record.sha256, 10, serial=serial))
    assert [s.number for s in binder.heads_with_serial(serial)] == [first.number, again.number]
    assert second.number not in [s.number for s in binder.heads_with_serial(serial)]


def test_a_file_name_that_is_no_utf8_is_kept_readable(binder):
    name = os.fsdecode(b"m\xf6ntag.pdf")
    record = replace(a_page("0" * 64, 1, Outcome.BLANK), source=name, source_path=f"/scans/{name}")
    first, again = binder.record_page(record), binder.record_page(record)
    assert first.number == again.number
    assert first.record.source.startswith("m\\")
    assert first.record.source.endswith("ntag.pdf")


def test_a_residual_that_is_no_number_does_not_stop_the_page(binder):
    recorded = binder.record_page(replace(a_page("0" * 64, 1, Outcome.UNREADABLE), residual_mm=float("inf")))
    assert recorded.record.residual_mm is None


# Batches


def test_a_batch_balances_only_if_every_page_is_accounted_for(binder):
    batch_id, sha256 = binder.begin_batch(["monday.pdf"]), binder.archive(BYTES, "pdf")
    read = binder.record_page(a_sheet(sha256, 1, batch_id=batch_id)).number
    blank = binder.record_page(replace(a_page(sha256, 2, Outcome.BLANK), batch_id=batch_id)).number
    with pytest.raises(BinderError, match=r"3 pages in, 2 accounted for \(1 read \+ 1 blank \+ 0 duplicate"):
        binder.end_batch(batch_id, [read, blank], pages_in=3)
    with pytest.raises(BinderError, match="Page 99 is counted"):
        binder.end_batch(batch_id, [read, 99], pages_in=2)
    balance = binder.end_batch(batch_id, [read, blank], pages_in=2)
    assert {o: n for o, n in balance.items() if n} == {Outcome.READ: 1, Outcome.BLANK: 1}
    assert binder.balance(batch_id) == balance == binder.batch(batch_id).balance
    with pytest.raises(BinderError, match="has ended before"):
        binder.end_batch(batch_id, [read, blank], pages_in=2)
    assert binder.verify().sound


def test_a_batch_that_meets_known_pages_counts_them_too(binder):
    pages = record_sheets(binder, 2)
    batch_id = binder.begin_batch(["monday.pdf"])
    assert binder.balance(batch_id)[Outcome.READ] == 0
    binder.end_batch(batch_id, [p.number for p in reversed(pages)], pages_in=2)
    assert [p.number for p in binder.batch_pages(batch_id)] == [2, 1]
    assert binder.last_batch() == batch_id


# What is known


def test_only_readings_that_nobody_doubts_are_known(binder):
    sha256 = "a" * 64
    sure = a_sheet(sha256, 1, sheet_fields("LD-01", "2026-11-23", "1234.5"))
    unsure_hours = with_field(sheet_fields("LD-01", "2026-11-24"), doubtful(a_field("hours", "comb", "1984.5")))
    unsure_unit = with_field(sheet_fields("LD-07", "2026-11-24"), doubtful(a_field("unit", "comb", "LD-07")))
    for record in (sure, a_sheet(sha256, 2, unsure_hours), a_sheet(sha256, 3, unsure_unit)):
        binder.record_page(record)
    assert binder.meter_readings("LD-01") == (MeterReading("LD-01", dt.date(2026, 11, 23), Decimal("1234.5")),)
    binder.confirm("2.hours", "1244.5", "AB")
    assert binder.meter_readings("LD-01")[1] == MeterReading("LD-01", dt.date(2026, 11, 24), Decimal("1244.5"))


def test_items_stay_readable_without_the_template_file(binder):
    binder.remember_template(TEMPLATE)
    entries = len(binder.journal())
    binder.remember_template(TEMPLATE)
    assert len(binder.journal()) == entries
    assert [(i.number, i.text, i.critical) for i in binder.items("wheel-loader", 1)] == [
        (1, "Tires and rims", False),
        (2, "Service brake holds", True),
        (3, "Horn sounds", True),
    ]


def test_a_template_that_changed_without_a_new_version_is_refused(binder):
    binder.remember_template(TEMPLATE)
    plain = TEMPLATE.model_dump()
    plain["walk"][0]["items"][1]["text"] = "Parking brake holds"
    with pytest.raises(BinderError, match=r"item\.brakes differs\); raise its version"):
        binder.remember_template(type(TEMPLATE).model_validate(plain))


# Being killed, and being used by several at once

PAGES = 80


def _record_all(folder: Path) -> None:
    with open_binder(folder, create=True) as binder:
        binder.remember_template(TEMPLATE)
        for number in range(1, PAGES + 1):
            data = b"page %d" % number
            binder.record_page(a_sheet(binder.archive(data, "png"), number, source_path=f"/scans/{number}.png"))


def test_a_run_killed_at_any_instant_is_finished_by_running_it_again(tmp_path):
    folder, instants = tmp_path / "binder", random.Random(20261123)
    context = multiprocessing.get_context("fork")
    kills = 0
    for _ in range(12):
        child = context.Process(target=_record_all, args=(folder,))
        child.start()
        child.join(instants.uniform(0.0, 0.2))
        if child.is_alive():
            os.kill(child.pid, signal.SIGKILL)
            kills += 1
        child.join()
        if (folder / "journal.head").exists():
            with open_binder(folder) as binder:
                assert binder.verify().problems == ()
    assert kills >= 5, "the child was too fast to be killed; raise PAGES"
    _record_all(folder)
    with open_binder(folder) as binder:
        assert sorted(p.record.page_number for p in binder.pages()) == list(range(1, PAGES + 1))
        assert [e.kind for e in binder.journal()].count("page") == PAGES
        report = binder.verify()
        assert (report.problems, report.pages, report.files) == ((), PAGES, PAGES)


def test_two_writers_take_turns(tmp_path):
    folder = tmp_path / "binder"
    context = multiprocessing.get_context("fork")
    children = [context.Process(target=_record_all, args=(folder,)) for _ in range(2)]
    for child in children:
        child.start()
    for child in children:
        child.join()
        assert child.exitcode == 0
    with open_binder(folder) as binder:
        assert len(binder.pages()) == PAGES
        assert binder.verify().sound


def test_threads_may_share_an_open_binder(binder: Binder):
    sha256 = binder.archive(BYTES, "pdf")
    threads = [threading.Thread(target=lambda n=n: binder.record_page(a_sheet(sha256, n % 5 + 1))) for n in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(binder.pages()) == 5
    assert binder.verify().sound


def test_a_binder_that_stays_busy_is_one_sentence(binder, monkeypatch):
    monkeypatch.setattr("scanform.binder.store.BUSY_TIMEOUT_MS", 50)
    holder = sqlite3.connect(binder.folder / "record.sqlite", isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    with open_binder(binder.folder) as second, pytest.raises(BinderError, match="in use by another program"):
        second.begin_batch(["monday.pdf"])
    holder.close()
