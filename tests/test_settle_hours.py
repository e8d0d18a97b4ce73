"""The hour meter: what the cells say, and the window that the readings before and after leave.

An hour meter runs at most 24 h a day and never backwards (REFERENCES.md, "Trade facts": common practice, no source).
"""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st
from made_readings import KNOWN, TODAY, Cell, comb, hours_cells, reasons_of, settle, unit_cells, verdicts

from scanform.settle import Known, MeterReading, SettledField, State, UnitRecord, hours_window

ON = date(2026, 11, 26)  # what the clean sheet's date says


def known_with(*readings: tuple[date, str], unit: str = "WL-07") -> Known:
    met = tuple(MeterReading(unit, day, Decimal(hours)) for day, hours in readings)
    return Known(units=KNOWN.units, crew=KNOWN.crew, readings=met, today=TODAY)


def hours(text: str, known: Known = KNOWN) -> SettledField:
    return settle(comb("hours", hours_cells(text)), known=known)["hours"]


def test_a_clear_reading_without_neighbours_is_accepted_with_its_tenth() -> None:
    for text in ("4521.3", "0.0", "7.0", "12000.0", "99999.9", "100.0"):
        field = hours(text)
        assert (field.value, field.state, field.reasons) == (text, State.ACCEPTED, ())


def test_leading_noughts_and_leading_empty_cells_say_the_same() -> None:
    for cells in ("004521", "  4521", " 04521"):
        assert settle(comb("hours", cells))["hours"].value == "452.1"
    assert settle(comb("hours", "000000"))["hours"].value == "0.0"


def test_an_empty_comb_is_doubted() -> None:
    field = settle(comb("hours", ""))["hours"]
    assert field.value is None
    assert field.reasons == ("no hours are written",)


def test_an_empty_tenths_cell_is_doubted_and_the_whole_hours_are_kept() -> None:
    for cells in (" 4521 ", "04521 "):
        field = settle(comb("hours", cells))["hours"]
        assert field.value == "4521.0"
        assert field.state is State.DOUBTFUL
        assert "tenths" in reasons_of(field)


def test_a_gap_inside_is_doubted_and_the_cells_shown() -> None:
    field = settle(comb("hours", " 45 13"))["hours"]
    assert field.state is State.DOUBTFUL
    assert "_45_1.3" in reasons_of(field)
    # A number of the window that would fit with the gap filled is no reason to accept it.
    field = settle(comb("hours", " 45 13"), known=known_with((date(2026, 11, 25), "4510.0")))["hours"]
    assert field.state is State.DOUBTFUL


def test_hours_beyond_the_last_reading_and_24_a_day_are_doubted_with_the_arithmetic() -> None:
    known = known_with((date(2026, 11, 24), "4500.0"))
    assert hours("4521.3", known).state is State.ACCEPTED
    field = hours("4721.3", known)
    assert field.state is State.DOUBTFUL
    assert field.value == "4721.3"
    # From the start of the 24th to the end of the 26th there are three days.
    assert "4500.0 h + 3 x 24 h = 4572.0 h" in reasons_of(field)
    assert "4721.3" in reasons_of(field)
    assert hours("4572.0", known).state is State.ACCEPTED, "the last possible tenth"
    assert hours("4572.1", known).state is State.DOUBTFUL


def test_hours_that_run_backwards_are_doubted_and_the_reading_before_named() -> None:
    field = hours("4499.9", known_with((date(2026, 11, 24), "4500.0")))
    assert field.state is State.DOUBTFUL
    assert "4500.0 h of 2026-11-24" in reasons_of(field)
    assert hours("4500.0", known_with((date(2026, 11, 24), "4500.0"))).state is State.ACCEPTED, "it stood still"


def test_a_later_reading_bounds_an_earlier_sheet() -> None:
    known = known_with((date(2026, 11, 24), "4500.0"), (date(2026, 11, 27), "4530.0"))
    assert hours("4521.3", known).state is State.ACCEPTED
    field = hours("4541.3", known)
    assert field.state is State.DOUBTFUL
    assert "4530.0 h read later" in reasons_of(field)
    only_later = known_with((date(2026, 11, 27), "4530.0"))
    assert hours("4541.3", only_later).state is State.DOUBTFUL
    assert hours("4521.3", only_later).state is State.ACCEPTED


