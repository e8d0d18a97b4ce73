"""A PDF's pages come out as a viewer shows them, and a scan in it with the scanner's own pixels."""

from __future__ import annotations

import io
import resource
import shutil
import subprocess
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
    bits,
    decoded,
    jpeg_bytes,
    jpeg_entries,
    one_image_pdf,
    put,
    refused,
    same_picture,
    sheet,
    tiff,
)
from PIL import Image
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen import canvas

from scanform.intake import count_pages, load_page


def test_a_jpeg_that_img2pdf_wrapped_comes_out_bit_for_bit(tmp_path: Path) -> None:
    first, second = jpeg_bytes(sheet()), jpeg_bytes(cv2.flip(sheet(), 0))
    path = put(tmp_path, "stack.pdf", img2pdf.convert([first, second]))
    assert count_pages(path) == 2
    assert np.array_equal(load_page(path, 2).pixels, decoded(second))
    assert np.array_equal(load_page(path, 1).pixels, decoded(first))


def test_a_colour_jpeg_in_a_pdf_comes_out_as_its_own_luma(tmp_path: Path) -> None:
    colour = np.dstack([sheet(), np.full((550, 425), 200, np.uint8), 255 - sheet()])
    data = jpeg_bytes(colour)
    path = put(tmp_path, "colour.pdf", img2pdf.convert(data))
    assert np.array_equal(load_page(path, 1).pixels, decoded(data))


def test_a_jpeg_that_reportlab_wrapped_twice_over_comes_out_bit_for_bit(tmp_path: Path) -> None:
    # reportlab packs the JPEG once more (ASCII85); the compression hides nothing.
    data = jpeg_bytes(sheet())
    path = tmp_path / "scan.pdf"
    drawing = canvas.Canvas(str(path), pagesize=(612, 792), pageCompression=1)
    put(tmp_path, "scan.jpg", data)
    drawing.drawImage(str(tmp_path / "scan.jpg"), 0, 0, 612, 792)
    drawing.showPage()
    drawing.save()
    page = load_page(path, 1)
    assert np.array_equal(page.pixels, decoded(data))
    assert page.dpi == pytest.approx(50)


def test_an_image_inside_a_form_object_counts_as_one_image(tmp_path: Path) -> None:
    # The form is drawn through its own matrix, inside the page's; ISO 32000-1, 8.10.1 says how they combine.
    data = jpeg_bytes(sheet())
    pdf = pikepdf.open(io.BytesIO(one_image_pdf(data, jpeg_entries(sheet()), b"/Wrap Do")))
    resources = pdf.pages[0].Resources
    form = pikepdf.Stream(pdf, b"q 306 0 0 396 0 0 cm /Scan Do Q")
    form.Type, form.Subtype = NAME.XObject, NAME.Form
    form.BBox, form.Matrix = [0, 0, 306, 396], [2, 0, 0, 2, 0, 0]
    form.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(Scan=resources.XObject.Scan))
    pdf.pages[0].Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(Wrap=pdf.make_indirect(form)))
    pdf.save(tmp_path / "wrapped.pdf")
    assert np.array_equal(load_page(tmp_path / "wrapped.pdf", 1).pixels, decoded(data))


def test_the_scanners_invisible_text_layer_draws_nothing(tmp_path: Path) -> None:
    data = jpeg_bytes(sheet())
    text = b" BT /F1 12 Tf 3 Tr 100 100 Td (brakes) Tj ET"
    pdf = pikepdf.open(io.BytesIO(one_image_pdf(data, jpeg_entries(sheet()), FULL_PAGE + text)))
    font = pikepdf.Dictionary(Type=NAME.Font, Subtype=NAME.Type1, BaseFont=NAME.Helvetica)
    pdf.pages[0].Resources.Font = pikepdf.Dictionary(F1=font)
    pdf.save(tmp_path / "ocr.pdf")
    assert np.array_equal(load_page(tmp_path / "ocr.pdf", 1).pixels, decoded(data))


