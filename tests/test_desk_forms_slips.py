"""Slips at the editor of forms: what a key too many, a finger or a wrong number must not do to an adopted form."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import httpx
import pytest
from crane_card import ANSWERS, boxes_of, crane_card, drafted
from desk_axe import serious_faults
from desk_browser import RunningDesk, at_the_desk, running_desk
from playwright.sync_api import Browser, Locator, Page, expect

from scanform.batch import keep_adopted, kept_templates
from scanform.binder import open_binder
from scanform.desk.access import Role
from scanform.desk.forms_draft import DraftField, draft_of, dropped
from scanform.desk.forms_names import free_name
from scanform.form import AdoptedTemplate

BRAKE = 2  # the slew brake's place among the fields, from 0
TABLET = {"width": 768, "height": 1024}


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningDesk]:
    """One desk for all; every test has a draft of its own."""
    folder = tmp_path_factory.mktemp("slips") / "quarry"
    with open_binder(folder, create=True):
        pass
    with running_desk(folder) as running:
        yield running


@pytest.fixture(scope="module")
def window(one_chromium: Browser, desk: RunningDesk) -> Iterator[Page]:
    page = at_the_desk(one_chromium, desk)
    yield page
    page.context.close()


@pytest.fixture
def draft(desk: RunningDesk) -> Iterator[str]:
    name = drafted(desk.folder, free_name(desk.app.state.binder, "crane-card"))
    yield name
    dropped(desk.folder, name)


@pytest.fixture
def page(window: Page, desk: RunningDesk, draft: str) -> Page:
    """The editor with the crane's card, and its slew brake chosen."""
    window.goto(f"{desk.address}/forms/drafts/{draft}")
    one(window, BRAKE).click()
    return window


@pytest.fixture(scope="module")
def clerk(desk: RunningDesk) -> Iterator[httpx.Client]:
    """Another program of a clerk's."""
    sessions = desk.app.state.sessions
    key = sessions.begin("AB", Role.CLERK)
    sent = {"X-Desk-Token": sessions.find(key).token}
    with httpx.Client(base_url=desk.address, cookies={sessions.cookie: key}, headers=sent, timeout=None) as client:
        yield client


def one(page: Page, at: int) -> Locator:
    return page.locator("#list button").nth(at)


def kept_field(page: Page, desk: RunningDesk, draft: str, at: int = BRAKE) -> DraftField:
    """A field as the desk has kept it."""
    expect(page.locator("#state")).to_contain_text("Kept")
    return draft_of(desk.folder, draft).form.fields[at]


def place(page: Page) -> dict[str, float]:
    return {key: float(page.locator(f"#f-{key}").input_value()) for key in "xywh"}


def test_a_kind_passed_by_on_the_way_leaves_what_each_box_means_and_asks_for_a_look(page, desk, draft):
    before = draft_of(desk.folder, draft).form.fields[BRAKE]
    page.locator("#f-kind").focus()
    page.keyboard.press("ArrowDown")
    expect(page.locator("#f-kind")).to_have_value("mark")
    expect(page.locator("#field-said")).to_contain_text("This place for a sign lies over 3 printed boxes")
    expect(page.locator("#f-kind")).to_be_focused()
    page.keyboard.press("ArrowUp")
    expect(page.locator("#f-kind")).to_have_value("choice")
    after = kept_field(page, desk, draft)
    assert after.answers == before.answers
    assert after.unsure, "nobody has looked at what came back"
    for kind in ("comb", "text", "circle", "choice"):
        page.locator("#f-kind").select_option(kind)
    assert kept_field(page, desk, draft).answers == before.answers


def test_a_field_that_went_elsewhere_as_another_kind_takes_its_boxes_along(page, desk, draft):
    page.locator("#f-kind").select_option("mark")
    page.locator("#f-y").fill("80")
    page.locator("#f-y").press("Enter")
    page.locator("#f-kind").select_option("choice")
    after = kept_field(page, desk, draft)
    assert [answer.answer for answer in after.answers] == list(ANSWERS)
    assert [answer.box_mm for answer in after.answers] == [(x, 80, w, h) for x, _, w, h in boxes_of(BRAKE - 1)]


