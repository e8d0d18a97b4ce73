"""The sheets' geometry against paper, punches, staples and printers, and against gloves."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise

import pytest

from scanform.errors import LayoutError
from scanform.form import CAUTION, Box, Field, FieldKind, Layout, Mark, Paper, Words
from scanform.form.clearance import check_clearance

SHEETS = [(name, paper) for name in ("forklift", "road-truck", "site-machine") for paper in Paper]


@pytest.fixture(params=SHEETS, ids=lambda p: f"{p[0]} on {p[1].value}")
def sheet(request: pytest.FixtureRequest, layout_of) -> Layout:
    return layout_of(*request.param)


def tick_boxes(layout: Layout) -> list[Box]:
    return [answer.box_mm for field in layout.fields for answer in field.answers]


def written_places(layout: Layout) -> list[tuple[str, Box]]:
    """Everything a pen or a reader needs whole: boxes, cells, zones, the code, the plain characters."""
    places = [(field.id, box) for field in layout.fields for box in _boxes(field)]
    return [*places, ("code", layout.code_box_mm), ("serial", layout.serial_box_mm)]


def _boxes(field: Field) -> list[Box]:
    return [answer.box_mm for answer in field.answers] or list(field.cells_mm) or [field.box_mm]


def iso_838_holes(paper: Paper) -> list[Box]:
    """Everywhere a hole of ISO 838 may fall along the left edge.

    ISO 838: two holes of 6 +- 0.5 mm, centres 80 +- 0.5 mm apart and 12 +- 1 mm from the edge, symmetric about the
    sheet's axis.
    """
    _, height = paper.size_mm
    across, along = 1.0 + 6.5 / 2, 0.5 / 2 + 6.5 / 2
    return [Box(12 - across, height / 2 + at - along, 2 * across, 2 * along) for at in (-40.0, 40.0)]


def three_holes(paper: Paper) -> list[Box]:
    """Three holes, centres 108 mm apart; common North American practice without a published standard.

    Half an inch from the edge and up to 8 mm wide, a millimetre of slack: common practice too.
    """
    _, height = paper.size_mm
    return [Box(12.7 - 5, height / 2 + at - 5, 10, 10) for at in (-108.0, 0.0, 108.0)]


def mirrored(box: Box, paper: Paper) -> Box:
    return Box(paper.size_mm[0] - box.right_mm, box.y_mm, box.w_mm, box.h_mm)


def test_a4_and_letter_are_the_sizes_of_iso_216_and_of_eight_and_a_half_by_eleven_inches() -> None:
    # ISO 216: An is A0 halved n times, A0 is one square metre with sides 1 : sqrt 2; rounded to the millimetre.
    a0_long = 1000 * 2**0.25
    assert Paper.A4.size_mm == (round(a0_long / 2**2.5), round(a0_long / 2**2))
    assert Paper.LETTER.size_mm == pytest.approx((8.5 * 25.4, 11 * 25.4))


def test_the_layout_has_the_papers_size(sheet: Layout) -> None:
    assert (sheet.width_mm, sheet.height_mm) == sheet.paper.size_mm


def test_tick_boxes_are_5_mm_and_at_least_7_mm_apart(sheet: Layout) -> None:
    # DESIGN, "The sheet": a gloved hand needs 5 mm boxes and a pitch of at least 7 mm.
    boxes = tick_boxes(sheet)
    assert all((box.w_mm, box.h_mm) == pytest.approx((5.0, 5.0)) for box in boxes)
    for a, b in combinations(boxes, 2):
        (ax, ay), (bx, by) = a.centre_mm, b.centre_mm
        assert max(abs(ax - bx), abs(ay - by)) >= 7.0 - 1e-6


def test_comb_cells_take_a_capital_printed_in_gloves(sheet: Layout) -> None:
    # Common practice for hand-printed combs: 6 mm and more across, 7 mm and more high; no outside source.
    cells = [cell for field in sheet.fields for cell in field.cells_mm]
    assert min(cell.w_mm for cell in cells) >= 6.0
    assert min(cell.h_mm for cell in cells) >= 7.0 - 1e-9


def test_more_than_four_registration_marks_with_different_identities(sheet: Layout) -> None:
    assert len(sheet.marks) > 4
    assert len({mark.identity for mark in sheet.marks}) == len(sheet.marks)


def test_a_torn_corner_or_a_thumb_on_the_edge_takes_no_more_than_one_mark(sheet: Layout) -> None:
    centres = [mark.box_mm.centre_mm for mark in sheet.marks]
    assert min(max(abs(ax - bx), abs(ay - by)) for (ax, ay), (bx, by) in combinations(centres, 2)) > 50


@pytest.mark.parametrize("holes", [iso_838_holes, three_holes])
def test_nothing_to_read_lies_where_a_filing_hole_goes(sheet: Layout, holes) -> None:
    for hole in holes(sheet.paper):
        for name, box in written_places(sheet):
            assert not hole.overlaps(box), name


@pytest.mark.parametrize("holes", [iso_838_holes, three_holes])
def test_no_mark_is_punched_out_even_when_the_wrong_edge_goes_into_the_punch(sheet: Layout, holes) -> None:
    for hole in holes(sheet.paper):
        for mark in sheet.marks:
            assert not hole.overlaps(mark.box_mm)
            assert not mirrored(hole, sheet.paper).overlaps(mark.box_mm)


def test_a_staple_in_an_upper_corner_hits_nothing(sheet: Layout) -> None:
    # A staple across the corner lies within 16 mm of it; common practice, no outside source.
    for corner in (Box(0, 0, 16, 16), mirrored(Box(0, 0, 16, 16), sheet.paper)):
        for name, box in [*written_places(sheet), *((f"mark {m.identity}", m.box_mm) for m in sheet.marks)]:
            assert not corner.overlaps(box), name


def test_all_of_it_lies_inside_what_office_printers_can_print(sheet: Layout) -> None:
    # Office lasers leave a sixth of an inch (4.23 mm) at most; common practice, no outside source.
    margin = 25.4 / 6
    printable = Box(margin, margin, sheet.width_mm - 2 * margin, sheet.height_mm - 2 * margin)
    for name, box in [*written_places(sheet), *((f"mark {m.identity}", m.box_mm) for m in sheet.marks)]:
        assert printable.contains(box), name
    for line in sheet.lines:
        assert printable.contains(Box(line.x1_mm, line.y1_mm, 0, 0))
        assert printable.contains(Box(line.x2_mm, line.y2_mm, 0, 0))


def test_nothing_overlaps_anything_else(sheet: Layout) -> None:
    places = [*written_places(sheet), *((f"mark {m.identity}", m.box_mm) for m in sheet.marks)]
    for (a_name, a), (b_name, b) in combinations(places, 2):
        assert not a.overlaps(b), (a_name, b_name)


def test_no_rule_runs_through_a_box_a_cell_or_the_code(sheet: Layout) -> None:
    for line in sheet.lines:
        x, y = min(line.x1_mm, line.x2_mm), min(line.y1_mm, line.y2_mm)
        drawn = Box(x, y, abs(line.x1_mm - line.x2_mm), abs(line.y1_mm - line.y2_mm)).grown(line.width_mm / 2)
        for name, box in written_places(sheet):
            assert not box.grown(-0.2).overlaps(drawn), name


def test_the_code_keeps_a_quiet_zone_of_four_modules(sheet: Layout) -> None:
    # ISO/IEC 18004: four modules on every side; a symbol of version v has 17 + 4 v modules a side, so 29 for 3, which
    # is what the sheets' codes need. The drawn symbol itself is counted in test_press.
    quiet = sheet.code_box_mm.grown(4 * sheet.code_box_mm.w_mm / 29)
    things = [box for name, box in written_places(sheet) if name != "code"] + [m.box_mm for m in sheet.marks]
    assert not any(quiet.overlaps(box) for box in things)
    for line in sheet.lines:
        assert not quiet.overlaps(Box(line.x1_mm, line.y1_mm, line.x2_mm - line.x1_mm, line.y2_mm - line.y1_mm))


def test_every_item_has_three_answers_and_every_defect_line_a_number_and_the_workshops_answer(sheet: Layout) -> None:
    for item in sheet.template.items:
        field = sheet.field(f"item.{item.name}")
        assert field.kind == FieldKind.CHOICE
        assert [answer.answer for answer in field.answers] == ["ok", "defect", "na"]
    for n in range(1, sheet.template.defect_lines + 1):
        number, words, repair = (sheet.field(f"defect.{n}{end}") for end in (".item", "", ".repair"))
        assert len(number.cells_mm) == 2
        assert number.charset == "digits"
        assert [answer.answer for answer in repair.answers] == ["repaired", "not-needed"]
        assert number.box_mm.y_mm == words.box_mm.y_mm
        assert number.box_mm.right_mm < words.box_mm.x_mm < repair.box_mm.x_mm


def test_the_head_asks_for_unit_date_hours_with_tenths_operator_and_signature(sheet: Layout) -> None:
    # 49 CFR 396.11(a)(2): the report names the vehicle and is signed.
    assert sheet.field("unit").charset == "alnum"
    assert len(sheet.field("unit").cells_mm) == sheet.template.unit_cells
    assert len(sheet.field("date").cells_mm) == 8
    hours = sheet.field("hours").cells_mm
    assert len(hours) == sheet.template.hour_cells + 1
    assert hours[-1].x_mm - hours[-2].right_mm > 1.5  # room for the printed point before the tenths
    assert sheet.field("operator").kind == FieldKind.TEXT
    assert sheet.field("signature").kind == FieldKind.SIGNATURE


def test_the_foot_says_fit_or_parked_who_was_told_and_lets_the_workshop_close_defects(sheet: Layout) -> None:
    # 49 CFR 396.11(a)(3): the carrier certifies that a defect was repaired or that repair is not needed.
    assert [answer.answer for answer in sheet.field("fit").answers] == ["fit", "parked"]
    assert sheet.field("told").kind == FieldKind.TEXT
    assert len(sheet.field("workshop.date").cells_mm) == 8
    assert sheet.field("workshop.signature").kind == FieldKind.SIGNATURE


def test_every_sheet_bears_the_caution(sheet: Layout) -> None:
    print_at_foot = " ".join(words.text for words in sheet.words[-4:])
    assert CAUTION in print_at_foot
    for said in ("stays parked until a competent person", "Local law", "maker's manual", "replaces none of them"):
        assert said in CAUTION


def test_items_stand_in_walking_order_down_the_left_column_then_the_right(sheet: Layout) -> None:
    places = [sheet.field(f"item.{item.name}").box_mm for item in sheet.template.items]
    columns = [round(box.x_mm) for box in places]
    assert columns == sorted(columns)
    for a, b in pairwise(places):
        assert b.y_mm > a.y_mm or b.x_mm > a.x_mm


# A sound layout, made unsound in one way each.
def test_a_layout_with_something_wrong_is_refused_and_the_two_things_are_named(layout_of) -> None:
    sound: Layout = layout_of("site-machine", Paper.A4)
    check_clearance(sound)
    unit = sound.field("unit")

    def moved(field: Field, box: Box) -> Layout:
        return replace(sound, fields=tuple(replace(f, box_mm=box) if f is field else f for f in sound.fields))

    wrong = {
        "'told' leaves the printable area": moved(sound.field("told"), Box(150, 290, 30, 5)),
        "'told' lies where a filing hole": moved(sound.field("told"), Box(8, 297 / 2 - 42, 8, 4)),
        "'told' lies where a staple": moved(sound.field("told"), Box(8, 8, 8, 4)),
        "field 'unit' and field 'told' overlap|field 'told' and field 'unit' overlap": moved(
            sound.field("told"), unit.box_mm
        ),
        "'signature' and the code with its quiet zone overlap": moved(
            sound.field("signature"), sound.field("signature").box_mm.grown(3)
        ),
        "registration mark 2 lies where a filing hole": replace(
            sound, marks=tuple(_at(m, Box(8, 297 / 2 - 44, 8, 8)) if m.identity == 2 else m for m in sound.marks)
        ),
        "the print 'Look here' is printed over": replace(
            sound, words=(*sound.words, Words(unit.box_mm.x_mm, unit.box_mm.bottom_mm - 1, "Look here", 8))
        ),
    }
    for says, layout in wrong.items():
        with pytest.raises(LayoutError, match=says) as told:
            check_clearance(layout)
        assert "\n" not in str(told.value)


def _at(mark: Mark, box: Box) -> Mark:
    return replace(mark, box_mm=box)


def test_boxes_that_only_touch_do_not_overlap_and_a_box_contains_itself() -> None:
    a = Box(10, 10, 5, 5)
    assert not a.overlaps(Box(15, 10, 5, 5))
    assert a.overlaps(Box(14.9, 14.9, 5, 5))
    assert a.contains(a)
    assert not a.contains(a.grown(0.01))
    assert a.union(Box(0, 12, 1, 20)) == Box(0, 10, 15, 22)
    assert a.grown(1).centre_mm == a.centre_mm


def test_a_field_that_the_sheet_does_not_have_is_a_key_error(layout_of) -> None:
    with pytest.raises(KeyError):
        layout_of("forklift", Paper.A4).field("odometer")
