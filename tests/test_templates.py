"""The check sheets that come with scanform, against the rules they serve; and what a wrong template file is told."""

from __future__ import annotations

from pathlib import Path

import pytest

from scanform.errors import LayoutError, TemplateError
from scanform.form import Layout, Paper, Template, find_template, lay_out, load_template
from scanform.form.source import template_folder

# 49 CFR 396.11(a)(1): what a road driver's daily report covers at least. The eleven parts, with a word of each that
# must stand in what the driver reads on the sheet.
ROAD_REPORT_PARTS = {
    "service brakes incl. trailer brake connections": ("service brakes", "trailer air and electric connections"),
    "parking brake": ("parking brake",),
    "steering mechanism": ("steering",),
    "lighting devices and reflectors": ("lights", "reflectors"),
    "tires": ("tires",),
    "horn": ("horn",),
    "windshield wipers": ("windshield wipers",),
    "rear vision mirrors": ("rear vision mirrors",),
    "coupling devices": ("coupling devices",),
    "wheels and rims": ("wheels and rims",),
    "emergency equipment": ("fire extinguisher", "triangles"),
}

# 29 CFR 1926.601(b)(14), list from memory: checked at the start of each shift; the last five "where necessary".
SITE_MACHINE_PARTS = {
    "service brakes incl. trailer connections": "service brakes",
    "parking system": "parking brake",
    "emergency stopping system": "emergency stopping",
    "tires": "tires",
    "horn": "horn",
    "steering mechanism": "steering",
    "coupling devices": "coupling",
    "seat belts": "seat belt",
    "operating controls": "controls",
    "safety devices": "reverse alarm",
    "lights": "lights",
    "reflectors": "reflectors",
    "wipers": "wipers",
    "defrosters": "defroster",
    "fire extinguishers": "extinguisher",
}

# What stops a machine or keeps a person alive in it; from the trade, no outside source.
ALWAYS_CRITICAL = {"service-brake", "parking-brake", "steering", "tires", "horn", "seat-belt"}


def words_under_rule(template: Template, rule: str) -> str:
    return " / ".join(item.text.lower() for item in template.items if item.rule == rule)


@pytest.mark.parametrize("part", ROAD_REPORT_PARTS)
def test_the_road_sheet_asks_for_each_of_the_eleven_parts_of_49_cfr_396_11(part: str) -> None:
    asked = words_under_rule(find_template("road-truck"), f"49 CFR 396.11(a)(1) {part}")
    for word in ROAD_REPORT_PARTS[part]:
        assert word in asked


def test_the_road_sheet_has_the_driver_review_the_last_report() -> None:
    # 49 CFR 396.13: before driving, the driver reviews the last report and signs that repairs were certified.
    assert "last report" in words_under_rule(find_template("road-truck"), "49 CFR 396.13")


@pytest.mark.parametrize("part", SITE_MACHINE_PARTS)
def test_the_site_machine_sheet_asks_for_each_part_of_29_cfr_1926_601(part: str) -> None:
    asked = words_under_rule(find_template("site-machine"), f"29 CFR 1926.601(b)(14) {part}")
    assert SITE_MACHINE_PARTS[part] in asked


def test_the_forklift_sheet_is_for_before_use_and_after_each_shift_round_the_clock() -> None:
    # 29 CFR 1910.178(q)(7): examined at least daily before use; after each shift if used round the clock.
    template = find_template("forklift")
    assert "before use" in template.machines
    assert "after each shift if used round the clock" in template.machines
    assert "29 CFR 1910.178(q)(7)" in template.rules


def test_every_forklift_item_under_the_rule_can_keep_it_out_of_service() -> None:
    # 29 CFR 1910.178(q)(7): a truck is not placed in service with a condition that affects safety, so whatever
    # the sheet asks under that rule is safety-critical.
    under_rule = [item for item in find_template("forklift").items if item.rule == "29 CFR 1910.178(q)(7)"]
    assert {"forks", "mast", "service-brake", "parking-brake", "steering", "horn"} <= {i.name for i in under_rule}
    assert all(item.critical for item in under_rule)


