"""A person at the desk, in a real browser: settling, correcting, undoing, two at once, and whatever goes wrong."""

from __future__ import annotations

import re

import pytest
from desk_binder import NASTY, UNIT
from desk_browser import at_the_desk, running_desk
from playwright.sync_api import Page, expect

from scanform.binder import Binder, open_binder
from scanform.settle import State


def begin(page: Page, sort: str | None = None) -> None:
    page.goto(page.url.split("/settle")[0] + "/settle/doubts" + (f"?sort={sort}" if sort else ""))
    expect(page.locator("#title")).to_be_visible()


def shown(page: Page) -> str | None:
    return page.locator(".doubt").get_attribute("data-ref")


def press(page: Page, key: str) -> None:
    """A key, and then the next doubt or the end."""
    before = shown(page)
    page.keyboard.press(key)
    expect(page.locator(f'.doubt[data-ref="{before}"]:visible')).to_have_count(0)


def first_doubts(binder: Binder) -> list[str]:
    return [doubt.ref for doubt in binder.queue()]


@pytest.fixture
def binder(desk):
    with open_binder(desk.folder) as opened:
        yield opened


def test_a_clerk_settles_everything_with_one_key_each_and_the_journal_says_who(desk, browser, binder):
    page = at_the_desk(browser, desk, "jh")
    waiting = binder.queue()
    page.get_by_role("link", name="Begin with the first").press("Enter")
    for doubt in waiting:
        expect(page.locator(".doubt")).to_have_attribute("data-ref", doubt.ref)
        expect(page.locator(".ink img")).to_have_js_property("complete", True)
        assert page.locator(".ink img").evaluate("image => image.naturalWidth") > 300
        press(page, "Enter")
    assert binder.queue() == []
    decisions = binder.decisions()
    assert [(d.ref, d.initials, d.new_value) for d in decisions] == [(d.ref, "JH", d.field.value) for d in waiting]
    assert all(entry.at.tzinfo for entry in binder.journal() if entry.kind == "field-confirmed")
    assert binder.verify().sound


def test_what_is_dangerous_comes_first_and_says_so_in_words(desk, browser):
    page = at_the_desk(browser, desk)
    begin(page)
    assert shown(page).startswith("1.item.")
    expect(page.locator("#safety")).to_be_visible()
    expect(page.locator("#why")).to_have_text("The mark at OK is faint.")
    expect(page.get_by_role("button", name="D Defect")).to_be_visible()


def test_an_answer_has_its_letter_and_an_alternative_its_digit(desk, browser, binder):
    page = at_the_desk(browser, desk)
    begin(page)
    ref = shown(page)
    press(page, "d")
    assert binder.decisions()[-1].ref == ref
    assert binder.decisions()[-1].new_value == "defect"
    begin(page, "date")
    press(page, "1")
    assert (binder.decisions()[-1].ref, binder.decisions()[-1].new_value) == ("2.date", "2026-11-16")


def test_hours_are_typed_and_an_unlikely_number_is_asked_about_once(desk, browser, binder):
    begin(page := at_the_desk(browser, desk), "hours")
    page.keyboard.press("t")
    page.keyboard.type("9999.5")
    page.keyboard.press("Enter")
    expect(page.locator("#asked")).to_contain_text("is more than 4500.0 h + 2 x 24 h = 4548.0 h")
    assert binder.decisions() == []
    page.keyboard.press("Escape")
    page.locator("#typed").fill("4511,5")
    press(page, "Enter")
    assert binder.decisions()[-1].new_value == "4511.5"
    press(page, "Enter")
    page.keyboard.press("t")
    page.keyboard.type("1.0")
    page.keyboard.press("Enter")
    expect(page.locator("#asked")).to_contain_text("1.0 h is less than the 4511.5 h of 2026-11-09")
    press(page, "Enter")
    assert binder.decisions()[-1].new_value == "1.0"


def test_what_is_no_number_is_refused_in_a_sentence_and_stays(desk, browser, binder):
    begin(page := at_the_desk(browser, desk), "hours")
    page.keyboard.press("t")
    page.keyboard.type("about 45")
    page.keyboard.press("Enter")
    expect(page.locator("#alarm")).to_contain_text("is no meter reading")
    assert shown(page) == "1.hours"
    assert page.locator("#typed").input_value() == "about 45"
    assert binder.decisions() == []