def test_no_answer_is_guessed_for_boxes_that_nobody_has_named(page, desk, draft):
    one(page, 0).click()
    page.locator("#f-kind").select_option("choice")
    made = kept_field(page, desk, draft, 0)
    assert [answer.answer for answer in made.answers] == ["", "", ""]
    assert made.unsure
    one(page, BRAKE).click()
    page.get_by_role("button", name="Add an answer").click()
    assert page.evaluate("document.activeElement.ariaLabel") == "Answer 4"
    assert kept_field(page, desk, draft).answers[3].answer == ""
    page.get_by_role("button", name="Save as version 1").click()
    expect(page.locator("#form-said")).to_contain_text("still to be put right")
    expect(page.locator("#field-said")).to_contain_text("An answer is small letters")


def test_a_box_where_nothing_is_printed_is_put_back_or_said_to_be_right(page):
    press = page.keyboard.press
    press("m")
    press("b")
    for _ in range(6):  # 3 mm of a box of 5
        press("ArrowLeft")
    expect(page.locator("#state")).to_have_text("Moved Slew brake. Kept; 1 to put right")
    expect(page.locator("#field-said")).to_contain_text("The box of 'ok' lies on no box or cell that is printed")
    expect(one(page, BRAKE)).to_contain_text("put right")
    press("r")
    expect(page.locator("#state")).to_have_text("Kept on the desk")
    expect(page.locator("#right")).to_be_hidden()
    press("ArrowLeft")
    expect(page.locator("#state")).to_contain_text("1 to put right")
    for _ in range(7):
        press("ArrowRight")
    expect(page.locator("#state")).to_contain_text("Kept on the desk")


def test_whoever_saves_a_form_says_what_keeps_a_person_safe(page, desk, draft, clerk):
    press = page.keyboard.press
    expect(page.locator("#look")).to_have_text("F No field is unsure")
    refused = clerk.post(f"/forms/drafts/{draft}/version", json={"rev": 1})
    assert refused.status_code == 422
    assert "Say first which items keep a person safe" in refused.json()["said"]
    page.locator("#keep").focus()
    press("Enter")
    question = page.locator("#safety")
    expect(question).to_be_visible()
    expect(question.locator("#safety-items")).to_have_text("Hook Slew brake Horn", use_inner_text=True)
    expect(page.locator("#safety-save")).to_be_disabled()
    assert serious_faults(page) == []
    press("Escape")
    expect(question).to_be_hidden()
    expect(page.locator("#keep")).to_be_focused()
    press("Enter")
    page.get_by_label("None of them").focus()
    press("Space")
    expect(page.locator("#safety-save")).to_be_enabled()
    page.get_by_role("checkbox", name="Slew brake").focus()
    press("Space")
    expect(page.get_by_label("None of them")).not_to_be_checked()
    press("Enter")
    page.wait_for_url("**/forms/kept/crane-card/1")
    (kept,) = kept_of(desk, "crane-card")
    assert [item.name for item in kept.items if item.critical] == ["slew-brake"]


def test_none_of_them_is_an_answer_too(desk, clerk):
    draft = drafted(desk.folder, "fan-card")
    assert clerk.post(f"/forms/drafts/{draft}/version", json={"rev": 1, "none_critical": True}).status_code == 201
    assert [item.critical for item in kept_of(desk, "fan-card")[0].items] == [False, False, False]


def kept_of(desk: RunningDesk, name: str) -> list[AdoptedTemplate]:
    return [t for t in kept_templates(desk.app.state.binder) if isinstance(t, AdoptedTemplate) and t.name == name]