@pytest.mark.parametrize("name", ["forklift", "road-truck", "site-machine"])
def test_a_sheet_follows_the_walk_from_the_ground_up_to_the_moving_test(name: str) -> None:
    # Common practice: ground level once round, under the hood, up into the cab, engine on, then the moving test.
    stages = [stage.stage.lower() for stage in find_template(name).walk]
    for stage, word in zip(stages, ("ground", "hood", "up and into", "on, standing still", "moving"), strict=True):
        assert word in stage
    numbers = [item.number for item in find_template(name).items]
    assert numbers == list(range(1, len(numbers) + 1))


@pytest.mark.parametrize("name", ["forklift", "road-truck", "site-machine"])
def test_brakes_steering_tires_horn_and_belt_are_safety_critical(name: str) -> None:
    critical = {item.name for item in find_template(name).items if item.critical}
    assert critical >= ALWAYS_CRITICAL


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("name", ["forklift", "road-truck", "site-machine"])
def test_a_safety_critical_item_and_no_other_carries_the_sign(name: str, paper: Paper, layout_of) -> None:
    layout: Layout = layout_of(name, paper)
    diamonds = []
    for polygon in layout.polygons:
        xs, ys = zip(*polygon.points_mm, strict=True)
        middle = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
        if len(polygon.points_mm) == 4 and (middle[0], min(ys)) in polygon.points_mm:  # stands on a corner
            diamonds.append(middle)
    for item in layout.template.items:
        first_box = layout.field(f"item.{item.name}").answers[0].box_mm
        beside = [x for x, y in diamonds if abs(y - first_box.centre_mm[1]) < 1 and 0 < first_box.x_mm - x < 75]
        assert len(beside) == item.critical, item.name
        assert layout.field(f"item.{item.name}").critical == item.critical
    assert len(diamonds) == 1 + sum(item.critical for item in layout.template.items)  # one more explains the sign


# A template file as a site might write it; the tests below spoil one line each.
GOOD = """\
name: water-truck
version: 3
title: Daily water truck check
machines: Water trucks on haul roads
rules:
  - 30 CFR 56.14100
unit_cells: 6
hour_cells: 5
defect_lines: 4
walk:
  - stage: Ground level, once round
    items:
      - name: tires
        text: "Tires: cuts, pressure"
        critical: true
      - name: tank
        text: "Tank: leaks, mounts"
  - stage: Moving test
    items:
      - name: service-brake
        text: "Service brakes"
        critical: true
"""


@pytest.fixture
def written(tmp_path: Path):
    def write(text: str | bytes) -> Path:
        path = tmp_path / "water-truck.yaml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


def test_a_sites_own_template_is_loaded_by_its_path_and_fits_both_papers(written) -> None:
    template = find_template(str(written(GOOD)))
    assert [item.name for item in template.items] == ["tires", "tank", "service-brake"]
    for paper in Paper:
        assert lay_out(template, paper).field("item.tank").answers


def test_a_template_saved_by_a_windows_editor_loads(written) -> None:
    assert load_template(written(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())).name == "water-truck"


@pytest.mark.parametrize(
    ("right", "wrong", "line", "key", "says"),
    [
        ("hour_cells: 5", "hour_sells: 5", 8, "hour_sells", "no such key"),
        ("title: Daily water truck check\n", "", 1, "title", "missing"),
        ("        text: \"Tank: leaks, mounts\"\n", "", 16, "walk.1.items.2.text", "missing"),
        ("version: 3", "version: three", 2, "version", "integer"),
        ("version: 3", "version: 0", 2, "version", "greater than or equal to 1"),
        ("unit_cells: 6", "unit_cells: 60", 7, "unit_cells", "less than or equal to 8"),
        ("true\n      - name: tank", "maybe\n      - name: tank", 15, "walk.1.items.1.critical", "boolean"),
        ("  - 30 CFR 56.14100", "  - 56", 6, "rules.1", "string"),
        ("- name: tank", "- name: Tank Nr 1", 16, "walk.1.items.2.name", "small letters"),
        ("- name: service-brake", "- name: tires", 20, "walk.2.items.1.name", "used twice"),
        ("unit_cells: 6", "version: 4", 7, "version", "twice"),
        ('"Service brakes"\n', '"Service brakes"\n        text: Brakes\n', 22, "text", "twice"),
        ("Daily water truck check", "Daily check " + "x" * 120, 3, "title", "at most 120"),
        ("name: water-truck", "7: water-truck", 1, "7", "no such key"),
        ("title: Daily", "titel: Daily", 3, "titel", "spelling"),
    ],
)  # fmt: skip
def test_a_wrong_key_is_named_with_file_line_and_what_is_wrong(
    written, right: str, wrong: str, line: int, key: str, says: str
) -> None:
    assert GOOD.count(right) == 1
    path = written(GOOD.replace(right, wrong))
    with pytest.raises(TemplateError) as told:
        load_template(path)
    message = str(told.value)
    assert message.startswith(f"{path}, line {line}, key '{key}': ")
    assert says in message
    assert "\n" not in message


