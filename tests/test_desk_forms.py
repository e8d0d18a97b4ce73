"""Forms of old paper at the desk, in a real browser: from a dropped blank to a version, by mouse and by keyboard."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path

import cv2
import httpx
import numpy as np
import pytest
from desk_axe import serious_faults
from desk_browser import RunningDesk, at_the_desk, running_desk
from playwright.sync_api import Locator, Page, expect
from small_old_form import copies, kept_in, shovel_card

from scanform.batch import keep_adopted, kept_templates, templates_for
from scanform.binder import open_binder
from scanform.desk.access import Role
from scanform.desk.forms_draft import begun, draft_of
from scanform.form import AdoptedAnswer, AdoptedField, AdoptedTemplate, BlankPicture, FieldKind, ItemEntry, Stage

BLANK = Path(__file__).parents[1] / "fixtures" / "old_binder" / "blank.pdf"
SAFETY = ("tires-wear-pressure", "wheel-nuts-rims", "articulation-joint", "headlights-work", "steps-handrails")
PROPOSING_MS = 300_000  # the desk's own limit; it takes a second or two
NASTY = "<script>document.title='owned'</script>"

# The keystroke-level model of Card, Moran and Newell (Communications of the ACM 23(7), 1980), in seconds, from memory:
# a key of an average typist, pointing, the mouse button, a hand from mouse to keys or back, making up one's mind.
KEY_S, POINT_S, PRESS_S, HAND_S, MIND_S = 0.28, 1.1, 0.2, 0.4, 1.35
LOOK_S = 2 * MIND_S  # at a field's outline, and at its words


class Hands:
    """A person's hands: what they do, counted."""

    def __init__(self, page: Page) -> None:
        self.page, self.presses, self.keys, self.moves, self.looks = page, 0, 0, 0, 0
        self._at_keys = False

    def press(self, what: Locator) -> None:
        what.click()
        self._to(at_keys=False)
        self.presses += 1

    def key(self, *names: str) -> None:
        for name in names:
            self.page.keyboard.press(name)
            self.keys += 1
        self._to(at_keys=True)

    def type(self, text: str) -> None:
        self.page.keyboard.type(text)
        self.keys += len(text)
        self._to(at_keys=True)

    def look(self) -> None:
        self.looks += 1

    def seconds(self) -> float:
        pressing = self.presses * (MIND_S + POINT_S + PRESS_S)
        return pressing + self.keys * KEY_S + self.moves * HAND_S + self.looks * LOOK_S

    def _to(self, at_keys: bool) -> None:
        self.moves += at_keys != self._at_keys
        self._at_keys = at_keys


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[RunningDesk]:
    """A desk over an empty binder."""
    with open_binder(tmp_path / "quarry", create=True):
        pass
    with running_desk(tmp_path / "quarry") as running:
        yield running


def small_form(version: int = 1, name: str = "crane-card") -> AdoptedTemplate:
    """A card with a unit, two items and a remark, as somebody would have drawn it."""
    png = cv2.imencode(".png", np.full((960, 800), 255, np.uint8))[1].tobytes()
    ticks = [tuple(AdoptedAnswer(answer=a, box_mm=(60 + 12 * k, y, 5, 5)) for k, a in enumerate(("ok", "defect")))
             for y in (40, 50)]  # fmt: skip
    return AdoptedTemplate(
        name=name, version=version, title="Crane card", width_mm=100, height_mm=120,
        picture=BlankPicture(file="crane-card.png", sha256=hashlib.sha256(png).hexdigest()), picture_png=png,
        walk=(Stage(stage="Round", items=(ItemEntry(name="hook", text="Hook"), ItemEntry(name="rope", text="Rope"))),),
        fields=(
            AdoptedField(id="unit", kind=FieldKind.TEXT, label="Crane", box_mm=(10, 10, 40, 8)),
            AdoptedField(id="item.hook", kind=FieldKind.CHOICE, label="Hook", answers=ticks[0]),
            AdoptedField(id="item.rope", kind=FieldKind.CHOICE, label="Rope", answers=ticks[1]),
            AdoptedField(id="remarks", kind=FieldKind.TEXT, label="Remarks", box_mm=(10, 80, 80, 20)),
        ),
    )  # fmt: skip


def begin(desk: RunningDesk) -> str:
    """A draft of the small form."""
    return begun(desk.folder, small_form(), "card.pdf", "AB", sure={"remarks": 0.4})


