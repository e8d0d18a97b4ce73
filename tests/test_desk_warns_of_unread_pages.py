"""Pages that could not be read stand in every list that a decision rests on, until a person has looked at them."""

from __future__ import annotations

import datetime as dt
import io

import pdfplumber
import pytest
from commands import runner
from desk_browser import at_the_desk
from playwright.sync_api import Page, expect

from scanform.binder import Binder, PageRecord, SheetQuery
from scanform.errors import UsageError
from scanform.report import unread_pages, unread_sentence, weekly_letter
from scanform.report.letter_html import letter_html
from scanform.report.letter_pdf import letter_pdf
from scanform.settle import Outcome, State

BOTH = "2 pages were not read and may fill a gap or hold a defect"
ONE = "1 page was not read and may fill a gap or hold a defect"
PAGES = ("/settle", "/missing", "/letter", "/letter?week=2025-W99", "/defects")


@pytest.fixture
def binder(desk) -> Binder:
    return desk.app.state.binder


@pytest.fixture
def unread(binder) -> tuple[int, int]:
    """A batch of a photo that was cut short and of other paper: the numbers of its pages."""
    batch = binder.begin_batch(["torn.jpg", "other.png"])
    found = []
    for name, outcome in (("torn.jpg", Outcome.UNREADABLE), ("other.png", Outcome.UNKNOWN_FORM)):
        sha256 = binder.archive(name.encode(), ".jpg")
        record = PageRecord(name, f"/scans/{name}", 1, sha256, outcome, "It could not be read.", batch_id=batch)
        found.append(binder.record_page(record).number)
    binder.end_batch(batch, found, 2)
    return found[0], found[1]


@pytest.fixture
def page(desk, browser) -> Page:
    opened = at_the_desk(browser, desk)
    yield opened
    opened.context.close()


def test_every_list_at_the_desk_says_that_pages_were_not_read_and_leads_to_them(desk, page, binder, unread):
    assert unread_pages(binder) == len(unread)
    for path in (*PAGES, "/batches/1"):
        page.goto(desk.address + path)
        warning = page.locator(".unread")
        expect(warning).to_contain_text(BOTH)
        warning.get_by_role("link").click()
        expect(page.locator("tbody").last).to_contain_text("torn.jpg")
        expect(page.locator("tbody").last).to_contain_text("other.png")
    for doubt in [*binder.queue(), *binder.spot_checks()]:
        binder.confirm(doubt.ref, doubt.field.value if doubt.field.state is State.DOUBTFUL else None, "XY")
    page.goto(f"{desk.address}/settle")
    expect(page.get_by_role("heading", name="Nothing waits")).to_be_visible()
    expect(page.locator(".unread")).to_contain_text(BOTH)
    page.goto(f"{desk.address}/settle/doubts")
    expect(page.get_by_role("heading", name="All settled")).to_be_visible()
    expect(page.locator("#done-unread")).to_contain_text(BOTH)


def test_a_page_of_which_a_person_says_that_nothing_is_to_be_entered_is_warned_of_no_more(desk, page, binder, unread):
    torn, other = unread
    page.goto(f"{desk.address}/sheets/{other}")
    page.get_by_label("Why nothing is to be entered").fill("a delivery note")
    page.get_by_role("button", name="Nothing to enter").click()
    expect(page.get_by_text("void: a delivery note (AB)")).to_be_visible()
    page.goto(f"{desk.address}/missing")
    expect(page.locator(".unread")).to_contain_text(ONE)
    page.locator(".unread").get_by_role("link").click()
    expect(page.locator("tbody tr")).to_have_count(1)
    expect(page.locator("tbody")).to_contain_text("torn.jpg")
    with pytest.raises(UsageError, match="on record as void"):
        binder.void_sheet(other, "AB", "again")
    assert binder.verify().sound
    binder.take_back_void(other, "AB")
    assert binder.page_numbered(other).record.outcome is Outcome.UNKNOWN_FORM
    assert binder.verify().sound
    assert [sheet.number for sheet in binder.find_sheets(SheetQuery(unread=True)).sheets] == [other, torn]


def test_the_letter_that_is_printed_or_sent_says_what_was_not_read_where_it_says_what_is_dangerous(binder, unread):
    letter = weekly_letter(binder, dt.date(2026, 11, 9), dt.date(2026, 11, 16))
    assert letter.unread == unread_pages(binder) == 2
    with pdfplumber.open(io.BytesIO(letter_pdf(letter))) as pdf:
        said = pdf.pages[0].extract_text()
    dangerous = said[said.index("Dangerous") : said.index("\nOpen")]
    assert f"{BOTH}." in dangerous
    assert "2 unread pages may fill gaps" in said
    assert " ".join(said.split()).count(f"{BOTH}.") == 2, "beside danger, and at the foot"
    html = letter_html(letter)
    assert html.count(f"{BOTH}.") == 3, "beside danger, beside gaps, and at the foot"
    binder.void_sheet(unread[0], "AB", "scanned again")
    binder.void_sheet(unread[1], "AB", "a delivery note")
    assert "not read" not in letter_html(weekly_letter(binder, dt.date(2026, 11, 9), dt.date(2026, 11, 16)))
    assert unread_sentence(unread_pages(binder)) == ""


def test_the_commands_that_list_gaps_and_defects_say_what_was_not_read(desk, unread, monkeypatch, capsys):
    run = runner(monkeypatch, capsys)
    for command in ("gaps", "defects"):
        told = " ".join(run(command, "--binder", desk.folder).out.split())
        assert f"{unread_sentence(len(unread))}: scanform desk shows what they are." in told
