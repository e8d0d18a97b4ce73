"""Two sheets in one picture, from the file to the record: each is a page of its own, and the count still comes out."""

from __future__ import annotations

import signal
import sqlite3
import subprocess
import sys
from functools import lru_cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from commands import ROOT, Run, environment, json_lines
from intake_files import jpeg_bytes, put
from located_pages import page_of, painted_white, straight
from scanned_stack import pdf_of, printed_pad, scanned

from scanform.binder import open_binder
from scanform.form import find_template
from scanform.locate import KnownLayouts, LocatedSheet, NotLocated, sheets_on

HALF = 0.5
TABLE = 110


def small(page: np.ndarray) -> np.ndarray:
    return cv2.resize(page, None, fx=HALF, fy=HALF, interpolation=cv2.INTER_AREA)


@lru_cache(maxsize=1)
def blanks() -> list[np.ndarray]:
    """Unused sheets of one pad at 150 dpi."""
    return [small(sheet) for sheet in printed_pad(find_template("site-machine"))[1]]


def on_table(*placed: tuple[np.ndarray, int, int], width: int, height: int) -> np.ndarray:
    """Sheets on a table, the later ones on top: each with its left and top edge in px."""
    table = np.full((height, width), TABLE, np.uint8)
    for sheet, x, y in placed:
        part = sheet[max(0, -y) : height - y, max(0, -x) : width - x]
        table[max(0, y) : max(0, y) + part.shape[0], max(0, x) : max(0, x) + part.shape[1]] = part
    return table


def serials(found: list[LocatedSheet | NotLocated]) -> list[str | None]:
    return [sheet.code.serial if isinstance(sheet, LocatedSheet) and sheet.code else None for sheet in found]


def pad_serials() -> list[str]:
    return printed_pad(find_template("site-machine"))[2]


H, W = 1754, 1240


@pytest.mark.parametrize("second_turned", [False, True])
def test_two_sheets_side_by_side_are_two_in_reading_order(known: KnownLayouts, second_turned: bool) -> None:
    first, second = blanks()[:2]
    if second_turned:
        second = second[::-1, ::-1]
    for placed in ([(first, 20, 30), (second, W + 60, 10)], [(first, 30, 20), (second, 10, H + 70)]):
        picture = on_table(
            *placed, width=max(x for _, x, _ in placed) + W + 30, height=max(y for *_, y in placed) + H + 40
        )
        found = sheets_on(page_of(picture), known)
        assert serials(found) == pad_serials()[:2]
        assert [sheet.page.part for sheet in found] == [1, 2]


def test_places_are_in_the_pixels_of_the_whole_picture(known: KnownLayouts) -> None:
    picture = on_table((blanks()[0], 20, 30), (blanks()[1], W + 60, 10), width=2 * W + 90, height=H + 60)
    for sheet, at in zip(sheets_on(page_of(picture), known), ((20, 30), (W + 60, 10)), strict=True):
        assert isinstance(sheet, LocatedSheet)
        assert sheet.page.pixels is not None
        assert sheet.page.pixels.shape == picture.shape
        box = sheet.layout.field("unit").box_mm
        true = (straight(np.array([[box.x_mm, box.y_mm]])) + 0.5) * HALF - 0.5 + at
        assert np.abs(np.array(sheet.polygon_px(box)[0]) - true).max() < 1.5


@pytest.mark.parametrize("reach_mm", [12, 32, 90])
@pytest.mark.parametrize("side", ["right", "left", "below"])
def test_the_edge_of_another_sheet_disturbs_none(known: KnownLayouts, reach_mm: int, side: str) -> None:
    reach = round(reach_mm * 150 / 25.4)
    at = {"right": ((0, 0), (W, 15)), "left": ((reach, 0), (reach - W, 15)), "below": ((0, 0), (9, H))}[side]
    size = {"width": W, "height": H} | ({"height": H + reach} if side == "below" else {"width": W + reach})
    picture = on_table((blanks()[1], *at[1]), (blanks()[0], *at[0]), **size)
    assert serials(sheets_on(page_of(picture), known)) == pad_serials()[:1]


def test_a_sheet_that_peeks_out_below_another_is_no_page_and_the_upper_one_is_read(known: KnownLayouts) -> None:
    picture = on_table((blanks()[1], 200, 150), (blanks()[0], 20, 20), width=W + 320, height=H + 250)
    (sheet,) = sheets_on(page_of(picture), known)
    assert serials([sheet]) == pad_serials()[:1]
    assert isinstance(sheet, LocatedSheet)
    assert any("another sheet" in warning for warning in sheet.warnings)


def test_a_half_covered_sheet_is_unreadable_and_says_what_to_do(known: KnownLayouts) -> None:
    picture = on_table((blanks()[1], 850, 120), (blanks()[0], 20, 20), width=W + 900, height=H + 200)
    upper, lower = sheets_on(page_of(picture), known)
    assert serials([upper]) == pad_serials()[:1]
    assert isinstance(lower, NotLocated)
    assert lower.outcome == "unreadable"
    assert "lay them side by side" in lower.reason