def test_the_nearest_reading_counts_and_another_units_does_not() -> None:
    known = known_with((date(2026, 1, 2), "100.0"), (date(2026, 11, 25), "4510.0"), (date(2026, 3, 1), "900.0"))
    assert hours("4521.3", known).state is State.ACCEPTED
    assert "4510.0 h of 2026-11-25" in reasons_of(hours("901.0", known))
    assert hours("9.0", known_with((date(2026, 11, 25), "4510.0"), unit="WL-01")).state is State.ACCEPTED


def test_another_sheet_of_the_same_day_says_nothing_about_the_order() -> None:
    # Two shifts, two sheets; which of them was written first is not on the paper.
    for other_shift in ("4512.0", "4530.0"):
        assert hours("4521.3", known_with((ON, other_shift))).state is State.ACCEPTED


def test_two_sheets_of_one_day_lie_within_its_24_hours() -> None:
    field = hours("4521.3", known_with((ON, "4550.0")))
    assert field.state is State.DOUBTFUL
    assert "4550.0 h of the same day - 24 h = 4526.0 h" in reasons_of(field)
    field = hours("4521.3", known_with((ON, "4490.0")))
    assert "4490.0 h of the same day + 24 h = 4514.0 h" in reasons_of(field)
    assert hours("4514.0", known_with((ON, "4490.0"))).state is State.ACCEPTED, "the last possible tenth"


def test_the_same_sheets_reading_of_an_earlier_run_does_not_stand_in_its_way() -> None:
    assert hours("4521.3", known_with((ON, "4521.3"))).state is State.ACCEPTED


def test_a_later_reading_bounds_from_below_too() -> None:
    # A meter runs no faster than the clock: from the start of the 26th to the end of the 27th there are two days.
    only_later = known_with((date(2026, 11, 27), "4600.0"))
    field = hours("4521.3", only_later)
    assert field.state is State.DOUBTFUL
    assert "4600.0 h - 2 x 24 h = 4552.0 h" in reasons_of(field)
    assert hours("4552.0", only_later).state is State.ACCEPTED, "the first possible tenth"
    assert hours("0.0", known_with((date(2026, 11, 27), "20.0"))).state is State.ACCEPTED, "a new machine"


def test_a_binder_read_out_of_order_gives_the_same_windows() -> None:
    days = [(date(2026, 11, 20 + n), f"{4450 + 9 * n}.0") for n in range(10)]
    forwards, backwards = known_with(*days), known_with(*reversed(days))
    for n in range(10):
        day = date(2026, 11, 20 + n)
        assert hours_window(forwards, "WL-07", day) == hours_window(backwards, "WL-07", day)


def test_a_replaced_meter_is_doubted_once_and_then_followed() -> None:
    worn_out = (date(2026, 11, 20), "4500.0")
    field = hours("7.5", known_with(worn_out))
    assert field.state is State.DOUBTFUL
    assert "does not run backwards" in reasons_of(field)
    # Somebody has confirmed the new meter's first reading: the next sheet follows that one.
    known = known_with(worn_out, (date(2026, 11, 24), "7.5"))
    assert hours("21.0", known).state is State.ACCEPTED
    assert hours("4521.3", known).state is State.DOUBTFUL


def test_on_the_day_of_a_replacement_both_meters_readings_are_possible_the_next_day() -> None:
    changed = ((date(2026, 11, 25), "4500.0"), (date(2026, 11, 25), "0.4"))
    assert hours("9.0", known_with(*changed)).state is State.ACCEPTED
    window = hours_window(known_with(*changed), "WL-07", ON)
    assert window is not None
    assert window.low == Decimal("0.4")
    # Read on that very day, either meter may be meant.
    for shown in ("4500.5", "0.9"):
        assert hours(shown, known_with((ON, "4500.0"), (ON, "0.4"))).state is State.ACCEPTED


