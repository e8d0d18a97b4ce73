"""The sheet of a week: its geometry, its print, and the rule it serves."""

from __future__ import annotations

import io
import json
from datetime import date
from itertools import combinations
from pathlib import Path

import numpy as np
import pdfplumber
import pytest
from commands import Run, runner

from scanform.errors import LayoutError, TemplateError, UsageError
from scanform.form import (
    CAUTION,
    DAYS,
    Box,
    FieldKind,
    Layout,
    Paper,
    date_of,
    find_template,
    lay_out,
    load_template,
    parse_code,
    parted,
)
from scanform.form.source import template_folder
from scanform.press import pad_sheets, parse_day, parse_week, sheets_pdf

MM = 72 / 25.4  # a point is 1/72 in
WEEK = "2026-W48"
MONDAY = date(2026, 11, 23)  # ISO 8601: 2026-W48 is 23 to 29 November
# What stops a machine or keeps a person alive in it; from the trade, no outside source.
ALWAYS_CRITICAL = {"service-brake", "parking-brake", "steering", "tires", "horn", "seat-belt"}


@pytest.fixture(params=list(Paper), ids=lambda p: p.value)
def sheet(request: pytest.FixtureRequest) -> Layout:
    return lay_out(find_template("quarry-weekly"), request.param)


