"""What a pad says is still open on its unit: never "none known" of a unit that nobody knows."""

from __future__ import annotations

import datetime as dt

import pdfplumber
import pytest
from changed_sheets import doubt, sheet
from commands import one_sentence
from made_quarter import MONDAY, daily

from scanform.binder import ClosingWish, open_binder
from scanform.report import close_by_name, defect_register

NONE_KNOWN = "None known when this sheet was printed."


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(daily().template)
        yield opened


@pytest.fixture
def printed(run, tmp_path):
    """Prints a sheet and gives what the command came to and what stands on the paper."""

    def print_it(*arguments):
        out = tmp_path / "pad.pdf"
        ran = run("print", "site-machine", "--date", "2026-06-02", "--out", out, *arguments)
        if not out.is_file():
            return ran, ""
        with pdfplumber.open(out) as opened:
            text = opened.pages[0].extract_text()
        out.unlink()
        return ran, text

    return print_it


def test_a_pad_for_a_mistyped_unit_is_refused_while_another_ones_brake_is_open(binder, printed):
    sheet(binder, MONDAY, ("horn", "horn dead"))
    ran, text = printed("--unit", "WL7", "--binder", binder.folder)
    assert ran.code == 2
    assert "Unit WL7: no sheet and no entry of the register names it" in one_sentence(ran.err)
    assert text == ""


def test_a_known_unit_without_open_defects_has_none_known(binder, printed):
    sheet(binder, MONDAY, ("horn", "horn dead"))
    sheet(binder, MONDAY, unit="RT11")
    ran, text = printed("--unit", "rt-11", "--binder", binder.folder)
    assert ran.code == 0, ran.err
    assert NONE_KNOWN in text


def test_a_list_without_a_row_of_the_unit_is_no_proof_that_nothing_is_open(printed, tmp_path):
    listed = tmp_path / "open.csv"
    listed.write_text("unit,item,words,since\nFL2,4,chain slack,2026-11-20\n")
    ran, text = printed("--unit", "FL02", "--still-open", listed)
    assert ran.code == 0
    assert "of unit FL02 (it lists FL2)" in ran.err
    assert NONE_KNOWN not in text
    assert "chain slack" not in text


def test_the_list_that_defects_writes_goes_onto_the_next_sheets_as_the_record_itself_does(
    binder, printed, run, tmp_path
):
    sheet(binder, MONDAY, ("horn", "horn dead"), ("wipers", "wiper blade torn"))
    sheet(binder, MONDAY, ("tires", "tire cut deep"), changed=[doubt("defect.1")])
    close_by_name(binder, [ClosingWish("1.defect.2", "repaired", MONDAY, "Otis Granger", "WO 7")], "OG")
    assert len(defect_register(binder)) == 3
    listed = tmp_path / "open.csv"
    assert run("defects", "--binder", binder.folder, "--closed", "--out", listed).code == 0
    by_record, by_list = (printed("--unit", "WL07", *source) for source in (
        ("--binder", binder.folder), ("--still-open", listed)))  # fmt: skip
    assert by_list[0].code == 0, by_list[0].err
    begin = "still open on this unit"

    def block(text):
        lines = text.casefold().splitlines()
        at = next(n for n, line in enumerate(lines) if begin in line)
        return [line for line in lines[at + 1 : at + 5] if "since" in line]

    assert block(by_list[1]) == block(by_record[1])
    assert "horn: not working (since 2026-06-01)" in by_list[1]
    assert "(?)" in by_list[1], "what is doubtful is not printed as a fact"
    assert "wiper blade" not in by_list[1], "closed"


def test_a_list_saved_with_semicolons_is_a_list(printed, tmp_path):
    listed = tmp_path / "open.csv"
    listed.write_text(f"unit;item;words;since\nFL02;4;Mast, chain;{dt.date(2026, 6, 1)}\n")
    ran, text = printed("--unit", "FL02", "--still-open", listed)
    assert ran.code == 0, ran.err
    assert "4: Mast, chain (since 2026-06-01)" in text
