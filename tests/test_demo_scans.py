"""The demo's week: is its story on paper as told, do the files open, and does the script make the same again."""

from __future__ import annotations

import csv
import io
import json
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest
import zxingcpp
from PIL import Image

from scanform.form import FieldKind, Paper, find_template, lay_out, pad_of, parse_code
from scanform.intake import count_pages, load_page
from scanform.simulate.week import make_week

FOLDER = Path(__file__).resolve().parents[1] / "demo_scans"
FILES = ("archive.tif", "feeder.pdf", "phone_1.jpg", "phone_2.jpg")
Entry = dict[str, Any]


def entries() -> list[Entry]:
    return json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))


def sheets() -> list[Entry]:
    """Every sheet of paper once."""
    return [entry for entry in entries() if entry["outcome"] == "read"]


def counted() -> list[Entry]:
    """The sheets that stand for a shift: not the one crossed out."""
    return [sheet for sheet in sheets() if "spoilt" not in sheet["troubles"]]


def with_trouble(words: str) -> list[Entry]:
    return [entry for entry in sheets() if any(trouble.startswith(words) for trouble in entry["troubles"])]


def register() -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO((FOLDER / "units.csv").read_text(encoding="utf-8"))))


def critical_items(template: str) -> set[str]:
    return {f"item.{item.name}" for item in find_template(template).items if item.critical}


def defects(sheet: Entry) -> list[str]:
    return [name for name, value in sheet["values"].items() if name.startswith("item.") and value == "defect"]


def code_on(entry: Entry) -> zxingcpp.Barcode:
    pixels = load_page(FOLDER / entry["source"], entry["page"]).pixels
    (found,) = zxingcpp.read_barcodes(pixels, formats=zxingcpp.BarcodeFormat.QRCode)
    return found


def test_the_script_makes_the_same_truth_and_the_same_registers_again(tmp_path: Path) -> None:
    make_week(tmp_path)
    for name in ("truth.json", "units.csv", "calendar.csv", "crew.csv"):
        assert (tmp_path / name).read_text(encoding="utf-8") == (FOLDER / name).read_text(encoding="utf-8")
    for name in FILES:
        assert count_pages(tmp_path / name) == count_pages(FOLDER / name)
        # Pixels may differ in the last bit from one machine's libraries to another's, pages may not.
        made, kept = (load_page(folder / name, 1).pixels for folder in (tmp_path, FOLDER))
        assert made.shape == kept.shape
        assert np.abs(made.astype(float) - kept).mean() < 1.0


def test_every_page_of_every_file_has_its_truth_and_no_other() -> None:
    pages = [(name, number) for name in FILES for number in range(1, count_pages(FOLDER / name) + 1)]
    assert [(entry["source"], entry["page"]) for entry in entries()] == pages
    assert {entry["outcome"] for entry in entries()} == {"read", "blank", "duplicate"}


def test_all_of_it_together_is_small_enough_for_a_clone() -> None:
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) < 20_000_000


def test_the_feeder_made_grey_jpegs_that_lie_in_the_pdf_untouched() -> None:
    # ISO 32000-1, 7.4.8: DCTDecode is a JPEG as it is; JPEG files begin with SOI (ITU-T T.81, B.1.1.3: FF D8).
    width, height = (25.4 / 300 * side for side in (2550, 3300))
    assert (width, height) == pytest.approx(Paper.LETTER.size_mm, abs=0.05)
    with pikepdf.open(FOLDER / "feeder.pdf") as pdf:
        for page in pdf.pages:
            (picture,) = page.Resources.XObject.values()
            assert picture.Filter == pikepdf.Name.DCTDecode
            assert picture.ColorSpace == pikepdf.Name.DeviceGray
            data = picture.read_raw_bytes()
            assert data[:2] == b"\xff\xd8"
            assert Image.open(io.BytesIO(data)).size == (picture.Width, picture.Height)
            assert 2550 <= picture.Width <= 2610  # some drivers scan up to 5 mm past the sheet
            assert 3300 <= picture.Height <= 3360


