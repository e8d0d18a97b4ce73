"""Text that a spreadsheet would run as a formula, made harmless and made whole again.

After OWASP's guidance on CSV injection: a cell that begins with one of ``= + - @``, a tab, a carriage return or a
line feed, or with the full-width form of a sign, gets an apostrophe before it. Spaces do not hide a sign. The guard
is reversible: text that already begins with apostrophes before such a sign gets one more, so that
``unguarded(guarded(text)) == text`` for every text.
"""

from __future__ import annotations

__all__ = ["guarded", "runs_as_formula", "unguarded"]

_SIGNS = frozenset("=+-@\t\r\n＝＋－＠")


def runs_as_formula(text: str) -> bool:
    """Whether a spreadsheet may take the text for a formula."""
    return text[:1] in _SIGNS or text.lstrip()[:1] in _SIGNS if text else False


def guarded(text: str) -> str:
    """The text with an apostrophe before it, if it needs one."""
    return f"'{text}" if runs_as_formula(text.lstrip("'")) else text


def unguarded(text: str) -> str:
    """The text as it was before :func:`guarded`."""
    return text[1:] if text.startswith("'") and runs_as_formula(text.lstrip("'")) else text
