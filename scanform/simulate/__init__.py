"""Simulated paper: pens, people, scanners. Seeded; for the demo, tests, benchmarks, calibration and training.

Beside the rooms: it may import them, none of them imports it.
"""

from scanform.simulate.hand import RealDigits, paste_digit, sign, write_character, write_comb, write_text
from scanform.simulate.paperwork import SimulatedPage, make_page, random_day
from scanform.simulate.pens import DPI, Pen, blank_page, draw, random_pen
from scanform.simulate.people import CREW, random_unit
from scanform.simulate.raster import render_pdf
from scanform.simulate.scanner import Grade, ScanResult, scan
from scanform.simulate.sheet import SheetTruth, fill, random_truth
from scanform.simulate.signs import ODD_SIGNS, RETRACTIONS, SIGNS, draw_sign, odd_sign, retract
from scanform.simulate.ticks import (
    ANSWER_MARKS,
    DIRT,
    MARKS,
    NON_MARKS,
    ODD_MARKS,
    ODD_STRIKES,
    STRIKES,
    draw_mark,
    strike_out,
)
from scanform.simulate.trouble import (
    change_answer,
    dirty_box,
    overwrite_cell,
    run_down_column,
    spoil,
    tick_both,
    unsigned,
)
from scanform.simulate.weekly import random_week
from scanform.simulate.writer import Writer, character, random_writer

__all__ = [
    "ANSWER_MARKS",
    "CREW",
    "DIRT",
    "DPI",
    "MARKS",
    "NON_MARKS",
    "ODD_MARKS",
    "ODD_SIGNS",
    "ODD_STRIKES",
    "RETRACTIONS",
    "SIGNS",
    "STRIKES",
    "Grade",
    "Pen",
    "RealDigits",
    "ScanResult",
    "SheetTruth",
    "SimulatedPage",
    "Writer",
    "blank_page",
    "change_answer",
    "character",
    "dirty_box",
    "draw",
    "draw_mark",
    "draw_sign",
    "fill",
    "make_page",
    "odd_sign",
    "overwrite_cell",
    "paste_digit",
    "random_day",
    "random_pen",
    "random_truth",
    "random_unit",
    "random_week",
    "random_writer",
    "render_pdf",
    "retract",
    "run_down_column",
    "scan",
    "sign",
    "spoil",
    "strike_out",
    "tick_both",
    "unsigned",
    "write_character",
    "write_comb",
    "write_text",
]
