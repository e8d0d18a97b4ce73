"""A TIFF's pages come out as they were written, fax or scanner."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import cv2
import numpy as np
import pytest
from intake_files import (
    bitonal,
    same_picture,
    sheet,
    stored_for,
    tiff,
)
from PIL import Image

from scanform.intake import count_pages, load_page


@pytest.mark.parametrize("compression", ["group4", "group3", "tiff_lzw", "tiff_adobe_deflate", "packbits", None])
def test_a_tiff_of_two_pages_gives_both_exactly(tmp_path: Path, compression: str | None) -> None:
    pages = [bitonal(), cv2.flip(bitonal(), -1)]
    path = tiff(tmp_path / "two.tif", pages, compression, dpi=(200, 200))
    assert count_pages(path) == 2
    second, first = load_page(path, 2), load_page(path, 1)
    assert np.array_equal(first.pixels, pages[0])
    assert np.array_equal(second.pixels, pages[1])
    assert second.number == 2
    assert second.dpi == pytest.approx(200)


@pytest.mark.skipif(shutil.which("tiffcp") is None, reason="libtiff's tiffcp is not installed")
@pytest.mark.parametrize(
    "options",
    ["-c g4 -f lsb2msb", "-c g3:2d", "-c g3:1d:fill", "-c g4 -B", "-c lzw -r 7", "-c zip -t", "-c g4 -8"],
)
def test_every_tiff_that_tiffcp_writes_gives_the_same_page(tmp_path: Path, options: str) -> None:
    plain = tiff(tmp_path / "plain.tif", [bitonal(), cv2.flip(bitonal(), 0)], "group4")
    made = tmp_path / "made.tif"
    subprocess.run(["tiffcp", *options.split(), str(plain), str(made)], check=True)
    assert count_pages(made) == 2
    assert np.array_equal(load_page(made, 1).pixels, bitonal())
    assert np.array_equal(load_page(made, 2).pixels, cv2.flip(bitonal(), 0))


def test_a_jpeg_compressed_tiff_is_read(tmp_path: Path) -> None:
    page = load_page(tiff(tmp_path / "j.tif", [sheet()], "jpeg"), 1)
    assert same_picture(page.pixels, sheet())


def test_min_is_white_is_not_shown_as_a_negative(tmp_path: Path) -> None:
    # TIFF 6.0, tag 262: 0 means that the sample 0 is white. G4 from fax machines is always so.
    for photometric in (0, 1):
        path = tmp_path / f"p{photometric}.tif"
        Image.fromarray(bitonal()).convert("1").save(path, compression="group4", tiffinfo={262: photometric})
        with Image.open(path) as stored:
            assert stored.tag_v2[262] == photometric
        assert np.array_equal(load_page(path, 1).pixels, bitonal())


@pytest.mark.parametrize("y_dpi", [98, 196, 391])
def test_a_fax_gets_square_pixels(tmp_path: Path, y_dpi: int) -> None:
    # ITU-T T.4: 204 dpi across; 98, 196 or 391 down.
    height = round(11 * y_dpi)
    path = tiff(tmp_path / "fax.tif", [bitonal(1728, height)], "group3", dpi=(204, y_dpi))
    page = load_page(path, 1)
    assert page.dpi == pytest.approx(max(204, y_dpi))
    scale = page.dpi / 204
    assert page.pixels.shape == (pytest.approx(11 * page.dpi, abs=1), round(1728 * scale))
    stretched = cv2.resize(bitonal(1728, height), page.pixels.shape[::-1], interpolation=cv2.INTER_AREA)
    assert same_picture(page.pixels, stretched)


def test_resolution_in_centimetres_is_told_in_inches(tmp_path: Path) -> None:
    path = tmp_path / "cm.tif"
    Image.fromarray(sheet()).save(path, resolution_unit="cm", x_resolution=118.11, y_resolution=118.11)
    assert load_page(path, 1).dpi == pytest.approx(300, abs=0.1)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_tiff_is_turned_as_its_orientation_tag_says(tmp_path: Path, orientation: int) -> None:
    path = tmp_path / "o.tif"
    # Twice as fine across the page as down it: the resolutions belong to the stored rows and columns.
    across, down = (50, 25) if orientation < 5 else (25, 50)
    for compression in (None, "tiff_lzw"):
        image = Image.fromarray(stored_for(orientation))
        image.save(path, compression=compression, tiffinfo={274: orientation})
        assert np.array_equal(load_page(path, 1).pixels, sheet())
        image.save(path, compression=compression, dpi=(across, down), tiffinfo={274: orientation})
        page = load_page(path, 1).pixels
        assert page.shape == (1100, 425)
        assert same_picture(page, cv2.resize(sheet(), (425, 1100)))
