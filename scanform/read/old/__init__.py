"""Reading paper that scanform never printed: rings round words, and dates and numbers in free writing."""

from scanform.read.old.sheet import is_one_line, read_old_sheet

__all__ = ["is_one_line", "read_old_sheet"]
