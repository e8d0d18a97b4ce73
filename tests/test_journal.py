"""The journal shows every change that was not made through it: each test here really tampers with a binder."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from contextlib import closing
from dataclasses import replace

import pytest
import rfc8785
from recorded_sheets import TEMPLATE, archived_path, record_sheets

from scanform.binder import open_binder
from scanform.binder.views import VIEWS
from scanform.errors import BinderError, JournalBroken

UNITS = "unit,kind,hours,hours_on\nLD-01,loader,1200,2026-11-20\n"


@pytest.fixture
def folder(tmp_path):
    """A binder with a bit of everything in it, closed."""
    (tmp_path / "units.csv").write_text(UNITS)
    (tmp_path / "crew.csv").write_text("name\nA. Quarryman\n")
    with open_binder(tmp_path / "binder", create=True) as binder:
        binder.load_units(tmp_path / "units.csv")
        binder.load_crew(tmp_path / "crew.csv")
        binder.remember_template(TEMPLATE)
        batch_id = binder.begin_batch(["monday.pdf"])
        pages = record_sheets(binder, 4)
        binder.end_batch(batch_id, [p.number for p in pages], pages_in=4)
        binder.confirm("2.hours", "1282.5", "AB")
        binder.confirm("3.unit", "LD-02", "AB")
        binder.undo_last("AB")
        assert binder.verify().problems == ()
    return tmp_path / "binder"


def problems_of(folder) -> tuple[str, ...]:
    with open_binder(folder) as binder:
        return binder.verify().problems


def tamper(folder, *statements: str) -> None:
    """Raw SQL from outside, past the guards."""
    with closing(sqlite3.connect(folder / "record.sqlite")) as raw:
        for name in ("journal_keeps_entries", "journal_keeps_words"):
            raw.execute(f"DROP TRIGGER {name}")
        raw.execute("PRAGMA foreign_keys = OFF")
        for statement in statements:
            changed = raw.execute(statement).rowcount
            assert changed != 0, f"{statement} changed nothing"
        raw.commit()


def seq_of_page(folder, page: int) -> int:
    with open_binder(folder) as binder:
        return next(e.seq for e in binder.journal() if e.kind == "page" and e.body["page"] == page)


def test_each_entry_carries_the_hash_of_the_one_before_in_canonical_json(folder):
    # RFC 8785 (JSON Canonicalization Scheme), through the package rfc8785; the parts are put together here anew.
    with closing(sqlite3.connect(folder / "record.sqlite")) as raw:
        rows = raw.execute("SELECT seq, at, kind, body, previous_hash, hash FROM journal ORDER BY seq").fetchall()
    previous = "0" * 64
    for number, (seq, at, kind, body, previous_hash, own_hash) in enumerate(rows, start=1):
        assert (seq, previous_hash) == (number, previous)
        whole = {"seq": seq, "at": at, "kind": kind, "body": json.loads(body), "previous": previous}
        assert hashlib.sha256(rfc8785.dumps(whole)).hexdigest() == own_hash
        assert rfc8785.dumps(json.loads(body)).decode() == body
        previous = own_hash
    assert len(rows) == 13
    assert json.loads((folder / "journal.head").read_text()) == {"seq": 13, "hash": previous}


@pytest.mark.parametrize("statement", ["DELETE FROM journal WHERE seq = 3", "UPDATE journal SET kind = 'x'"])
def test_the_database_itself_refuses_to_rewrite_history(folder, statement):
    with (
        closing(sqlite3.connect(folder / "record.sqlite")) as raw,
        pytest.raises(sqlite3.IntegrityError, match="append-only"),
    ):
        raw.execute(statement)


def test_a_flipped_byte_in_the_archive_is_named(folder):
    path = archived_path(folder)
    data = bytearray(path.read_bytes())
    data[5] ^= 1
    path.write_bytes(data)
    (problem,) = problems_of(folder)
    assert str(path.relative_to(folder)) in problem
    assert "was changed" in problem


def test_a_lost_file_is_named_with_its_pages(folder):
    archived_path(folder).unlink()
    (problem,) = problems_of(folder)
    assert "page 1 (monday.pdf, page 1) and 3 more pages is not in the archive" in problem


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        (
            "UPDATE field SET value = '9999.5' WHERE page_id = 2 AND field_id = 'hours'",
            ["Page 2 (monday.pdf, page 2): field hours", "'9999.5'", "'1282.5' (confirmed) by the journal"],
        ),
        (
            "UPDATE field SET state = 'accepted' WHERE page_id = 1 AND field_id = 'hours'",
            ["Page 1", "field hours", "(accepted) in the tables", "(doubtful) by the journal"],
        ),
        (
            "UPDATE field SET value = 'ok', read_value = 'defect' WHERE page_id = 1 AND field_id = 'item.brakes'",
            ["Page 1", "item.brakes", "value as it was read is 'defect'"],
        ),
        (
            "UPDATE field SET read_confidence = 0.5 WHERE page_id = 1 AND field_id = 'unit'",
            ["field unit", "confidence as it was read is '0.5'"],
        ),
        ("UPDATE field SET reasons = '[]' WHERE page_id = 1 AND field_id = 'hours'", ["field hours", "reasons"]),
        (
            "UPDATE field SET details = replace(details, '1000', '1001') WHERE page_id = 1 AND field_id = 'unit'",
            ["field unit", "place on the page"],
        ),
        ("UPDATE field SET critical = 0 WHERE page_id = 1 AND field_id = 'item.brakes'", ["critical as it was read"]),
        ("UPDATE field SET reasons = '[' WHERE page_id = 1 AND field_id = 'unit'", ["Page 1", "cannot be compared"]),
        ("DELETE FROM field WHERE page_id = 3 AND field_id = 'signature'", ["Page 3", "field signature is gone"]),
        ("UPDATE field SET position = 99 WHERE page_id = 3 AND field_id = 'unit'", ["Page 3", "another order"]),
        (
            "UPDATE page SET date = '2026-11-30' WHERE id = 4",
            ["Page 4", "date is '2026-11-30' in the tables, but '2026-11-23' by the journal"],
        ),
        ("UPDATE page SET outcome = 'blank' WHERE id = 4", ["Page 4", "outcome is 'blank'"]),
        ("UPDATE page SET ink_signature = x'00' WHERE id = 4", ["Page 4", "ink signature"]),
        ("DELETE FROM page WHERE id = 4", ["Page 4 was recorded by journal entry", "gone from the tables"]),
        (
            "INSERT INTO page SELECT 5, batch_id, source, '/other', page_number, sha256, outcome, reason, template,"
            " version, serial, unit, date, width_px, height_px, residual_mm, ink_signature, part, parts FROM page"
            " WHERE id = 1",
            ["Page 5 is in the tables, but no journal entry records it."],
        ),
        ("UPDATE unit SET hours = '1.0'", ["hours of unit LD-01 is '1.0' in the tables, but '1200.0'"]),
        ("DELETE FROM crew", ["crew A. Quarryman, but it is gone"]),
        ("INSERT INTO crew VALUES ('N. Obody')", ["crew N. Obody, but no journal entry records it"]),
        ("UPDATE decision SET initials = 'ZZ'", ["initials of decision", "'ZZ'"]),
        ("UPDATE template_item SET critical = 0 WHERE number = 2", ["critical of template_item wheel-loader 1"]),
        ("UPDATE batch SET pages_in = 3", ["pages_in of batch 1 is '3' in the tables, but '4' by the journal"]),
    ],
)
def test_a_table_edited_by_hand_is_named(folder, statement, words):
    tamper(folder, statement)
    problems = problems_of(folder)
    assert problems
    assert all(word in " ".join(problems) for word in words), problems


def test_a_deleted_entry_is_missed_and_so_is_what_it_recorded(folder):
    seq = seq_of_page(folder, 2)
    tamper(folder, f"DELETE FROM journal WHERE seq = {seq}")
    problems = problems_of(folder)
    assert f"Journal entry {seq} is missing." in problems
    assert "Page 2 is in the tables, but no journal entry records it." in problems


def test_a_changed_entry_does_not_match_its_hash(folder):
    seq = seq_of_page(folder, 1)
    tamper(
        folder,
        f"UPDATE journal SET body = replace(body, '1201.5', '1291.5') WHERE seq = {seq}",
        "UPDATE field SET value = '1291.5', read_value = '1291.5' WHERE page_id = 1 AND field_id = 'hours'",
    )
    (problem,) = problems_of(folder)
    assert problem.startswith(f"Journal entry {seq} (page, ")
    assert "does not match its hash" in problem


def test_a_changed_entry_with_a_fitting_hash_breaks_the_chain(folder):
    seq = seq_of_page(folder, 1)
    with open_binder(folder) as binder:
        entry = binder.journal()[seq - 1]
    body = rfc8785.dumps(dict(entry.body)).decode().replace("1201.5", "1291.5")
    at = entry.at.isoformat(timespec="microseconds")
    whole = {"seq": seq, "at": at, "kind": "page", "body": json.loads(body), "previous": entry.previous_hash}
    forged = hashlib.sha256(rfc8785.dumps(whole)).hexdigest()
    tamper(
        folder,
        f"UPDATE journal SET body = '{body}', hash = '{forged}' WHERE seq = {seq}",
        "UPDATE field SET value = '1291.5', read_value = '1291.5' WHERE page_id = 1 AND field_id = 'hours'",
    )
    (problem,) = problems_of(folder)
    assert f"Journal entry {seq + 1} does not follow" in problem


def test_swapped_entries_are_found(folder):
    a, b = seq_of_page(folder, 1), seq_of_page(folder, 2)
    tamper(
        folder,
        f"UPDATE journal SET seq = -1 WHERE seq = {a}",
        f"UPDATE journal SET seq = {a} WHERE seq = {b}",
        f"UPDATE journal SET seq = {b} WHERE seq = -1",
    )
    text = " ".join(problems_of(folder))
    assert f"Journal entry {a} " in text
    assert f"Journal entry {b} " in text
    assert "does not match its hash" in text


def test_an_unreadable_entry_is_named_and_the_rest_still_checked(folder):
    seq = seq_of_page(folder, 1)
    tamper(folder, f"UPDATE journal SET body = '{{' WHERE seq = {seq}", "UPDATE unit SET kind = 'truck'")
    text = " ".join(problems_of(folder))
    assert f"Journal entry {seq} (page) cannot be read" in text
    assert "kind of unit LD-01" in text


def cut_off_the_last_decision(folder) -> None:
    """Take the undo back by hand, in journal and tables alike, so that only the head can tell."""
    tamper(
        folder,
        "DELETE FROM journal WHERE seq = 13",
        "UPDATE decision SET undone_by = NULL",
        "UPDATE field SET value = 'LD-02', state = 'confirmed' WHERE page_id = 3 AND field_id = 'unit'",
        "UPDATE page SET unit = 'LD-02' WHERE id = 3",
    )


def test_entries_cut_off_the_end_are_missed(folder):
    cut_off_the_last_decision(folder)
    (problem,) = problems_of(folder)
    assert "ends at entry 12" in problem
    assert "entry 13 is missing" in problem


def test_nothing_is_written_on_top_of_a_journal_that_lost_its_end(folder):
    cut_off_the_last_decision(folder)
    with open_binder(folder) as binder:
        with pytest.raises(JournalBroken, match="no longer holds entry 13"):
            binder.confirm("1.hours", "1201.5", "AB")
        assert len(binder.journal()) == 12
        assert not binder.verify().sound


def test_a_head_file_that_is_gone_is_a_problem_and_stops_writing(folder):
    (folder / "journal.head").unlink()
    (problem,) = problems_of(folder)
    assert "journal.head is missing" in problem
    with open_binder(folder) as binder, pytest.raises(JournalBroken, match=r"journal\.head is missing"):
        binder.begin_batch(["tuesday.pdf"])


def test_a_head_file_left_behind_by_a_crash_is_fine(folder):
    with open_binder(folder) as binder:
        entry = binder.journal()[-4]
        (folder / "journal.head").write_text(json.dumps({"seq": entry.seq, "hash": entry.hash}))
        assert binder.verify().sound
        binder.begin_batch(["tuesday.pdf"])
        assert json.loads((folder / "journal.head").read_text())["seq"] == 14


def test_a_journal_replaced_as_a_whole_is_not_the_one_that_was_noted(folder, tmp_path):
    with open_binder(tmp_path / "other", create=True) as other:
        record_sheets(other, 20)
        assert other.verify().sound
    for name in ("record.sqlite", "record.sqlite-wal"):
        source = tmp_path / "other" / name
        (folder / name).write_bytes(source.read_bytes() if source.exists() else b"")
    assert any("is not the one that journal.head has noted" in p for p in problems_of(folder))


def test_what_a_stopped_run_leaves_in_the_archive_is_a_note_and_no_problem(folder):
    with open_binder(folder) as binder:
        binder.archive(b"archived, then killed before the page was recorded", "png")
        shelf = archived_shelf(folder)
        (shelf / ".0123-abc.unfinished").write_bytes(b"half a fi")
        report = binder.verify()
    assert report.sound
    assert len(report.notes) == 2


def archived_shelf(folder):
    return next(p for p in sorted((folder / "pages").iterdir()) if p.is_dir())


def test_a_damaged_database_is_a_sentence(folder):
    path = folder / "record.sqlite"
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    data = bytearray(path.read_bytes())
    data[4096 * 2 :] = b"\xa5" * (len(data) - 4096 * 2)
    path.write_bytes(data)
    try:
        problems = problems_of(folder)
    except BinderError as refusal:
        problems = (str(refusal),)
    assert problems
    assert "no intact database" in problems[0]


# Binders of earlier versions


VERSION_2_PAGE = """
CREATE TABLE page (id INTEGER NOT NULL, batch_id INTEGER, source VARCHAR NOT NULL, source_path VARCHAR NOT NULL,
  page_number INTEGER NOT NULL, sha256 VARCHAR(64) NOT NULL, outcome VARCHAR NOT NULL, reason TEXT, template VARCHAR,
  version INTEGER, serial VARCHAR, unit VARCHAR, date VARCHAR, width_px INTEGER, height_px INTEGER, residual_mm FLOAT,
  ink_signature BLOB, PRIMARY KEY (id), UNIQUE (sha256, page_number, source_path),
  FOREIGN KEY(batch_id) REFERENCES batch (id));
