"""What a command writes never costs a scan, the record, or a file that somebody has put right by hand."""

from __future__ import annotations

import numpy as np
import pytest
from blank_forms import day_card
from blank_forms import pdf_of as blank_of
from changed_sheets import sheet
from commands import one_sentence
from intake_files import jpeg_bytes, picture
from made_quarter import MONDAY, daily
from scanned_stack import pdf_of

from scanform.binder import open_binder
from scanform.cli.outputs import JSON_LINES, check_parent
from scanform.errors import UsageError


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(daily().template)
        sheet(opened, MONDAY, ("horn", "horn dead"))
    return tmp_path / "binder"


@pytest.fixture
def scans(tmp_path):
    """A folder of two scans, a PDF and a PNG, and the register that lies with them."""
    folder = tmp_path / "scans"
    folder.mkdir()
    page = np.full((400, 300), 255, np.uint8)
    (folder / "a.pdf").write_bytes(pdf_of([jpeg_bytes(page, dpi=(50, 50))]))
    (folder / "b.png").write_bytes(picture("PNG"))
    (folder / "units.csv").write_text("unit\nWL07\n")
    return folder


def test_json_never_takes_the_place_of_a_scan_of_the_record_or_of_another_file(run, scans, binder, tmp_path):
    before = {path: path.read_bytes() for folder in (scans, binder) for path in folder.rglob("*") if path.is_file()}
    no_ending = scans / "scan"
    no_ending.write_bytes((scans / "a.pdf").read_bytes())
    for json_file, others, says in (
        (scans / "a.pdf", [scans / "b.png"], "this is a scan's name"),  # what a shell makes of --json scans/*
        (scans / "new.tif", [scans], "this is a scan's name"),
        (no_ending, [no_ending], "one of the scans"),
        (no_ending, [scans], "it is not replaced"),
        (scans / "units.csv", [scans], "it is not replaced"),
        (binder / "record.sqlite", [scans], "lies in the record"),
        (binder / "pages.jsonl", [scans], "lies in the record"),
        (tmp_path / "new" / "pages.jsonl", [scans], "lies in the record"),
        (tmp_path / "nowhere" / "pages.jsonl", [scans], "there is no folder"),
    ):
        into = tmp_path / "new" if "new" in json_file.parts else binder
        ran = run("read", "--binder", into, "--json", json_file, *others, "--workers", 1)
        assert ran.code == 2, json_file
        assert says in one_sentence(ran.err), ran.err
    assert not (tmp_path / "new").exists(), "refused before anything is read"
    assert {path: path.read_bytes() for path in before} == before


def test_a_folder_that_may_only_be_read_is_named_before_the_reading(tmp_path, monkeypatch):
    monkeypatch.setattr("os.access", lambda *_: False)  # the tests may run as one who may do anything
    with pytest.raises(UsageError, match="nothing can be written to"):
        check_parent("--json", tmp_path / "pages.jsonl")
    assert JSON_LINES.words == "JSON Lines"


def test_lists_pads_letters_and_pictures_leave_other_files_alone(run, scans, binder):
    before = {path: path.read_bytes() for folder in (scans, binder) for path in folder.rglob("*") if path.is_file()}
    of_record = ("--binder", binder)
    for arguments in (
        ("print", "site-machine", "--out", scans / "a.pdf"),
        ("print", "site-machine", "--out", binder / "pad.pdf"),
        ("defects", *of_record, "--out", scans / "units.csv"),
        ("defects", *of_record, "--out", scans / "new.pdf"),
        ("defects", *of_record, "--picture", scans / "a.pdf"),
        ("defects", *of_record, "--picture", scans / "b.png"),
        ("gaps", *of_record, "--picture", scans / "b.png"),
        ("hours", *of_record, "--unit", "WL07", "--picture", scans / "b.png"),
        ("letter", *of_record, "--out", scans / "a.pdf"),
        ("letter", *of_record, "--out", binder / "letter.pdf"),
        ("export", *of_record, "--out", binder),
        ("evidence", *of_record, "--out", binder / "evidence"),
        ("doubts", *of_record, "--crops", binder / "pages"),
        ("read", scans, *of_record, "--show", scans),
        ("read", scans, *of_record, "--show", binder / "seen"),
    ):
        ran = run(*arguments)
        assert ran.code == 2, arguments
        one_sentence(ran.err)
    after = {path: path.read_bytes() for folder in (scans, binder) for path in folder.rglob("*") if path.is_file()}
    assert after == before


def test_what_scanform_wrote_is_replaced_by_the_next_of_its_kind(run, binder, tmp_path):
    of_record, pad, listed = ("--binder", binder), tmp_path / "pad.pdf", tmp_path / "open.csv"
    for arguments in (
        ("print", "site-machine", "--out", pad),
        ("defects", *of_record, "--out", listed),
        ("defects", *of_record, "--picture", tmp_path / "defects.png"),
        ("defects", *of_record, "--picture", tmp_path / "defects.pdf"),
        ("defects", *of_record, "--picture", tmp_path / "defects.svg"),
        ("letter", *of_record, "--out", tmp_path / "letter.pdf"),
        ("letter", *of_record, "--out", tmp_path / "letter.html"),
    ):
        for _ in range(2):
            ran = run(*arguments)
            assert ran.code == 0, ran.err
    # A spreadsheet has saved it.
    listed.write_text(listed.read_text(encoding="utf-8-sig").replace('"', "").replace(",", ";"))
    assert run("defects", *of_record, "--out", listed).code == 0


def test_a_form_that_was_put_right_by_hand_is_not_proposed_anew_over_it(run, tmp_path):
    blank, out = tmp_path / "blank.pdf", tmp_path / "day_card.yaml"
    blank.write_bytes(blank_of(day_card))
    adopt = ("adopt", blank, "--out", out, "--picture", tmp_path / "seen.png")
    for _ in range(2):  # the same again is the same file
        assert run(*adopt).code == 0
    by_hand = out.read_text() + "# critical points marked, DM\n"
    out.write_text(by_hand)
    ran = run(*adopt)
    assert ran.code == 2
    assert "put right in it by hand" in one_sentence(ran.err)
    assert out.read_text() == by_hand


def test_a_scan_with_the_forms_name_is_not_replaced_by_the_picture_of_its_blank(run, tmp_path):
    blank, scan = tmp_path / "blank.pdf", tmp_path / "loader.png"
    blank.write_bytes(blank_of(day_card))
    scan.write_bytes(picture("PNG"))
    ran = run("adopt", blank, "--out", tmp_path / "loader.yaml")
    assert ran.code == 2
    assert "another picture has that name" in one_sentence(ran.err)
    assert scan.read_bytes() == picture("PNG")
    assert not (tmp_path / "loader.yaml").exists()


def test_a_binder_among_the_scans_is_not_read_into_itself(run, scans):
    (scans / "b.png").unlink()
    binder, seen = scans / "binder", scans / "seen"
    reading = ("read", scans, "--binder", binder, "--show", seen, "--workers", 1)
    for _ in range(2):
        ran = run(*reading)
        assert ran.code == 0, ran.err
        assert "Pages in: 1 " in ran.out
    for own in (binder, seen):
        assert f"Left out: {own} (it is written by scanform" in ran.err
    ran = run("read", binder / "pages", "--binder", binder)
    assert ran.code == 2
    assert "lies in the record" in one_sentence(ran.err)
