"""The register of defects: each once, with its life, and never closed by anything doubtful."""

from __future__ import annotations

import csv
import datetime as dt
import sqlite3
from contextlib import closing as shut
from dataclasses import replace

import pdfplumber
import pytest
from changed_sheets import UNIT, doubt, sheet, value
from commands import one_sentence
from made_quarter import MONDAY, TrueDefect, daily

from scanform.binder import ClosingWish, open_binder
from scanform.errors import UsageError
from scanform.report import close_by_name, close_from_csv, defect_register, still_open

DAY = dt.timedelta(days=1)


def test_every_defect_of_a_made_quarter_is_told_as_it_was(quarter):
    binder, truth = quarter[0], quarter[1].defects
    found = {
        frozenset(entry.ref for entry in d.reports): (d.unit, d.item, d.closed.on if d.closed else None, d.times)
        for d in defect_register(binder)
    }
    assert found == {frozenset(d.refs): (d.unit, f"item.{d.item}", d.closed_on, _times(d)) for d in truth}
    assert sum(d.recurrence_of is not None for d in truth) > 5
    assert sum(d.closed_on is not None and not d.on_paper for d in truth) > 1


def _times(defect: TrueDefect) -> int:
    return 0 if defect.recurrence_of is None else 1 + _times(defect.recurrence_of)


def test_the_dates_and_counts_of_each_defect_are_those_of_its_reports(quarter):
    binder, truth = quarter[0], quarter[1].defects
    by_ref = {d.name: d for d in defect_register(binder)}
    for true in truth:
        found = by_ref[next(ref for ref in true.refs if ref in by_ref)]
        assert (found.first, found.last, len(found.reports)) == (true.days[0], true.days[-1], len(true.days))


def test_the_register_survives_the_check_against_the_journal(quarter):
    binder, _ = quarter
    report = binder.verify()
    assert report.sound, report.problems


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(daily().template)
        yield opened


# One defect or two


def test_the_same_complaint_on_the_next_days_sheet_is_the_same_defect(binder):
    sheet(binder, MONDAY, ("parking-brake", "park brake won't hold on ramp"))
    sheet(binder, MONDAY + DAY, ("parking-brake", "PARK BRAKE SAME AS YESTERDAY"))
    (defect,) = defect_register(binder)
    assert (defect.first, defect.last, len(defect.reports)) == (MONDAY, MONDAY + DAY, 2)
    assert (defect.words, defect.critical) == ("parking brake: not holding", True)


def test_left_and_right_are_two_defects_and_closing_one_leaves_the_other_open(binder):
    sheet(binder, MONDAY, ("lights", "left tail light out"))
    sheet(binder, MONDAY + DAY, ("lights", "right tail light out", "repaired"))
    states = {d.words: d.state for d in defect_register(binder)}
    assert states == {"left tail light: not working": "open", "right tail light: not working": "repaired"}


def test_another_complaint_on_the_same_item_is_another_defect_also_after_a_line_that_points_back(binder):
    sheet(binder, MONDAY, ("service-brake", "brakes pull left"))
    sheet(binder, MONDAY + DAY, ("service-brake", "same as yesterday"))
    sheet(binder, MONDAY + 2 * DAY, ("service-brake", "pedal goes to floor"))
    sheet(binder, MONDAY + 3 * DAY, ("service-brake", "brakes pull left again"))
    assert sorted(len(d.reports) for d in defect_register(binder)) == [1, 3]


@pytest.mark.parametrize("words", ["no horn", "horn dead again", "HORN NOT WORKING"])
def test_a_dead_horn_is_one_defect_however_it_is_written(binder, words):
    sheet(binder, MONDAY, ("horn", "horn dead"))
    sheet(binder, MONDAY + DAY, ("horn", words))
    assert len(defect_register(binder)) == 1