def test_the_archive_is_one_bit_t6_coded_at_300_dpi() -> None:
    # TIFF 6.0: tag 259 Compression, 4 = T.6; tag 282 XResolution.
    with Image.open(FOLDER / "archive.tif") as image:
        for number in range(image.n_frames):
            image.seek(number)
            assert image.mode == "1"
            assert image.tag_v2[259] == 4
            assert round(float(image.tag_v2[282])) == 300


def test_one_picture_was_stored_lying_and_says_so() -> None:
    # Exif 2.3, tag 0x0112 Orientation: 6 = turn a quarter clockwise to show.
    turns = [Image.open(FOLDER / name).getexif().get(0x0112, 1) for name in ("phone_1.jpg", "phone_2.jpg")]
    assert turns == [1, 6]
    for name in ("phone_1.jpg", "phone_2.jpg"):
        height, width = load_page(FOLDER / name, 1).pixels.shape
        assert height > width


def test_the_code_on_each_page_of_paper_is_the_sheet_that_the_truth_names() -> None:
    # zxing-cpp reads the symbol on the whole page, without any of this project's locating.
    by_hand = 0
    for entry in entries():
        if entry["outcome"] == "blank":
            continue
        code = parse_code(code_on(entry).text)
        assert code is not None
        assert (code.serial, code.template) == (entry["serial"], entry["template"])
        if "unit and date by hand" in entry["troubles"]:
            assert (code.unit, code.on) == (None, None)
            by_hand += 1
        else:
            assert (code.unit, str(code.on)) == (entry["values"]["unit"], entry["values"]["date"])
    assert by_hand == 3


def test_one_page_went_in_upside_down() -> None:
    (turned,) = with_trouble("upside down")
    assert abs(code_on(turned).orientation) > 170
    upright = [entry for entry in sheets() if entry["source"] == "feeder.pdf" and entry is not turned]
    assert all(abs(code_on(entry).orientation) < 5 for entry in upright[:6])


def test_the_backs_are_blank_but_not_clean() -> None:
    blank = [entry for entry in entries() if entry["outcome"] == "blank"]
    assert len(blank) == 13
    for entry in blank[:4]:
        pixels = load_page(FOLDER / entry["source"], entry["page"]).pixels[100:-100, 100:-100].astype(float)
        assert np.percentile(pixels, 0.5) > 0.8 * np.median(pixels)  # no print, no pen
        assert pixels.std() > 0.5  # a scanner's grain, and a shade of the front


def test_every_sheet_says_something_in_every_field_of_its_template() -> None:
    for sheet in sheets():
        layout = lay_out(find_template(sheet["template"]), Paper.LETTER)
        assert sheet["values"].keys() == {f.id for f in layout.fields}
        if sheet in counted():
            open_ended = {t.removeprefix("both ticked: ") for t in sheet["troubles"]}
            for f in layout.fields:
                if f.kind is FieldKind.CHOICE and f.id not in open_ended:
                    assert sheet["values"][f.id] in ("ok", "defect", "na")


def test_eight_units_of_three_kinds_worked_in_week_47() -> None:
    # ISO 8601: 2026-W47 is Monday 16 to Sunday 22 November.
    assert {date.fromisoformat(s["values"]["date"]).isocalendar()[:2] for s in sheets()} == {(2026, 47)}
    assert len({s["values"]["date"] for s in sheets()}) == 6
    units = register()
    assert len(units) == 8
    assert {u["kind"] for u in units} == {"site-machine", "road-truck", "forklift"}
    assert {(s["values"]["unit"], s["template"]) for s in sheets()} == {(u["unit"], u["kind"]) for u in units}
    crew = (FOLDER / "crew.csv").read_text(encoding="utf-8").lower().splitlines()[1:]
    for sheet in sheets():
        assert sheet["values"]["operator"].lower() in crew
        assert (sheet["values"]["told"] or crew[0]).lower() in crew


def test_one_unit_has_no_sheet_for_a_day_on_which_it_ran() -> None:
    gaps = []
    for unit in register():
        own = {date.fromisoformat(s["values"]["date"]): s for s in counted() if s["values"]["unit"] == unit["unit"]}
        day = min(own)
        while day < max(own):
            day += timedelta(days=1)
            if day not in own:
                gaps.append((unit["unit"], day))
                before, after = (own[day + timedelta(days=k)]["values"]["hours"] for k in (-1, 1))
                assert Decimal(after) - Decimal(before) > 14  # more than one day's work
    assert gaps == [("RT11", date(2026, 11, 19))]


