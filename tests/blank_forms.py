"""Blank forms that scanform did not print, drawn with reportlab for the tests of adopting."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pypdfium2
from PIL import Image
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from scanform.adopt import FoundPrint, Proposal, print_of, propose
from scanform.form import AdoptedField

ITEMS = ["Engine oil level", "Lights and beacon", "Seat belt", "Service brake", "Parking brake", "Horn", "Mirrors"]
HEIGHT_MM = A4[1] / mm


class Pen:
    """Draws in mm from the page's top left."""

    def __init__(self, canvas: Canvas) -> None:
        self.canvas = canvas

    def text(self, x: float, y: float, words: str, size: float = 10) -> None:
        self.canvas.setFont("Helvetica", size)
        self.canvas.drawString(x * mm, (HEIGHT_MM - y) * mm, words)

    def line(self, x1: float, y1: float, x2: float, y2: float) -> None:
        self.canvas.line(x1 * mm, (HEIGHT_MM - y1) * mm, x2 * mm, (HEIGHT_MM - y2) * mm)

    def box(self, x: float, y: float, w: float, h: float) -> None:
        self.canvas.rect(x * mm, (HEIGHT_MM - y - h) * mm, w * mm, h * mm)


def pdf_of(*pages: Callable[[Pen], None]) -> bytes:
    buffer = io.BytesIO()
    canvas = Canvas(buffer, pagesize=A4)
    for draw in pages:
        draw(Pen(canvas))
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def printed(folder: Path, draw: Callable[[Pen], None]) -> FoundPrint:
    """What is found printed on the blank that ``draw`` draws."""
    path = folder / "blank.pdf"
    path.write_bytes(pdf_of(draw))
    return print_of(path)


def proposed(folder: Path, draw: Callable[[Pen], None]) -> Proposal:
    """What is proposed for it."""
    return propose(printed(folder, draw), "x")


def fields_of(proposal: Proposal) -> dict[str, AdoptedField]:
    """Its fields by their ids."""
    return {made.id: made for made in proposal.template.fields}


def day_card(pen: Pen) -> None:
    """Two boxes an item, a meter's comb of five and one, writing lines with labels before them."""
    pen.text(20, 20, "HOLLIN QUARRY - DAILY PLANT CARD", 16)
    for x, label, end in ((20, "Machine No.", 80), (90, "Date", 125), (135, "Driver", 190)):
        pen.text(x, 35, label)
        pen.line(x + 22 if label == "Machine No." else x + 12, 35.5, end, 35.5)
    pen.text(20, 49, "Hour meter")
    for n in range(6):
        pen.box(45 + 6 * n + (3 if n == 5 else 0), 43, 6, 8)
    pen.text(140, 64, "Good", 8)
    pen.text(160, 64, "Repair", 8)
    for n, item in enumerate(ITEMS):
        y = 68 + 8 * n
        pen.text(20, y + 3.5, f"{n + 1}. {item}")
        pen.box(142, y, 4.5, 4.5)
        pen.box(163, y, 4.5, 4.5)
    pen.text(20, 135, "Remarks")
    for n in range(3):
        pen.line(20, 144 + 8 * n, 190, 144 + 8 * n)
    pen.text(20, 180, "Signature")
    pen.line(42, 180.5, 110, 180.5)


def week_card(pen: Pen) -> None:
    """A bare cell for each item and day, with a legend of code letters and a row for the hours."""
    pen.text(20, 20, "PLANT CHECK FOR THE WEEK", 16)
    pen.text(20, 30, "Fleet no.")
    pen.line(40, 30.5, 80, 30.5)
    pen.text(100, 30, "Week beginning")
    pen.line(130, 30.5, 180, 30.5)
    pen.text(20, 38, "G = good, R = needs repair, N = not fitted")
    rows = ["Item", *ITEMS, "Hours"]
    for n, words in enumerate(rows):
        pen.box(20, 45 + 8 * n, 58, 8)
        pen.text(22, 50.5 + 8 * n, words)
        for d in range(7):
            pen.box(78 + 16 * d, 45 + 8 * n, 16, 8)
    for d, day in enumerate(("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")):
        pen.text(82 + 16 * d, 50.5, day)
    pen.text(20, 130, "Signed")
    pen.line(36, 130.5, 100, 130.5)


def month_card(pen: Pen) -> None:
    """Thirty-one narrow columns under their numbers, and a row for the initials."""
    pen.text(20, 20, "MONTHLY PLANT CARD", 16)
    pen.text(20, 30, "Fleet no.")
    pen.line(40, 30.5, 80, 30.5)
    pen.text(100, 30, "Month")
    pen.line(115, 30.5, 160, 30.5)
    pen.text(20, 38, "G = good, R = needs repair, N = not fitted")
    for n, words in enumerate(["Day", *ITEMS, "Initials"]):
        pen.box(10, 45 + 8 * n, 36, 8)
        pen.text(11, 50.5 + 8 * n, words, 8)
        for d in range(31):
            pen.box(46 + 5 * d, 45 + 8 * n, 5, 8)
    for d in range(31):
        pen.text(47 + 5 * d, 50.5, str(d + 1), 7)


def prose(pen: Pen) -> None:
    for n in range(12):
        pen.text(20, 30 + 8 * n, "Every driver looks the machine over before the shift and says what is wrong with it.")


def scan_of(pdf: bytes, dpi: int = 300, skew_degrees: float = 0.8, seed: int = 8_700_001) -> bytes:
    """The first page as a flatbed would give it: a little askew, soft, grey, with noise. PNG."""
    drawn = np.asarray(pypdfium2.PdfDocument(pdf)[0].render(scale=dpi / 72).to_pil().convert("L"))
    height, width = drawn.shape
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), skew_degrees, 1.0)
    askew = cv2.warpAffine(drawn, turn, (width, height), flags=cv2.INTER_LINEAR, borderValue=255)
    soft = cv2.GaussianBlur(askew, (0, 0), 0.8).astype(float) * 0.85 + 30
    noisy = np.clip(soft + np.random.default_rng(seed).normal(0, 4, soft.shape), 0, 255).astype(np.uint8)
    buffer = io.BytesIO()
    Image.fromarray(noisy).save(buffer, "PNG", dpi=(dpi, dpi))
    return buffer.getvalue()