def test_readings_that_contradict_each_other_do_not_close_the_window() -> None:
    # The meter was replaced between the two: the later one says nothing about an upper end.
    known = known_with((date(2026, 11, 24), "4500.0"), (date(2026, 11, 27), "3.0"))
    assert hours("4521.3", known).state is State.ACCEPTED


def test_the_window_chooses_between_digits_that_the_ink_allows() -> None:
    unclear = comb("hours", [" ", *unit_cells("4_213", c1={"5": 0.5, "6": 0.5})])
    found = verdicts(unclear, known=known_with((date(2026, 11, 25), "4510.0")))["hours"]
    assert found.value == "4521.3"
    assert found.reasons == []
    without = settle(unclear)["hours"]
    assert without.state is State.DOUBTFUL, "with nothing known, five and six are as good"
    assert "4621.3" in reasons_of(without) + str(without.value)


def test_a_long_days_hours_written_clearly_are_accepted() -> None:
    # 23.5 h since yesterday is no usual day, and possible.
    assert hours("4521.3", known_with((date(2026, 11, 25), "4497.8"))).state is State.ACCEPTED


def test_what_is_usual_alone_settles_no_unclear_digit() -> None:
    # 2 h or 32 h since yesterday, by an ink that could be either: the usual day comes first, and stays a doubt.
    unclear = comb("hours", [" ", *unit_cells("45_23", c2={"1": 0.5, "4": 0.5})])
    field = settle(unclear, known=known_with((date(2026, 11, 25), "4510.0")))["hours"]
    assert (field.value, field.state) == ("4512.3", State.DOUBTFUL)
    assert "4542.3" in reasons_of(field)


def test_ink_that_rather_says_a_number_outside_the_window_leaves_a_doubt() -> None:
    for share in (0.7, 0.8, 0.9):
        unclear = comb("hours", [" ", *unit_cells("4_213", c1={"6": share, "5": 1 - share})])
        field = settle(unclear, known=known_with((date(2026, 11, 25), "4510.0")))["hours"]
        assert field.state is State.DOUBTFUL, f"{share} for six"


def test_a_unit_that_works_round_the_clock_is_expected_to_go_on_so() -> None:
    steady = [(date(2026, 11, 20 + n), f"{4390 + 22 * n}.0") for n in range(6)]  # 4500.0 on the 25th
    window = hours_window(known_with(*steady), "WL-07", ON)
    assert window is not None
    assert (window.usual_most, window.day_more_most) == (Decimal("4522.0"), Decimal("4544.0"))
    # A step that no clock allows is a new meter, and no pace.
    jump = [(date(2026, 11, 23), "100.0"), (date(2026, 11, 24), "4490.0"), (date(2026, 11, 25), "4500.0")]
    window = hours_window(known_with(*jump), "WL-07", ON)
    assert window is not None
    assert window.usual_most == Decimal("4514.0")


def test_ink_that_clearly_says_otherwise_is_not_pulled_into_the_window() -> None:
    field = hours("4821.3", known_with((date(2026, 11, 25), "4510.0")))
    assert (field.value, field.state) == ("4821.3", State.DOUBTFUL)


def test_a_doubtful_unit_or_date_chooses_no_window() -> None:
    known = known_with((date(2026, 11, 25), "9000.0"))
    changed = [comb("hours", hours_cells("4521.3")), comb("unit", "WL99")]
    assert settle(*changed, known=known)["hours"].state is State.ACCEPTED
    changed[1] = comb("date", "20261326")
    assert settle(*changed, known=known)["hours"].state is State.ACCEPTED


def test_a_window_weighs_as_much_as_the_date_that_it_hangs_on() -> None:
    unclear = comb("hours", [" ", *unit_cells("4_213", c1={"5": 0.5, "6": 0.5})])
    unsure_day = comb("date", unit_cells("202611_6", c6={"2": 0.9, "1": 0.1}))
    known = known_with((date(2026, 11, 25), "4510.0"))
    alone = verdicts(unclear)["hours"].raw
    unsure = verdicts(unclear, unsure_day, known=known)
    sure = verdicts(unclear, known=known)["hours"].raw
    assert settle(unclear, unsure_day, known=known)["date"].state is State.DOUBTFUL
    assert unsure["hours"].value == "4521.3"
    assert alone + 0.1 < unsure["hours"].raw < sure - 0.02


