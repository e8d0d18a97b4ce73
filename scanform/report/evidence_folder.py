"""The evidence pack as a folder: a PDF, tables, pictures, and a manifest that standard tools check."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pandas as pd

from scanform.binder import Binder
from scanform.errors import UsageError
from scanform.files import told
from scanform.report.cautions import CAUTION, DOUBTS_CAUTION
from scanform.report.csv_files import write_csv
from scanform.report.evidence import Evidence
from scanform.report.evidence_pdf import evidence_pdf
from scanform.report.register_table import register_table
from scanform.report.sheet_story import SheetStory, sheet_stories

__all__ = ["MANIFEST", "write_evidence"]

MANIFEST = "SHA256SUMS"
_README = f"""{CAUTION}

{DOUBTS_CAUTION}

evidence.pdf    all of it for a reader
tables/         the same as CSV: UTF-8 with a byte order mark, comma; text that a spreadsheet would run as a formula has
                one apostrophe before it
pages/          a picture of every sheet; scale in sheets.csv says how large it is beside the scanned page
ink/            the ink of every field that is doubtful or that a person has decided, by the field's name
{MANIFEST}      the SHA-256 of every file here; check with: sha256sum -c {MANIFEST}

In fields.csv x1,y1 to x4,y4 are a field's corners in pixels of the scanned page, clockwise from the upper left one;
times scale they are pixels of the picture in pages/. journal.csv lists every entry of the record's journal with its
hash; the last one's hash is also in the PDF. Whoever kept an earlier last hash finds it in that list, or the journal
was changed.
"""


def write_evidence(binder: Binder, evidence: Evidence, folder: Path) -> list[Path]:
    """Write the pack into ``folder``, which must be new or empty; returns the files, the manifest last.

    UsageError if the folder holds anything or cannot be written.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise UsageError(
            f"{folder} is not empty; evidence goes into a folder of its own, so that nothing mixes with it."
        )
    try:
        for name in ("tables", "pages", "ink"):
            (folder / name).mkdir(parents=True, exist_ok=True)
        sheets: list[list[Any]] = []
        fields: list[list[Any]] = []
        stories = sheet_stories(binder, (*evidence.sheets, *evidence.loose), evidence.decisions)
        pdf = evidence_pdf(evidence, _kept(stories, folder, sheets, fields))
        (folder / "evidence.pdf").write_bytes(pdf)
        (folder / "README.txt").write_text(_README, encoding="utf-8")
        for name, frame in _tables(evidence, sheets, fields).items():
            write_csv(frame, folder / "tables" / f"{name}.csv")
        return [*_manifest(folder)]
    except OSError as problem:
        raise UsageError(f"{folder} cannot be written: {told(problem)}, or name another folder.") from problem


def _kept(
    stories: Iterator[SheetStory], folder: Path, sheets: list[list[Any]], fields: list[list[Any]]
) -> Iterator[SheetStory]:
    """Passes the sheets on to the PDF; each leaves its pictures in the folder and its rows in the tables."""
    for story in stories:
        if story.picture_jpeg is not None:
            (folder / "pages" / story.picture).write_bytes(story.picture_jpeg)
        for looked in story.looked_at:
            if looked.ink_png is not None:
                (folder / "ink" / f"{looked.ref}.png").write_bytes(looked.ink_png)
        place = (story.source, story.page, story.sha256, story.picture, round(story.scale, 6))
        sheets.append([story.number, story.unit, story.date, story.template, *place, story.note])
        for field in story.fields:
            corners = [round(float(value), 1) for corner in field.polygon_px for value in corner]
            corners += [None] * (8 - len(corners))  # type: ignore[list-item]
            value = {True: "signed", False: "unsigned"}[field.value] if isinstance(field.value, bool) else field.value
            said = (value, field.state.value, field.confidence, "; ".join(field.reasons) or None)
            fields.append([f"{story.number}.{field.id}", story.number, field.id, *said, field.original, *corners[:8]])
        yield story


def _tables(evidence: Evidence, sheets: list[list[Any]], fields: list[list[Any]]) -> dict[str, pd.DataFrame]:
    corners = [f"{axis}{n}" for n in range(1, 5) for axis in "xy"]
    days = [
        [d.unit, d.day, d.status, d.basis or None, " ".join(map(str, d.sheets)) or None, d.ran_hours, d.note or None]
        for d in evidence.coverage.days
    ]
    decisions = [
        [d.seq, d.at.isoformat(), d.initials, d.ref, d.old_value, d.old_state.value, d.new_value, d.undone_by]
        for some in evidence.decisions.values()
        for d in some
    ]
    journal = [[e.seq, e.at.isoformat(), e.kind, e.previous_hash, e.hash] for e in evidence.journal]
    of_sheets = ["sheet", "unit", "date", "template", "file", "page", "sha256", "picture", "scale", "note"]
    of_fields = ["field", "sheet", "name", "value", "state", "confidence", "reasons", "original", *corners]
    return {
        "sheets": _frame(of_sheets, sheets),
        "fields": _frame(of_fields, fields),
        "defects": register_table(evidence.defects),
        "days": _frame(["unit", "day", "status", "basis", "sheets", "ran_hours", "note"], days),
        "hours": _frame(list(evidence.readings.columns), evidence.readings.to_numpy(dtype=object).tolist()),
        "decisions": _frame(
            ["entry", "at", "who", "field", "before", "before_state", "after", "undone_by"], sorted(decisions)
        ),
        "not_read": _frame(list(evidence.unread.columns), evidence.unread.to_numpy(dtype=object).tolist()),
        "void": _frame(list(evidence.void.columns), evidence.void.to_numpy(dtype=object).tolist()),
        "journal": _frame(["entry", "at", "kind", "previous", "hash"], journal),
    }


def _frame(columns: list[str], body: list[list[Any]]) -> pd.DataFrame:
    return pd.DataFrame(body, columns=columns, dtype=object)


def _manifest(folder: Path) -> Iterator[Path]:
    """Every file of the folder in order of name, then the manifest, in the form that sha256sum writes and checks."""
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    lines = [
        f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.relative_to(folder).as_posix()}" for path in files
    ]
    manifest = folder / MANIFEST
    manifest.write_text("\n".join(lines) + "\n", encoding="utf-8")
    yield from (*files, manifest)
