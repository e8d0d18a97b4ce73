"""A stack from the scanner into the binder: every page accounted for, whatever happens on the way."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import yaml
from commands import ROOT, Run, environment, json_lines, one_sentence, run_process
from intake_files import put
from scanned_stack import CREW_CSV, OUTCOMES, UNIT, UNITS_CSV, pdf_of, scanned, truths, write_stack

from scanform.batch import gather
from scanform.binder import open_binder
from scanform.form import find_template, load_template, template_folder
from scanform.settle import Outcome
from scanform.simulate import Grade


@dataclass(frozen=True)
class Office:
    """The stack, the registers, and a binder that has read it once with one worker."""

    stack: Path
    binder: Path
    pages: list[dict[str, Any]]
    code: int
    said: str


def read_arguments(office_folder: Path, binder: Path, out: Path) -> list[object]:
    registers = ["--units", office_folder / "units.csv", "--crew", office_folder / "crew.csv"]
    return ["read", office_folder / "stack", "--binder", binder, "--json", out, *registers]


@pytest.fixture(scope="module")
def office_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("office")
    write_stack(folder / "stack")
    put(folder, "units.csv", UNITS_CSV.encode())
    put(folder, "crew.csv", CREW_CSV.encode())
    return folder


@pytest.fixture(scope="module")
def office(office_folder: Path) -> Office:
    binder, out = office_folder / "binder", office_folder / "pages.jsonl"
    ran = run_process(*read_arguments(office_folder, binder, out), "--workers", 1)
    return Office(office_folder / "stack", binder, json_lines(out), ran.code, ran.out + ran.err)


def head(binder: Path) -> tuple[str, int]:
    with open_binder(binder) as record:
        report = record.verify()
    assert report.problems == ()
    return report.head_hash, report.entries


def of_pages(pages: list[dict[str, Any]]) -> list[tuple[str, int]]:
    return [(Path(page["source"]).name, page["page"]) for page in pages]


def test_every_page_has_exactly_one_outcome_in_input_order(office: Office) -> None:
    feeder = [("1 feeder.pdf", n) for n in (1, 2, 3, 4)]
    others = ["2 archive.tif", "3 cut short.jpg", "4 letter.pdf", "6 calendar.png", "7 locked.pdf"]
    assert of_pages(office.pages) == [*feeder, *((name, 1) for name in others)]
    assert [page["outcome"] for page in office.pages] == list(OUTCOMES)
    assert all(page["reason"] for page in office.pages if page["outcome"] != "read")
    assert all(page["fields"] == [] for page in office.pages if page["outcome"] != "read")


def test_the_balance_is_printed_and_damaged_files_end_in_exit_code_1_and_a_sentence_each(office: Office) -> None:
    assert office.code == 1
    assert "Pages in: 9 = 4 read + 1 blank + 0 duplicate + 1 unknown-form + 3 unreadable" in office.said
    sentences = [line for line in office.said.splitlines() if line.startswith("scanform: ")]
    for name, why in (("3 cut short.jpg", "cut short"), ("4 letter.pdf", "not a PDF"), ("7 locked.pdf", "encrypted")):
        (sentence,) = [s for s in sentences if name in s]
        assert why in sentence
    assert len(sentences) == 3
    assert "Traceback" not in office.said


def test_the_record_balances_and_is_sound(office: Office) -> None:
    with open_binder(office.binder) as record:
        assert record.verify().problems == ()
        assert record.balance(1) == {outcome: OUTCOMES.count(outcome.value) for outcome in Outcome}
        assert [(Path(p.record.source).name, p.record.page_number) for p in record.batch_pages(1)] == of_pages(
            office.pages
        )


def test_accepted_values_are_what_the_crew_wrote(office: Office) -> None:
    read = [page for page in office.pages if page["outcome"] == "read"]
    assert [page["serial"] for page in read] == [truth.serial for truth in truths()]
    for page, truth in zip(read, truths(), strict=True):
        assert page["template"] == "site-machine"
        accepted = {f["id"]: f["value"] for f in page["fields"] if f["state"] == "accepted"}
        for field_id, value in accepted.items():
            if field_id.startswith("defect.") and field_id.count(".") == 1:
                continue  # words are held to a rate of errors, not to each letter: see the benchmark
            expected = truth.values[field_id]
            assert str(value).casefold() == str(expected).casefold(), (page["serial"], field_id)
        assert len(accepted) > 0.9 * len(page["fields"])
        assert {"unit", "date"} <= set(accepted), "printed on the pad, so in the code"


def test_a_page_fed_upside_down_has_its_fields_in_page_pixels_turned(office: Office) -> None:
    upright, turned = office.pages[0], office.pages[2]
    for page, sign in ((upright, 1), (turned, -1)):
        unit = next(f for f in page["fields"] if f["id"] == "unit")["polygon_px"]
        date = next(f for f in page["fields"] if f["id"] == "date")["polygon_px"]
        assert len(unit) == 4
        assert sign * (date[0][0] - unit[0][0]) > 100
        assert sign * (unit[1][0] - unit[0][0]) > 100, "corners run from the field's own top left"


def test_reading_the_same_stack_again_changes_nothing(office: Office, run: Run, office_folder: Path) -> None:
    before = head(office.binder)
    out = office_folder / "again.jsonl"
    ran = run(*read_arguments(office_folder, office.binder, out), "--workers", 1)
    assert ran.code == 1, "the damaged files are still damaged"
    assert json_lines(out) == office.pages
    assert head(office.binder) == before


def test_two_workers_read_the_same_as_one(office: Office, run: Run, office_folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "two.jsonl"
    assert run(*read_arguments(office_folder, tmp_path / "binder", out), "--workers", 2).code == 1
    assert json_lines(out) == office.pages


def pages_on_record(binder: Path) -> int:
    try:
        with sqlite3.connect(f"file:{binder / 'record.sqlite'}?mode=ro", uri=True, timeout=5) as connection:
            return int(connection.execute("select count(*) from page").fetchone()[0])
    except sqlite3.OperationalError:
        return -1  # not made yet


@pytest.mark.parametrize("recorded", [0, 3])
def test_a_killed_read_is_finished_by_running_it_again(
    office: Office, run: Run, office_folder: Path, tmp_path: Path, recorded: int
) -> None:
    binder, out = tmp_path / "binder", tmp_path / "pages.jsonl"
    arguments = [*read_arguments(office_folder, binder, out), "--workers", 2]
    process = subprocess.Popen(
        [sys.executable, "-m", "scanform", *map(str, arguments)],
        cwd=ROOT,
        env=environment(),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,  # its workers die with it
    )
    try:
        while process.poll() is None and pages_on_record(binder) < recorded:
            time.sleep(0.002)
    finally:
        os.killpg(process.pid, signal.SIGKILL)
        assert process.wait() == -signal.SIGKILL, "it ended before it could be killed"
    survived = pages_on_record(binder)
    assert recorded <= survived < len(OUTCOMES)
    assert run(*arguments).code == 1
    assert json_lines(out) == office.pages
    with open_binder(binder) as record:
        assert record.verify().problems == ()
        assert Counter((p.record.source, p.record.page_number) for p in record.pages()).most_common(1)[0][1] == 1
        assert len(record.pages()) == len(OUTCOMES)


def test_a_batch_of_pages_all_on_record_is_still_a_batch_if_it_was_never_finished(tmp_path: Path, run: Run) -> None:
    # Two scans read one by one, then named together: nothing is read, and the summary still balances.
    for day in (0, 2):
        put(tmp_path, f"{day}.jpg", scanned(day).encoded)
        assert run("read", tmp_path / f"{day}.jpg", "--binder", tmp_path / "binder", "--workers", 1).code == 0
    ran = run("read", tmp_path / "0.jpg", tmp_path / "2.jpg", "--binder", tmp_path / "binder", "--workers", 1)
    assert "Pages in: 2 = 2 read" in ran.out
    before = head(tmp_path / "binder")
    run("read", tmp_path / "0.jpg", tmp_path / "2.jpg", "--binder", tmp_path / "binder", "--workers", 1)
    assert head(tmp_path / "binder") == before


def test_a_file_named_twice_is_one_file(tmp_path: Path, run: Run) -> None:
    stack = tmp_path / "stack"
    stack.mkdir()
    put(stack, "sheet.jpg", scanned(0).encoded)
    put(stack, "torn.jpg", scanned(0).encoded[:50_000])
    assert gather([stack, stack / "torn.jpg", stack / "sheet.jpg", stack]).pages_in == 2
    ran = run("read", stack / "torn.jpg", stack, "--binder", tmp_path / "binder", "--workers", 1)
    assert ran.code == 1
    assert "Pages in: 2 = 1 read + 0 blank + 0 duplicate + 0 unknown-form + 1 unreadable" in ran.out


def test_what_is_no_file_is_refused_and_the_others_are_read(tmp_path: Path, run: Run) -> None:
    os.mkfifo(tmp_path / "pipe.pdf")
    put(tmp_path, "sheet.jpg", scanned(0).encoded)
    named = ["--binder", tmp_path / "binder", "--workers", 1]
    ran = run("read", tmp_path / "pipe.pdf", tmp_path / "sheet.jpg", *named)
    assert ran.code == 1
    assert "pipe.pdf is not a regular file" in one_sentence(ran.err)
    assert "Pages in: 1 = 1 read" in ran.out
    ran = run("read", tmp_path / "pipe.pdf", *named)
    assert ran.code == 1
    assert "pipe.pdf is not a regular file" in one_sentence(ran.err)


def test_a_sheet_scanned_twice_and_a_copied_file_are_duplicates(tmp_path: Path, run: Run) -> None:
    put(tmp_path, "a.jpg", scanned(0).encoded)
    put(tmp_path, "b.jpg", scanned(0).encoded)
    put(tmp_path, "c.tif", scanned(0, Grade.BITONAL).encoded)
    put(tmp_path, "d.jpg", scanned(0, turns=2).encoded)
    out = tmp_path / "pages.jsonl"
    names = [tmp_path / name for name in ("a.jpg", "b.jpg", "c.tif", "d.jpg")]
    ran = run("read", *names, "--binder", tmp_path / "binder", "--json", out, "--workers", 1)
    assert ran.code == 0, "a duplicate is no failure"
    pages = json_lines(out)
    assert [page["outcome"] for page in pages] == ["read", *["duplicate"] * 3]
    assert all("a.jpg" in page["reason"] for page in pages[1:])
    assert "the very same file" in pages[1]["reason"]
    assert "scanned again" in pages[2]["reason"]


def test_one_file_of_many_pages_reads_like_its_pages_one_by_one(tmp_path: Path, run: Run) -> None:
    put(tmp_path, "both.pdf", pdf_of([scanned(0).encoded, scanned(2).encoded]))
    for day in (0, 2):
        put(tmp_path, f"{day}.jpg", scanned(day).encoded)
    out = tmp_path / "pages.jsonl"
    run("read", tmp_path / "both.pdf", "--binder", tmp_path / "one", "--json", out, "--workers", 1)
    together = [page["fields"] for page in json_lines(out)]
    run("read", tmp_path / "0.jpg", tmp_path / "2.jpg", "--binder", tmp_path / "two", "--json", out, "--workers", 1)
    assert [page["fields"] for page in json_lines(out)] == together


def test_a_form_of_ones_own_is_unknown_until_its_template_is_given(tmp_path: Path, run: Run) -> None:
    own = yaml.safe_load((template_folder() / "site-machine.yaml").read_text(encoding="utf-8"))
    own |= {"name": "quarry-loader", "version": 3, "title": "Loader check of the quarry", "walk": own["walk"][1:]}
    file = put(tmp_path, "own.yaml", yaml.safe_dump(own).encode())
    sheet = scanned(0, template=load_template(file))
    scan, out, binder = put(tmp_path, "own.jpg", sheet.encoded), tmp_path / "pages.jsonl", tmp_path / "binder"
    reading = ["read", scan, "--binder", binder, "--json", out, "--workers", 1]

    assert run(*reading).code == 0
    (page,) = json_lines(out)
    assert page["outcome"] == "unknown-form"
    assert "quarry-loader" in page["reason"]
    assert "version 3" in page["reason"]
    assert "--template" in page["reason"]

    ran = run(*reading, "--template", file)
    (page,) = json_lines(out)
    assert (page["outcome"], page["template"], page["version"]) == ("read", "quarry-loader", 3)
    assert "Pages in: 1 = 1 read" in ran.out
    unit = next(f for f in page["fields"] if f["id"] == "unit")
    assert (unit["value"], unit["state"]) == (UNIT, "accepted")
    with open_binder(binder) as record:
        assert len(record.pages()) == 1
        assert record.items("quarry-loader", 3)
    assert run("verify", "--binder", binder).code == 0

    # The binder keeps the template, so the next stack needs no option; and once read, nothing is read again.
    before = head(binder)
    file.unlink()
    assert run(*reading).code == 0
    assert json_lines(out)[0]["outcome"] == "read"
    assert head(binder) == before


def test_a_changed_template_must_raise_its_version(tmp_path: Path, run: Run) -> None:
    text = (template_folder() / "site-machine.yaml").read_text(encoding="utf-8")
    assert find_template("site-machine").version == 1
    changed = put(tmp_path, "mine.yaml", text.replace("Horn", "Horn and bell", 1).encode())
    put(tmp_path, "sheet.jpg", scanned(0).encoded)
    reading = ["read", tmp_path / "sheet.jpg", "--binder", tmp_path / "binder", "--workers", 1]
    assert run(*reading).code == 0
    ran = run(*reading, "--template", changed)
    assert ran.code == 2
    assert "version" in one_sentence(ran.err)
    assert run(*reading).code == 0, "the refused template was not kept"