@pytest.fixture
def scanform(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    return runner(monkeypatch, capsys)


def printed(layout: Layout, **known: object) -> pdfplumber.page.Page:
    wanted = {"unit": None, "days": (), "copies": 1} | known
    sheets = pad_sheets(layout.template, layout.paper.value, "F7K2QD", **wanted)
    (page,) = pdfplumber.open(io.BytesIO(sheets_pdf(layout, sheets))).pages
    return page


def words_in(page: pdfplumber.page.Page, box: Box) -> str:
    area = (box.x_mm * MM, box.y_mm * MM, box.right_mm * MM, box.bottom_mm * MM)
    return " ".join((page.within_bbox(area).extract_text() or "").split())


def test_the_weekly_sheet_is_for_quarry_mobile_equipment_inspected_before_use_on_a_shift() -> None:
    # 30 CFR 56.14100: self-propelled mobile equipment is inspected by its operator before use on a shift.
    template = find_template("quarry-weekly")
    assert "30 CFR 56.14100" in template.rules
    assert "mobile equipment" in template.machines.lower()
    assert "before use" in template.machines
    assert "shift" in template.machines


def test_safety_defects_are_recorded_by_item_and_day_and_stay_until_corrected(sheet: Layout) -> None:
    # 30 CFR 56.14100: defects not corrected at once are recorded and kept until corrected; a hazardous machine is
    # taken out of service. So: a line that ties words to item and day, the repair's answer, and fit or parked.
    for n in range(1, sheet.template.defect_lines + 1):
        number, day, words, repair = (sheet.field(f"defect.{n}{end}") for end in (".item", ".day", "", ".repair"))
        assert (len(number.cells_mm), len(day.cells_mm), number.charset, day.charset) == (2, 1, "digits", "digits")
        assert number.box_mm.right_mm < day.box_mm.x_mm < day.box_mm.right_mm < words.box_mm.x_mm
        assert [answer.answer for answer in repair.answers] == ["repaired", "not-needed"]
    assert [answer.answer for answer in sheet.field("fit").answers] == ["fit", "parked"]
    assert len(sheet.open_lines_mm) >= 4


def test_the_walk_goes_from_the_ground_up_to_the_moving_test_and_what_stops_a_machine_is_critical() -> None:
    # Common practice: ground level once round, under the hood, up into the cab, engine on, then the moving test.
    template = find_template("quarry-weekly")
    stages = [stage.stage.lower() for stage in template.walk]
    for stage, word in zip(stages, ("ground", "hood", "up and into", "on, standing still", "moving"), strict=True):
        assert word in stage
    assert {item.name for item in template.items if item.critical} >= ALWAYS_CRITICAL


def test_every_item_has_one_box_a_day_for_a_gloved_hand(sheet: Layout) -> None:
    # DESIGN's fixed contract: item.<name>.<day>, kind mark, days mon to sun; boxes of 5 mm, pitch at least 7 mm.
    boxes = {f.id: f for f in sheet.fields if f.kind is FieldKind.MARK}
    assert list(boxes) == [f"item.{item.name}.{day}" for item in sheet.template.items for day in DAYS]
    assert DAYS == ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
    for field in boxes.values():
        assert min(field.box_mm.w_mm, field.box_mm.h_mm) >= 5.0
    for a, b in combinations([f.box_mm for f in boxes.values()], 2):
        (ax, ay), (bx, by) = a.centre_mm, b.centre_mm
        assert max(abs(ax - bx), abs(ay - by)) >= 7.0 - 1e-6
    for item in sheet.template.items:
        row = [sheet.field(f"item.{item.name}.{day}") for day in DAYS]
        assert [f.box_mm.x_mm for f in row] == sorted(f.box_mm.x_mm for f in row)
        assert len({round(f.box_mm.y_mm, 3) for f in row}) == 1
        assert all(f.critical == item.critical for f in row)


def test_every_day_has_an_hour_meter_with_tenths_and_a_box_for_initials(sheet: Layout) -> None:
    for day in DAYS:
        hours = sheet.field(f"hours.{day}")
        assert hours.charset == "digits"
        assert len(hours.cells_mm) == sheet.template.hour_cells + 1
        assert hours.cells_mm[-1].x_mm - hours.cells_mm[-2].right_mm > 1.5  # the printed point before the tenths
        initials = sheet.field(f"initials.{day}")
        assert initials.kind is FieldKind.SIGNATURE
        assert initials.box_mm.w_mm >= 8
        middle = sheet.field(f"item.horn.{day}").box_mm.centre_mm[0]
        assert initials.box_mm.centre_mm[0] == pytest.approx(middle)
    assert "hours" not in {f.id for f in sheet.fields}


def test_the_head_asks_for_unit_the_weeks_monday_operator_and_signature(sheet: Layout) -> None:
    assert len(sheet.field("unit").cells_mm) == sheet.template.unit_cells
    assert len(sheet.field("date").cells_mm) == 8
    assert "Monday" in sheet.field("date").label
    assert sheet.field("operator").kind is FieldKind.TEXT
    assert sheet.field("signature").kind is FieldKind.SIGNATURE
    assert len(sheet.field("workshop.date").cells_mm) == 8


def test_marks_code_and_filing_margin_are_where_every_other_sheet_has_them(sheet: Layout) -> None:
    other = lay_out(find_template("site-machine"), sheet.paper)
    assert sheet.marks == other.marks
    assert sheet.code_box_mm == other.code_box_mm
    assert sheet.serial_box_mm == other.serial_box_mm
    assert min(f.box_mm.x_mm for f in sheet.fields) >= 20  # clear of the filing holes of ISO 838 and of three holes


def test_the_legend_the_days_and_the_caution_are_printed(sheet: Layout) -> None:
    page = printed(sheet)
    text = " ".join((page.extract_text() or "").split())
    for said in ("OK", "defect: say what", "or N/A: not fitted", "not used that day", "Strike it out", "Initials"):
        assert said.lower() in text.lower(), said
    for said in CAUTION.split(". "):
        assert said.split("'")[0][:30] in text
    for number, (day, title) in enumerate(zip(DAYS, ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"), strict=True), 1):
        column = sheet.field(f"item.{sheet.template.items[0].name}.{day}").box_mm
        head = words_in(page, Box(column.x_mm - 1.6, column.y_mm - 14, column.w_mm + 3.2, 13))
        assert title in head
        assert f"day {number}" in head


def test_each_box_is_drawn_as_a_frame_of_its_size(sheet: Layout) -> None:
    drawn = np.array([(line["x0"], line["x1"], line["top"], line["bottom"]) for line in printed(sheet).lines]) / MM
    for field in sheet.fields:
        if field.kind is FieldKind.MARK:
            box = field.box_mm
            for y in (box.y_mm, box.bottom_mm):
                assert np.abs(drawn - (box.x_mm, box.right_mm, y, y)).max(axis=1).min() < 0.01, field.id


def test_a_sheet_printed_for_a_week_says_its_monday_and_each_days_date(sheet: Layout) -> None:
    page = printed(sheet, unit="HT-21", days=parse_week(WEEK))
    cells = "".join(words_in(page, cell) for cell in sheet.field("date").cells_mm)
    assert cells == "20261123"
    assert "".join(words_in(page, cell) for cell in sheet.field("unit").cells_mm) == "HT21"
    dates = [words_in(page, head.grown(0.4)) for head in sheet.day_heads_mm]
    assert dates == ["11-23", "11-24", "11-25", "11-26", "11-27", "11-28", "11-29"]
    code = parse_code(words_in(page, sheet.serial_box_mm.grown(1)))
    assert code is not None
    assert (code.template, code.unit, code.on) == ("quarry-weekly", "HT-21", MONDAY)


def test_the_week_over_new_year_keeps_its_monday(sheet: Layout) -> None:
    # ISO 8601: 2026 has 53 weeks; 2026-W53 ends on 2027-01-03.
    page = printed(sheet, days=parse_week("2026-W53"))
    assert words_in(page, sheet.day_heads_mm[-1].grown(0.4)) == "01-03"
    assert date_of(date(2026, 12, 28), "sun") == date(2027, 1, 3)


def test_a_week_is_one_sheet_and_a_day_that_is_no_monday_is_refused() -> None:
    template = find_template("quarry-weekly")
    assert len(pad_sheets(template, "a4", "F7K2QD", unit=None, days=parse_week(WEEK), copies=1)) == 1
    assert len(pad_sheets(template, "a4", "F7K2QD", unit=None, days=(MONDAY,), copies=3)) == 3
    with pytest.raises(UsageError, match="begins on a Monday; give --date 2026-11-23 or --week 2026-W48"):
        pad_sheets(template, "a4", "F7K2QD", unit=None, days=(parse_day("2026-11-26"),), copies=1)
    daily = find_template("site-machine")
    assert len(pad_sheets(daily, "a4", "F7K2QD", unit=None, days=parse_week(WEEK), copies=1)) == 7


def test_layout_and_print_work_from_the_command_line(scanform: Run, tmp_path: Path) -> None:
    ran = scanform("layout", "quarry-weekly", "--paper", "letter")
    (page,) = json.loads(ran.out)["pages"]
    marks = [f for f in page["fields"] if f["kind"] == "mark"]
    assert marks[0]["id"] == "item.leaks.mon"
    assert len(marks[0]["box_mm"]) == 4
    assert len(marks) == 7 * len(find_template("quarry-weekly").items)
    pdf = tmp_path / "week.pdf"
    ran = scanform("print", "quarry-weekly", "--out", pdf, "--unit", "HT-21", "--week", WEEK)
    assert ran.code == 0
    assert "1 sheet" in ran.out
    assert len(pdfplumber.open(pdf).pages) == 1


# What a wrong template file is told.


def rewritten(tmp_path: Path, *changes: tuple[str, str]) -> Path:
    text = (template_folder() / "quarry-weekly.yaml").read_text()
    for before, after in changes:
        assert before in text
        text = text.replace(before, after, 1)
    path = tmp_path / "own.yaml"
    path.write_text(text)
    return path


def test_a_sheet_that_covers_neither_a_day_nor_a_week_is_refused_with_file_line_and_key(tmp_path: Path) -> None:
    path = rewritten(tmp_path, ("covers: week", "covers: fortnight"))
    with pytest.raises(
        TemplateError, match=r"own.yaml, line 4, key 'covers': Input should be 'day', 'week' or 'month'"
    ):
        load_template(path)


@pytest.mark.parametrize("paper", list(Paper))
def test_a_week_with_more_on_it_than_fits_is_refused_with_what_to_take_out(tmp_path: Path, paper: Paper) -> None:
    more = "".join(f'\n      - name: extra-{n}\n        text: "One thing more"' for n in range(6))
    long_walk = load_template(rewritten(tmp_path, ('text: "Steering, lock to lock"', f'text: "Steering"{more}')))
    with pytest.raises(LayoutError, match=r"key 'walk': the check list is \d+ mm longer than there is room for; take"):
        lay_out(long_walk, paper)
    wide_unit = load_template(rewritten(tmp_path, ('text: "Horn"', f'text: "{"Horn and whistle, " * 6}"')))
    with pytest.raises(LayoutError, match="item 'horn': its text needs 3 lines"):
        lay_out(wide_unit, paper)


def test_defect_lines_that_leave_no_room_for_seven_hour_meters_are_refused(tmp_path: Path) -> None:
    head, _, _ = (template_folder() / "quarry-weekly.yaml").read_text().partition("walk:")
    few = head.replace("defect_lines: 4", "defect_lines: 9")
    path = tmp_path / "few.yaml"
    path.write_text(few + 'walk:\n  - stage: Ground\n    items:\n      - name: tires\n        text: "Tires"\n')
    with pytest.raises(LayoutError, match="key 'defect_lines': signs and hour meter for seven days need"):
        lay_out(load_template(path), Paper.LETTER)


def test_a_day_belongs_to_a_field_only_where_something_stands_before_it() -> None:
    assert parted("item.tires.tue") == ("item.tires", "tue")
    assert parted("hours.sun") == ("hours", "sun")
    assert parted("item.sun") == ("item.sun", None)  # an item of that name on a sheet of one day
    assert parted("date") == ("date", None)
    assert parted("defect.1.day") == ("defect.1.day", None)
