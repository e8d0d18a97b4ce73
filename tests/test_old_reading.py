"""Old forms: words that are circled, dates, hours and remarks in free writing, read off pages with real strokes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import cv2
import numpy as np
import pytest
from old_pages import (
    COUNT,
    DATE,
    HOURS,
    PX,
    REMARKS,
    UNIT,
    Paint,
    layout_of,
    neat_writer,
    page_with,
    word_box,
    writing,
)

from scanform.form import Box, FieldKind
from scanform.read import Instruments, read_sheet
from scanform.settle import Known, MeterReading, SettledField, State, UnitRecord, settle_sheet
from scanform.training.old_fields import make_field_page
from scanform.training.old_rings import line_through, line_under, ring_round

TODAY = date(2026, 7, 1)
LAYOUT = layout_of()
PLAIN = Known(today=TODAY)
Settle = Callable[..., dict[str, SettledField]]


@pytest.fixture(scope="module")
def instruments() -> Instruments:
    return Instruments()


@pytest.fixture(scope="module")
def settle(instruments: Instruments) -> Settle:
    def settled(*strokes: Paint, known: Known = PLAIN, off_mm: tuple[float, float] = (0.2, -0.15), pattern: str = ""):
        layout = layout_of(pattern) if pattern else LAYOUT
        readings = read_sheet(page_with(layout, *strokes, off_mm=off_mm), instruments)
        return {field.id: field for field in settle_sheet(layout, readings, known)}

    return settled


def ringed(answer: str, seed: int = 8_430_001) -> Paint:
    return lambda page: ring_round(page, word_box(LAYOUT, answer), neat_writer(), np.random.default_rng(seed))


def underlined(answer: str) -> Paint:
    return lambda page: line_under(page, word_box(LAYOUT, answer), neat_writer(), np.random.default_rng(8_430_002))


def struck(answer: str) -> Paint:
    return lambda page: line_through(page, word_box(LAYOUT, answer), neat_writer(), np.random.default_rng(8_430_003))


@pytest.mark.parametrize("answer", ["ok", "defect", "na"])
def test_the_ringed_word_is_the_answer(settle: Settle, answer: str) -> None:
    field = settle(ringed(answer))["item.oil"]
    assert (field.value, field.state) == (answer, State.ACCEPTED)


def test_an_underlined_word_is_an_answer(settle: Settle) -> None:
    assert settle(underlined("defect"))["item.oil"].value == "defect"


def test_the_word_that_is_left_when_all_others_are_struck_is_the_answer(settle: Settle) -> None:
    assert settle(struck("defect"), struck("na"))["item.oil"].value == "ok"


def test_two_ringed_words_are_a_doubt_that_names_both(settle: Settle) -> None:
    field = settle(ringed("ok"), ringed("defect", 8_430_004))["item.oil"]
    assert field.state is State.DOUBTFUL
    assert "ok and defect are both marked" in field.reasons


def test_an_item_without_any_ring_is_a_doubt(settle: Settle) -> None:
    field = settle()["item.oil"]
    assert (field.value, field.state) == (None, State.DOUBTFUL)
    assert field.reasons == ("no answer is marked",)


@pytest.mark.parametrize("off_mm", [(0.3, 0.0), (0.0, 0.3), (-0.2, -0.2)])
def test_a_map_that_is_off_by_three_tenths_makes_no_print_into_ink(settle: Settle, off_mm: tuple[float, float]) -> None:
    fields = settle(off_mm=off_mm)
    assert fields["item.oil"].reasons == ("no answer is marked",)
    assert {name: fields[name].value for name in ("unit", "date", "hours", "remarks")} == dict.fromkeys(
        ("unit", "date", "hours", "remarks")
    )


@pytest.mark.parametrize(
    "text", ["2026-03-14", "14/03/2026", "14.3.26", "14-3-2026", "14 Mar 2026", "March 14, 2026", "3/14/26"]
)
def test_a_date_is_read_as_people_write_it(settle: Settle, text: str) -> None:
    assert settle(writing(text, DATE))["date"].value == "2026-03-14"


def test_a_date_whose_order_nothing_tells_is_doubtful_with_both_readings(settle: Settle) -> None:
    field = settle(writing("03/04/2026", DATE))["date"]
    assert field.state is State.DOUBTFUL
    assert {"2026-04-03", "2026-03-04"} <= {alternative.value for alternative in field.alternatives}
    assert any("2026-04-03" in reason and "2026-03-04" in reason for reason in field.reasons)


def test_the_other_dates_of_the_binder_tell_its_order(settle: Settle) -> None:
    day_first = settle(writing("03/04/2026", DATE), known=replace(PLAIN, day_first=9))["date"]
    month_first = settle(writing("03/04/2026", DATE), known=replace(PLAIN, month_first=9))["date"]
    assert (day_first.value, month_first.value) == ("2026-04-03", "2026-03-04")
    assert {day_first.state, month_first.state} == {State.ACCEPTED}


def test_the_order_that_the_form_prints_counts(settle: Settle) -> None:
    assert settle(writing("03/04/2026", DATE), pattern="mmddyy")["date"].value == "2026-03-04"


def test_neighbours_of_one_week_tell_the_order(settle: Settle) -> None:
    week = tuple(date(2026, 4, 1) + timedelta(days=n) for n in range(7))
    assert settle(writing("03/04/2026", DATE), known=replace(PLAIN, days=week))["date"].value == "2026-04-03"


def test_a_date_in_the_future_is_doubtful(settle: Settle) -> None:
    field = settle(writing("2026-11-14", DATE))["date"]
    assert field.state is State.DOUBTFUL
    assert "2026-11-14 lies in the future; today is 2026-07-01" in field.reasons


@pytest.mark.parametrize(("text", "value"), [("4512.5", "4512.5"), ("4512.5 h", "4512.5"), ("4,512", "4512")])
def test_hours_are_read_with_and_without_tenths(settle: Settle, text: str, value: str) -> None:
    field = settle(writing(text, HOURS))["hours"]
    assert Decimal(str(field.value)) == Decimal(value)


def test_hours_beside_no_other_reading_are_never_accepted(settle: Settle) -> None:
    field = settle(writing("WL40", UNIT), writing("2026-03-14", DATE), writing("4512.5", HOURS))["hours"]
    assert (field.value, field.state) == ("4512.5", State.DOUBTFUL)
    assert field.reasons


def test_a_point_that_nobody_wrote_plainly_is_found_by_the_last_reading(settle: Settle) -> None:
    known = replace(
        PLAIN,
        readings=(MeterReading("WL40", date(2026, 3, 13), Decimal("4505.0")),),
        units=(UnitRecord("WL40"), UnitRecord("EX12")),
    )
    fields = settle(writing("WL40", UNIT), writing("2026-03-14", DATE), writing("45125", HOURS), known=known)
    assert fields["hours"].value == "4512.5"


def test_hours_that_run_backwards_are_doubtful_with_the_arithmetic(settle: Settle) -> None:
    known = replace(
        PLAIN,
        readings=(MeterReading("WL40", date(2026, 3, 13), Decimal("4705.0")),),
        units=(UnitRecord("WL40"), UnitRecord("EX12")),
    )
    field = settle(writing("WL40", UNIT), writing("2026-03-14", DATE), writing("4512.5", HOURS), known=known)["hours"]
    assert (field.value, field.state) == ("4512.5", State.DOUBTFUL)
    assert any("4705.0 h of 2026-03-13" in reason for reason in field.reasons)


def test_a_unit_in_free_writing_is_the_registers(settle: Settle) -> None:
    known = replace(PLAIN, units=(UnitRecord("WL-40"), UnitRecord("EX-12"), UnitRecord("HT-07")))
    assert settle(writing("WL 40", UNIT), known=known)["unit"].value == "WL-40"


def test_a_unit_that_the_register_lacks_is_doubtful(settle: Settle) -> None:
    known = replace(PLAIN, units=(UnitRecord("EX-12"), UnitRecord("HT-07")))
    field = settle(writing("WL40", UNIT), known=known)["unit"]
    assert field.state is State.DOUBTFUL
    assert any("not in the register" in reason for reason in field.reasons)


def test_a_count_of_loads_is_read(settle: Settle) -> None:
    assert settle(writing("27", COUNT))["loads"].value == "27"


def test_remarks_over_two_lines_are_read_one_after_the_other(settle: Settle) -> None:
    first = Box(REMARKS.x_mm, REMARKS.y_mm, REMARKS.w_mm, 8.0)
    second = Box(REMARKS.x_mm, REMARKS.y_mm + 9.0, REMARKS.w_mm, 8.0)
    field = settle(writing("horn is weak on", first), writing("cold mornings", second))["remarks"]
    assert str(field.value).lower() == "horn is weak on cold mornings"


def specks(page: np.ndarray) -> None:
    """Dirt all over the remarks, thirty round specks of 0.3 to 0.5 mm."""
    rng = np.random.default_rng(8_430_010)
    for _ in range(30):
        x, y = rng.uniform(REMARKS.x_mm, REMARKS.right_mm), rng.uniform(REMARKS.y_mm, REMARKS.bottom_mm)
        cv2.circle(page, (round(x * PX), round(y * PX)), round(rng.uniform(0.15, 0.25) * PX), 40, -1)


def short_stroke(page: np.ndarray) -> None:
    """A stroke of 2 mm amid it, as high as the smallest figure that anybody wrote."""
    x, y = (round(v * PX) for v in (REMARKS.x_mm + 20, REMARKS.y_mm + 6))
    cv2.line(page, (x, y), (x, y + round(2 * PX)), 40, 4)


def test_specks_of_dirt_on_an_empty_line_are_no_writing(settle: Settle) -> None:
    remarks = settle(specks)["remarks"]
    assert (remarks.value, remarks.state) == (None, State.ACCEPTED)


def test_one_short_stroke_among_the_dirt_is_left_to_a_person(settle: Settle) -> None:
    assert settle(specks, short_stroke)["remarks"].state is State.DOUBTFUL


@pytest.mark.parametrize(("seed", "grade"), [(8_400_001, "office"), (8_400_002, "bitonal")])
def test_what_is_accepted_on_old_forms_is_right(instruments: Instruments, seed: int, grade: str) -> None:
    page = make_field_page(seed, grade)
    known = Known(today=TODAY, day_first=10 * (page.order == "dmy"), month_first=10 * (page.order == "mdy"))
    fields = settle_sheet(page.sheet.layout, read_sheet(page.sheet, instruments), known)
    accepted = [field for field in fields if field.state is State.ACCEPTED]
    assert len(accepted) >= len(fields) / 5
    for field in accepted:
        truth = page.truth[field.id]
        assert not truth.unclear
        if field.kind == FieldKind.NUMBER and field.value is not None:
            assert Decimal(str(field.value)) == Decimal(str(truth.value)), (field.id, truth)
        else:
            assert field.value == truth.value, (field.id, truth)
