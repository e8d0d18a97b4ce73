"""A thing to put right before a form under way can be a version."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel

__all__ = ["Fault"]


class Fault(BaseModel):
    """Something to put right. ``at``: the number of the field or of the legend's line, from 0; None for the form."""

    part: Literal["field", "sign", "form"]
    at: int | None = None
    key: str = ""
    said: str
