"""Feeding the desk, in a real browser: files dropped, read in the background, and every page accounted for."""

from __future__ import annotations

import re

import pytest
from desk_axe import serious_faults
from desk_browser import at_the_desk, running_desk
from playwright.sync_api import Page, expect
from scanned_stack import UNITS_CSV, blank_back, scanned

from scanform.binder import open_binder
from scanform.desk import inbox
from scanform.desk.access import TOKEN_HEADER, Role
from scanform.desk.inbox import INBOX, completed, new_stack, put, unread_stacks, without_folders
from scanform.errors import UsageError
from scanform.settle import Outcome

LETTER = b"Dear sirs, the sheets are in the other envelope.\n"


@pytest.fixture
def desk(tmp_path):
    """A desk over a binder into which nothing has been read."""
    (tmp_path / "units.csv").write_text(UNITS_CSV)
    with open_binder(tmp_path / "quarry", create=True) as binder:
        binder.load_units(tmp_path / "units.csv")
    with running_desk(tmp_path / "quarry") as running:
        yield running


@pytest.fixture
def page(desk, browser) -> Page:
    opened = at_the_desk(browser, desk)
    yield opened
    opened.context.close()


def test_files_that_are_dropped_are_read_and_their_pages_balance(desk, page):
    page.goto(f"{desk.address}/batches")
    expect(page.get_by_role("heading", name="Nothing has been read yet")).to_be_visible()
    assert serious_faults(page) == []
    page.locator("#files").set_input_files(
        [
            {"name": "monday <b>.jpg", "mimeType": "image/jpeg", "buffer": scanned(0).encoded},
            {"name": "letter.pdf", "mimeType": "application/pdf", "buffer": LETTER},
        ]
    )
    expect(page.locator("#sending")).to_contain_text("2 files have arrived")
    stack = page.locator(".stack")
    expect(stack.locator(".stack-title")).to_have_text("Read: letter.pdf, monday _b_.jpg", timeout=60_000)
    expect(stack).to_contain_text("2 of 2 pages")
    doubts, _ = desk.app.state.binder.doubt_counts()
    assert doubts, "the sheet is one of which something is doubtful"
    counted = "1 doubt" if doubts == 1 else f"{doubts} doubts"
    expect(stack).to_contain_text(f"1 read as a sheet, 1 not readable, {counted}")
    assert serious_faults(page) == []
    stack.get_by_role("link", name="See its balance").click()
    expect(page.locator(".balance .sum td")).to_have_text("2")
    expect(page.get_by_text("No page was lost.")).to_be_visible()
    expect(page.get_by_role("cell", name=re.compile("letter.pdf is not a PDF"))).to_be_visible()
    # The sheet is the first of a pad of four; the code on it says so.
    expect(page.locator(".pads")).to_contain_text("sheets 2 to 4 of 4 have not come back")
    expect(page.locator(".pads")).to_contain_text("Those that did are of 2026-11-09.")
    assert serious_faults(page) == []
    page.get_by_role("link", name="Look through its 1 sheet").click()
    page.get_by_role("link", name="2026-11-09").click()
    expect(page.get_by_role("heading", name="WL-07, 2026-11-09")).to_be_visible()
    binder = desk.app.state.binder
    assert binder.balance(1)[Outcome.UNREADABLE] == 1
    assert binder.verify().problems == ()
    assert list((desk.folder / INBOX).iterdir()) == [], "the bytes are in the archive, and nowhere else"


def test_a_file_that_is_really_dropped_on_the_page_is_read_and_its_reason_shown(desk, page):
    page.goto(f"{desk.address}/batches")
    dropped = page.evaluate_handle(
        """words => {
            const carried = new DataTransfer();
            carried.items.add(new File([words], "letter.pdf", { type: "application/pdf" }));
            return carried;
        }""",
        LETTER.decode(),
    )
    page.dispatch_event("#drop", "drop", {"dataTransfer": dropped})
    expect(page.locator("#sending")).to_contain_text("1 file has arrived")
    expect(page.locator(".stack")).to_contain_text("1 not readable", timeout=60_000)
    expect(page.locator("#nothing")).to_have_count(0)


def test_a_connection_lost_while_reading_is_said_and_the_page_goes_on_once_the_desk_is_back(desk, page):
    page.goto(f"{desk.address}/batches")
    with open_binder(desk.folder) as other, other.one_reader(lambda _: None):  # the stack waits its turn meanwhile
        page.locator("#files").set_input_files([{"name": "back.jpg", "mimeType": "image/jpeg", "buffer": blank_back()}])
        expect(page.locator(".stack-title")).to_have_text("Being read: back.jpg")
        page.context.set_offline(True)
        expect(page.locator("#lost")).to_contain_text("The desk does not answer just now.")
        expect(page.locator("#lost")).to_contain_text("nothing is lost")
        page.context.set_offline(False)
        expect(page.locator("#lost")).to_be_hidden()
    expect(page.locator(".stack-title")).to_have_text("Read: back.jpg")
    expect(page.locator(".stack-outcomes")).to_have_text("1 blank")


def test_whoever_is_signed_out_while_a_stack_is_read_is_told_so_and_the_reading_goes_on(desk, page):
    page.goto(f"{desk.address}/batches")
    with open_binder(desk.folder) as other, other.one_reader(lambda _: None):
        page.locator("#files").set_input_files([{"name": "back.jpg", "mimeType": "image/jpeg", "buffer": blank_back()}])
        expect(page.locator(".stack-title")).to_have_text("Being read: back.jpg")
        desk.app.state.sessions.end_all()
        expect(page.locator("#signed-out")).to_contain_text("You are signed out")
        expect(page.locator("#lost")).to_be_hidden()
    reader = desk.app.state.reader
    while reader.progress()[0].stage != "read":
        reader._thread.join(0.05)
    assert [recorded.record.outcome for recorded in desk.app.state.binder.pages()] == [Outcome.BLANK]


