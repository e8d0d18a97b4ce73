"""The weekly letter: danger first, one page whatever the week was, and every figure as the lists have it."""

from __future__ import annotations

import datetime as dt
import io
import re
from dataclasses import replace

import pdfplumber
import pytest
from commands import one_sentence
from made_quarter import MONDAY

from scanform.binder import open_binder
from scanform.report import defect_register, still_open, weekly_letter
from scanform.report.letter_html import letter_html
from scanform.report.letter_pdf import letter_pdf

TODAY = dt.date(2026, 7, 27)
WEEK = MONDAY + dt.timedelta(weeks=6)  # 2026-W29


@pytest.fixture(scope="module")
def letter(quarter):
    return weekly_letter(quarter[0], WEEK, TODAY)


@pytest.fixture(scope="module")
def page(letter):
    with pdfplumber.open(io.BytesIO(letter_pdf(letter))) as pdf:
        (only,) = pdf.pages  # one page, though the made quarter has dozens of defects
        return only.extract_text()


def test_the_letter_is_one_page_with_danger_before_all_else(page):
    order = [page.index(word) for word in ("Dangerous", "\nOpen", "Missing", "Hours run in the week")]
    assert order == sorted(order)
    assert "Week 2026-W29" in page
    assert "stays parked until a competent person" in page


def test_its_counts_are_those_of_the_register_and_the_calendar(quarter, letter):
    binder, truth = quarter
    known = [d for d in defect_register(binder) if d.first <= letter.sunday]
    assert len(letter.dangerous) + len(letter.open_others) == len(still_open(known))
    missing = {(u, d) for u, d in truth.missing if letter.monday <= d <= letter.sunday}
    assert {(day.unit, day.day) for day in letter.coverage.missing} == missing
    closed = [d for d in truth.defects if d.closed_on and letter.monday <= d.closed_on <= letter.sunday]
    assert len(letter.closed_in_week) == len(closed)


@pytest.fixture(scope="module")
def crowded(quarter, letter):
    """The worst of weeks: every defect of the quarter open, dangerous and in use."""
    every = [replace(d, closed=None, critical=True, used_on=(MONDAY,)) for d in defect_register(quarter[0])]
    return replace(letter, dangerous=tuple(every), open_others=tuple(every), unread=3)


def test_what_does_not_fit_on_the_page_is_counted_on_it_and_whole_in_the_html(crowded):
    with pdfplumber.open(io.BytesIO(letter_pdf(crowded))) as pdf:
        assert len(pdf.pages) == 1
        said = pdf.pages[0].extract_text()
        lowest = max(word["bottom"] for word in pdf.pages[0].extract_words())
        assert lowest < pdf.pages[0].height - 10
    assert f"and {len(crowded.dangerous) - 5} more" in said
    assert "3 pages were not read and may fill a gap or hold a defect." in said
    assert said.count("USED WITH IT OPEN on 2026-06-01") == 5
    html = letter_html(crowded)
    assert all(defect.name in html for defect in crowded.dangerous)


def test_the_html_needs_nothing_beside_it_and_its_pictures_do_not_clip_each_other(letter):
    html = letter_html(letter)
    assert not re.search(r"""(src|href)=["']?https?://""", html.replace("http://www.w3.org/1999/xlink", ""))
    ids = re.findall(r'id="(clip\d*)"', html)
    assert len(ids) == len(set(ids)) == 3


def test_words_from_paper_are_text_in_the_html_and_never_markup(letter, crowded):
    worst = replace(crowded.dangerous[0], words="<script>alert(1)</script>")
    html = letter_html(replace(letter, dangerous=(worst,)))
    assert "<script>" not in html
    assert "&lt;script&gt;" in html


def test_the_command_writes_either_and_refuses_what_it_cannot_write(quarter, run, tmp_path):
    folder = quarter[0].folder
    assert run("letter", "--binder", folder, "--out", tmp_path / "m.pdf", "--week", "2026-W29").code == 0
    assert (tmp_path / "m.pdf").read_bytes().startswith(b"%PDF")
    assert "2026-W30" in run("letter", "--binder", folder, "--out", tmp_path / "m.html").out
    assert "ends in .pdf or .html" in one_sentence(run("letter", "--binder", folder, "--out", "m.doc").err)
    with open_binder(tmp_path / "empty", create=True):
        pass
    assert "holds no sheet" in one_sentence(run("letter", "--binder", tmp_path / "empty", "--out", "m.pdf").err)
