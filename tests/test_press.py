"""The drawn sheets, read back by programs that had no part in drawing them."""

from __future__ import annotations

import io
import re
from datetime import date, timedelta

import cv2
import numpy as np
import pdfplumber
import pikepdf
import pytest
import zxingcpp

from scanform.form import CAUTION, Box, Layout, Paper, parse_code
from scanform.press import (
    Sheet,
    StillOpen,
    code_matrix,
    pad_sheets,
    parse_week,
    sheets_pdf,
    write_sheets,
)

MM = 72 / 25.4  # a point is 1/72 in
SHEETS = [(name, paper) for name in ("forklift", "road-truck", "site-machine") for paper in Paper]
PX_PER_MM = 300 / 25.4


def loose(layout: Layout, **known: object) -> list[Sheet]:
    wanted = {"unit": None, "days": (), "copies": 1} | known
    return pad_sheets(layout.template, layout.paper.value, "F7K2QD", **wanted)


def opened(layout: Layout, sheets: list[Sheet]) -> list[pdfplumber.page.Page]:
    return pdfplumber.open(io.BytesIO(sheets_pdf(layout, sheets))).pages


def words_in(page: pdfplumber.page.Page, box: Box) -> str:
    """The words inside a box of the sheet, in reading order, as pdfplumber finds them."""
    area = (box.x_mm * MM, box.y_mm * MM, box.right_mm * MM, box.bottom_mm * MM)
    return " ".join((page.within_bbox(area).extract_text() or "").split())


@pytest.fixture(params=SHEETS, ids=lambda p: f"{p[0]} on {p[1].value}", scope="module")
def layout(request: pytest.FixtureRequest, layout_of) -> Layout:
    return layout_of(*request.param)


@pytest.fixture(scope="module")
def drawn(layout: Layout) -> pdfplumber.page.Page:
    (page,) = opened(layout, loose(layout))
    return page


def test_the_pdf_page_is_a4_or_letter(layout: Layout, drawn: pdfplumber.page.Page) -> None:
    # ISO 216: A4 is 210 x 297 mm. US Letter: 8.5 x 11 in, 612 x 792 pt.
    size = {Paper.A4: (210 * MM, 297 * MM), Paper.LETTER: (612, 792)}[layout.paper]
    assert drawn.mediabox == pytest.approx((0, 0, *size), abs=0.01)


def test_every_item_stands_beside_its_boxes_with_its_number(layout: Layout, drawn: pdfplumber.page.Page) -> None:
    for item in layout.template.items:
        field = layout.field(f"item.{item.name}")
        left = min(w.x_mm for w in layout.words if w.text == str(item.number) and abs(field.box_mm.x_mm - w.x_mm) < 80)
        top, high = field.box_mm.y_mm - 1, field.box_mm.h_mm + 2
        assert words_in(drawn, Box(left - 0.5, top, 7, high)) == str(item.number)
        assert words_in(drawn, Box(left + 7, top, field.box_mm.x_mm - left - 7, high)) == item.text


def test_the_sheets_words_are_all_on_it(layout: Layout, drawn: pdfplumber.page.Page) -> None:
    text = " ".join(drawn.extract_text().split())
    for said in (
        layout.template.title,
        CAUTION,
        "Still open on this unit",
        "Unit number",
        "Date: year, month, day",
        "Hour meter",
        "Operator (print name)",
        "fit to use",
        "parked, not to be used",
        "Who was told",
        "Competent person: name and signature",
    ):
        assert said in text
    assert all(rule in text for rule in layout.template.rules)
    stages = {w.text.removesuffix(" (continued)") for w in layout.words if w.bold}
    assert {stage.stage for stage in layout.template.walk} <= stages
    for heading in ("OK", "Defect", "N/A"):
        assert len(re.findall(rf"{heading}(?= |$)", text)) >= 2


def test_headings_stand_over_their_column_of_boxes(layout: Layout, drawn: pdfplumber.page.Page) -> None:
    first = layout.field(f"item.{layout.template.items[0].name}")
    words = drawn.extract_words()
    for answer, heading in zip(first.answers, ("OK", "Defect", "N/A"), strict=True):
        over = [
            w
            for w in words
            if w["text"] == heading and abs((w["x0"] + w["x1"]) / 2 / MM - answer.box_mm.centre_mm[0]) < 0.5
        ]
        assert any(0 < answer.box_mm.y_mm - w["bottom"] / MM < 10 for w in over)


