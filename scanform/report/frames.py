"""Going through the rows of a table of columns."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd

__all__ = ["rows"]


def rows(frame: pd.DataFrame) -> Iterator[Any]:
    """Each row as a named tuple of its plain Python values."""
    return iter(frame.itertuples(index=False))
