"""Machines and crew come in from whatever an office saves as CSV, and what is wrong is named by line and column."""

from __future__ import annotations

import datetime as dt
import re
import sqlite3
from dataclasses import replace
from decimal import Decimal

import pytest
from recorded_sheets import a_field, a_sheet, doubtful, sheet_fields, with_field

from scanform.batch.knowledge import MeterBook, learn, with_pad
from scanform.binder import open_binder
from scanform.errors import UsageError
from scanform.form import serial_number
from scanform.settle import hours_window
from scanform.settle.types import Known, MeterReading, UnitRecord


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        yield opened


@pytest.fixture
def csv_file(tmp_path):
    def write(content: str | bytes):
        path = tmp_path / "units.csv"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return write


LOADER = UnitRecord("LD-01", "wheel loader", Decimal("1234.5"), dt.date(2026, 11, 20))


@pytest.mark.parametrize(
    "content",
    [
        "unit,kind,hours,hours_on\nLD-01,wheel loader,1234.5,2026-11-20\n",
        "\ufeffUNIT;Kind ; Hours;Hours On\r\n ld-01 ;wheel  loader;1234,5;2026-11-20\r\n;;;\r\n",
        "unit\tkind\thours\thours_on\nLD-01\twheel loader\t1234.5\t20261120",
        'kind,"hours",unit,colour,hours_on\nwheel loader,"1234,5",LD-01,yellow,2026-11-20\n\n\n',
        "unit;kind;hours;hours_on\nLD-01;wheel loader;1234,5;2026-11-20\n".encode("utf-16"),
        "unit,kind,hours,hours_on\n\nLD-01,wheel loader,1234.5,2026-11-20\nLD-01,wheel loader,1234.5,2026-11-20\n",
    ],
)
def test_the_register_takes_what_spreadsheets_save(binder, csv_file, content):
    report = binder.load_units(csv_file(content))
    assert binder.units() == [LOADER]
    assert report.added == ("LD-01",)


def test_an_old_office_encoding_keeps_its_letters(binder, csv_file):
    binder.load_units(csv_file("unit;kind\nBR-1;Bohrgerät\n".encode("cp1252")))
    assert binder.units() == [UnitRecord("BR-1", "Bohrgerät")]


def test_a_unit_without_anything_else_is_enough(binder, csv_file):
    binder.load_units(csv_file("unit\nLD-01\nFL-03\n"))
    assert binder.units() == [UnitRecord("FL-03"), UnitRecord("LD-01")]


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        ("unit,hours\nLD-01,12x4\n", r"units\.csv, line 2, column hours: '12x4' is no meter reading"),
        ("unit,hours\nLD-01,1\n\nLD-02,1.25\n", r"line 4, column hours: '1\.25' has more than one decimal"),
        ("unit,hours_on\nLD-01,20/11/2026\n", r"line 2, column hours_on: '20/11/2026' is no date"),
        ("unit,kind\n,loader\n", r"line 2, column unit: it is empty"),
        ("fleet number,kind\nLD-01,loader\n", r"line 1: there is no column 'unit' \(found fleet_number, kind\)"),
        ("unit,hours,unit\nLD-01,1,2\n", r"line 1: the column 'unit' is there twice"),
        ("unit,hours\nLD-01,1234,5\n", r"line 2: '5' stands beyond the last column"),
        ("unit,kind\nLD-01,loader\nld-01,truck\n", r"line 3, column unit: LD-01 stands in line 2"),
        ("", r"is empty"),
        (b"PK\x03\x04\x00\x00\x00\x00", r"not a CSV file; save the list as CSV"),
        ('unit,kind\nLD-01,"loader\n', r"not a CSV file"),
    ],
)
def test_a_mistake_is_named_by_file_line_and_column_and_nothing_is_kept(binder, csv_file, content, sentence):
    with pytest.raises(UsageError, match=sentence):
        binder.load_units(csv_file(content))
    assert binder.units() == []
    assert [e.kind for e in binder.journal()] == ["binder-made"]


