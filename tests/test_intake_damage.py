"""Damage of any kind ends in a page or in one sentence, never in a traceback or in a half page."""

from __future__ import annotations

import io
from pathlib import Path

import img2pdf
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from intake_files import (
    FULL_PAGE,
    bitonal,
    bits,
    decoded,
    jpeg_bytes,
    one_image_pdf,
    put,
    refused,
    sheet,
    tiff,
)
from PIL import Image

from scanform.errors import FileUnreadable
from scanform.intake import count_pages, load_page


def small_whole_files() -> dict[str, bytes]:
    little = sheet(136, 176)
    buffer = io.BytesIO()
    Image.fromarray(little).convert("1").save(
        buffer,
        "TIFF",
        compression="group4",
        save_all=True,
        append_images=[Image.fromarray(little).convert("1")],
    )
    stencil = {"Width": 424, "Height": 552, "ImageMask": True, "BitsPerComponent": 1}
    stills = {kind: io.BytesIO() for kind in ("PNG", "GIF", "BMP", "WEBP")}
    for kind, out in stills.items():
        Image.fromarray(little).save(out, kind)
    lzw = io.BytesIO()
    Image.fromarray(little).save(lzw, "TIFF", compression="tiff_lzw")
    return {
        "jpg": jpeg_bytes(little),
        "pdf": img2pdf.convert(jpeg_bytes(little)),
        "stencil.pdf": one_image_pdf(bits(bitonal()), stencil, FULL_PAGE),
        "g4.tif": buffer.getvalue(),
        "lzw.tif": lzw.getvalue(),
        **{kind.lower(): out.getvalue() for kind, out in stills.items()},
    }


WHOLE = small_whole_files()


@pytest.mark.filterwarnings("ignore::UserWarning:PIL")
@pytest.mark.parametrize("kind", WHOLE)
@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    changes=st.lists(st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 255)), min_size=1, max_size=12),
    early=st.booleans(),
    cut=st.one_of(st.just(1.0), st.floats(0, 1)),
)
def test_damage_ends_in_a_page_or_in_a_sentence_and_in_nothing_else(
    tmp_path: Path, kind: str, changes: list[tuple[float, int]], early: bool, cut: float
) -> None:
    data = bytearray(WHOLE[kind])
    # Half of the time the damage hits the headers, where sizes and offsets are.
    reach = min(len(data), 120) if early else len(data)
    for place, value in changes:
        data[int(place * reach)] = value
    path = put(tmp_path, f"damaged.{kind}", bytes(data[: round(cut * len(data))]))
    try:
        for number in range(1, min(count_pages(path), 3) + 1):
            page = load_page(path, number)
            assert page.pixels.dtype == np.uint8
            assert page.pixels.ndim == 2
    except FileUnreadable as error:
        sentence = str(error)
    else:
        sentence = "."
    assert sentence.endswith(".")
    assert "\n" not in sentence


def test_a_photo_with_a_lost_part_is_refused_and_says_nothing_on_the_terminal(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    # libjpeg decodes on after bytes that are gone, shifted or grey, and OpenCV returns that as a good picture.
    data = bytearray(jpeg_bytes(sheet()))
    start = data.index(b"\xff\xda") + 600
    data[start : start + 400] = bytes(400)
    path = put(tmp_path, "hurt.jpg", bytes(data))
    assert count_pages(path) == 1
    assert "part of its picture is lost" in refused(path)
    assert capfd.readouterr().err == ""


@pytest.mark.parametrize("bad", [b"\1", b"\2", b"\xaa", b"\0"], ids=["no code", "extension", "noise", "hole"])
def test_a_g4_page_with_bad_code_is_refused_and_not_left_half_white(
    tmp_path: Path, bad: bytes, capfd: pytest.CaptureFixture[str]
) -> None:
    # libtiff leaves the rest of the strip white, and Pillow returns that as a good picture.
    whole = tiff(tmp_path / "whole.tif", [bitonal()], "group4")
    with Image.open(whole) as image:
        start = image.tag_v2[273][0]
    data = bytearray(whole.read_bytes())
    data[start + 60 : start + 68] = bad * 8
    path = put(tmp_path, "hurt.tif", bytes(data))
    assert "part of its picture is lost" in refused(path)
    assert capfd.readouterr().err == ""


def test_a_device_that_pads_its_scans_to_whole_words_is_read(tmp_path: Path) -> None:
    data = jpeg_bytes(sheet())
    assert data.endswith(b"\xff\xd9")
    padded = put(tmp_path, "padded.jpg", data[:-2] + bytes(2) + data[-2:])
    assert np.array_equal(load_page(padded, 1).pixels, decoded(data))
