"""The benchmark's table: a row a question, a column a grade; counts and exact bounds in every cell."""

from __future__ import annotations

import statistics
from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np
from rapidfuzz.distance import Levenshtein

from scanform.form import parted
from scanform.settle import upper_bound
from scanform.simulate import Grade
from scanform.training.trial import NUMBERS, FieldTrial, PageTrial

__all__ = ["head_rows", "no_single_answer", "reading_rows", "silent", "table", "weekly_rows"]

Row = tuple[str, Callable[[list[PageTrial]], str]]

_UNDISPUTED = "the same without numbers that hold a digit whose label no reader gives: accepted; wrong"


def table(trials: Iterable[PageTrial], rows: list[Row]) -> str:
    """The rows as Markdown, a column for each grade that there are pages of."""
    by_grade: dict[Grade, list[PageTrial]] = {grade: [] for grade in Grade}
    for trial in trials:
        by_grade[trial.plan.grade].append(trial)
    columns = [grade for grade in Grade if by_grade[grade]]
    lines = ["| | " + " | ".join(grade.value for grade in columns) + " |", "| --- |" + " --- |" * len(columns)]
    for name, cell in rows:
        lines.append(f"| {name} | " + " | ".join(cell(by_grade[grade]) for grade in columns) + " |")
    return "\n".join(lines)


def reading_rows() -> list[Row]:
    """How well fields are read, with the register, the crew and the last meter reading known."""
    return [
        ("pages", lambda pages: f"{len(pages):,}"),
        ("choices accepted", lambda pages: _accepted(pages, _is_item)),
        ("the same without answers taken back", lambda pages: _accepted(pages, _is_item_as_written)),
        ("choices silently wrong", lambda pages: _wrong(pages, _is_item)),
        ("of these answers taken back and changed: accepted; wrong", _taken_back),
        ("choices without a single answer on the paper, doubted", _unanswerable),
        ("unit, date, hours accepted (register and history known)", lambda pages: _accepted(pages, _is_number)),
        ("the same, silently wrong", lambda pages: _wrong(pages, _is_number)),
        (_UNDISPUTED, _both(_is_undisputed_number)),
        *[(f"of these {name}: accepted; wrong", _both(_named(name))) for name in NUMBERS],
        ("nothing known but today: accepted", lambda pages: _accepted(_unaided(pages), _is_number)),
        ("nothing known but today: silently wrong", lambda pages: _wrong(_unaided(pages), _is_number)),
        ("item numbers accepted (written ones)", lambda pages: _accepted(pages, _is_item_number)),
        ("item numbers silently wrong", lambda pages: _wrong(pages, _is_item_number)),
        ("names and signatures silently wrong", lambda pages: _wrong(pages, _is_name_or_signature)),
        ("text, character error", _text_error),
        ("defect words accepted", lambda pages: _accepted(pages, _is_words)),
        ("defect words silently wrong, a gap or a comma included", lambda pages: _wrong(pages, _is_words)),
    ]


def weekly_rows() -> list[Row]:
    """How well a week's sheets are read."""
    return [
        ("pages", lambda pages: f"{len(pages):,}"),
        ("marks accepted", lambda pages: _accepted(pages, _is_mark)),
        ("marks silently wrong", lambda pages: _wrong(pages, _is_mark)),
        ("unit, date, hours of each day accepted", lambda pages: _accepted(pages, _is_number)),
        ("the same, silently wrong", lambda pages: _wrong(pages, _is_number)),
        (_UNDISPUTED, _both(_is_undisputed_number)),
    ]


def head_rows() -> list[Row]:
    """How well pages are found, and what is left to a person; and numbers apart that the simulator's hands wrote."""
    return [
        ("located", _located),
        ("scan grade as the page shows it", _grades),
        ("field positions, 95th percentile", _positions),
        ("doubts a page, median", _doubts),
        ("unit, date, hours on the half in the simulator's hands: accepted; wrong", _simulated_hands),
    ]


def silent(field: FieldTrial) -> bool:
    """Accepted though wrong, or though the paper has no single answer."""
    return field.accepted and (field.unclear or not field.right)


def no_single_answer(field: FieldTrial) -> bool:
    """Whether the paper itself leaves an item open: nothing is marked, or more than the ink can decide between."""
    return field.item and (field.unclear or field.truth is None)


def _is_item(field: FieldTrial) -> bool:
    return field.item and not _is_mark(field)