def test_a_stage_without_items_is_refused(written) -> None:
    with pytest.raises(TemplateError, match=r"line 23, key 'walk\.3\.items'"):
        load_template(written(GOOD + "  - {stage: Back in the yard, items: []}\n"))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (GOOD.replace('"Tank: leaks, mounts"', "Tank: leaks, mounts"), "line 17: this is not YAML"),
        (GOOD.replace("      - name: tank", "\t- name: tank"), "line 16: this is not YAML"),
        (GOOD + "notes: &a [*a]\n", "line 23, key 'notes'"),
        ("[" * 5000, "nested"),
        ("", "line 1: a template file is a list of keys and values"),
        ("# nothing but a remark\n", "line 1: a template file is a list of keys and values"),
        ("- name: water-truck\n", "line 1: a template file is a list of keys and values"),
        (GOOD.encode("utf-16"), "cannot be read as UTF-8"),
        (GOOD.replace("Daily", "T\u00e4glich").encode("latin-1"), "cannot be read as UTF-8"),
        (GOOD.replace("Daily", "Daily\x07"), "this is not YAML"),
    ],
)
def test_a_file_that_is_no_template_gets_one_sentence_with_its_name(written, text: str | bytes, says: str) -> None:
    path = written(text)
    with pytest.raises(TemplateError) as told:
        load_template(path)
    assert str(told.value).startswith(str(path))
    assert says in str(told.value)
    assert "\n" not in str(told.value)


def test_an_unknown_template_name_is_told_which_there_are() -> None:
    with pytest.raises(TemplateError, match=r"'grader'.*forklift, quarry-weekly, road-truck, site-machine"):
        find_template("grader")
    with pytest.raises(TemplateError, match=r"grader\.yaml: there is no such template file"):
        find_template("grader.yaml")
    with pytest.raises(TemplateError, match="no template called"):
        find_template(str(template_folder()))


def edited(**changes: object) -> Template:
    return Template.model_validate(find_template("site-machine").model_dump() | changes)


LONG_TEXT = "Look at every hose, line and clamp from end to end, and again with the lamp held low behind the guard"


def walk_of(count: int, text: str = "Look at it") -> list[dict[str, object]]:
    return [{"stage": "Round", "items": [{"name": f"part-{n}", "text": text} for n in range(count)]}]


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"walk": walk_of(60)}, r"the check list is \d+ mm longer than there is room"),
        ({"walk": walk_of(3, LONG_TEXT)}, r"needs \d lines and there is room for two"),
        ({"walk": walk_of(3, "Hydraulikschlauchverschraubungsdichtungsringe-und-noch-mehr")}, r"mm wide and there are"),
        ({"unit_cells": 8, "hour_cells": 6}, r"key 'unit_cells'.*mm more than the page is wide"),
        ({"title": LONG_TEXT}, r"mm wide and there are"),
        ({"title": "Проверка"}, r"the typeface cannot print 'П'"),
        ({"machines": "Loaders \U0001f69c"}, r"the typeface cannot print"),
        ({"defect_lines": 9, "walk": walk_of(40)}, r"longer than there is room"),
    ],
)  # fmt: skip
def test_a_template_that_does_not_fit_the_page_is_refused_in_one_sentence(
    changes: dict[str, object], says: str
) -> None:
    template = edited(**changes)
    with pytest.raises(LayoutError, match=says) as told:
        lay_out(template, Paper.A4)
    assert "'site-machine'" in str(told.value)
    assert "\n" not in str(told.value)


def test_the_longest_check_list_that_fits_is_laid_out_and_one_row_more_is_refused() -> None:
    fits = [n for n in range(20, 60) if _fits(n)]
    assert max(fits) >= 30  # a quarry's longest list
    assert fits == list(range(20, max(fits) + 1))


def _fits(count: int) -> bool:
    try:
        lay_out(edited(walk=walk_of(count)), Paper.LETTER)
    except LayoutError:
        return False
    return True
