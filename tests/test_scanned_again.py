"""A week's sheet scanned on Tuesday and, with more on it, on Friday: nothing that was sure or said of it is lost."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from commands import runner
from made_quarter import settled
from made_week import MONDAY, week

from scanform.binder import Binder, ClosingWish, PageRecord, open_binder
from scanform.form import DAYS
from scanform.report import close_by_name, counted_sheets, defect_named, defect_register, standing_closing
from scanform.report.retention import closings_that_go_on
from scanform.settle import Outcome, State

BRAKES = "item.service-brake.mon"
LINE = {"defect.1.item": "13", "defect.1.day": "1", "defect.1": "brake pedal goes to the floor"}
TUESDAY, FRIDAY = 2, 5  # so many days are filled in
REPAIRED = MONDAY + dt.timedelta(days=2)


@pytest.fixture
def binder(tmp_path: Path) -> Iterator[Binder]:
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(week().template)
        yield opened


def scanned(
    binder: Binder, days: int, said: Mapping[str, str | None], unsure: tuple[str, ...] = (), serial: str = "F7K2QD0101"
) -> int:
    """The sheet with so many days filled in, all OK but for what is said; its number on record."""
    filled = DAYS[:days]
    values: dict[str, str | bool | None] = {
        "unit": "HT-21",
        "date": MONDAY.isoformat(),
        "fit": "fit",
        "signature": True,
    }
    for field in week().fields:
        day = field.id.rpartition(".")[2]
        if field.kind.value == "mark":
            values[field.id] = "ok" if day in filled else None
        elif field.id.startswith("initials."):
            values[field.id] = day in filled
    values |= said
    fields = tuple(
        replace(
            settled(field.id, field.kind.value, values.get(field.id), field.critical),
            state=State.DOUBTFUL if field.id in unsure else State.ACCEPTED,
        )
        for field in week().fields
    )
    form, sha256 = week().template, binder.archive(b"%d days" % days, ".pdf")
    scan = PageRecord(
        f"{days}.pdf", f"/scans/{days}.pdf", 1, sha256, Outcome.READ, None, form.name, form.version, serial
    )
    return binder.record_page(replace(scan, unit="HT-21", date=MONDAY, fields=fields)).number


def counted(binder: Binder) -> list[int]:
    return list(counted_sheets(binder)["sheet"])


def open_defects(binder: Binder) -> list[tuple[str, bool]]:
    return [(defect.name, defect.sure) for defect in defect_register(binder) if defect.is_open]


def test_of_a_sheet_scanned_twice_the_fuller_scan_counts(binder: Binder) -> None:
    scanned(binder, TUESDAY, {BRAKES: "defect"} | LINE)
    scanned(binder, FRIDAY, {BRAKES: "defect"} | LINE)
    assert (counted(binder), open_defects(binder)) == ([2], [("2.defect.1", True)])


@pytest.mark.parametrize("read_as", ["ok", None, "defect"])
@pytest.mark.parametrize("confirmed", [True, False])
def test_a_defect_that_is_sure_on_the_first_scan_stays_open_while_the_second_is_in_doubt_of_it(
    binder: Binder, read_as: str | None, confirmed: bool
) -> None:
    scanned(binder, TUESDAY, {BRAKES: "defect"}, unsure=(BRAKES,) if confirmed else ())
    if confirmed:
        binder.confirm(f"1.{BRAKES}", "defect", "AB")
    scanned(binder, FRIDAY, {BRAKES: read_as}, unsure=(BRAKES,))
    assert counted(binder) == [1, 2]
    assert open_defects(binder) == [(f"1.{BRAKES}", True)]
    assert [doubt.ref for doubt in binder.queue()] == [f"2.{BRAKES}"], "asked once"
    binder.confirm(f"2.{BRAKES}", "defect", "AB")
    assert (counted(binder), open_defects(binder)) == ([2], [(f"2.{BRAKES}", True)])


def test_two_persons_who_say_otherwise_of_two_scans_leave_the_defect_open(binder: Binder) -> None:
    scanned(binder, TUESDAY, {BRAKES: "defect"})
    scanned(binder, FRIDAY, {BRAKES: "ok"}, unsure=(BRAKES,))
    binder.confirm(f"2.{BRAKES}", "ok", "CD")
    assert (counted(binder), open_defects(binder)) == ([1, 2], [(f"1.{BRAKES}", True)])


def test_words_that_a_person_has_put_right_stay_until_the_second_scan_says_them_too(binder: Binder) -> None:
    misread = LINE | {"defect.1": "brane pedol goes to the flan"}
    scanned(binder, TUESDAY, {BRAKES: "defect"} | misread)
    binder.confirm("1.defect.1", LINE["defect.1"], "AB")
    scanned(binder, FRIDAY, {BRAKES: "defect"} | misread, unsure=("defect.1",))
    assert counted(binder) == [1, 2]
    binder.confirm("2.defect.1", LINE["defect.1"], "AB")
    assert counted(binder) == [2]


def test_what_is_in_doubt_on_the_second_scan_of_an_answer_ok_keeps_no_scan(binder: Binder) -> None:
    scanned(binder, TUESDAY, {})
    scanned(binder, FRIDAY, {BRAKES: None}, unsure=(BRAKES,))
    assert counted(binder) == [2]


def close(binder: Binder, name: str, on: dt.date = REPAIRED) -> None:
    close_by_name(binder, [ClosingWish(name, "repaired", on, "Otis Granger", "work order 4711")], "AB")


@pytest.mark.parametrize(
    ("first", "name", "later", "name_now"),
    [
        ({}, f"1.{BRAKES}", {}, f"2.{BRAKES}"),
        (LINE, "1.defect.1", LINE, "2.defect.1"),
        ({}, f"1.{BRAKES}", LINE, "2.defect.1"),
    ],
)
def test_a_defect_that_was_closed_stays_closed_when_its_sheet_is_scanned_again(
    binder: Binder, first: dict[str, str | None], name: str, later: dict[str, str | None], name_now: str
) -> None:
    scanned(binder, TUESDAY, {BRAKES: "defect"} | first)
    close(binder, name)
    (before,) = defect_register(binder)
    scanned(binder, FRIDAY, {BRAKES: "defect"} | later)
    (defect,) = defect_register(binder)
    assert (counted(binder), defect.name, defect.state) == ([2], name_now, "repaired")
    assert defect.used_on == before.used_on, "no day after the repair"
    assert binder.verify().problems == ()


def test_what_was_closed_on_its_own_day_stays_closed_too(binder: Binder) -> None:
    scanned(binder, TUESDAY, {BRAKES: "defect"} | LINE)
    close(binder, "1.defect.1", on=MONDAY)
    scanned(binder, FRIDAY, {BRAKES: "defect"} | LINE)
    assert [(defect.name, defect.state) for defect in defect_register(binder)] == [("2.defect.1", "repaired")]


def test_a_defect_that_is_marked_again_after_the_repair_came_back(binder: Binder) -> None:
    scanned(binder, TUESDAY, {BRAKES: "defect"})
    close(binder, f"1.{BRAKES}", on=MONDAY + dt.timedelta(days=1))
    scanned(binder, FRIDAY, {BRAKES: "defect", "item.service-brake.thu": "defect"})
    states = [(defect.name, defect.state) for defect in defect_register(binder)]
    assert states == [("2.item.service-brake.thu", "open"), (f"2.{BRAKES}", "repaired")]


def test_a_closing_of_a_later_marked_day_goes_on(binder: Binder) -> None:
    marked = {BRAKES: "defect", "item.service-brake.tue": "defect"}
    scanned(binder, TUESDAY, marked)
    close(binder, "1.item.service-brake.tue")
    scanned(binder, FRIDAY, marked)
    assert open_defects(binder) == []


def test_a_closing_goes_on_when_the_file_of_the_first_scan_is_deleted_alone(binder: Binder) -> None:
    scanned(binder, TUESDAY, {BRAKES: "defect"})
    close(binder, f"1.{BRAKES}")
    scanned(binder, FRIDAY, {BRAKES: "defect"})
    (wish,) = closings_that_go_on(defect_register(binder), {1})
    assert (wish.ref, wish.closed_on) == (f"2.{BRAKES}", REPAIRED)


def test_a_closing_is_of_no_other_complaint_of_the_sheet(binder: Binder) -> None:
    scanned(binder, TUESDAY, {BRAKES: "defect"})
    close(binder, f"1.{BRAKES}")
    scanned(binder, FRIDAY, {BRAKES: "defect", "item.horn.thu": "defect"})
    assert open_defects(binder) == [("2.item.horn.thu", True)]


def test_a_defect_answers_to_the_name_that_stands_on_the_workshops_list(binder: Binder) -> None:
    scanned(binder, TUESDAY, {BRAKES: "defect"} | LINE)
    scanned(binder, FRIDAY, {BRAKES: "defect"} | LINE)
    assert defect_named(binder, defect_register(binder), "1.defect.1").name == "2.defect.1"
    assert defect_named(binder, defect_register(binder), "9.defect.1") is None
    close(binder, "1.defect.1")
    assert open_defects(binder) == []
    assert standing_closing(binder, ["2.defect.1"]) == "1.defect.1"


def test_by_command_what_was_closed_before_the_second_scan_is_opened_again_by_its_new_name(
    binder: Binder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    scanned(binder, TUESDAY, {BRAKES: "defect"} | LINE)
    close(binder, "1.defect.1")
    scanned(binder, FRIDAY, {BRAKES: "defect"} | LINE)
    told = runner(monkeypatch, capsys)("reopen", "2.defect.1", "--binder", str(binder.folder), "--initials", "AB")
    assert "open again" in told.out
    assert open_defects(binder) == [("2.defect.1", True)]