def test_words_stamped_over_a_scan_are_seen(tmp_path: Path) -> None:
    data = jpeg_bytes(np.full((550, 425), 255, np.uint8))
    path = tmp_path / "stamped.pdf"
    drawing = canvas.Canvas(str(path), pagesize=(612, 792))
    drawing.drawImage(ImageReader(io.BytesIO(data)), 0, 0, 612, 792)
    drawing.rect(200, 592, 100, 100, fill=1)
    drawing.save()
    page = load_page(path, 1)
    assert page.pixels.shape == (3300, 2550)
    assert page.pixels[round(150 * 300 / 72), round(250 * 300 / 72)] == 0
    assert page.pixels[round(500 * 300 / 72), round(250 * 300 / 72)] == 255


@pytest.mark.parametrize("degrees", [0, 90, 180, 270])
def test_a_page_turned_with_rotate_is_shown_turned(tmp_path: Path, degrees: int) -> None:
    data = jpeg_bytes(sheet())
    path = put(tmp_path, "r.pdf", one_image_pdf(data, jpeg_entries(sheet()), FULL_PAGE, Rotate=degrees))
    # ISO 32000-1, table 30: /Rotate turns clockwise; numpy turns counter-clockwise.
    assert np.array_equal(load_page(path, 1).pixels, np.rot90(decoded(data), -degrees // 90))


MATRICES = {
    "mirrored": (b"-612 0 0 792 612 0", (612, 792)),
    "half-turn": (b"-612 0 0 -792 612 792", (612, 792)),
    "upside-down": (b"612 0 0 -792 0 792", (612, 792)),
    "transposed": (b"0 -612 -792 0 792 612", (792, 612)),
    "clockwise": (b"0 -612 792 0 0 612", (792, 612)),
    "transverse": (b"0 612 792 0 0 0", (792, 612)),
    "anticlockwise": (b"0 612 -792 0 792 0", (792, 612)),
}


@pytest.mark.parametrize("degrees", [0, 90, 270])
@pytest.mark.parametrize("matrix", MATRICES)
def test_an_image_turned_or_mirrored_by_its_matrix_looks_as_pdfium_draws_it(
    tmp_path: Path, matrix: str, degrees: int
) -> None:
    numbers, size = MATRICES[matrix]
    content = b"q " + numbers + b" cm /Scan Do Q"
    entries = jpeg_entries(sheet())
    path = put(tmp_path, "m.pdf", one_image_pdf(jpeg_bytes(sheet()), entries, content, size, Rotate=degrees))
    # A dot drawn beside the image makes the same page one that has to be drawn, by PDFium.
    drawn = put(
        tmp_path,
        "d.pdf",
        one_image_pdf(jpeg_bytes(sheet()), entries, content + b" 1 1 1 1 re f", size, Rotate=degrees),
    )
    page, reference = load_page(path, 1).pixels, load_page(drawn, 1).pixels
    assert sorted(page.shape) == [425, 550]
    assert sorted(reference.shape) == [2550, 3300]
    assert same_picture(reference, page)


@pytest.mark.skipif(shutil.which("gs") is None, reason="Ghostscript is not installed")
@pytest.mark.parametrize("matrix", MATRICES)
def test_an_image_turned_by_its_matrix_looks_as_ghostscript_draws_it(tmp_path: Path, matrix: str) -> None:
    numbers, size = MATRICES[matrix]
    content = b"q " + numbers + b" cm /Scan Do Q"
    path = put(tmp_path, "m.pdf", one_image_pdf(jpeg_bytes(sheet()), jpeg_entries(sheet()), content, size))
    command = ["gs", "-q", "-dSAFER", "-dBATCH", "-dNOPAUSE", "-sDEVICE=pnggray", "-r50"]
    subprocess.run([*command, f"-sOutputFile={tmp_path / 'gs.png'}", str(path)], check=True)
    drawn = cv2.imread(str(tmp_path / "gs.png"), cv2.IMREAD_GRAYSCALE)
    assert drawn is not None
    assert same_picture(drawn, load_page(path, 1).pixels)


STORED = {
    "one bit": (bits(bitonal()), {"ColorSpace": NAME.DeviceGray, "BitsPerComponent": 1}),
    "one bit, inverted": (
        bits(255 - bitonal()),
        {"ColorSpace": NAME.DeviceGray, "BitsPerComponent": 1, "Decode": [1, 0]},
    ),
    "stencil": (bits(bitonal()), {"ImageMask": True, "BitsPerComponent": 1}),
    "stencil, inverted": (
        bits(255 - bitonal()),
        {"ImageMask": True, "BitsPerComponent": 1, "Decode": [1, 0]},
    ),
    "grey": (bitonal().tobytes(), {"ColorSpace": NAME.DeviceGray, "BitsPerComponent": 8}),
    "grey, inverted": (
        (255 - bitonal()).tobytes(),
        {"ColorSpace": NAME.DeviceGray, "BitsPerComponent": 8, "Decode": [1, 0]},
    ),
    "colour": (np.dstack([bitonal()] * 3).tobytes(), {"ColorSpace": NAME.DeviceRGB, "BitsPerComponent": 8}),
    "palette": (
        bits(255 - bitonal()),
        {
            "ColorSpace": pikepdf.Array([NAME.Indexed, NAME.DeviceRGB, 1, b"\xff\xff\xff\0\0\0"]),
            "BitsPerComponent": 1,
        },
    ),
}


@pytest.mark.parametrize("kind", STORED)
def test_every_common_way_to_store_a_scan_gives_ink_black_on_white_paper(tmp_path: Path, kind: str) -> None:
    data, entries = STORED[kind]
    entries = {"Width": 424, "Height": 552, **entries}
    path = put(tmp_path, "scan.pdf", one_image_pdf(data, entries, FULL_PAGE))
    assert np.array_equal(load_page(path, 1).pixels, bitonal())


def test_an_inverted_jpeg_in_a_pdf_is_not_shown_as_a_negative(tmp_path: Path) -> None:
    entries = {**jpeg_entries(sheet()), "Decode": [1, 0]}
    path = put(tmp_path, "neg.pdf", one_image_pdf(jpeg_bytes(255 - sheet()), entries, FULL_PAGE))
    page = load_page(path, 1).pixels
    assert page.shape == (550, 425)
    assert same_picture(page, sheet())


def test_ink_separation_is_not_shown_as_a_negative(tmp_path: Path) -> None:
    # ISO 32000-1, 8.6.6.4: a Separation sample of 0 is no ink, which is white.
    tint = pikepdf.Dictionary(FunctionType=2, Domain=[0, 1], C0=[1], C1=[0], N=1)
    entries = {
        **jpeg_entries(sheet()),
        "ColorSpace": pikepdf.Array([NAME.Separation, NAME.Black, NAME.DeviceGray, tint]),
    }
    path = put(tmp_path, "ink.pdf", one_image_pdf(jpeg_bytes(255 - sheet()), entries, FULL_PAGE))
    assert same_picture(load_page(path, 1).pixels, sheet())


def test_a_transparent_png_in_a_pdf_lies_on_white_paper(tmp_path: Path) -> None:
    # reportlab stores the alpha as a soft mask; the colour under it is black everywhere.
    clear = np.dstack([np.zeros((550, 425, 3), np.uint8), 255 - sheet()])
    drawing = canvas.Canvas(str(tmp_path / "clear.pdf"), pagesize=(612, 792))
    drawing.drawImage(ImageReader(Image.fromarray(clear)), 0, 0, 612, 792, mask="auto")
    drawing.save()
    assert same_picture(load_page(tmp_path / "clear.pdf", 1).pixels, cv2.resize(sheet(), (2550, 3300)))


def test_an_image_that_leaves_part_of_the_page_free_is_drawn_in_its_place(tmp_path: Path) -> None:
    content = b"q 306 0 0 396 306 0 cm /Scan Do Q"
    path = put(tmp_path, "q.pdf", one_image_pdf(jpeg_bytes(sheet() // 4), jpeg_entries(sheet()), content))
    page = load_page(path, 1).pixels
    assert page.shape == (3300, 2550)
    assert page[:1600].min() == 255
    assert page[1700:, 1300:].max() < 80


def test_a_fax_in_a_pdf_gets_square_pixels(tmp_path: Path) -> None:
    # ITU-T T.4: 204 dpi across, 98 down; 1728 dots are 8.47 inches.
    fax = bitonal(1728, 1078)
    entries = {"Width": 1728, "Height": 1078, "ColorSpace": NAME.DeviceGray, "BitsPerComponent": 1}
    size = (1728 / 204 * 72, 1078 / 98 * 72)
    content = b"q %f 0 0 %f 0 0 cm /Scan Do Q" % size
    page = load_page(put(tmp_path, "fax.pdf", one_image_pdf(bits(fax), entries, content, size)), 1)
    assert page.pixels.shape == (round(1078 * 204 / 98), 1728)
    assert page.dpi == pytest.approx(204, abs=0.1)


def test_a_page_with_a_stated_size_of_a_house_is_drawn_at_a_sane_size(tmp_path: Path) -> None:
    drawing = canvas.Canvas(str(tmp_path / "huge.pdf"), pagesize=(14400, 14400))
    drawing.rect(0, 0, 7200, 7200, fill=1)
    drawing.save()
    page = load_page(tmp_path / "huge.pdf", 1)
    assert page.pixels.size < 36_000_000
    assert page.pixels[-10, 10] == 0


def test_a_g4_scan_in_a_pdf_comes_out_exactly(tmp_path: Path) -> None:
    pages = [bitonal(), cv2.flip(bitonal(), -1)]
    scan = tiff(tmp_path / "scan.tif", pages, "group4", dpi=(200, 200))
    path = put(tmp_path, "scan.pdf", img2pdf.convert(str(scan)))
    assert np.array_equal(load_page(path, 2).pixels, pages[1])
    page = load_page(path, 1)
    assert np.array_equal(page.pixels, pages[0])
    assert page.dpi == pytest.approx(200)


def test_a_g4_scan_in_a_pdf_with_bytes_never_written_is_refused(tmp_path: Path) -> None:
    scan = tiff(tmp_path / "scan.tif", [bitonal()], "group4", dpi=(200, 200))
    with pikepdf.open(io.BytesIO(img2pdf.convert(str(scan)))) as pdf:
        image = next(iter(pdf.pages[0].Resources.XObject.values()))
        code = bytearray(image.read_raw_bytes())
        code[60:80] = bytes(20)
        image.write(bytes(code), filter=image.Filter, decode_parms=image.DecodeParms)
        pdf.save(tmp_path / "hole.pdf")
    assert "part of its picture is lost" in refused(tmp_path / "hole.pdf")


def test_a_jpeg_2000_scan_in_a_pdf_comes_out_exactly(tmp_path: Path) -> None:
    buffer = io.BytesIO()
    Image.fromarray(sheet()).save(buffer, "JPEG2000", irreversible=False)
    path = put(tmp_path, "scan.pdf", img2pdf.convert(buffer.getvalue()))
    assert np.array_equal(load_page(path, 1).pixels, sheet())


def test_a_jpeg_2000_stream_larger_than_its_dictionary_says_is_refused(tmp_path: Path) -> None:
    buffer = io.BytesIO()
    Image.fromarray(sheet()).save(buffer, "JPEG2000")
    data = bytearray(buffer.getvalue())
    at = data.index(b"\xff\x4f\xff\x51")
    data[at + 8 : at + 16] = (60_000).to_bytes(4, "big") * 2
    entries = {**jpeg_entries(sheet()), "Filter": NAME.JPXDecode}
    path = put(tmp_path, "bomb.pdf", one_image_pdf(bytes(data), entries, FULL_PAGE))
    assert "60000 x 60000 pixels" in refused(path)


def test_what_a_writer_leaves_behind_the_end_of_black_and_white_code_is_no_damage(tmp_path: Path) -> None:
    # Pillow puts the rest of the TIFF it coded with into the stream: ITU-T T.6 code, its end mark, then a tag table.
    Image.fromarray(bitonal()).convert("1").save(tmp_path / "pillow.pdf", "PDF")
    assert same_picture(load_page(tmp_path / "pillow.pdf", 1).pixels, bitonal())


def test_a_long_stack_is_read_in_any_order_from_bounded_memory(tmp_path: Path) -> None:
    # 3 MB behind each picture's end mark make a large stream that is quick to decode. What the process keeps
    # must not grow with the pages it has read.
    scans = [jpeg_bytes(sheet(80 + n, 100)) + bytes(3_000_000) for n in range(60)]
    path = put(tmp_path, "stack.pdf", img2pdf.convert(scans))
    assert path.stat().st_size > 180e6
    load_page(path, 60)
    before = resident_bytes()
    for number in (*range(1, 60, 2), *range(58, 0, -2)):
        assert load_page(path, number).pixels.shape == (100, 79 + number)
    assert resident_bytes() - before < 90e6


def resident_bytes() -> int:
    return int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize()
