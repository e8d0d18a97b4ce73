"""Forms typed for groff and its table maker, as an office with a terminal made them; Ghostscript turns them into PDF.

Needs Debian's groff-base and ghostscript. Where rules came to lie is asked of the finished PDF.
"""

from __future__ import annotations

import subprocess
import tempfile
from pathlib import Path

from pdfplumber.page import Page as PdfPage

__all__ = ["level_rules", "typeset", "upright_rules"]

_PATIENCE_S = 60
_MM = 25.4 / 72
_JOINS_MM, _SAME_MM = 0.4, 0.15  # pieces of one rule overlap or touch


def typeset(document: str, size_mm: tuple[float, float]) -> bytes:
    """The document as PDF bytes on paper of that size. RuntimeError if a program fails."""
    width, height = (value / 25.4 for value in size_mm)
    paper = f"{height:.4f}i,{width:.4f}i"  # groff wants the length first
    made = _said(["groff", "-t", "-k", "-Tps", f"-dpaper={paper}", f"-P-p{paper}"], document.encode())
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "form.pdf"
        points = [f"-dDEVICEWIDTHPOINTS={width * 72:.2f}", f"-dDEVICEHEIGHTPOINTS={height * 72:.2f}"]
        _said(
            ["gs", "-q", "-dBATCH", "-dNOPAUSE", "-dSAFER", "-dFIXEDMEDIA", *points, "-sDEVICE=pdfwrite"]
            + [f"-sOutputFile={out}", "-"],
            made,
        )
        return out.read_bytes()


def _said(command: list[str], given: bytes) -> bytes:
    done = subprocess.run(command, input=given, capture_output=True, timeout=_PATIENCE_S, check=False)
    if done.returncode != 0:
        raise RuntimeError(f"{command[0]}: {done.stderr.decode(errors='replace')}")
    return done.stdout


def level_rules(page: PdfPage) -> list[tuple[float, float, float]]:
    """Level rules put together from their pieces: (left, right, y) in mm, from above."""
    pieces = sorted((e["top"] * _MM, e["x0"] * _MM, e["x1"] * _MM) for e in page.edges if e["orientation"] == "h")
    return [(a, b, at) for at, a, b in _joined(pieces)]


def upright_rules(page: PdfPage) -> list[tuple[float, float, float]]:
    """Upright rules put together from their pieces: (top, bottom, x) in mm, from the left."""
    pieces = sorted((e["x0"] * _MM, e["top"] * _MM, e["bottom"] * _MM) for e in page.edges if e["orientation"] == "v")
    return [(a, b, at) for at, a, b in _joined(pieces)]


def _joined(pieces: list[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
    rules: list[tuple[float, float, float]] = []
    by_place = sorted(pieces, key=lambda piece: (round(piece[0] / _SAME_MM), piece[1]))
    for at, start, end in by_place:
        if rules and abs(rules[-1][0] - at) < _SAME_MM and start - rules[-1][2] < _JOINS_MM:
            rules[-1] = (rules[-1][0], rules[-1][1], max(rules[-1][2], end))
        else:
            rules.append((at, start, end))
    return rules