def test_meters_run_up_to_14_hours_a_day_except_the_one_that_was_misread() -> None:
    # Common practice: a meter runs 0 to 14 h a day, 24 at most, and never backwards.
    (misread,) = with_trouble("hours misread")
    for unit in register():
        last, on = Decimal(unit["hours"]), date.fromisoformat(unit["hours_on"])
        assert on == date(2026, 11, 15)
        for sheet in sorted(
            (s for s in counted() if s["values"]["unit"] == unit["unit"]), key=lambda s: s["values"]["date"]
        ):
            hours, day = Decimal(sheet["values"]["hours"]), date.fromisoformat(sheet["values"]["date"])
            if sheet is misread or sheet["serial"] == misread["serial"]:
                assert hours - last > 24 * (day - on).days
                continue
            assert 0 <= hours - last <= 14 * (day - on).days
            last, on = hours, day


def test_the_second_scan_is_the_same_paper_but_not_the_same_bytes() -> None:
    (again,) = (entry for entry in entries() if entry["outcome"] == "duplicate")
    (first,) = (entry for entry in sheets() if entry["serial"] == again["serial"])
    assert again["values"] == first["values"]
    with pikepdf.open(FOLDER / "feeder.pdf") as pdf:
        one, two = (
            next(iter(pdf.pages[entry["page"] - 1].Resources.XObject.values())).read_raw_bytes()
            for entry in (first, again)
        )
    assert one != two
    serials = [entry["serial"] for entry in sheets()]
    assert len(set(serials)) == len(serials)
    assert all(pad_of(serial) for serial in serials)


def test_the_spoilt_sheet_was_done_again_on_one_from_a_blank_pad() -> None:
    (spoilt,) = with_trouble("spoilt")
    same_shift = [
        s
        for s in counted()
        if (s["values"]["unit"], s["values"]["date"]) == (spoilt["values"]["unit"], spoilt["values"]["date"])
    ]
    assert [s["troubles"] for s in same_shift] == [["unit and date by hand"]]


def test_the_troubles_of_the_week_are_there_once_each() -> None:
    (struck,) = with_trouble("struck out: item.wipers")
    assert struck["values"]["item.wipers"] == "defect"
    (both,) = with_trouble("both ticked: item.gauges")
    assert both["values"]["item.gauges"] is None
    (bare,) = with_trouble("unsigned")
    assert bare["values"]["signature"] is False
    unsigned = [s for s in counted() if s["values"]["signature"] is not True]
    assert unsigned == [bare]


def test_defects_have_their_words_and_numbers_and_two_concern_safety() -> None:
    grave = []
    for sheet in counted():
        numbers = {f"item.{item.name}": str(item.number) for item in find_template(sheet["template"]).items}
        values, found = sheet["values"], defects(sheet)
        for n, name in enumerate(found, start=1):
            assert values[f"defect.{n}.item"] == numbers[name]
            assert values[f"defect.{n}"]
            if name in critical_items(sheet["template"]):
                grave.append((values["unit"], name, values["date"], values["fit"]))
        assert values[f"defect.{len(found) + 1}"] is None
    assert sorted(grave) == [
        ("FL02", "item.mast", "2026-11-20", "parked"),
        ("WL07", "item.parking-brake", "2026-11-17", "fit"),
        ("WL07", "item.parking-brake", "2026-11-18", "parked"),
    ]
    assert sum(len(defects(sheet)) for sheet in counted()) == 10


def test_the_workshop_closed_one_defect_on_its_own_sheet() -> None:
    (closed,) = (s for s in sheets() if s["values"]["workshop.signature"])
    assert closed["values"]["unit"] == "WL07"
    assert closed["values"]["defect.1.repair"] == "repaired"
    assert closed["values"]["workshop.date"] == closed["values"]["date"] == "2026-11-18"
    others = [s["values"] for s in sheets() if s["serial"] != closed["serial"]]
    assert all(v["workshop.date"] is None and v["defect.1.repair"] is None for v in others)