def test_words_that_are_perhaps_misread_join_the_defect_that_they_look_like_until_a_person_says_otherwise(binder):
    sheet(binder, MONDAY, ("tires", "right rear tire flat"))
    number = sheet(binder, MONDAY + DAY, ("tires", "night near tire flat"), changed=(doubt("defect.1"),))
    assert len(defect_register(binder)) == 1
    binder.confirm(f"{number}.defect.1", "left front tire cut", "AB")
    assert len(defect_register(binder)) == 2


def test_left_and_right_stay_apart_even_where_the_words_are_doubtful(binder):
    sheet(binder, MONDAY, ("lights", "left tail light out"))
    sheet(binder, MONDAY + DAY, ("lights", "right tail light out"), changed=(doubt("defect.1"),))
    assert len(defect_register(binder)) == 2


def test_an_answer_defect_without_words_belongs_to_the_open_defect_of_its_item(binder):
    sheet(binder, MONDAY, ("horn", "horn dead"))
    sheet(binder, MONDAY + DAY, ("horn", ""))
    (defect,) = defect_register(binder)
    assert len(defect.reports) == 2


def test_two_units_never_share_a_defect_and_neither_do_two_sheets_without_a_unit(binder):
    sheet(binder, MONDAY, ("horn", "horn dead"))
    sheet(binder, MONDAY, ("horn", "horn dead"), unit="WL03")
    page = binder.page_numbered(1).record
    for n in (8, 9):
        binder.record_page(replace(page, page_number=n, unit=None))
    assert sorted((d.unit or "?", len(d.reports)) for d in defect_register(binder)) == [
        *(("?", 1), ("?", 1), ("WL03", 1), ("WL07", 1)),
    ]


def test_a_complaint_that_comes_back_after_the_repair_is_a_recurrence(binder):
    sheet(binder, MONDAY, ("horn", "horn dead", "repaired"))
    first = sheet(binder, MONDAY + 3 * DAY, ("horn", "horn dead"))
    again, before = defect_register(binder)
    assert (again.name, again.recurrence_of, again.times) == (f"{first}.defect.1", before.name, 1)
    assert (again.is_open, before.state) == (True, "repaired")


# What closes a defect, and what does not


def test_an_answer_ok_on_a_later_sheet_closes_nothing(binder):
    sheet(binder, MONDAY, ("horn", "horn dead"))
    sheet(binder, MONDAY + DAY)
    assert [d.state for d in defect_register(binder)] == ["open"]


def test_the_workshops_block_closes_with_its_date_and_names_its_paper(binder):
    number = sheet(
        binder,
        MONDAY,
        ("horn", "horn dead", "not-needed"),
        changed=[value("workshop.date", (MONDAY + 2 * DAY).isoformat())],
    )
    (defect,) = defect_register(binder)
    assert (defect.state, defect.closed.on, defect.closed.initials) == ("not-needed", MONDAY + 2 * DAY, None)
    assert defect.closed.where == f"workshop's block of sheet {number} (monday.pdf, page 1)"


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        (doubt("defect.1.repair"), "the mark must be confirmed"),
        (doubt("workshop.date"), "the workshop's date must be confirmed"),
        (doubt("workshop.signature"), "the workshop's signature must be confirmed"),
        (value("workshop.signature", False), "without a signature"),
        (value("workshop.date", "2026-05-30"), "a date before the report's"),
    ],
)
def test_a_doubtful_or_unsigned_repair_closes_nothing_and_the_list_says_why(binder, changed, why):
    sheet(binder, MONDAY, ("horn", "horn dead", "repaired"), changed=[changed])
    (defect,) = defect_register(binder)
    assert defect.is_open
    assert any(why in said for said in defect.doubts)


def test_a_person_who_confirms_the_mark_closes_the_defect(binder):
    number = sheet(binder, MONDAY, ("horn", "horn dead", "repaired"), changed=[doubt("defect.1.repair")])
    binder.confirm(f"{number}.defect.1.repair", "repaired", "AB")
    assert [d.state for d in defect_register(binder)] == ["repaired"]