def one(page: Page, number: int) -> Locator:
    """A field in the list, by its number there."""
    return page.locator("#list button").nth(number - 1)


def kept(page: Page) -> None:
    expect(page.locator("#state")).to_contain_text("Kept")


def drawn(page: Page) -> dict[str, float]:
    return {key: float(page.locator(f"#f-{key}").input_value()) for key in "xywh"}


def test_a_clean_form_of_one_page_is_adopted_within_five_minutes(desk, browser):
    page = at_the_desk(browser, desk)
    hands = Hands(page)
    hands.press(page.get_by_role("link", name="Forms"))
    expect(page.get_by_role("heading", name="No form of old paper is known yet")).to_be_visible()
    assert serious_faults(page) == []
    hands.presses += 3  # the button, then the file and 'Open' in the system's own window
    page.locator("#files").set_input_files(BLANK)
    page.wait_for_url("**/forms/drafts/*", timeout=PROPOSING_MS)
    expect(page.locator("#list li")).to_have_count(30)
    assert serious_faults(page) == []
    hands.press(one(page, 1))
    for number in range(1, 31):
        hands.look()
        if page.locator("#f-id").input_value().removeprefix("item.") in SAFETY:
            hands.key("c")
        if number < 30:
            hands.key("ArrowDown")
    hands.press(page.locator("#whole summary"))
    hands.press(page.get_by_label("Title", exact=True))
    hands.key("Control+a")
    hands.type("Shovel check")
    hands.press(page.get_by_role("button", name="Save as version 1"))
    page.wait_for_url("**/forms/kept/blank/1")
    expect(page.get_by_role("heading", name="Shovel check")).to_be_visible()
    assert hands.presses <= 10
    assert hands.keys <= 60
    assert hands.seconds() < 300, f"{hands.presses} presses and {hands.keys} keys take {hands.seconds():.0f} s"
    binder = desk.app.state.binder
    template = next(t for t in templates_for(binder, ()) if t.name == "blank")
    assert [item.name for item in template.items if item.critical] == list(SAFETY)
    assert len(template.fields) == 30
    assert {"unit", "date", "hours", "operator", "signature"} <= {field.id for field in template.fields}
    entries = [(entry.kind, entry.body.get("initials")) for entry in binder.journal()]
    assert entries[-2:] == [("template-kept", None), ("form-adopted", "AB")]
    assert binder.verify().sound
    assert list((desk.folder / "form_drafts").iterdir()) == [], "the draft has become the version"


def test_everything_is_done_by_keyboard_and_taken_back_step_by_step(desk, browser):
    draft = begin(desk)
    page = at_the_desk(browser, desk)
    page.goto(f"{desk.address}/forms/drafts/{draft}")
    press, typed = page.keyboard.press, page.keyboard.type
    expect(page.locator("#list li")).to_have_count(4)
    one(page, 1).focus()
    press("m")
    for key in ("ArrowRight", "ArrowRight", "ArrowDown", "Shift+ArrowRight"):
        press(key)
    assert drawn(page) == {"x": 11, "y": 10.5, "w": 40.5, "h": 8}
    press("Tab")
    expect(page.locator("#f-id")).to_have_value("item.hook")
    press("b")
    press("b")
    press("ArrowRight")
    assert drawn(page) == {"x": 72.5, "y": 40, "w": 5, "h": 5}, "one box of the two"
    press("Escape")
    press("ArrowDown")
    press("Delete")
    expect(page.locator("#list li")).to_have_count(3)
    press("n")
    typed("item.Sling")
    expect(page.locator("#field-said")).to_contain_text("A name is small letters")
    expect(page.locator("#f-id")).to_have_attribute("aria-invalid", "true")
    press("Control+a")
    typed("item.sling")
    press("Tab")
    typed("Sling")
    page.locator("#f-kind").focus()
    press("p")  # 'place for a sign': the browser's own list takes letters
    expect(page.locator("#f-kind")).to_have_value("mark")
    press("Escape")
    press("c")
    press("Alt+ArrowUp")
    expect(page.locator("#list .safety")).to_have_count(1)
    press("f")
    expect(page.locator("#f-id")).to_have_value("remarks")
    press("r")
    expect(page.locator("#look")).to_be_disabled()
    kept(page)
    page.reload()
    expect(page.locator("#list .safety")).to_have_count(1)
    now = draft_of(desk.folder, draft).form
    assert [field.id for field in now.fields] == ["unit", "item.hook", "item.sling", "remarks"]
    page.evaluate("document.activeElement.blur()")
    one(page, 1).focus()
    for key in ("d", "o", "Delete", "c"):
        press(key)
    while page.locator("#undo").is_enabled():
        press("z")
    kept(page)
    assert draft_of(desk.folder, draft).form == now, "every step since the page was loaded is taken back"
    press("y")
    expect(page.locator("#list li")).to_have_count(5)


