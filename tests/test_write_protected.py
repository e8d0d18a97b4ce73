"""A backup on a disk that nobody can write to: an auditor reads and verifies it all the same, and nobody adds to it."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing

import pytest
from commands import one_sentence
from made_quarter import MONDAY, Day, TrueDefect, daily, record_day
from recorded_sheets import BYTES
from small_disks import small_disk

from scanform.binder import open_binder


@pytest.fixture
def binder(tmp_path):
    """The folder of a binder with one sheet that tells of bad brakes."""
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(daily().template)
        opened.archive(BYTES, "pdf")
        brake = TrueDefect("WL07", "service-brake", "brake pedal goes to the floor")
        record_day(opened, Day("WL07", MONDAY, 100.0, [(brake, brake.words, None)]), 1)
    return tmp_path / "binder"


@pytest.fixture
def disk(tmp_path):
    with small_disk(tmp_path / "disk #1 100%", 8) as made:
        yield made


def test_a_write_protected_backup_is_read_and_verified_and_not_touched(binder, disk, run, tmp_path):
    shutil.copytree(binder, disk.at / "b")
    disk.only_for_reading()
    backup = ("--binder", disk.at / "b")
    assert "Sound: " in run("verify", *backup).out
    stretch = ("--since", str(MONDAY), "--until", str(MONDAY))
    for command, says in (
        (("defects",), "USED WITH AN OPEN SAFETY DEFECT: WL07"),
        (("doubts",), ""),
        (("gaps", *stretch), "WL07"),
        (("hours",), "WL07"),
        (("trust",), "none spot-checked yet"),
        (("retention",), "may go"),
        (("evidence", *stretch, "--out", tmp_path / "pack"), "evidence.pdf"),
        (("export", "--out", tmp_path / "lists"), ""),
    ):
        ran = run(*command, *backup)
        assert (ran.code, says in ran.out) == (0, True), (command, ran.out, ran.err)
    refused = run("confirm", "1.hours", "101.0", *backup, "--initials", "AB")
    assert refused.code != 0
    assert "cannot be written" in one_sentence(refused.err)
    assert sorted(path.name for path in (disk.at / "b").iterdir()) == sorted(path.name for path in binder.iterdir())


def test_a_backup_with_words_that_only_the_log_holds_is_not_shown_without_them(binder, disk, run):
    with closing(sqlite3.connect(binder / "record.sqlite")) as open_elsewhere:
        open_elsewhere.execute("SELECT count(*) FROM page").fetchone()
        with open_binder(binder) as opened:
            opened.confirm("1.hours", "101.0", "AB")
        disk_copy = disk.at / "b"
        shutil.copytree(binder, disk_copy)
    (disk_copy / "record.sqlite-shm").unlink()
    assert (disk_copy / "record.sqlite-wal").stat().st_size > 0
    disk.only_for_reading()
    ran = run("verify", "--binder", disk_copy)
    assert ran.code != 0
    assert "copy the whole folder" in one_sentence(ran.err)


def test_a_write_protected_binder_of_an_older_version_asks_for_a_copy(binder, disk, run):
    with closing(sqlite3.connect(binder / "record.sqlite")) as raw:
        raw.execute("UPDATE meta SET value = '4' WHERE key = 'schema'")
        raw.commit()
    shutil.copytree(binder, disk.at / "b")
    disk.only_for_reading()
    assert "older version" in one_sentence(run("verify", "--binder", disk.at / "b").err)