def test_borders_are_drawn_where_the_layout_says(layout: Layout, drawn: pdfplumber.page.Page) -> None:
    lines = np.array([[rule["x0"], rule["top"], rule["x1"], rule["bottom"]] for rule in drawn.lines]) / MM
    boxes = [cell for field in layout.fields for cell in field.cells_mm]
    boxes += [answer.box_mm for field in layout.fields for answer in field.answers]
    boxes += [field.box_mm for field in layout.fields if not field.cells_mm and not field.answers]
    for box in boxes:
        for x1, y1, x2, y2 in (
            (box.x_mm, box.y_mm, box.right_mm, box.y_mm),
            (box.x_mm, box.bottom_mm, box.right_mm, box.bottom_mm),
            (box.x_mm, box.y_mm, box.x_mm, box.bottom_mm),
            (box.right_mm, box.y_mm, box.right_mm, box.bottom_mm),
        ):
            if y1 == y2:  # a row of cells shares one long rule
                on = (np.abs(lines[:, [1, 3]] - y1).max(axis=1) < 0.05) & (lines[:, 0] < x1 + 0.05)
                on &= lines[:, 2] > x2 - 0.05
            else:
                on = (np.abs(lines[:, [0, 2]] - x1).max(axis=1) < 0.05) & (lines[:, 1] < y1 + 0.05)
                on &= lines[:, 3] > y2 - 0.05
            assert on.any(), (box, (x1, y1, x2, y2))


def test_the_sign_of_safety_is_drawn_beside_every_critical_item(layout: Layout, drawn: pdfplumber.page.Page) -> None:
    diamonds = [
        ((c["x0"] + c["x1"]) / 2 / MM, (c["top"] + c["bottom"]) / 2 / MM)
        for c in drawn.curves
        if 2 < (c["x1"] - c["x0"]) / MM < 3.5 and len(c["pts"]) <= 5
    ]
    for item in layout.template.items:
        box = layout.field(f"item.{item.name}").box_mm
        beside = [x for x, y in diamonds if abs(y - box.centre_mm[1]) < 0.5 and 0 < box.x_mm - x < 75]
        assert len(beside) == item.critical, item.name


def test_every_font_is_embedded(layout: Layout) -> None:
    with pikepdf.open(io.BytesIO(sheets_pdf(layout, loose(layout)))) as pdf:
        fonts = [font for page in pdf.pages for _, font in page.Resources.Font.items()]
        assert len(fonts) >= 2
        assert all("/FontFile2" in font.FontDescriptor for font in fonts)


def test_a_sheet_is_vector_artwork_without_pictures(drawn: pdfplumber.page.Page) -> None:
    assert drawn.images == []


@pytest.fixture(scope="module")
def rendered(layout: Layout, blank_sheet) -> np.ndarray:
    return blank_sheet(layout.template.name, layout.paper)


def test_opencv_finds_all_marks_where_the_layout_says(layout: Layout, rendered: np.ndarray) -> None:
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    corners, identities, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(rendered)
    found = {int(i): (c.reshape(4, 2) + 0.5) / PX_PER_MM for i, c in zip(identities.ravel(), corners, strict=True)}
    assert sorted(found) == [mark.identity for mark in layout.marks]
    for mark in layout.marks:
        x, y, w, h = mark.box_mm
        true = np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])
        assert np.abs(found[mark.identity] - true).max() < 0.1


def test_two_readers_read_the_code_from_the_sheet(layout: Layout, rendered: np.ndarray) -> None:
    (symbol,) = zxingcpp.read_barcodes(rendered, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode))
    quiet = layout.code_box_mm.grown(4 * layout.code_box_mm.w_mm / 29)
    crop = rendered[_px(quiet.y_mm) : _px(quiet.bottom_mm), _px(quiet.x_mm) : _px(quiet.right_mm)]
    text, _, _ = cv2.QRCodeDetector().detectAndDecode(crop)
    assert text == symbol.text
    code = parse_code(text)
    assert code is not None
    assert (code.template, code.version) == (layout.template.name, layout.template.version)
    assert (code.unit, code.on) == ("WL-014", date(2026, 11, 23))
    assert code.paper == layout.paper.value[0].upper()


def _px(mm: float) -> int:
    return round(mm * PX_PER_MM)


def test_four_white_modules_surround_the_printed_code(layout: Layout, rendered: np.ndarray) -> None:
    # ISO/IEC 18004: a quiet zone of four modules on every side. The module is measured on the print: the finder
    # pattern in the symbol's corner is seven modules wide.
    box = layout.code_box_mm
    inner = rendered[_px(box.y_mm) : _px(box.bottom_mm), _px(box.x_mm) : _px(box.right_mm)] < 128
    finder = int(np.flatnonzero(~inner[2])[0])
    module = finder / 7
    assert inner.shape[0] / module == pytest.approx(29, abs=1)
    reach = round(4 * module)
    outer = rendered[
        _px(box.y_mm) - reach : _px(box.bottom_mm) + reach, _px(box.x_mm) - reach : _px(box.right_mm) + reach
    ].copy()
    assert (outer < 128).any()
    outer[reach - 1 : 1 - reach, reach - 1 : 1 - reach] = 255
    assert outer.min() > 250


def test_a_module_of_the_code_is_large_enough_for_a_200_dpi_scan(layout: Layout) -> None:
    # Common practice: four pixels a module or more; the longest code that a built-in template can get.
    sheet = loose(layout, unit="WL-01234", days=(date(2026, 11, 23),))[0] if layout.template.unit_cells >= 7 else None
    assert sheet is not None
    modules = code_matrix(sheet.code.text()).shape[0]
    assert layout.code_box_mm.w_mm / modules * 200 / 25.4 >= 4