INSERT INTO page SELECT id, batch_id, source, source_path, page_number, sha256, outcome, reason, template, version,
  serial, unit, date, width_px, height_px, residual_mm, ink_signature FROM page_now;
DROP TABLE page_now;
CREATE INDEX page_serial ON page (serial);
CREATE INDEX page_unit_date ON page (unit, date);
CREATE INDEX page_batch ON page (batch_id);
ALTER TABLE batch DROP COLUMN more_sheets;
CREATE VIEW list_pages AS SELECT id AS number, source, page_number AS page, sha256 FROM page;
UPDATE meta SET value = '2' WHERE key = 'schema';
"""


def test_a_binder_of_version_2_keeps_its_pages_and_gets_room_for_several_sheets_a_picture(tmp_path):
    folder = tmp_path / "old"
    with open_binder(folder, create=True) as binder:
        record_sheets(binder, 4)
        binder.confirm("2.hours", "1282.5", "AB")
        pages, decided = binder.pages(), binder.decisions()
    with closing(sqlite3.connect(folder / "record.sqlite")) as raw:
        raw.execute("PRAGMA foreign_keys = OFF")
        raw.executescript("".join(f"DROP VIEW {name};" for name in VIEWS))  # they name columns that version 2 lacked
        raw.executescript(
            "DROP INDEX page_serial; DROP INDEX page_unit_date; DROP INDEX page_batch;"
            "PRAGMA legacy_alter_table = ON; ALTER TABLE page RENAME TO page_now;" + VERSION_2_PAGE
        )
    with open_binder(folder) as binder:
        assert (binder.pages(), binder.decisions()) == (pages, decided)
        with closing(sqlite3.connect(folder / "record.sqlite")) as raw:
            assert raw.execute("SELECT part FROM list_pages").fetchall() == [(1,)] * 4, "views are drawn up anew"
        beside = replace(pages[0].record, part=2, parts=2, serial=None)
        assert binder.record_page(beside).new
        assert [p.part for p in binder.heads_of_picture(beside.sha256, 1, beside.source_path)] == [1, 2]
    assert problems_of(folder) == ()
    with closing(sqlite3.connect(folder / "record.sqlite")) as raw:
        assert raw.execute("PRAGMA foreign_key_check").fetchall() == []