def test_a_scribbled_cell_is_a_doubt() -> None:
    field = settle(
        comb("hours", hours_cells("4521.3"), other=0.6, evidence=("cell 3 holds no single clean character",))
    )
    assert field["hours"].state is State.DOUBTFUL
    assert "cell 3" in reasons_of(field["hours"])


def test_the_window_of_two_neighbours_by_hand() -> None:
    known = known_with((date(2026, 11, 20), "100.5"), (date(2026, 11, 30), "190.0"))
    window = hours_window(known, "WL-07", date(2026, 11, 21))
    assert window is not None
    assert (window.low, window.high) == (Decimal("100.5"), Decimal("148.5"))  # 100.5 + 2 x 24
    window = hours_window(known, "WL-07", date(2026, 11, 28))
    assert window is not None
    # From the start of the 28th to the end of the 30th there are three days: 190 - 3 x 24.
    assert (window.low, window.high) == (Decimal("118.0"), Decimal("190.0"))
    assert hours_window(known, "EX-15", date(2026, 11, 28)) is None
    assert hours_window(known, None, date(2026, 11, 28)) is None
    assert hours_window(known, "WL-07", None) is None


cells = st.lists(
    st.sampled_from("0123456789 ")
    | st.tuples(st.sampled_from("0123456789 "), st.sampled_from("0123456789 "), st.floats(0.01, 0.99)).map(
        lambda two: {two[0]: two[2], two[1]: 1 - two[2]} if two[0] != two[1] else two[0]
    ),
    min_size=6,
    max_size=6,
)


@settings(deadline=None)
@given(
    cells,
    st.lists(st.tuples(st.integers(-40, 20), st.integers(0, 999_999)), max_size=4),
)
def test_a_value_outside_the_window_is_never_accepted(written: list[Cell], neighbours: list[tuple[int, int]]) -> None:
    # The clock and the meter say what is possible, worked out here from the readings alone.
    known = known_with(*((ON + timedelta(days=n), f"{tenths / 10:.1f}") for n, tenths in neighbours))
    field = settle(comb("hours", written), known=known)["hours"]
    if field.state is not State.ACCEPTED:
        assert field.reasons
        return
    assert field.value is not None
    value = Decimal(str(field.value))
    assert -value.as_tuple().exponent == 1, "one decimal place, always"
    before = max((m.on for m in known.readings if m.on < ON), default=None)
    earlier = [m.hours for m in known.readings if m.on == before]
    if before is not None:
        # Readings of one day that lie further apart than it has hours are of two meters.
        replaced = max(earlier) - min(earlier) > 24
        assert (min(earlier) if replaced else max(earlier)) <= value <= max(earlier) + 24 * ((ON - before).days + 1)
    after = min((m.on for m in known.readings if m.on > ON), default=None)
    later = [m.hours for m in known.readings if m.on == after]
    if after is not None and max(later) - min(later) <= 24 and not earlier:
        assert max(later) - 24 * ((after - ON).days + 1) <= value <= min(later)


@settings(deadline=None)
@given(st.integers(0, 999_999), st.booleans())
def test_every_number_written_clearly_is_read_as_itself(tenths: int, padded: bool) -> None:
    digits = str(tenths).zfill(2)
    field = settle(comb("hours", digits.rjust(6, "0" if padded else " ")))["hours"]
    assert (field.value, field.state) == (f"{tenths / 10:.1f}", State.ACCEPTED)


def test_the_registers_own_hours_are_a_neighbour_like_any_other() -> None:
    # The binder hands them over as readings; a unit record alone settles nothing.
    known = Known(units=(UnitRecord("WL-07", hours=Decimal("9000.0"), hours_on=date(2026, 11, 25)),), today=TODAY)
    assert hours("4521.3", known).state is State.ACCEPTED
