"""Pieces that the HTML forms share: the marks Chromium is asked about, labels with lines, rows of answers."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

__all__ = ["ANSWERS", "answers", "line", "marked", "writing"]

ANSWERS = ("ok", "defect", "na")


def marked(field_id: str, kind: str, style: str, label: str = "", **more: str) -> str:
    """The attributes that make an element a place to write; see :mod:`scanform.training.old_forms.chromium`.

    Where ``kind`` is "text" and the field is the signature's, it becomes "signature".
    """
    kind = "signature" if kind == "text" and field_id == "signature" else kind
    data = {"field": field_id, "kind": kind, "style": style, "label": label} | more
    return " ".join(f'data-{key}="{escape(value)}"' for key, value in data.items())


def answers(name: str, label: str, style: str, words: Iterable[str], element: str) -> list[str]:
    """One element an answer, in the order of ``ANSWERS``; ``element`` has ``{at}`` for the marks and ``{word}``."""
    return [
        element.format(at=marked(f"item.{name}", "choice", style, label, answer=answer), word=word)
        for answer, word in zip(ANSWERS, words, strict=False)
    ]


def writing(
    field_id: str, label: str, width_mm: float, style: str = "rule", high_mm: float = 7, thick_mm: float = 0.25
) -> str:
    """A label and a line to write on."""
    edge = "0.3mm dotted #000" if style == "dots" else f"{thick_mm}mm solid #000"
    return (
        f'<span class="label">{escape(label)}</span> <span {marked(field_id, "text", style, label)} '
        f'style="display:inline-block;vertical-align:bottom;width:{width_mm}mm;height:{high_mm}mm;'
        f'border-bottom:{edge}"></span> '
    )


def line(field_id: str, high_mm: float, edge: str = "0.2mm solid #000") -> str:
    """A line to write on without a label."""
    style = "dots" if "dotted" in edge else "rule"
    return f'<div {marked(field_id, "text", style)} style="height:{high_mm}mm;border-bottom:{edge}"></div>'