def test_a_date_takes_the_digits_that_differ_and_a_unit_its_end(desk, browser, binder):
    begin(page := at_the_desk(browser, desk), "date")
    page.keyboard.press("t")
    page.keyboard.type("12")
    expect(page.locator("#meant")).to_have_text("Enter saves 2026-11-12, a Thursday")
    press(page, "Enter")
    assert binder.decisions()[-1].new_value == "2026-11-12"
    begin(page, "unit")
    page.keyboard.press("t")
    page.keyboard.type("07")
    expect(page.locator("#meant")).to_have_text("Enter saves WL07")
    press(page, "Enter")
    assert binder.decisions()[-1].new_value == UNIT


def test_a_unit_that_is_not_in_the_register_is_asked_about(desk, browser, binder):
    begin(page := at_the_desk(browser, desk), "unit")
    page.keyboard.press("t")
    page.keyboard.type("WL99")
    page.keyboard.press("Enter")
    expect(page.locator("#asked")).to_contain_text("Unit WL99 is not in the register.")
    assert binder.decisions() == []


def test_every_step_is_taken_back_one_by_one(desk, browser, binder):
    page = at_the_desk(browser, desk)
    begin(page)
    order = first_doubts(binder)
    for _ in range(3):
        press(page, "Enter")
    for ref in reversed(order[:3]):
        page.keyboard.press("z")
        expect(page.locator(".doubt")).to_have_attribute("data-ref", ref)
    assert first_doubts(binder) == order
    page.keyboard.press("z")
    expect(page.locator("#alarm")).to_contain_text("no decision left to take back")
    assert [d.undone_by is not None for d in binder.decisions()] == [True] * 3
    assert binder.verify().sound


def test_a_blank_is_one_key_and_a_doubt_put_off_comes_at_the_end(desk, browser, binder):
    begin(page := at_the_desk(browser, desk), "hours")
    press(page, "l")
    assert shown(page) == "2.hours"
    page.keyboard.press("b")
    expect(page.locator("#asked")).to_contain_text("missing from the hours log")
    press(page, "Enter")
    assert binder.decisions()[-1].new_value is None
    press(page, "Enter")
    press(page, "Enter")
    expect(page.locator("#done-said")).to_contain_text("1 put off by you")
    page.get_by_role("button", name="Show me what I put off").click()
    expect(page.locator(".doubt")).to_have_attribute("data-ref", "1.hours")


def test_a_spot_check_is_shown_without_what_the_machine_read(desk, browser, binder):
    checks = binder.spot_checks()
    assert checks
    for doubt in binder.queue():
        binder.confirm(doubt.ref, doubt.field.value, "XY")
    answers = []
    page = at_the_desk(browser, desk)
    page.on("response", lambda r: answers.append(r.text()) if "/settle/" in r.url and r.status == 200 else None)
    begin(page)
    assert shown(page) == checks[0].ref
    expect(page.locator("#reading-row")).to_be_hidden()
    expect(page.locator("#others")).to_be_hidden()
    assert all('"reading": {' not in text and '"reading":{' not in text for text in answers)
    page.keyboard.press("Escape")
    page.keyboard.press("Enter")
    page.wait_for_timeout(200)
    assert binder.doubt_at(checks[0].ref) is not None, "there is nothing to accept"


def test_words_from_paper_are_shown_as_words_whatever_they_say(desk, browser):
    begin(page := at_the_desk(browser, desk), "defect.%23")
    expect(page.locator("#reading")).to_have_text(NASTY)
    assert page.locator("#reading script").count() == 0
    assert "owned" not in page.title()
    page.reload()
    assert "owned" not in page.title()


def test_two_people_have_different_doubts_and_the_second_learns_who_was_first(desk, browser, binder):
    with running_desk(desk.folder) as second:
        ann, ben = at_the_desk(browser, desk, "AN"), at_the_desk(browser, second, "BE")
        begin(ann, "hours")
        ben.goto(f"{second.address}/settle/doubts?sort=hours")
        assert shown(ann) == "1.hours"
        expect(ben.locator("#done-said")).to_contain_text("before somebody else")
        # What Ann has before her comes back as if she had left, and is before both of them now.
        for seat in {row["lent_to"] for row in loans(binder)}:
            binder.hand_back(seat)
        begin(ben, "hours")
        assert shown(ben) == "1.hours"
        press(ben, "Enter")
        ann.keyboard.press("Enter")
        expect(ann.locator("#news")).to_contain_text("BE was first: 1.hours is '4510.5' since")
        expect(ann.locator(".doubt")).not_to_have_attribute("data-ref", "1.hours")
    assert [(d.ref, d.initials) for d in binder.decisions()] == [("1.hours", "BE")]