def test_doubtful_reports_stay_on_the_list_and_say_that_they_are_doubtful(binder):
    number = sheet(binder, MONDAY, ("horn", "horn dead"), changed=[doubt("item.horn"), doubt("unit")])
    (defect,) = still_open(defect_register(binder))
    assert defect.doubts == (f"the unit of sheet {number} is doubtful", f"the report on sheet {number} is doubtful")


# Used with an open safety defect


def test_days_of_use_with_an_open_safety_defect_are_named_and_come_first(binder):
    sheet(binder, MONDAY, ("wipers", "wiper blade torn"), unit="AA01")
    sheet(binder, MONDAY, ("horn", "horn dead"), fit="parked", unit="AA02")
    sheet(binder, MONDAY, ("parking-brake", "brake lever slips"))
    sheet(binder, MONDAY + DAY)
    sheet(binder, MONDAY + 2 * DAY, ("parking-brake", "brake lever slips"), fit="parked")
    first, second, third = defect_register(binder)
    assert (first.unit, first.used_on) == (UNIT, (MONDAY, MONDAY + DAY))
    assert (second.unit, second.used_on) == ("AA02", ())
    assert third.unit == "AA01"


def test_use_after_the_closing_is_no_use_with_an_open_defect(binder):
    sheet(binder, MONDAY, ("horn", "horn dead"), fit="parked")
    sheet(binder, MONDAY + DAY, ("horn", "horn dead", "repaired"), fit="parked")
    sheet(binder, MONDAY + 2 * DAY)
    (defect,) = defect_register(binder)
    assert defect.used_on == ()


# Closing by command and from a list


def wish(ref, on=MONDAY + DAY, **other):
    return ClosingWish(ref, "repaired", on, "Otis Granger", "work order 4711", **other)


def test_a_closing_names_who_and_on_what_paper_and_can_be_taken_back(binder):
    number = sheet(binder, MONDAY, ("horn", "horn dead"))
    ref = f"{number}.defect.1"
    close_by_name(binder, [wish(ref)], "og")
    (defect,) = defect_register(binder)
    assert (defect.closed.by, defect.closed.where, defect.closed.initials) == ("Otis Granger", "work order 4711", "OG")
    assert binder.withdraw_closing(ref, "AB").ref == ref
    assert [d.state for d in defect_register(binder)] == ["open"]
    assert [entry.kind for entry in binder.journal()][-2:] == ["defect-closed", "closing-withdrawn"]
    assert binder.verify().sound


def test_a_closing_changed_behind_the_journals_back_is_found(binder, tmp_path):
    number = sheet(binder, MONDAY, ("horn", "horn dead"))
    close_by_name(binder, [wish(f"{number}.defect.1")], "OG")
    with shut(sqlite3.connect(tmp_path / "binder" / "record.sqlite")) as behind:
        behind.execute("UPDATE closing SET closed_by = 'nobody'")
        behind.commit()
    (problem,) = binder.verify().problems
    assert "closed_by of closing" in problem


@pytest.mark.parametrize(
    ("ref", "on", "why"),
    [
        ("1.item.tires", MONDAY + DAY, "no defect has this name"),
        ("9.defect.1", MONDAY + DAY, "no defect has this name"),
        ("1.defect.1", MONDAY - DAY, "cannot have been closed"),
        ("1.defect.1", dt.date(2999, 1, 1), "still to come"),
    ],
)
def test_a_closing_that_cannot_be_is_refused_with_the_reason(binder, ref, on, why):
    sheet(binder, MONDAY, ("horn", "horn dead"))
    with pytest.raises(UsageError, match=why):
        close_by_name(binder, [wish(ref, on)], "OG")