def _is_item_as_written(field: FieldTrial) -> bool:
    return _is_item(field) and not field.taken_back


def _is_taken_back(field: FieldTrial) -> bool:
    return _is_item(field) and field.taken_back


def _is_words(field: FieldTrial) -> bool:
    return field.kind == "words" and field.truth is not None


def _is_mark(field: FieldTrial) -> bool:
    return field.kind == "mark"


def _is_number(field: FieldTrial) -> bool:
    return parted(field.id)[0] in NUMBERS and (field.truth is not None or field.id in NUMBERS)


def _is_undisputed_number(field: FieldTrial) -> bool:
    return _is_number(field) and not field.disputed


def _is_item_number(field: FieldTrial) -> bool:
    return field.kind == "item-number" and field.truth is not None


def _is_name_or_signature(field: FieldTrial) -> bool:
    return field.kind in ("name", "signature")


def _both(chosen: Callable[[FieldTrial], bool]) -> Callable[[list[PageTrial]], str]:
    def cell(pages: list[PageTrial]) -> str:
        return f"{_accepted(pages, chosen)}; {_wrong(pages, chosen)}"

    return cell


def _named(name: str) -> Callable[[FieldTrial], bool]:
    return lambda field: field.id == name


def _simulated_hands(pages: list[PageTrial]) -> str:
    return _both(_is_number)([page for page in pages if not page.plan.digits])


def _unaided(pages: list[PageTrial]) -> list[PageTrial]:
    return [replace(page, fields=page.unaided) for page in pages]


def _located(pages: list[PageTrial]) -> str:
    count = sum(page.located for page in pages)
    return f"{_percent(count, len(pages))} ({count:,} of {len(pages):,})"


def _grades(pages: list[PageTrial]) -> str:
    shown: dict[str, int] = {}
    for page in pages:
        shown[page.scan_grade or "none"] = shown.get(page.scan_grade or "none", 0) + 1
    return ", ".join(f"{grade} {count:,}" for grade, count in sorted(shown.items(), key=lambda pair: -pair[1]))


def _positions(pages: list[PageTrial]) -> str:
    errors = [np.array(page.errors_mm) for page in pages if page.located]
    return f"{np.percentile(np.concatenate(errors), 95):.3f} mm" if errors else "-"


def _fields(pages: list[PageTrial], which: Callable[[FieldTrial], bool]) -> list[FieldTrial]:
    return [field for page in pages for field in page.fields if which(field)]


def _percent(count: int, of: int) -> str:
    """To two places, and never rounded up to 100 %."""
    return f"{int(count / of * 10_000) / 100:.2f} %"


def _accepted(pages: list[PageTrial], which: Callable[[FieldTrial], bool]) -> str:
    """Of the fields that the paper answers, those that went through without a person."""
    fields = [field for field in _fields(pages, which) if not no_single_answer(field)]
    count = sum(field.accepted for field in fields)
    return f"{_percent(count, len(fields))} ({count:,} of {len(fields):,})" if fields else "-"


def _wrong(pages: list[PageTrial], which: Callable[[FieldTrial], bool]) -> str:
    accepted = [field for field in _fields(pages, which) if field.accepted]
    wrong = sum(silent(field) for field in accepted)
    if not accepted:
        return "-"
    return f"{wrong} of {len(accepted):,} (at most 1 in {1 / upper_bound(wrong, len(accepted), 0.95):,.0f})"


def _unanswerable(pages: list[PageTrial]) -> str:
    fields = _fields(pages, no_single_answer)
    return f"{sum(not field.accepted for field in fields):,} of {len(fields):,}" if fields else "-"


def _taken_back(pages: list[PageTrial]) -> str:
    return f"{_accepted(pages, _is_taken_back)}; {_wrong(pages, _is_taken_back)}"


def _text_error(pages: list[PageTrial]) -> str:
    """Characters wrong, of defect words written, case left aside: the value, whatever its state."""
    fields = [f for f in _fields(pages, lambda f: f.kind == "words") if f.truth]
    if not fields:
        return "-"
    edits = sum(Levenshtein.distance(str(f.truth).casefold(), (f.text or "").casefold()) for f in fields)
    return f"{edits / sum(len(str(f.truth)) for f in fields):.1%} ({len(fields):,} lines)"


def _doubts(pages: list[PageTrial]) -> str:
    counts = [sum(not f.accepted for f in page.fields) for page in pages if page.located]
    return f"{statistics.median(counts):.0f}" if counts else "-"
