"""The demo is the whole job once: it must come out as demo_scans/truth.json and the README say."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from commands import ROOT, Ran, json_lines, run_process
from desk_browser import at_the_desk, running_desk

from scanform.training.desk_clerk import figures_of, settle_by_paper

SCANS = ROOT / "demo_scans"
SETTLED = 30  # doubts of the week, the dangerous ones first


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("demo") / "out"


@pytest.fixture(scope="module")
def ran(out: Path) -> Ran:
    return run_process("demo", "--out", out)


@pytest.fixture(scope="module")
def pages(ran: Ran, out: Path) -> list[dict[str, Any]]:
    assert ran.code == 0, ran.err
    return json_lines(out / "pages.jsonl")


@pytest.fixture(scope="module")
def truth() -> dict[tuple[str, int], dict[str, Any]]:
    pages = json.loads((SCANS / "truth.json").read_text(encoding="utf-8"))
    return {(page["source"], page["page"]): page for page in pages}


def place(page: dict[str, Any]) -> tuple[str, int]:
    return Path(page["source"]).name, page["page"]


def test_every_page_ends_in_the_outcome_that_it_should(pages, truth) -> None:
    assert {place(page): page["outcome"] for page in pages} == {key: page["outcome"] for key, page in truth.items()}


def test_the_balance_is_the_one_in_the_readme(ran: Ran) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    balance = re.search(r"Pages in: .*", ran.out)
    assert balance is not None
    assert balance[0].strip() in readme


def test_no_accepted_answer_or_number_is_wrong(pages, truth) -> None:
    wrong = []
    for page in pages:
        true = truth[place(page)]
        if page["outcome"] != "read" or any("spoil" in trouble for trouble in map(str, true["troubles"])):
            continue  # a sheet crossed out with VOID has no right answers
        for field in page["fields"]:
            said, meant = field["value"], true["values"].get(field["id"])
            if isinstance(said, str) and isinstance(meant, str):
                said, meant = said.casefold(), meant.casefold()
            free_words = re.fullmatch(r"defect\.\d", field["id"])
            if field["state"] == "accepted" and said != meant and not free_words:
                wrong.append((place(page), field["id"], meant, said))
    assert wrong == []


def test_both_safety_critical_defects_are_named_before_anything_else(ran: Ran) -> None:
    told = ran.out.index("Pages in")
    rows = [line for line in ran.out[:told].splitlines() if line.startswith("SAFETY")]
    assert any("WL07" in row and "Parking brake" in row for row in rows)
    assert any("FL02" in row and "lift chains" in row for row in rows)


def test_the_hours_that_cannot_be_are_doubted_with_their_arithmetic(pages) -> None:
    reasons = [r for page in pages for f in page["fields"] if f["id"] == "hours" for r in f["reasons"]]
    assert any("x 24 h" in reason for reason in reasons)  # 99 h in a day


def test_the_struck_out_tick_is_a_doubt_with_the_other_answer(pages) -> None:
    changed = [f for p in pages for f in p["fields"] if any("struck out" in r for r in f["reasons"])]
    assert any(f["id"] == "item.wipers" and f["value"] == "defect" for f in changed)


def test_the_record_is_sound_and_the_lists_open(ran: Ran, out: Path) -> None:
    assert "Sound:" in ran.out
    workbook = openpyxl.load_workbook(out / "lists" / "record.xlsx")
    lists = {"sheets", "answers", "defects", "hours", "pages", "doubts", "register", "gaps", "meters", "service"}
    assert lists <= set(workbook.sheetnames)


def test_the_ink_of_every_doubt_and_a_picture_of_every_page_are_there(out: Path, pages) -> None:
    doubtful = sum(field["state"] == "doubtful" for page in pages for field in page["fields"])
    assert len(list((out / "doubts").glob("*.png"))) == doubtful
    assert len(list((out / "seen").glob("*.png"))) == len(pages)


def test_the_register_the_calendar_and_the_letter_tell_the_weeks_story(ran: Ran, out: Path) -> None:
    told = ran.out[ran.out.index("4. What is broken") :]
    assert "RT11, 2026-11-19: ran 10.5 h without a sheet" in told
    assert ran.out.rstrip().endswith(f"scanform desk --binder {out / 'binder'}"), "it ends by telling how to go on"
    assert "97.7 % (44 of 45 days, 11 not in use, 1 not sure yet)" in told
    assert "30.defect.1: repaired 2026-11-18" in told  # the parking brake, one defect on two sheets
    assert (out / "letter.pdf").read_bytes().startswith(b"%PDF")
    assert "left lift chain: slack" in (out / "letter.html").read_text(encoding="utf-8")
    assert (out / "evidence-WL07" / "SHA256SUMS").is_file()


def test_a_folder_with_other_things_in_it_is_not_emptied(tmp_path: Path) -> None:
    kept = tmp_path / "letter.txt"
    kept.write_text("keep me")
    assert run_process("demo", "--out", tmp_path).code != 0
    assert kept.read_text() == "keep me"


@pytest.mark.usefixtures("ran")
def test_a_clerk_who_reads_the_paper_settles_doubts_by_keys_and_the_record_says_what_the_paper_does(
    out: Path, truth, tmp_path: Path, browser
) -> None:
    shutil.copytree(out / "binder", tmp_path / "binder")
    with running_desk(tmp_path / "binder") as desk:
        binder = desk.app.state.binder
        sheets = {page.number: page.record for page in binder.pages()}

        def on_paper(number: int, field_id: str) -> str | bool | None:
            record = sheets[number]
            return truth[Path(record.source).name, record.page_number]["values"][field_id]

        waiting = [doubt.ref for doubt in binder.queue()]
        window = at_the_desk(browser, desk, "JH")
        window.get_by_role("link", name="Begin with the first").click()
        window.wait_for_selector(".doubt[data-ref]")
        settled = settle_by_paper(window, on_paper, SETTLED)
        window.context.close()
        figures = figures_of(binder, settled, on_paper, "JH")
        assert [one.ref for one in settled] == waiting[:SETTLED]
        assert binder.verify().problems == ()
    assert figures.right + figures.wrong == figures.settled == SETTLED
    assert figures.wrong >= 3, "some readings only the paper puts right"
    assert figures.as_on_paper == figures.in_journal == SETTLED
    assert figures.keys_right <= 1.6
