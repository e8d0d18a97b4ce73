"""Photos, pictures and folders are read as they are; what cannot be read ends in one sentence."""

from __future__ import annotations

import hashlib
import io
import os
from collections.abc import Callable
from pathlib import Path

import cv2
import img2pdf
import numpy as np
import pikepdf
import pytest
from intake_files import (
    FULL_PAGE,
    NAME,
    bitonal,
    decoded,
    encrypted_pdf,
    jpeg_bytes,
    jpeg_entries,
    one_image_pdf,
    picture,
    put,
    refused,
    refused_on_counting,
    same_picture,
    sheet,
    stored_for,
    tiff,
)
from PIL import Image

from scanform.errors import FileUnreadable, UsageError
from scanform.intake import count_pages, list_sources, load_page, sha256_of
from scanform.intake.limits import MAX_FILE_PAGES, MAX_PAGE_PIXELS


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_photo_is_turned_as_its_exif_says(tmp_path: Path, orientation: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    path = put(tmp_path, "photo.jpg", jpeg_bytes(stored_for(orientation), exif=exif))
    page = load_page(path, 1).pixels
    assert page.shape == sheet().shape
    assert same_picture(page, sheet())


def test_a_scanners_jpeg_comes_out_bit_for_bit_with_its_dpi(tmp_path: Path) -> None:
    data = jpeg_bytes(sheet(), dpi=(300, 300))
    page = load_page(put(tmp_path, "scan.jpg", data), 1, source="the tray")
    assert np.array_equal(page.pixels, decoded(data))
    assert (page.dpi, page.source, page.number) == (300, "the tray", 1)
    assert page.sha256 == hashlib.sha256(data).hexdigest() == sha256_of(tmp_path / "scan.jpg")


@pytest.mark.parametrize("mode", ["CMYK", "RGB", "L"])
def test_a_jpeg_of_any_colour_model_shows_ink_dark_on_light(tmp_path: Path, mode: str) -> None:
    buffer = io.BytesIO()
    Image.fromarray(sheet()).convert("RGB").convert(mode).save(buffer, "JPEG", quality=90)
    assert same_picture(load_page(put(tmp_path, "c.jpg", buffer.getvalue()), 1).pixels, sheet())


def clear_sheet() -> Image.Image:
    return Image.fromarray(np.dstack([np.zeros((550, 425, 3), np.uint8), 255 - sheet()]))


def palette_with_clear_paper() -> Image.Image:
    image = Image.fromarray((bitonal(425, 550) > 127).astype(np.uint8)).convert("P")
    image.putpalette([0, 0, 0, 30, 30, 30])
    image.info["transparency"] = 1
    return image


PICTURES: dict[str, tuple[str, Callable[[], Image.Image]]] = {
    "grey": ("PNG", lambda: Image.fromarray(sheet())),
    "one bit": ("PNG", lambda: Image.fromarray(bitonal(425, 550)).convert("1")),
    "palette": ("PNG", lambda: Image.fromarray(sheet()).convert("RGB").quantize(8)),
    "16 bit": ("PNG", lambda: Image.fromarray(sheet().astype(np.uint16) * 257)),
    "clear paper": ("PNG", clear_sheet),
    "palette with clear paper": ("PNG", palette_with_clear_paper),
    "grey with alpha": ("PNG", lambda: clear_sheet().convert("LA")),
    "bitmap": ("BMP", lambda: Image.fromarray(sheet())),
    "gif": ("GIF", lambda: Image.fromarray(sheet())),
    "webp": ("WEBP", lambda: Image.fromarray(sheet()).convert("RGB")),
    "webp with clear paper": ("WEBP", clear_sheet),
}


@pytest.mark.parametrize("kind", PICTURES)
def test_pictures_of_every_kind_show_ink_on_white_paper(tmp_path: Path, kind: str) -> None:
    name, make = PICTURES[kind]
    image = make()
    options = {"lossless": True} if name == "WEBP" else {}
    image.save(tmp_path / "picture.bin", name, **options)
    assert count_pages(tmp_path / "picture.bin") == 1
    page = load_page(tmp_path / "picture.bin", 1).pixels
    expected = bitonal(425, 550) if kind in ("one bit", "palette with clear paper") else sheet()
    assert page.dtype == np.uint8
    assert page.shape == (550, 425)
    assert np.abs(page.astype(int) - expected).max() <= 1 if kind != "palette" else same_picture(page, expected)


def test_an_encrypted_pdf_is_named_as_such(tmp_path: Path) -> None:
    assert "encrypted" in refused_on_counting(encrypted_pdf(tmp_path))


def test_a_pdf_that_is_only_locked_against_editing_is_read(tmp_path: Path) -> None:
    page = load_page(encrypted_pdf(tmp_path, owner_only=True), 1)
    assert np.array_equal(page.pixels, decoded(jpeg_bytes(sheet())))


@pytest.mark.parametrize("share", [0.3, 0.6, 0.95])
@pytest.mark.parametrize("kind", ["jpg", "pdf", "tif", "png", "webp"])
def test_a_file_cut_short_is_refused_and_never_half_grey(tmp_path: Path, kind: str, share: float) -> None:
    whole = {
        "jpg": lambda: jpeg_bytes(sheet()),
        "pdf": lambda: img2pdf.convert([jpeg_bytes(sheet()), jpeg_bytes(sheet()[::-1])]),
        "tif": lambda: tiff(tmp_path / "whole.tif", [bitonal(), bitonal()[::-1]], "group4").read_bytes(),
        "png": lambda: picture("PNG"),
        "webp": lambda: picture("WEBP"),
    }[kind]()
    path = put(tmp_path, f"cut.{kind}", whole[: round(len(whole) * share)])
    assert "cut short" in refused_on_counting(path)


def test_the_end_mark_of_a_thumbnail_does_not_pass_for_the_pictures_own(tmp_path: Path) -> None:
    # The EXIF block of a phone holds a whole small JPEG, with its own end mark, before the picture.
    exif = b"Exif\0\0" + b"MM\0*\0\0\0\x08\0\0\0\0\0\0" + jpeg_bytes(sheet(64, 80))
    data = jpeg_bytes(sheet(), exif=exif)
    assert np.array_equal(load_page(put(tmp_path, "whole.jpg", data), 1).pixels, decoded(data))
    assert "cut short" in refused_on_counting(put(tmp_path, "cut.jpg", data[: len(data) - 400]))


def test_what_a_phone_appends_behind_a_photo_does_no_harm(tmp_path: Path) -> None:
    data = jpeg_bytes(sheet())
    path = put(tmp_path, "motion.jpg", data + b"\0\0\0\x18ftypmp42" + bytes(5000))
    assert np.array_equal(load_page(path, 1).pixels, decoded(data))


def test_a_truncated_jpeg_inside_a_whole_pdf_is_refused(tmp_path: Path) -> None:
    data = jpeg_bytes(sheet())
    path = put(tmp_path, "in.pdf", one_image_pdf(data[: len(data) // 2], jpeg_entries(sheet()), FULL_PAGE))
    assert count_pages(path) == 1
    assert "cut short" in refused(path)
    assert "Page 1" in refused(path)


def test_an_empty_file_is_refused(tmp_path: Path) -> None:
    assert "is empty" in refused_on_counting(put(tmp_path, "nothing.pdf", b""))


def test_text_that_calls_itself_pdf_is_refused(tmp_path: Path) -> None:
    assert "is not a PDF" in refused_on_counting(put(tmp_path, "list.pdf", b"Brakes: checked\n" * 200))


def test_a_heic_photo_is_refused_with_what_to_do(tmp_path: Path) -> None:
    assert "HEIC" in refused_on_counting(put(tmp_path, "img.heic", b"\0\0\0\x18ftypheic\0\0\0\0mif1heic"))


def test_a_pdf_without_pages_is_refused(tmp_path: Path) -> None:
    pikepdf.new().save(tmp_path / "none.pdf")
    assert "no pages" in refused_on_counting(tmp_path / "none.pdf")


def test_a_file_that_is_not_there_and_a_folder_are_refused(tmp_path: Path) -> None:
    assert "check that it is there" in refused_on_counting(tmp_path / "gone.pdf")
    assert "not a regular file" in refused_on_counting(tmp_path)


def test_a_pipe_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.pdf")
    assert "not a regular file" in refused_on_counting(tmp_path / "pipe.pdf")


def test_a_png_named_jpg_is_read_as_what_it_is(tmp_path: Path) -> None:
    assert np.array_equal(load_page(put(tmp_path, "really.jpg", picture("PNG")), 1).pixels, sheet())


def test_a_page_that_the_file_does_not_have_is_a_mistake_of_the_caller(tmp_path: Path) -> None:
    path = put(tmp_path, "one.pdf", img2pdf.convert(jpeg_bytes(sheet())))
    for number in (0, 2, -1):
        with pytest.raises(UsageError, match="has 1 page; there is no page"):
            load_page(path, number)


def bomb(kind: str) -> bytes:
    """A small file that states 60,000 x 60,000 pixels."""
    side = 60_000
    if kind == "png":
        data = bytearray(picture("PNG"))
        data[16:24] = side.to_bytes(4, "big") * 2
    elif kind == "jpg":
        data = bytearray(jpeg_bytes(sheet()))
        at = data.index(b"\xff\xc0")
        data[at + 5 : at + 9] = side.to_bytes(2, "big") * 2
    elif kind == "gif":
        data = bytearray(picture("GIF"))
        data[6:10] = side.to_bytes(2, "little") * 2
    elif kind == "bmp":
        data = bytearray(picture("BMP"))
        data[18:26] = side.to_bytes(4, "little") * 2
    elif kind == "webp":
        # RFC 9649, 2.7: the extended header states canvas width and height less one, 24 bits each.
        chunk = b"VP8X" + (10).to_bytes(4, "little") + bytes(4) + (side - 1).to_bytes(3, "little") * 2
        data = bytearray(b"RIFF" + (len(chunk) + 4).to_bytes(4, "little") + b"WEBP" + chunk)
    else:
        entry = b"".join(
            tag.to_bytes(2, "little") + b"\x04\0\x01\0\0\0" + side.to_bytes(4, "little") for tag in (256, 257)
        )
        data = bytearray(b"II*\0\x08\0\0\0\x02\0" + entry + bytes(4))
    return bytes(data)


@pytest.mark.parametrize("kind", ["png", "jpg", "gif", "bmp", "webp", "tif"])
def test_a_pixel_bomb_is_refused_from_its_header(tmp_path: Path, kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def must_not_decode(*_: object, **__: object) -> None:
        raise AssertionError("decoded")

    monkeypatch.setattr(cv2, "imdecode", must_not_decode)
    monkeypatch.setattr(Image, "open", must_not_decode)
    assert "60000 x 60000 pixels" in refused_on_counting(put(tmp_path, f"bomb.{kind}", bomb(kind)))


@pytest.mark.parametrize("also_drawn", [b"", b" 1 1 1 1 re f"])
def test_a_pixel_bomb_in_a_pdf_is_refused_from_its_dictionary(tmp_path: Path, also_drawn: bytes) -> None:
    entries = {"Width": 60_000, "Height": 60_000, "ColorSpace": NAME.DeviceGray, "BitsPerComponent": 1}
    path = put(tmp_path, "bomb.pdf", one_image_pdf(b"\0", entries, FULL_PAGE + also_drawn))
    assert "60000 x 60000 pixels" in refused(path)
    assert MAX_PAGE_PIXELS < 60_000**2


def test_a_tiff_whose_pages_form_a_ring_is_refused(tmp_path: Path) -> None:
    data = bytearray(tiff(tmp_path / "t.tif", [sheet()]).read_bytes())
    first = int.from_bytes(data[4:8], "little")
    entries = int.from_bytes(data[first : first + 2], "little")
    end = first + 2 + 12 * entries
    data[end : end + 4] = first.to_bytes(4, "little")
    assert "ring" in refused_on_counting(put(tmp_path, "ring.tif", bytes(data)))


def test_a_pdf_of_too_many_pages_is_refused(tmp_path: Path) -> None:
    pdf = pikepdf.new()
    pdf.add_blank_page()
    for _ in range(MAX_FILE_PAGES):
        pdf.pages.append(pdf.pages[0])
    pdf.save(tmp_path / "many.pdf")
    assert f"{MAX_FILE_PAGES + 1} pages" in refused_on_counting(tmp_path / "many.pdf")


def test_control_characters_in_a_name_do_not_reach_the_terminal(tmp_path: Path) -> None:
    path = put(tmp_path, "scan\x1b[2J\n.pdf", b"")
    with pytest.raises(FileUnreadable) as refusal:
        count_pages(path)
    assert "\\x1b[2J\\n.pdf" in str(refusal.value)
    assert "\x1b" not in str(refusal.value)


@pytest.mark.parametrize("kind", ["pdf", "tif", "jpg"])
def test_a_name_that_is_not_utf_8_is_no_hindrance(tmp_path: Path, kind: str) -> None:
    path = tmp_path / os.fsdecode(b"h\xf6he." + kind.encode())
    whole = {"pdf": img2pdf.convert(jpeg_bytes(sheet())), "tif": picture("TIFF"), "jpg": jpeg_bytes(sheet())}
    path.write_bytes(whole[kind])
    assert same_picture(load_page(path, 1).pixels, sheet())


def test_a_file_that_was_replaced_is_opened_anew(tmp_path: Path) -> None:
    path = put(tmp_path, "scan.pdf", img2pdf.convert(jpeg_bytes(sheet())))
    before = load_page(path, 1)
    put(tmp_path, "scan.pdf", img2pdf.convert([jpeg_bytes(sheet()[::-1]), jpeg_bytes(sheet())]))
    after = load_page(path, 1)
    assert count_pages(path) == 2
    assert before.sha256 != after.sha256 == sha256_of(path)
    assert same_picture(after.pixels, np.ascontiguousarray(sheet()[::-1]))


def test_a_folder_is_read_in_natural_order_and_nothing_is_left_out_silently(tmp_path: Path) -> None:
    outside = put(tmp_path, "outside.jpg", jpeg_bytes(sheet()))
    tray = tmp_path / "tray"
    (tray / "week 9").mkdir(parents=True)
    (tray / "week 10").mkdir()
    for name in ("page10.jpg", "page2.jpg", "Page1.jpg", "week 9/b.png", "week 10/a.png"):
        put(tray, name, picture("PNG"))
    put(tray, "page3", picture("PNG"))
    put(tray, "page4.pdf", b"")
    put(tray, "notes.txt", b"Friday")
    put(tray, ".hidden.jpg", picture("PNG"))
    (tray / "link.jpg").symlink_to(outside)
    (tray / "up").symlink_to(tmp_path)
    (tray / "loop").symlink_to(tray)
    (tray / "lost.jpg").symlink_to(tmp_path / "nowhere.jpg")
    found = list_sources([outside, tray])
    names = ["Page1.jpg", "page2.jpg", "page3", "page4.pdf", "page10.jpg", "week 9/b.png", "week 10/a.png"]
    assert found.files == [outside, *(tray / name for name in names)]
    assert {path.name: why for path, why in found.skipped} == {
        ".hidden.jpg": "hidden",
        "link.jpg": "a link that leads out of the folder",
        "up": "a link that leads out of the folder",
        "loop": "a link to a folder that is read anyway",
        "lost.jpg": "a link to nothing",
        "notes.txt": "not a kind of file that is read",
    }


def test_a_path_that_does_not_exist_is_told_in_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"monday\.pdf does not exist; check the path\.$"):
        list_sources([tmp_path / "monday.pdf"])