def test_a_missing_file_is_one_sentence(binder, tmp_path):
    with pytest.raises(UsageError, match=r"none\.csv cannot be read"):
        binder.load_units(tmp_path / "none.csv")


def test_loading_again_updates_and_deletes_nothing(binder, csv_file):
    binder.load_units(csv_file("unit,kind,hours,hours_on\nLD-01,loader,1000,2026-11-01\nDT-02,truck,50,2026-11-01\n"))
    entries = len(binder.journal())
    same = binder.load_units(csv_file("unit,kind\nDT-02,truck\nLD-01,loader\n"))
    assert (same.added, same.changed, same.unchanged) == ((), (), ("DT-02", "LD-01"))
    assert len(binder.journal()) == entries
    report = binder.load_units(csv_file("unit,hours,hours_on\nLD-01,1100.5,2026-11-09\nEX-09,,\n"))
    assert (report.added, report.changed) == (("EX-09",), ("LD-01",))
    assert binder.units() == [
        UnitRecord("DT-02", "truck", Decimal("50.0"), dt.date(2026, 11, 1)),
        UnitRecord("EX-09"),
        UnitRecord("LD-01", "loader", Decimal("1100.5"), dt.date(2026, 11, 9)),
    ]
    body = binder.journal()[-1].body
    assert [row["unit"] for row in body["rows"]] == ["LD-01", "EX-09"]
    assert binder.verify().sound


def test_the_registers_hours_count_as_a_reading(binder, csv_file):
    binder.load_units(csv_file("unit,hours,hours_on\nLD-01,1234.5,2026-11-20\nLD-02,77,\n"))
    known = binder.known()
    assert binder.meter_readings("LD-01") == (MeterReading("LD-01", dt.date(2026, 11, 20), Decimal("1234.5")),)
    assert binder.meter_readings("LD-02") == ()
    assert [u.unit for u in known.units] == ["LD-01", "LD-02"]
    assert known.today == dt.date.today()


def test_the_crew_is_kept_once_each(binder, csv_file):
    report = binder.load_crew(csv_file("Name;Shift\n A.  Quarryman ;early\nB. Loader;late\nA. Quarryman;late\n"))
    assert report.added == ("A. Quarryman", "B. Loader")
    assert binder.known().crew == ("A. Quarryman", "B. Loader")
    entries = len(binder.journal())
    assert binder.load_crew(csv_file("name\nB. Loader\n")).unchanged == ("B. Loader",)
    assert len(binder.journal()) == entries
    assert binder.verify().sound


def test_a_sites_words_are_kept_with_what_lists_call_them(binder, csv_file):
    report = binder.load_words(csv_file("Word;Normal;Class\nZerk;grease fitting;Part\nlolly\nmucky;dirty;complaint\n"))
    assert report.added == ("zerk (part)", "lolly (other)", "mucky (complaint)")
    words = {(w.word, w.normal, w.category) for w in binder.known().words}
    assert words == {
        ("zerk", "grease fitting", "part"),
        ("lolly", "lolly", "other"),
        ("mucky", "dirty", "complaint"),
    }
    again = binder.load_words(csv_file("word,normal,class\nzerk,grease nipple,part\nlolly,,\n"))
    assert (again.changed, again.unchanged) == (("zerk (part)",), ("lolly (other)",))
    assert ("zerk", "grease nipple", "part") in {(w.word, w.normal, w.category) for w in binder.words()}
    assert binder.verify().problems == ()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("word,class\nzerk,thing\n", "line 2, column class: 'thing' is no class of words"),
        ("word,normal\nzerk,a\nzerk,b\n", "line 3, column word: 'zerk' stands in line 2"),
        ("word\n...\n", "line 2, column word: '...' holds no letter"),
        ("part\nzerk\n", "there is no column 'word'"),
    ],
)
def test_what_is_wrong_with_a_list_of_words_is_named(binder, csv_file, content, said):
    with pytest.raises(UsageError, match=re.escape(said)):
        binder.load_words(csv_file(content))
    assert binder.words() == ()


