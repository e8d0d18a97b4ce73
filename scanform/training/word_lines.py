"""Simulated lines of free writing, read: what the parameters of the word search are fitted and measured on.

The texts are the simulator's own complaints and those of ``complaint_lines.csv``, which were written apart from the
trade vocabulary: a "fit" and a "test" half, each with usual complaints and with unusual ones full of words that no
vocabulary has. Five lines and two names a page; seeds from WORD_SEEDS (fit) and WORD_TEST_SEEDS (test).
"""

from __future__ import annotations

import csv
import multiprocessing
import os
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib import resources
from typing import NamedTuple

import cv2
import numpy as np

from scanform.form import FieldKind, Layout, built_in_templates
from scanform.intake import Page
from scanform.locate import KnownLayouts, LocatedSheet, locate
from scanform.read import Reading
from scanform.read.lines import LineReader
from scanform.read.writing import read_name
from scanform.simulate import CREW, Grade
from scanform.simulate.complaints import complaint_about
from scanform.simulate.paperwork import random_day
from scanform.simulate.scanner import scan
from scanform.simulate.sheet import fill, random_truth
from scanform.simulate.writer import random_writer
from scanform.training.trial import blank_sheets

__all__ = ["WORD_SEEDS", "WORD_TEST_SEEDS", "Complaint", "WordLine", "complaint_lines", "word_lines"]

WORD_SEEDS = 6_300_000
WORD_TEST_SEEDS = 6_400_000


class Complaint(NamedTuple):
    """One written complaint. ``kind``: "usual", "unusual" or "simulator"; ``item``: name it is about, if known."""

    text: str
    kind: str
    item: str | None = None


@dataclass(frozen=True)
class WordLine:
    """One line as it was written and as it was read. ``kind``: as in :class:`Complaint`, or "name"."""

    grade: Grade
    kind: str
    template: str
    item: str | None
    truth: str
    reading: Reading


@lru_cache(maxsize=2)
def complaint_lines(split: str) -> tuple[Complaint, ...]:
    """The complaints of one half, "fit" or "test"."""
    text = (resources.files("scanform.training") / "complaint_lines.csv").read_text(encoding="utf-8")
    return tuple(
        Complaint(row["text"], row["kind"]) for row in csv.DictReader(text.splitlines()) if row["split"] == split
    )


def word_lines(split: str, pages_a_grade: int, workers: int | None = None) -> Iterator[WordLine]:
    """Every line of that many simulated pages of each grade, read without a second opinion."""
    first = WORD_SEEDS if split == "fit" else WORD_TEST_SEEDS
    jobs = [(split, grade, first + 10_000 * g + n) for g, grade in enumerate(Grade) for n in range(pages_a_grade)]
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    with ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("spawn")) as pool:
        for lines in pool.map(_page_of_lines, jobs, chunksize=4):
            yield from lines


@lru_cache(maxsize=1)
def _setting() -> tuple[KnownLayouts, LineReader]:
    cv2.setNumThreads(1)
    return KnownLayouts(built_in_templates()), LineReader()


def _page_of_lines(job: tuple[str, Grade, int]) -> list[WordLine]:
    split, grade, seed = job
    known, reader = _setting()
    sheets = blank_sheets("day")
    layout, blank = sheets[seed % len(sheets)]
    rng = np.random.default_rng([seed, list(Grade).index(grade), 63])
    texts = _texts(layout, split, rng)
    truth = random_truth(layout, rng, ["WL07"], CREW, random_day(rng))
    values: dict[str, str | bool | None] = {
        f.id: False if f.kind is FieldKind.SIGNATURE else None for f in layout.fields
    }
    values |= {f"defect.{n}": complaint.text for n, complaint in enumerate(texts, start=1)}
    values |= {name: str(rng.choice(CREW)) for name in ("operator", "told")}
    page, truth = fill(layout, blank, replace(truth, values=values), random_writer(rng), rng)
    captured = scan(page, grade, rng)
    found = locate(Page("lines", 1, "", captured.pixels), known)
    if not isinstance(found, LocatedSheet):
        return []
    lines = []
    for n, complaint in enumerate(texts, start=1):
        field_id = f"defect.{n}"
        reading = read_name(found, found.layout.field(field_id), reader)
        written = str(truth.values[field_id])
        lines.append(WordLine(grade, complaint.kind, layout.template.name, complaint.item, written, reading))
    for name in ("operator", "told"):
        reading = read_name(found, found.layout.field(name), reader)
        lines.append(WordLine(grade, "name", layout.template.name, None, str(truth.values[name]), reading))
    return lines


def _texts(layout: Layout, split: str, rng: np.random.Generator) -> Sequence[Complaint]:
    """One line of each kind, and more of the usual and the simulator's."""
    written = complaint_lines(split)
    texts = []
    for kind in ("usual", "usual", "unusual", "simulator", "simulator"):
        if kind == "simulator":
            item = layout.template.items[int(rng.integers(0, len(layout.template.items)))].name
            texts.append(Complaint(complaint_about(item, rng), kind, item))
        else:
            of_kind = [complaint for complaint in written if complaint.kind == kind]
            texts.append(of_kind[int(rng.integers(0, len(of_kind)))])
    return texts[: layout.template.defect_lines]