def test_a_second_sheet_without_marks_is_counted_by_its_code(known: KnownLayouts) -> None:
    layout = printed_pad(find_template("site-machine"))[0]
    bare = small(
        painted_white(printed_pad(find_template("site-machine"))[1][1], *(m.box_mm.grown(1) for m in layout.marks))
    )
    picture = on_table((blanks()[0], 20, 30), (bare, W + 60, 10), width=2 * W + 90, height=H + 60)
    found = sheets_on(page_of(picture), known)
    assert len(found) == 2
    assert serials(found)[0] == pad_serials()[0]


def test_a_neighbours_code_is_not_taken_for_a_torn_off_one(known: KnownLayouts) -> None:
    layout, pages, _ = printed_pad(find_template("site-machine"))
    torn = small(painted_white(pages[0], layout.code_box_mm.grown(3)))
    # Of the neighbour only the strip with its code is to be seen, upside down and without three marks.
    strip = blanks()[1][::-1, ::-1][:, :420]
    picture = on_table((strip[-700:-140], W + 5, 400), (torn, 0, 0), width=W + 430, height=H)
    sheet = sheets_on(page_of(picture), known)[0]
    # Its own serial line may be read in the place of the code.
    assert not isinstance(sheet, LocatedSheet) or sheet.code is None or sheet.code.serial == pad_serials()[0]


@lru_cache(maxsize=1)
def two_in_one() -> bytes:
    """Two filled sheets on one scanner glass."""
    first, second = (
        small(cv2.imdecode(np.frombuffer(scanned(day).encoded, np.uint8), cv2.IMREAD_GRAYSCALE)) for day in (0, 1)
    )
    height = max(first.shape[0], second.shape[0])
    picture = on_table((first, 10, 10), (second, first.shape[1] + 50, 20), width=2 * W + 140, height=height + 60)
    return jpeg_bytes(picture, dpi=(150, 150))


@lru_cache(maxsize=1)
def stack() -> bytes:
    return pdf_of([scanned(2).encoded, two_in_one()])


def read_arguments(folder: Path) -> list[object]:
    return ["read", folder / "glass.pdf", "--binder", folder / "binder", "--json", folder / "out.jsonl", "--workers", 1]


def of_sheets(pages: list[dict[str, Any]]) -> list[tuple[int, int, str, str]]:
    return [(page["page"], page.get("part", 1), page["outcome"], page["serial"]) for page in pages]


def expected() -> list[tuple[int, int, str, str]]:
    return [(1, 1, "read", scanned(2).serial), (2, 1, "read", scanned(0).serial), (2, 2, "read", scanned(1).serial)]


def test_the_count_comes_out_and_reading_again_changes_nothing(tmp_path: Path, run: Run) -> None:
    put(tmp_path, "glass.pdf", stack())
    ran = run(*read_arguments(tmp_path))
    assert ran.code == 0
    assert "Pages in: 2 + 1 more sheet beside another in one picture = 3 read + 0 blank" in ran.out
    pages = json_lines(tmp_path / "out.jsonl")
    assert of_sheets(pages) == expected()
    for page, day in zip(pages[1:], (0, 1), strict=True):
        accepted = {f["id"]: f["value"] for f in page["fields"] if f["state"] == "accepted"}
        truth = scanned(day).truth.values
        assert accepted["unit"] == truth["unit"]
        wrong = [i for i, value in accepted.items() if i.startswith("item.") and value != truth[i]]
        assert not wrong
    left, right = (next(f["polygon_px"][0][0] for f in page["fields"] if f["id"] == "unit") for page in pages[1:])
    assert right > left + W
    with open_binder(tmp_path / "binder") as binder:
        assert (binder.batch(1).pages_in, binder.batch(1).more_sheets) == (2, 1)
        before = binder.verify()
        assert before.problems == ()
    assert run(*read_arguments(tmp_path)).code == 0
    assert json_lines(tmp_path / "out.jsonl") == pages
    with open_binder(tmp_path / "binder") as binder:
        assert binder.verify().head_hash == before.head_hash


def pages_on_record(binder: Path) -> int:
    try:
        with sqlite3.connect(f"file:{binder / 'record.sqlite'}?mode=ro", uri=True, timeout=5) as connection:
            return int(connection.execute("select count(*) from page").fetchone()[0])
    except sqlite3.OperationalError:
        return -1


KILLED_BETWEEN = """
import os, signal, sys
from scanform.binder import pages
record = pages.record_page
def dying(engine, folder, sheet):
    if sheet.part == 2:
        os.kill(os.getpid(), signal.SIGKILL)
    return record(engine, folder, sheet)
pages.record_page = dying
from scanform.cli import main
sys.argv[0] = "scanform"
main()
"""


def test_a_read_killed_between_two_sheets_of_a_picture_is_finished_by_running_it_again(
    tmp_path: Path, run: Run
) -> None:
    put(tmp_path, "glass.pdf", stack())
    killed = subprocess.run(
        [sys.executable, "-c", KILLED_BETWEEN, *map(str, read_arguments(tmp_path))], cwd=ROOT, env=environment()
    )
    assert killed.returncode == -signal.SIGKILL
    assert pages_on_record(tmp_path / "binder") == 2
    assert run(*read_arguments(tmp_path)).code == 0
    assert of_sheets(json_lines(tmp_path / "out.jsonl")) == expected()
    with open_binder(tmp_path / "binder") as binder:
        assert len(binder.pages()) == 3
        assert binder.verify().problems == ()
