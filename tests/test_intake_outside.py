"""What other programs wrote is read to the same pixels as another decoder gives: OpenCV's own, Pillow's, Poppler's."""

from __future__ import annotations

import io
import shutil
import subprocess
from pathlib import Path

import cv2
import numpy as np
import pytest
from intake_files import bitonal, put, same_picture, tiff
from PIL import Image

from scanform.form import Paper
from scanform.intake import count_pages, load_page
from scanform.training.fuzz_files import whole_files

WHOLE = whole_files()
# Pillow rounds colour to grey by ITU-R BT.601 in whole numbers, OpenCV in its own: a step or two, and JPEG decoders
# may differ by as much in each colour (ITU-T T.83 allows it).
_ROUNDING = 4


def _by_opencv(data: bytes) -> np.ndarray:
    grey = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert grey is not None
    return grey


def _by_pillow(data: bytes) -> np.ndarray:
    with Image.open(io.BytesIO(data)) as image:
        return np.asarray(image.convert("L"))


def _difference(found: np.ndarray, expected: np.ndarray) -> int:
    assert found.shape == expected.shape
    return int(np.abs(found.astype(int) - expected).max())


@pytest.mark.parametrize("name", ["grey.jpg", "progressive.jpg", "gs.jpg"])
def test_a_jpeg_shows_the_pixels_that_pillow_decodes(tmp_path: Path, name: str) -> None:
    if name not in WHOLE:
        pytest.skip("Ghostscript is not installed")
    assert _difference(load_page(put(tmp_path, name, WHOLE[name]), 1).pixels, _by_pillow(WHOLE[name])) <= _ROUNDING


@pytest.mark.parametrize(
    "name", ["grey.png", "colour.bmp", "bits.bmp", "lossy.webp", "packed.tif", "deflate.tif", "jpeg.tif", "tiled.tif"]
)
def test_a_picture_shows_the_pixels_that_opencv_decodes(tmp_path: Path, name: str) -> None:
    if name not in WHOLE:
        pytest.skip("libtiff's tiffcp is not installed")
    assert _difference(load_page(put(tmp_path, name, WHOLE[name]), 1).pixels, _by_opencv(WHOLE[name])) <= _ROUNDING


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="Poppler's pdftoppm is not installed")
@pytest.mark.parametrize(
    "name", ["jpeg.pdf", "flate.pdf", "g4.pdf", "jpx.pdf", "jbig2.pdf", "runs.pdf", "locked.pdf", "forms.pdf", "gs.pdf"]
)
def test_a_pdfs_pages_look_as_poppler_draws_them(tmp_path: Path, name: str) -> None:
    if name not in WHOLE:
        pytest.skip("Ghostscript is not installed")
    path = put(tmp_path, name, WHOLE[name])
    subprocess.run(["pdftoppm", "-gray", "-r", "144", str(path), str(tmp_path / "drawn")], check=True)
    drawn = [_by_opencv(file.read_bytes()) for file in sorted(tmp_path.glob("drawn*.pgm"))]
    assert len(drawn) == count_pages(path)
    for number, expected in enumerate(drawn, start=1):
        page = load_page(path, number).pixels
        found = cv2.resize(page, expected.shape[::-1], interpolation=cv2.INTER_AREA)
        assert same_picture(found, expected), number
        assert found.std() > 5, "an empty page is like any other"


@pytest.mark.parametrize(("paper", "inches"), [(Paper.A4, (210 / 25.4, 297 / 25.4)), (Paper.LETTER, (8.5, 11.0))])
def test_a_scan_of_the_whole_paper_has_its_size_in_pixels(
    tmp_path: Path, paper: Paper, inches: tuple[float, float]
) -> None:
    # ISO 216: A4 is 210 x 297 mm. US Letter is 8.5 x 11 in.
    width, height = (round(side * 300) for side in inches)
    page = load_page(tiff(tmp_path / "whole.tif", [bitonal(width, height)], "group4", dpi=(300, 300)), 1)
    assert page.dpi == pytest.approx(300)
    assert page.pixels.shape[1] / page.dpi * 25.4 == pytest.approx(paper.size_mm[0], abs=0.05)
    assert page.pixels.shape[0] / page.dpi * 25.4 == pytest.approx(paper.size_mm[1], abs=0.05)


@pytest.mark.skipif(shutil.which("fax2tiff") is None, reason="libtiff's fax2tiff is not installed")
@pytest.mark.parametrize(("option", "down"), [("-R 98", 98), ("-R 196", 196)])
def test_a_fax_as_libtiff_keeps_it_has_the_standards_resolutions(tmp_path: Path, option: str, down: int) -> None:
    # ITU-T T.4: 1728 dots across at 204 dpi; 98 or 196 lines an inch down.
    raw = tmp_path / "page.g3"
    fax = tiff(tmp_path / "fax.tif", [bitonal(1728, 550)], "group3")
    with Image.open(fax) as image:
        offset, length = image.tag_v2[273][0], image.tag_v2[279][0]
    raw.write_bytes(fax.read_bytes()[offset : offset + length])
    made = tmp_path / "made.tif"
    subprocess.run(["fax2tiff", *option.split(), "-o", str(made), str(raw)], check=True, capture_output=True)
    with Image.open(made) as image:
        lines = image.size[1]
        assert float(image.tag_v2[283]) == down
    page = load_page(made, 1)
    assert page.dpi == pytest.approx(204)
    assert page.pixels.shape[1] == 1728
    assert page.pixels.shape[0] == pytest.approx(lines * 204 / down, abs=1)