def test_a_second_window_of_the_same_person_has_other_doubts_and_a_page_loaded_anew_its_own(desk, browser, binder):
    ann = at_the_desk(browser, desk, "AN")
    begin(ann)
    first = shown(ann)
    second = ann.context.new_page()
    second.goto(f"{desk.address}/settle/doubts")
    expect(second.locator("#title")).to_be_visible()
    assert shown(second) not in first_doubts(binder)[:8]
    ben = at_the_desk(browser, desk, "BE")
    ben.goto(f"{desk.address}/settle/doubts?sort=item.{first.partition('.item.')[2]}")
    expect(ben.locator("#done-said")).to_contain_text("before somebody else")
    ann.reload()
    expect(ann.locator(".doubt")).to_have_attribute("data-ref", first)


def loans(binder: Binder) -> list[dict]:
    from sqlalchemy import text

    with binder._engine.connect() as connection:
        query = text("SELECT lent_to FROM waiting WHERE lent_to IS NOT NULL")
        return [dict(row) for row in connection.execute(query).mappings()]


def test_a_page_that_is_closed_hands_back_what_it_held(desk, browser, binder):
    page = at_the_desk(browser, desk)
    begin(page)
    assert loans(binder)
    page.goto(f"{desk.address}/settle")
    page.wait_for_timeout(300)
    assert loans(binder) == []


def test_a_session_that_is_over_saves_nothing_and_says_what_to_do(desk, browser, binder):
    begin(page := at_the_desk(browser, desk))
    ref = shown(page)
    desk.app.state.sessions.end_all()
    page.keyboard.press("Enter")
    expect(page.locator("#alarm")).to_contain_text("You are signed out, and this was not saved.")
    expect(page.get_by_role("link", name="Sign in again")).to_be_visible()
    assert shown(page) == ref
    assert binder.decisions() == []
    page.get_by_role("link", name="Sign in again").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()


def test_a_lost_connection_keeps_nothing_back_and_says_so(desk, browser, binder):
    begin(page := at_the_desk(browser, desk))
    ref = shown(page)
    page.context.set_offline(True)
    page.keyboard.press("Enter")
    expect(page.locator("#alarm")).to_contain_text("nothing is kept back to be sent later")
    assert shown(page) == ref
    page.context.set_offline(False)
    page.wait_for_timeout(300)
    assert binder.decisions() == [], "nothing is sent by itself"
    press(page, "Enter")
    expect(page.locator("#alarm")).to_be_hidden()
    assert [d.ref for d in binder.decisions()] == [ref]


def test_a_sheet_crossed_out_as_a_whole_is_one_key_and_its_doubts_are_gone(desk, browser, binder):
    begin(page := at_the_desk(browser, desk))
    number = shown(page).partition(".")[0]
    of_it = [ref for ref in first_doubts(binder) if ref.startswith(f"{number}.")]
    assert len(of_it) > 1
    page.keyboard.press("v")
    expect(page.locator("#asked")).to_contain_text(f"Is sheet {number}")
    page.keyboard.press("Escape")
    expect(page.locator("#question")).to_be_hidden()
    page.keyboard.press("v")
    press(page, "Enter")
    expect(page.locator("#news")).to_contain_text(f"Sheet {number} is void")
    assert not shown(page).startswith(f"{number}.")
    assert [ref for ref in first_doubts(binder) if ref.startswith(f"{number}.")] == []
    assert binder.page_numbered(int(number)).void
    page.keyboard.press("z")
    expect(page.locator("#news")).to_contain_text(f"sheet {number} counts again")
    assert shown(page) in of_it
    assert not binder.page_numbered(int(number)).void
    assert [ref for ref in first_doubts(binder) if ref.startswith(f"{number}.")] == of_it