@pytest.fixture(scope="module")
def site(layout_of) -> Layout:
    return layout_of("site-machine", Paper.A4)


def test_a_weeks_pad_has_seven_sheets_with_unit_and_date_in_the_cells_and_in_the_code(site: Layout) -> None:
    sheets = loose(site, unit="WL-014", days=parse_week("2026-W48"))
    pages = opened(site, sheets)
    assert len(pages) == 7
    for n, (page, sheet) in enumerate(zip(pages, sheets, strict=True)):
        day = date(2026, 11, 23) + timedelta(days=n)
        assert [words_in(page, cell) for cell in site.field("unit").cells_mm] == [*"WL014", "", ""]
        assert [words_in(page, cell) for cell in site.field("date").cells_mm] == list(day.strftime("%Y%m%d"))
        assert words_in(page, site.serial_box_mm) == sheet.code.text()
        assert (sheet.code.unit, sheet.code.on) == ("WL-014", day)
    assert len({sheet.code.serial for sheet in sheets}) == 7


def test_a_printed_unit_number_keeps_clear_of_the_cells_borders(site: Layout) -> None:
    (page,) = opened(site, loose(site, unit="WWMMQQ8"))
    for cell, printed in zip(site.field("unit").cells_mm, "WWMMQQ8", strict=True):
        chars = [c for c in page.chars if c["text"] == printed and abs(c["x0"] / MM - cell.x_mm) < 3]
        (char,) = [c for c in chars if cell.y_mm < c["top"] / MM < cell.bottom_mm]
        assert char["x0"] / MM - cell.x_mm > 0.4  # half the border's width
        assert cell.right_mm - char["x1"] / MM > 0.4


def test_a_loose_sheet_leaves_unit_and_date_to_the_pen(site: Layout) -> None:
    (page,) = opened(site, loose(site))
    for field_id in ("unit", "date", "hours", "operator", "signature", "defect.1", "told"):
        assert words_in(page, site.field(field_id).box_mm) == ""


BRAKE = StillOpen("Brake pedal spongy", 24, date(2026, 11, 20))
LAMP = StillOpen("Tail light left cracked", 6, date(2026, 11, 23))


def open_lines(site: Layout, still_open: tuple[StillOpen, ...] | None) -> list[str]:
    sheets = loose(site, unit="WL-014", days=parse_week("2026-W48")[:1], still_open=still_open)
    (page,) = opened(site, sheets)
    return [words_in(page, box.grown(0.4)) for box in site.open_lines_mm]


def test_the_sheet_shows_what_is_still_open_on_the_unit(site: Layout) -> None:
    # 49 CFR 396.13 and 30 CFR 56.14100: who takes the machine over sees the defects that are not yet corrected.
    lines = open_lines(site, (BRAKE, LAMP))
    assert lines[:2] == [
        "24: Brake pedal spongy (since 2026-11-20)",
        "6: Tail light left cracked (since 2026-11-23)",
    ]
    assert lines[2:] == [""] * (len(lines) - 2)


def test_more_open_defects_than_lines_end_in_a_line_that_says_how_many_more(site: Layout) -> None:
    room = len(site.open_lines_mm)
    lines = open_lines(site, tuple(StillOpen(f"Defect {n}") for n in range(room + 4)))
    assert lines[: room - 1] == [f"Defect {n}" for n in range(room - 1)]
    assert lines[-1].startswith("and 5 more: see the defect list")
    exactly = open_lines(site, tuple(StillOpen(f"Defect {n}") for n in range(room)))
    assert exactly[-1] == f"Defect {room - 1}"


def test_a_long_complaint_is_cut_but_keeps_since_when(site: Layout) -> None:
    long = "Brake pedal spongy, needs two pumps before it bites, workshop told twice, nobody has come"
    first = open_lines(site, (StillOpen(long, 24, date(2026, 11, 20)),))[0]
    assert first.startswith("24: Brake pedal spongy")
    assert first.endswith("... (since 2026-11-20)")


def test_nothing_open_says_so_and_no_list_leaves_the_lines_free(site: Layout) -> None:
    assert open_lines(site, ())[0] == "None known when this sheet was printed."
    assert open_lines(site, None) == [""] * len(site.open_lines_mm)


def test_a_complaint_in_letters_the_typeface_lacks_shows_that_something_is_missing(site: Layout) -> None:
    assert open_lines(site, (StillOpen("\u0422\u043e\u0440\u043c\u043e\u0437 brake"),))[0] == "?????? brake"


def test_a_printed_file_appears_whole_and_the_same_twice(site: Layout, tmp_path) -> None:
    sheets = loose(site, unit="WL-014", days=parse_week("2026-W48")[:2])
    write_sheets(tmp_path / "pad.pdf", site, sheets)
    assert [path.name for path in tmp_path.iterdir()] == ["pad.pdf"]
    assert (tmp_path / "pad.pdf").read_bytes() == sheets_pdf(site, sheets)