def test_fields_are_moved_sized_and_drawn_with_the_mouse(desk, browser):
    draft = begin(desk)
    page = at_the_desk(browser, desk)
    page.goto(f"{desk.address}/forms/drafts/{draft}")

    def drag(start: tuple[float, float], end: tuple[float, float]) -> None:
        sheet = page.locator("#sheet").bounding_box()
        per_mm = sheet["width"] / 100
        page.mouse.move(sheet["x"] + start[0] * per_mm, sheet["y"] + start[1] * per_mm)
        page.mouse.down()
        for share in (0.5, 1.0):
            x, y = (a + share * (b - a) for a, b in zip(start, end, strict=True))
            page.mouse.move(sheet["x"] + x * per_mm, sheet["y"] + y * per_mm)
        page.mouse.up()

    drag((30, 14), (40, 20))
    assert drawn(page) == pytest.approx({"x": 20, "y": 16, "w": 40, "h": 8}, abs=0.3)
    drag((60, 24), (70, 26))
    assert drawn(page) == pytest.approx({"x": 20, "y": 16, "w": 50, "h": 10}, abs=0.3)
    drag((10, 62), (50, 70))
    expect(page.locator("#list li")).to_have_count(5)
    assert drawn(page) == pytest.approx({"x": 10, "y": 62, "w": 40, "h": 8}, abs=0.3)
    for _ in range(3):
        page.locator("#undo").click()
    expect(page.locator("#list li")).to_have_count(4)
    one(page, 1).click()
    assert drawn(page) == {"x": 10, "y": 10, "w": 40, "h": 8}


def test_words_of_a_form_stay_words_and_an_older_version_stays_what_it_was(desk, browser):
    keep_adopted(desk.app.state.binder, small_form(), "AB")
    file = desk.folder / "templates" / "crane-card-1" / "crane-card-1.yaml"
    before = file.read_bytes()
    page = at_the_desk(browser, desk)
    page.goto(f"{desk.address}/forms/kept/crane-card/1")
    assert serious_faults(page) == []
    page.get_by_role("button", name="Make the next version").click()
    page.wait_for_url("**/forms/drafts/*")
    one(page, 2).click()
    page.get_by_label("Printed words").fill("")
    page.get_by_role("button", name="Save as version 2").click()
    expect(page.locator("#form-said")).to_contain_text("An item of the check list needs its printed words")
    page.get_by_label("Printed words").fill(NASTY)
    page.get_by_role("button", name="Save as version 2").click()
    expect(page.locator("#safety-items")).to_contain_text(NASTY)
    page.get_by_label("None of them").check()
    page.get_by_role("button", name="Save", exact=True).click()
    page.wait_for_url("**/forms/kept/crane-card/2")
    expect(page.locator("#list")).to_contain_text(NASTY)
    assert "owned" not in page.title()
    assert file.read_bytes() == before
    binder = desk.app.state.binder
    assert [t.version for t in kept_templates(binder)] == [1, 2]
    assert [t.version for t in templates_for(binder, ()) if t.name == "crane-card"] == [2], (
        "pages are read by the newest"
    )


def test_a_reader_looks_and_changes_nothing(desk):
    keep_adopted(desk.app.state.binder, small_form(), "AB")
    draft = begin(desk)
    before = draft_of(desk.folder, draft)
    sessions = desk.app.state.sessions
    key = sessions.begin("RD", Role.READER)
    sent = {"X-Desk-Token": sessions.find(key).token}
    with httpx.Client(base_url=desk.address, cookies={sessions.cookie: key}, headers=sent) as reader:
        assert "Drop a blank" not in reader.get("/forms").text
        assert "Make the next version" not in reader.get("/forms/kept/crane-card/1").text
        assert reader.get(f"/forms/drafts/{draft}").status_code == 403
        change = {"rev": 1, "form": before.form.model_dump(mode="json") | {"title": "Mine"}}
        assert reader.post(f"/forms/drafts/{draft}", json=change).status_code == 403
        assert reader.post(f"/forms/drafts/{draft}/version", json={"rev": 1}).status_code == 403
        assert reader.post("/forms/kept/crane-card/1/drafts", json={}).status_code == 403
        assert reader.delete(f"/forms/drafts/{draft}").status_code == 403
    assert draft_of(desk.folder, draft) == before
    assert [t.version for t in kept_templates(desk.app.state.binder)] == [1]