def test_a_sites_word_changed_behind_the_journal_is_named(binder, csv_file):
    binder.load_words(csv_file("word,normal,class\nzerk,grease fitting,part\n"))
    with sqlite3.connect(binder.folder / "record.sqlite") as raw:
        raw.execute("UPDATE word SET normal = 'nozzle'")
    (problem,) = binder.verify().problems
    assert problem == "normal of word zerk part is 'nozzle' in the tables, but 'grease fitting' by the journal."


def test_a_pads_dates_are_known_as_far_as_nobody_doubts_them(binder):
    on = [f"2026-11-{day:02d}" for day in range(2, 10)]
    sha256 = binder.archive(b"a stack", ".pdf")
    for n, day in enumerate(on, start=1):
        fields = sheet_fields(date=day)
        if n == 3:
            fields = with_field(fields, doubtful(a_field("date", "comb", day)))
        serial = serial_number("F7K2QD" if n < 8 else "Q2M9XA", n, 20)
        binder.record_page(a_sheet(sha256, n, fields, serial=serial))
    pads = tuple(dt.date.fromisoformat(day) for n, day in enumerate(on, start=1) if n not in (3, 8))
    assert binder.days_of_pad("F7K2QD") == pads
    batch = Known(days=(dt.date(2026, 1, 1),))
    assert with_pad(batch, serial_number("F7K2QD", 9, 20), binder).days == pads
    # One sheet of a pad makes no span, and a sheet whose code is torn off has no pad.
    assert with_pad(batch, serial_number("Q2M9XA", 9, 20), binder) == batch
    assert with_pad(batch, None, binder) == batch


def test_a_batch_learns_dates_and_meter_readings_that_nobody_doubts(binder, csv_file):
    binder.load_units(csv_file("unit,hours,hours_on\nLD-01,1200.5,2026-11-20\nLD-02,77.0,2026-11-20\n"))
    unsure_hours = with_field(sheet_fields(), doubtful(a_field("hours", "comb", "1234.5")))
    unsure_date = with_field(sheet_fields(), doubtful(a_field("date", "comb", "2026-11-23")))
    of_register = MeterReading("LD-01", dt.date(2026, 11, 20), Decimal("1200.5"))
    of_sheet = MeterReading("LD-01", dt.date(2026, 11, 23), Decimal("1234.5"))
    day = (dt.date(2026, 11, 23),)
    for fields, days, readings in (
        (None, day, (of_register, of_sheet)),
        (unsure_hours, day, (of_register,)),
        (unsure_date, (), (of_register,)),
    ):
        record, meters = a_sheet("a" * 64, fields=fields), MeterBook(binder)
        assert meters.of("LD-01") == (of_register,)
        meters.note(record)
        assert (learn(Known(), record).days, meters.of("LD-01")) == (days, readings)


def test_hours_are_bounded_by_readings_that_are_fetched_for_the_unit_alone(binder, csv_file):
    binder.load_units(csv_file("unit,hours,hours_on\nLD-01,1200.5,2026-11-20\nLD-02,77.0,2026-11-20\n"))
    meters = MeterBook(binder)
    known = replace(binder.known(), recall=meters.of)
    assert hours_window(known, "LD-01", dt.date(2026, 11, 21)).low == Decimal("1200.5")
    assert hours_window(known, "LD-02", dt.date(2026, 11, 21)).low == Decimal("77.0")
    assert hours_window(known, "LD-03", dt.date(2026, 11, 21)) is None


def test_a_unit_that_a_batch_comes_to_late_has_what_was_recorded_before(binder):
    meters, record = MeterBook(binder), a_sheet("a" * 64)
    binder.record_page(record)
    meters.note(record)
    assert meters.of("LD-01") == (MeterReading("LD-01", dt.date(2026, 11, 23), Decimal("1234.5")),)
