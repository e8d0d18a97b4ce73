"""How well a form is proposed from filled copies alone: its blank recovered, and what was found on it against truth.

    python -m scanform.training.old_blanks CORPUS [--copies 12] [--forms NAME...] [--pictures DIR]

CORPUS is a folder made by ``python -m scanform.training.old_forms``. Nobody can tell a form's own size from copies of
it (feeders stretch, copiers enlarge), so the truth is first laid over the recovered blank by their print; places are
then compared in the blank's own millimetres.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from scanform.adopt import propose
from scanform.adopt.from_scan import print_of_page
from scanform.adopt.recovered import RecoveredBlank, recovered_blank
from scanform.intake import load_page
from scanform.locate import PageMap
from scanform.locate.print_match import Keypoints, match_print, page_keypoints
from scanform.simulate import render_pdf
from scanform.training.old_proposals import Agreement, agreement

__all__ = ["BlankTrial", "blank_trial"]

_DPI = 200.0


@dataclass(frozen=True)
class BlankTrial:
    """One form: what was recovered, and how far a proposal from it agrees with the truth."""

    name: str
    blank: RecoveredBlank
    found: Agreement


def blank_trial(form: Path, copies: int, run: str = "a") -> BlankTrial:
    """Recover the blank from the first ``copies`` of a form's folder that are of the print run, and propose from it."""
    truths = [json.loads(path.read_text()) for path in sorted((form / "copies").glob("*.json"))]
    files = [form / "copies" / truth["file"] for truth in truths if truth["run"] == run][:copies]
    blank = recovered_blank([load_page(path, 1) for path in files])
    proposal = propose(print_of_page(blank.page), form.name)
    layout = json.loads((form / run / "layout.json").read_text())
    (drawn,) = render_pdf(form / run / "blank.pdf", _DPI)
    return BlankTrial(form.name, blank, agreement(proposal.template, _laid_over(layout, drawn, blank)))


def _laid_over(layout: Mapping[str, Any], drawn: np.ndarray, blank: RecoveredBlank) -> dict[str, Any]:
    """The layout with its boxes where the recovered blank has them."""
    page = layout["pages"][0]
    found = page_keypoints(drawn)
    true = Keypoints((found.places + 0.5) * 25.4 / _DPI, found.descriptors)
    match = match_print(page_keypoints(blank.page.pixels), true, (page["width_mm"], page["height_mm"]))
    if match is None:
        raise ValueError(f"{layout['template']}: the recovered blank does not show the form")
    scale = (blank.page.dpi or 0.0) / 25.4

    def moved(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: _box(match.map, value[key], scale) if key == "box_mm" else moved(value[key]) for key in value}
        if isinstance(value, list) and value and isinstance(value[0], list) and len(value[0]) == 4:
            return [_box(match.map, box, scale) for box in value]
        return [moved(one) for one in value] if isinstance(value, list) else value

    return dict(moved(layout))


def _box(to_px: PageMap, box: Sequence[float], px_per_mm: float) -> list[float]:
    x, y, w, h = box
    (x0, y0), (x1, y1) = (to_px.to_px(np.array([[x, y], [x + w, y + h]])) + 0.5) / px_per_mm
    return [float(x0), float(y0), float(x1 - x0), float(y1 - y0)]


def main() -> None:
    """Command line: ``--help`` says how."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("corpus", type=Path)
    parser.add_argument("--copies", type=int, default=12)
    parser.add_argument("--forms", nargs="*", help="names; all of the corpus if not given")
    parser.add_argument("--pictures", type=Path, help="folder for the recovered blanks")
    wanted = parser.parse_args()
    total = Agreement()
    for name in wanted.forms or sorted(path.name for path in wanted.corpus.iterdir() if path.is_dir()):
        trial = blank_trial(wanted.corpus / name, wanted.copies)
        total += trial.found
        print(_row(name, trial.found, trial.blank), flush=True)
        for note in (*trial.blank.notes, *trial.found.wrong[:6]):
            print(f"    {note}")
        if wanted.pictures:
            wanted.pictures.mkdir(parents=True, exist_ok=True)
            cv2.imwrite(str(wanted.pictures / f"{name}.png"), trial.blank.page.pixels)
    print(_row("all", total, None))


def _row(name: str, found: Agreement, blank: RecoveredBlank | None) -> str:
    sure = f", agreement {blank.agreement:.2f} of {blank.copies} copies" if blank else ""
    return (
        f"{name}: places {found.found} of {found.places}, meant right {found.meant}, false {found.false}; "
        f"header fields {found.named} of {found.headers}{sure}"
    )


if __name__ == "__main__":
    main()