def test_two_windows_do_not_overwrite_each_other(desk):
    draft = begin(desk)
    sessions = desk.app.state.sessions
    key = sessions.begin("AB", Role.CLERK)
    sent = {"X-Desk-Token": sessions.find(key).token}
    form = draft_of(desk.folder, draft).form.model_dump(mode="json")
    with httpx.Client(base_url=desk.address, cookies={sessions.cookie: key}, headers=sent) as clerk:
        first = clerk.post(f"/forms/drafts/{draft}", json={"rev": 1, "form": form | {"title": "First"}})
        second = clerk.post(f"/forms/drafts/{draft}", json={"rev": 1, "form": form | {"title": "Second"}})
    assert first.json() == {"rev": 2, "faults": [], "version": 1}
    assert second.status_code == 422
    assert "changed in another window" in second.json()["said"]
    assert draft_of(desk.folder, draft).form.title == "First"


def test_the_blank_of_a_later_print_becomes_the_next_version_of_its_form(desk, browser, tmp_path):
    keep_adopted(desk.app.state.binder, small_form(name="shovel-card"), "AB")
    (tmp_path / "scan 7.pdf").write_bytes(shovel_card("a").pdf)
    page = at_the_desk(browser, desk)
    page.goto(f"{desk.address}/forms")
    page.get_by_label("It is").select_option("shovel-card")
    assert serious_faults(page) == []
    page.locator("#files").set_input_files(tmp_path / "scan 7.pdf")
    page.wait_for_url("**/forms/drafts/*", timeout=PROPOSING_MS)
    expect(page.get_by_role("button", name="Save as version 2")).to_be_visible()
    draft = draft_of(desk.folder, page.url.rsplit("/", 1)[1])
    assert (draft.form.name, draft.follows, draft.source) == ("shovel-card", 1, "scan 7.pdf")
    assert len(draft.form.fields) > 9, "its fields are the new blank's"


def test_a_form_is_tried_on_a_filled_page_and_nothing_of_it_goes_on_record(desk, browser, tmp_path):
    keep_adopted(desk.app.state.binder, small_form(name="card"), "AB")
    (tmp_path / "card.pdf").write_bytes(shovel_card("a").pdf)
    (filled,) = copies("shovel", "a", (0,))
    page = at_the_desk(browser, desk)
    page.goto(f"{desk.address}/forms")
    page.locator("#files").set_input_files(tmp_path / "card.pdf")
    page.wait_for_url("**/forms/drafts/*", timeout=PROPOSING_MS)
    page.locator("#try summary").click()
    page.locator("#pages").set_input_files(kept_in(tmp_path / "scans", (filled,)))
    expect(page.locator("#tried")).to_be_visible(timeout=PROPOSING_MS)
    rows = page.locator("#tried tbody tr")
    form = draft_of(desk.folder, page.url.rsplit("/", 1)[1]).form
    assert form.name == "card-2", "the file's name belongs to another form"
    fields = form.fields
    expect(rows).to_have_count(len(fields))
    assert rows.locator(".tried-ink").count() == len(fields), "every value stands beside its ink"
    words = {"ok": "OK", "defect": "Defect", "na": "N/A"}
    written = [words.get(filled.values[f.id].value, "") for f in filled.form.fields if f.kind == "choice"]
    items = [n for n, field in enumerate(fields) if field.id.startswith("item.")]
    read = [rows.nth(n).locator("td").first.text_content() for n in items]
    assert len(read) == len(written) == 9
    assert sum(a == b for a, b in zip(read, written, strict=True)) >= 8
    assert serious_faults(page) == []
    assert desk.app.state.binder.pages() == []
    assert list((desk.folder / "inbox").iterdir()) == [], "the pages are not kept"