def test_another_form_never_becomes_a_version_of_one_that_has_its_name(desk, clerk):
    binder = desk.app.state.binder
    keep_adopted(binder, crane_card("scan"), "AB")
    draft = drafted(desk.folder, free_name(binder, "Scan"))
    assert draft_of(desk.folder, draft).form.name == "scan-2"
    assert free_name(binder, "scan") == "scan-3", "a draft will want its name too"
    for rev, (name, title) in enumerate((("scan", "Crane card"), ("site-machine", "Daily machine check")), start=1):
        changed = clerk.post(f"/forms/drafts/{draft}", json={"rev": rev, "form": named(desk, draft, name)}).json()
        assert changed["version"] == 1
        (fault,) = changed["faults"]
        assert (fault["part"], fault["key"]) == ("form", "name")
        assert fault["said"].startswith(f"This name belongs to '{title}")
    saved = clerk.post(f"/forms/drafts/{draft}/version", json={"rev": 3, "none_critical": True})
    assert saved.status_code == 422
    follower = clerk.post("/forms/kept/scan/1/drafts", json={}).json()["draft"]
    renamed = clerk.post(f"/forms/drafts/{follower}", json={"rev": 1, "form": named(desk, follower, "lift-card")})
    assert renamed.status_code == 422
    follows = clerk.post(f"/forms/drafts/{follower}", json={"rev": 1, "form": named(desk, follower, "scan")}).json()
    assert (follows["version"], follows["faults"]) == (2, [])


def named(desk: RunningDesk, draft: str, name: str) -> dict[str, Any]:
    return draft_of(desk.folder, draft).form.model_dump(mode="json") | {"name": name}


def test_a_number_typed_wrong_and_then_right_leaves_the_field_where_it_was(page, desk, draft):
    one(page, 0).click()
    for key, wrong, right in (("w", "400", "40"), ("h", "0", "8"), ("x", "99", "10")):
        page.locator(f"#f-{key}").fill(wrong)
        page.locator(f"#f-{key}").fill(right)
    assert place(page) == {"x": 10, "y": 10, "w": 40, "h": 8}
    one(page, BRAKE).click()
    page.locator("#f-w").fill("3")
    page.locator("#f-w").fill("33")
    assert [a.box_mm for a in kept_field(page, desk, draft).answers] == boxes_of(BRAKE - 1)
    one(page, 0).click()
    page.locator("#f-w").fill("400")
    page.keyboard.press("Tab")
    assert place(page) == {"x": 10, "y": 10, "w": 90, "h": 8}, "to the edge of the page, and said so"


def test_a_finger_that_swipes_over_a_form_sees_more_of_it_and_changes_nothing(one_chromium, desk, draft):
    page = at_the_desk(one_chromium, desk, has_touch=True, is_mobile=True)
    page.set_viewport_size(TABLET)
    page.goto(f"{desk.address}/forms/drafts/{draft}")
    before = draft_of(desk.folder, draft)
    touching = page.context.new_cdp_session(page)

    def swipe(start: tuple[float, float], end: tuple[float, float]) -> None:
        """From one place on the form to another, in mm."""
        sheet = page.locator("#sheet").bounding_box()
        per_mm = sheet["width"] / 100

        def send(kind: str, *points: dict[str, float]) -> None:
            touching.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

        for step in range(11):
            at = [s + (e - s) * step / 10 for s, e in zip(start, end, strict=True)]
            point = {"x": sheet["x"] + at[0] * per_mm, "y": sheet["y"] + at[1] * per_mm}
            send("touchMove" if step else "touchStart", point)
        send("touchEnd")

    swipe((35, 50), (39, 20))
    page.wait_for_function("document.querySelector('#picture').scrollTop > 0")
    page.locator("#picture").evaluate("pane => { pane.scrollTop = 0; }")
    swipe((52, 42), (56, 22))
    page.wait_for_function("document.querySelector('#picture').scrollTop > 0")
    page.locator("#picture").evaluate("pane => { pane.scrollTop = 0; }")
    swipe((20, 14), (30, 24))
    expect(page.locator("#list li")).to_have_count(5)
    expect(page.locator("#undo")).to_be_disabled()
    assert draft_of(desk.folder, draft) == before
    page.locator("#picture").evaluate("pane => { pane.scrollTop = 0; }")
    page.locator("#sheet .field").first.locator(".outline").tap()
    expect(one(page, 0)).to_have_attribute("aria-current", "true")
    swipe((30, 14), (40, 20))
    expect(page.locator("#state")).to_have_text("Moved Crane. Kept on the desk")
    assert place(page)["x"] > 15
    page.get_by_role("button", name="New").tap()
    expect(page.locator("#state")).to_have_text("Added field-1. Kept on the desk")
    page.context.close()
