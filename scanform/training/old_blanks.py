"""How well a form is proposed from filled copies alone: its blank recovered, and what was found on it against truth.

    python -m scanform.training.old_blanks CORPUS [--copies 12] [--forms NAME...] [--pictures DIR]

CORPUS is a folder made by ``python -m scanform.training.old_forms``. Nobody can tell a form's own size from copies of
it (feeders stretch, copiers enlarge), so the truth is first laid over the recovered blank by their print; places are
then compared in the blank's own millimetres.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass
from pathlib import Path

import cv2

from scanform.adopt import propose
from scanform.adopt.from_scan import print_of_page
from scanform.adopt.recovered import RecoveredBlank, recovered_blank
from scanform.intake import load_page
from scanform.training.old_proposals import Agreement, agreement, laid_over, row

__all__ = ["BlankTrial", "blank_trial"]


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
    found = print_of_page(blank.page)
    layout = json.loads((form / run / "layout.json").read_text())
    truth = laid_over(layout, form / run / "blank.pdf", found)
    return BlankTrial(form.name, blank, agreement(propose(found, form.name).template, truth))


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
        sure = f", agreement {trial.blank.agreement:.2f} of {trial.blank.copies} copies"
        print(row(name, trial.found) + sure, flush=True)
        for note in (*trial.blank.notes, *trial.found.wrong[:6]):
            print(f"    {note}")
        if wanted.pictures:
            wanted.pictures.mkdir(parents=True, exist_ok=True)
            cv2.imwrite(str(wanted.pictures / f"{name}.png"), trial.blank.page.pixels)
    print(row("all", total))


if __name__ == "__main__":
    main()