HOLDS_BACK = """
() => {
  const really = window.fetch;
  window.held = [];
  window.asked = 0;
  window.fetch = (path, ...rest) =>
    String(path).endsWith("/settle/lend")
      ? new Promise((letGo) => (asked += 1, held.push(() => letGo(really(path, ...rest)))))
      : really(path, ...rest);
}
"""


def test_a_clerk_who_is_faster_than_the_desk_loses_no_key(desk, browser, binder):
    begin(page := at_the_desk(browser, desk))
    page.evaluate(HOLDS_BACK)
    waiting = first_doubts(binder)
    at_hand = 8
    assert len(waiting) > at_hand
    for ref in waiting[: at_hand - 1]:
        expect(page.locator(".doubt")).to_have_attribute("data-ref", ref)
        press(page, "Enter")
    page.keyboard.press("Enter")  # the last one at hand, while the next ones are still on their way
    expect(page.locator("#news")).to_contain_text(f"sheet {waiting[at_hand - 1].partition('.')[0]}")
    asked = page.evaluate("() => { held.shift()(); return asked; }")
    page.wait_for_function("before => asked > before", arg=asked)  # what came was stale
    page.evaluate("held.pop()()")  # the youngest question is answered first
    expect(page.locator(".doubt")).to_have_attribute("data-ref", waiting[at_hand])
    press(page, "Enter")
    assert [d.ref for d in binder.decisions()] == waiting[: at_hand + 1]


def test_the_whole_page_opens_and_closes_by_key(desk, browser):
    begin(page := at_the_desk(browser, desk))
    page.keyboard.press("w")
    expect(page.locator("#large")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.locator("#large")).to_be_hidden()
    expect(page.locator("#desk")).to_be_visible()


def test_a_sheet_fed_upside_down_stands_upright_with_its_field_outlined(desk, browser):
    begin(page := at_the_desk(browser, desk), "hours")
    press(page, "Enter")
    first = page.locator("#outline").get_attribute("points")
    press(page, "Enter")
    assert shown(page) == "3.hours"
    corners = [[tuple(map(float, p.split(","))) for p in text.split()] for text in (first, outline(page))]
    for (x1, y1), (x2, y2) in zip(*corners, strict=True):
        assert (x1, y1) == pytest.approx((x2, y2), abs=2e-3), "the same place as on the sheet before"


def outline(page: Page) -> str:
    return page.locator("#outline").get_attribute("points") or ""


def test_when_nothing_waits_the_desk_says_what_to_do_next(desk, browser, binder):
    for doubt in [*binder.queue(), *binder.spot_checks()]:
        binder.confirm(doubt.ref, doubt.field.value if doubt.field.state is State.DOUBTFUL else None, "XY")
    page = at_the_desk(browser, desk)
    expect(page.get_by_role("heading", name="Nothing waits")).to_be_visible()
    expect(page.locator("main")).to_contain_text("Drop the next stack")


def test_on_a_tablet_a_doubt_is_settled_by_touch_alone(desk, browser, binder):
    page = at_the_desk(browser, desk, has_touch=True, is_mobile=True)
    page.set_viewport_size({"width": 820, "height": 1180})
    page.get_by_role("link", name="Begin with the first").tap()
    for name in ("Defect", "That is right", "Take my last back"):
        button = page.locator("button:visible", has_text=name)
        box = button.bounding_box()
        assert min(box["width"], box["height"]) >= 40, f"{name} is as large as a fingertip"
        before = shown(page)
        button.tap()
        expect(page.locator(f'.doubt[data-ref="{before}"]:visible')).to_have_count(0)
    assert [(d.new_value, d.undone_by is None) for d in binder.decisions()] == [("defect", True), ("WL03", False)]
    page.locator("#page").tap()
    expect(page.locator("#large")).to_be_visible()


def test_single_keys_can_be_switched_off_for_those_who_dictate(desk, browser, binder):
    begin(page := at_the_desk(browser, desk))
    page.locator("#keys").uncheck()
    page.locator("#title").focus()
    page.keyboard.type("dbl")
    page.keyboard.press("Enter")
    page.wait_for_timeout(200)
    assert binder.decisions() == []
    ref = shown(page)
    page.get_by_role("button", name=re.compile("That is right")).click()
    expect(page.locator(".doubt")).not_to_have_attribute("data-ref", ref or "")
    assert [d.ref for d in binder.decisions()] == [ref]
