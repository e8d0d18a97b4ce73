"""Spreadsheets as offices draw them: one grid for header and days, parts' headings under the heads, heads again."""

from __future__ import annotations

from pathlib import Path

from blank_forms import ITEMS, Pen, fields_of, proposed

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def row(pen: Pen, y: float, high: float, cells: list[tuple[float, float, str]]) -> None:
    for x, wide, words in cells:
        pen.box(x, y, wide, high)
        if words:
            pen.text(x + 1, y + high - 2, words, 8)


def week_sheet(pen: Pen) -> None:
    """The depot's room is as wide as the Sunday below it; meter and initials by the day; a second date at the foot."""
    pen.text(10, 15, "TRACTOR - WEEK SHEET", 14)
    row(pen, 20, 8, [(10, 50, "Tractor no."), (60, 36, ""), (96, 36, "Week beginning"), (132, 36, "")])
    row(pen, 20, 8, [(168, 18, "Depot"), (186, 18, "")])
    row(pen, 28, 8, [(10, 50, "Driver"), (60, 108, ""), (168, 18, "Team"), (186, 18, "")])
    columns = [(78 + 18 * n, 18, day) for n, day in enumerate(DAYS)]
    row(pen, 40, 6, [(10, 68, "Check daily"), *columns])
    row(pen, 46, 6, [(10, 194, "TRACTOR")])
    for n, item in enumerate([*ITEMS, "Hour clock at finish", "Driver's initials"]):
        row(pen, 52 + 6 * n, 6, [(10, 68, item), *((x, w, "") for x, w, _ in columns)])
    pen.text(10, 115, "tick = in order   X = defect   N/A = not fitted", 8)
    row(pen, 120, 8, [(10, 40, "Charge hand"), (50, 60, ""), (110, 30, "Date seen"), (140, 64, "")])


def test_a_day_begins_below_its_head_though_the_rooms_over_it_are_as_wide(tmp_path: Path) -> None:
    fields = fields_of(proposed(tmp_path, week_sheet))
    assert {f"item.horn.{day.lower()}" for day in DAYS} <= set(fields)
    assert {f"hours.{day.lower()}" for day in DAYS} <= set(fields)
    assert (fields["site"].label, fields["team"].label) == ("Depot", "Team")


def test_a_weeks_sheet_is_filed_under_its_week_and_not_under_another_date(tmp_path: Path) -> None:
    fields = fields_of(proposed(tmp_path, week_sheet))
    assert (fields["date"].label, fields["date-seen"].label) == ("Week beginning", "Date seen")


def signed_list(pen: Pen) -> None:
    """A part's heading between heads and first item; the heads again over the second part; lines for remarks."""
    pen.text(10, 15, "DOZER - DAILY", 14)
    pen.text(10, 26, "Dozer no.")
    pen.line(30, 26.5, 80, 26.5)
    pen.text(10, 33, "tick = OK   X = needs repair   NA = does not apply", 8)
    heads = [(10, 90, "Check"), (100, 22, "Condition"), (122, 70, "Comments")]
    for part, (top, name) in enumerate(((38, "UNDERCARRIAGE"), (108, "ENGINE"))):
        row(pen, top, 6, heads)
        row(pen, top + 6, 6, [(10, 182, name)])
        for n, item in enumerate(ITEMS):
            row(pen, top + 12 + 6 * n, 6, [(10, 90, f"{item} {part + 1}"), (100, 22, ""), (122, 70, "")])
    pen.text(10, 178, "Other repairs needed")
    for n in range(2):
        pen.line(10, 186 + 8 * n, 190, 186 + 8 * n)


def test_the_row_of_a_lists_heads_is_no_room_to_write_in(tmp_path: Path) -> None:
    fields = fields_of(proposed(tmp_path, signed_list))
    assert len([name for name in fields if name.startswith("item.")]) == 2 * len(ITEMS)
    assert len([name for name in fields if name.startswith("note.")]) == 2 * len(ITEMS)
    others = [name for name in fields if not name.startswith(("item.", "note."))]
    assert others == ["unit", "remarks.1", "remarks.2"]


def answers_again(pen: Pen) -> None:
    """Two tables with the same answers, the head of the second one's items left empty."""
    pen.text(10, 15, "GRADER - DAILY", 14)
    pen.text(10, 26, "Unit no.")
    pen.line(30, 26.5, 80, 26.5)
    for top, head in ((35, "Check"), (105, "")):
        row(pen, top, 7, [(10, 90, head), (100, 14, "OK"), (114, 16, "Repair"), (130, 14, "N/A")])
        for n, item in enumerate(ITEMS):
            row(pen, top + 7 * (n + 1), 7, [(10, 90, item), (100, 14, ""), (114, 16, ""), (130, 14, "")])


def test_an_empty_head_over_a_second_table_is_no_room_to_write_in(tmp_path: Path) -> None:
    fields = fields_of(proposed(tmp_path, answers_again))
    assert [name for name in fields if not name.startswith("item.")] == ["unit"]
    assert len(fields) == 1 + 2 * len(ITEMS)