def test_in_an_empty_binder_each_page_says_what_to_do_next(desk, page):
    for path, words in (("/settle", "Nothing has been read yet"), ("/sheets", "No sheet has been read yet")):
        page.goto(desk.address + path)
        expect(page.get_by_role("heading", name=words)).to_be_visible()
        expect(page.locator("main").get_by_role("link", name="Batches")).to_be_visible()


def test_too_many_files_are_refused_before_any_is_sent(desk, page):
    page.goto(f"{desk.address}/batches")
    one = {"name": "back.jpg", "mimeType": "image/jpeg", "buffer": b"x"}
    page.locator("#drop").evaluate("drop => { drop.dataset.mostFiles = 2; }")
    page.locator("#files").set_input_files([one, one | {"name": "2.jpg"}, one | {"name": "3.jpg"}])
    expect(page.locator("#drop-said")).to_contain_text("These are 3 files and 2 go at a time; nothing was sent.")
    assert not (desk.folder / INBOX).exists()


def test_a_desk_that_was_ended_while_reading_reads_on_when_it_is_started_again(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as binder:
        stack = new_stack(binder.folder)
        (binder.folder / INBOX / stack / "back.jpg").write_bytes(blank_back())
        completed(binder.folder, stack, "AB")
    with running_desk(tmp_path / "binder") as desk:
        desk.app.state.reader.end()  # waits for what it is about to read
        assert desk.app.state.reader.progress()[0].stage in ("reading", "read")
    with running_desk(tmp_path / "binder") as desk:
        binder = desk.app.state.binder
        while unread_stacks(desk.folder):
            desk.app.state.reader._thread.join(0.05)
        assert [p.record.outcome for p in binder.pages()] == [Outcome.BLANK]
        assert binder.batches()[0].ended_at is not None


def test_a_reader_sees_batches_and_feeds_nothing(desk, browser):
    sessions = desk.app.state.sessions
    context = browser.new_context()
    context.add_cookies([{"name": sessions.cookie, "value": sessions.begin("RD", Role.READER), "url": desk.address}])
    page = context.new_page()
    page.goto(f"{desk.address}/batches")
    expect(page.get_by_text("Batches appear here once a clerk")).to_be_visible()
    expect(page.locator("#drop")).to_have_count(0)
    token = page.evaluate("document.body.dataset.token")
    assert context.request.post(f"{desk.address}/batches/stacks", headers={TOKEN_HEADER: token}).status == 403
    assert not (desk.folder / INBOX).exists()
    context.close()


def test_a_file_without_the_sessions_token_is_refused(desk, page):
    answer = page.context.request.post(f"{desk.address}/batches/stacks")
    assert answer.status == 403
    assert not (desk.folder / INBOX).exists()


async def _bytes(*chunks: bytes):
    for chunk in chunks:
        yield chunk


def run(coroutine):
    """Run a coroutine that never waits for anything outside to its end."""
    try:
        while True:
            coroutine.send(None)
    except StopIteration as done:
        return done.value


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("../../record.sqlite", "record.sqlite"),
        ("C:\\scans\\week 47.PDF", "week 47.PDF"),
        ("..", "scan"),
        ("\x00\x1b[2J.jpg", "__[2J.jpg"),
        ("ä" * 200 + ".tiff", "ä" * 60 + ".tiff"),
    ],
)
def test_a_files_name_never_says_where_it_is_put(tmp_path, name, kept):
    stack = new_stack(tmp_path)
    assert run(put(tmp_path, stack, name, _bytes(b"page"))) == kept
    assert [p.relative_to(tmp_path).as_posix() for p in tmp_path.rglob("*") if p.is_file()] == [f"inbox/{stack}/{kept}"]


def test_two_files_of_one_name_are_both_kept(tmp_path):
    stack = new_stack(tmp_path)
    names = [run(put(tmp_path, stack, "scan.jpg", _bytes(data))) for data in (b"one", b"two")]
    assert names == ["scan.jpg", "scan (2).jpg"]
    assert [path.read_bytes() for path in completed(tmp_path, stack, "AB")] == [b"two", b"one"]


def test_a_file_that_grows_too_large_leaves_nothing_and_the_others_stay(tmp_path, monkeypatch):
    monkeypatch.setattr(inbox, "MOST_BYTES_A_FILE", 10)
    stack = new_stack(tmp_path)
    run(put(tmp_path, stack, "small.jpg", _bytes(b"123")))
    with pytest.raises(UsageError, match=r"large\.jpg is too large"):
        run(put(tmp_path, stack, "large.jpg", _bytes(b"12345", b"678901")))
    assert [path.name for path in completed(tmp_path, stack, "AB")] == ["small.jpg"]
    with pytest.raises(UsageError, match="has been read or was never begun"):
        run(put(tmp_path, stack, "late.jpg", _bytes(b"1")))
    with pytest.raises(UsageError, match="has been read or was never begun"):
        completed(tmp_path, "0" * 16, "AB")
    with pytest.raises(UsageError, match="No file has arrived"):
        completed(tmp_path, new_stack(tmp_path), "AB")


def test_sentences_about_dropped_files_name_them_as_the_person_did(tmp_path):
    path = tmp_path / INBOX / ("0a" * 8) / "week 47.pdf"
    assert without_folders(tmp_path, f"{path} is damaged.") == "week 47.pdf is damaged."
    assert without_folders(tmp_path, "/scans/week 47.pdf is damaged.") == "/scans/week 47.pdf is damaged."