def test_a_list_with_one_bad_row_closes_nothing(binder, tmp_path):
    sheet(binder, MONDAY, ("horn", "horn dead"), ("wipers", "wiper blade torn"))
    path = tmp_path / "list.csv"
    path.write_text(
        "defect,repair,closed_on,closed_by,paper\n"
        f"1.defect.1,repaired,{MONDAY},Otis Granger,WO 1\n1.defect.2,repaired,soon,Otis Granger,WO 1\n"
    )
    with pytest.raises(UsageError, match="line 3, column closed_on"):
        close_from_csv(binder, path, "OG")
    assert len(still_open(defect_register(binder))) == 2


def test_the_exported_list_filled_in_by_the_workshop_closes_its_defects(binder, tmp_path, run):
    sheet(binder, MONDAY, ("horn", "horn dead"), ("wipers", "wiper blade torn"))
    path = tmp_path / "open.csv"
    assert run("defects", "--binder", binder.folder, "--out", path).code == 0
    with path.open(encoding="utf-8-sig", newline="") as handle:
        rows = list(csv.DictReader(handle))
    assert [row["words"] for row in rows] == ["horn: not working", "wiper blade: torn"]
    rows[0] |= {"repair": "repaired", "closed_on": str(MONDAY), "closed_by": "Otis Granger", "paper": "WO 7"}
    with path.open("w", newline="") as handle:
        writer = csv.DictWriter(handle, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    ran = run("close", "--list", path, "--binder", binder.folder, "--initials", "OG")
    assert ran.code == 0, ran.err
    assert "1 closed, 1 still open" in ran.out
    assert run("close", "--list", path, "--binder", binder.folder, "--initials", "OG").code == 0  # again is no error


def test_the_command_lists_danger_first_with_the_caution(binder, run):
    sheet(binder, MONDAY, ("wipers", "wiper blade torn"), unit="AA01")
    sheet(binder, MONDAY, ("horn", "horn dead"))
    ran = run("defects", "--binder", binder.folder)
    assert ran.out.index("USED WITH AN OPEN SAFETY DEFECT: WL07 (20 Horn") < ran.out.index("wiper blade")
    assert "stays parked until a competent person" in " ".join(ran.out.split())
    assert "2 open, 0 closed" in ran.out
    assert "1 open, 0 closed on WL07" in run("defects", "--binder", binder.folder, "--unit", "wl-07").out
    # A mistyped number must not look like a machine without defects.
    assert "check the number" in one_sentence(run("defects", "--binder", binder.folder, "--unit", "WL70").err)


def test_the_command_closes_and_reopens_and_says_what_is_missing(binder, run):
    sheet(binder, MONDAY, ("horn", "horn dead"))
    to = ("--binder", binder.folder, "--initials", "OG")
    assert "--by and --paper" in one_sentence(run("close", "1.defect.1", "--repaired", *to).err)
    said = ("--repaired", "--by", "Otis Granger", "--paper", "WO 7", "--on", str(MONDAY))
    assert "1 closed, 0 still open" in run("close", "1.defect.1", *said, *to).out
    assert "it was closed on" in one_sentence(run("close", "1.defect.1", *said[:-1], str(MONDAY + DAY), *to).err)
    assert "open again" in run("reopen", "1.defect.1", *to).out


def test_a_pad_shows_what_the_binder_says_is_open(binder, run, tmp_path):
    sheet(binder, MONDAY, ("horn", "horn dead"), ("wipers", "wiper blade torn", "repaired"))
    pad = tmp_path / "pad.pdf"
    to_print = ("print", "site-machine", "--date", "2026-06-02", "--out", pad, "--binder", binder.folder)
    assert "--unit" in one_sentence(run(*to_print).err)
    assert run(*to_print, "--unit", "WL-07").code == 0
    with pdfplumber.open(pad) as opened:
        text = opened.pages[0].extract_text()
    assert "horn: not working (since 2026-06-01)" in text
    assert "wiper blade" not in text
