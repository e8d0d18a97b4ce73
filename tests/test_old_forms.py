"""The corpus of old forms: its truth must be where the print is, and say what the ink says."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest

from scanform.form import Box
from scanform.simulate import DPI, render_pdf
from scanform.training.old_forms import CATALOGUE, DrawnForm, FormField, OldCopy, listed, make_copy, master
from scanform.training.old_forms.crew import binder_crew, occasion
from scanform.training.old_forms.office import SOFFICE
from scanform.training.old_forms.values import page_values

_SEED = 8_970_000
_NEAR_MM = 0.3  # half of what a found box may be off
# One of every tool, and every way to print a place; the others are drawn by the same code.
_DRAWN = ("boxes-right", "three-columns", "small-print", "shaded-report", "typed-letter")


@cache
def _form(name: str) -> DrawnForm:
    if listed(name).tool == "libreoffice" and not shutil.which(SOFFICE):
        pytest.skip("LibreOffice is not installed")
    return listed(name).draw("a")


def _darkest_near(page: np.ndarray, box: Box) -> list[float]:
    """How dark the darkest line is near each of a box's four edges: 0 paper, 255 black, over the middle of the edge."""
    scale = DPI / 25.4
    x0, y0, x1, y1 = (v * scale for v in (box.x_mm, box.y_mm, box.right_mm, box.bottom_mm))
    near = round(_NEAR_MM * scale)
    across, down = (
        slice(round(x0 + 0.2 * (x1 - x0)), round(x1 - 0.2 * (x1 - x0))),
        slice(round(y0 + 0.2 * (y1 - y0)), round(y1 - 0.2 * (y1 - y0))),
    )
    dark = 255.0 - page
    rows = [dark[round(y) - near : round(y) + near + 1, across].mean(axis=1).max() for y in (y0, y1)]
    columns = [dark[down, round(x) - near : round(x) + near + 1].mean(axis=0).max() for x in (x0, x1)]
    return [float(v) for v in rows + columns]


@pytest.mark.parametrize("name", _DRAWN)
def test_every_printed_box_lies_where_the_truth_says(name: str) -> None:
    form = _form(name)
    (page,) = render_pdf(form.pdf, DPI)
    framed = [box for f in form.fields if f.style in ("box", "cell", "glyph") for _, box in f.answers]
    framed += [cell for f in form.fields for cell in f.cells_mm]
    assert len(framed) >= 24
    assert min(min(_darkest_near(page, box)) for box in framed) > 60


def test_the_corpus_has_twelve_styles_by_three_tools_and_half_of_them_for_measuring_only() -> None:
    assert len({form.name for form in CATALOGUE}) >= 12
    assert {form.tool for form in CATALOGUE} == {"reportlab", "chromium", "libreoffice"}
    assert sum(form.split == "measuring" for form in CATALOGUE) >= 6


def _copy(name: str, grade: str, number: int) -> OldCopy:
    form = _form(name)
    return make_copy(listed(name), form, master(form, 0, _SEED), grade, _SEED, number)


def _ink(copy: OldCopy, box: Box) -> float:
    """How dark a place is on the scan, 0 to 1, by the copy's own map."""
    inner = box.grown(-0.6)
    mesh = np.stack(np.meshgrid(np.linspace(0, 1, 24), np.linspace(0, 1, 24)), axis=-1).reshape(-1, 2)
    px = copy.form_to_px(mesh * [inner.w_mm, inner.h_mm] + [inner.x_mm, inner.y_mm]).astype(np.float32)
    seen = cv2.remap(copy.pixels, px[:, 0].reshape(24, 24), px[:, 1].reshape(24, 24), cv2.INTER_LINEAR)
    return float((seen < 150).mean())


@pytest.mark.parametrize(("name", "grade"), [("boxes-right", "office"), ("three-columns", "bitonal")])
def test_the_answers_that_a_copy_says_are_those_with_ink_on_it(name: str, grade: str) -> None:
    copy = _copy(name, grade, 3)
    choices = [f for f in copy.form.fields if f.kind == "choice" and f.id not in copy.unclear]
    answered = [f for f in choices if copy.values[f.id].value is not None]
    right = [f for f in answered if max(f.answers, key=lambda a: _ink(copy, a[1]))[0] == copy.values[f.id].value]
    assert len(answered) > 15
    assert len(right) >= len(answered) - 1


def test_what_a_form_has_no_sign_for_is_left_blank() -> None:
    fields = tuple(FormField(f"item.point-{n}", "mark", "box", Box(10, 10 * n, 5, 5)) for n in range(20))
    form = DrawnForm("x", "a", b"", 210, 297, fields, {"tick": "defect"})
    rng = np.random.default_rng(_SEED)
    pages = [page_values(form, occasion(binder_crew(rng), n, "day", rng), "day", rng) for n in range(8)]
    assert {written.value for page in pages for written in page.values()} == {None, "defect"}


def test_a_copy_is_decided_by_its_seed() -> None:
    first, again, other = (
        _copy("boxes-right", "office", 5),
        _copy("boxes-right", "office", 5),
        _copy("boxes-right", "office", 6),
    )
    assert first.encoded == again.encoded
    assert first.encoded != other.encoded


def test_the_command_writes_blanks_copies_and_their_truth(tmp_path: Path) -> None:
    out = tmp_path / "forms"
    command = [sys.executable, "-m", "scanform.training.old_forms", "--out", str(out), "--workers", "1"]
    subprocess.run([*command, "--forms", "boxes-right", "--copies", "2", "--grades", "bitonal"], check=True)
    runs = [json.loads((out / "boxes-right" / run / "layout.json").read_text()) for run in ("a", "b")]
    newer = {f["id"]: f for f in runs[1]["pages"][0]["fields"]}
    for f in runs[0]["pages"][0]["fields"]:
        assert newer[f["id"]]["kind"] == f["kind"]
    truths = [json.loads(path.read_text()) for path in sorted((out / "boxes-right" / "copies").glob("*.json"))]
    assert [truth["run"] for truth in truths] == ["a", "b"]
    assert all((out / "boxes-right" / "copies" / truth["file"]).exists() for truth in truths)
    assert truths[0]["values"]["date"]["value"].startswith("20")
