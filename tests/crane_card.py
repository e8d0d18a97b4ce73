"""A crane's card of one page with its boxes printed, as a draft at the desk begins with it."""

from __future__ import annotations

import hashlib
from pathlib import Path

import cv2
import numpy as np

from scanform.desk.forms_draft import begun
from scanform.form import (
    BLANK_PX_PER_MM,
    AdoptedAnswer,
    AdoptedField,
    AdoptedTemplate,
    BlankPicture,
    FieldKind,
    ItemEntry,
    Stage,
)

WIDTH_MM, HEIGHT_MM = 100, 120
UNIT_MM = (10, 10, 40, 8)
REMARKS_MM = (10, 90, 80, 20)
ITEMS = {"hook": "Hook", "slew-brake": "Slew brake", "horn": "Horn"}
ANSWERS = ("ok", "monitor", "defect")
BOX_MM = 5


def boxes_of(row: int) -> list[tuple[float, float, float, float]]:
    """The printed boxes of an item, from 0, as (left, top, width, height) in mm."""
    return [(50 + 14 * k, 40 + 12 * row, BOX_MM, BOX_MM) for k in range(len(ANSWERS))]


def crane_card(name: str) -> AdoptedTemplate:
    """The card with its fields where they are printed; nobody has marked an item of it."""
    picture = np.full((round(HEIGHT_MM * BLANK_PX_PER_MM), round(WIDTH_MM * BLANK_PX_PER_MM)), 255, np.uint8)
    ticks = [boxes_of(row) for row in range(len(ITEMS))]
    for x, y, w, h in [UNIT_MM, REMARKS_MM, *(box for row in ticks for box in row)]:
        corners = [(round(a * BLANK_PX_PER_MM), round(b * BLANK_PX_PER_MM)) for a, b in ((x, y), (x + w, y + h))]
        cv2.rectangle(picture, *corners, 0, 2)
    png = cv2.imencode(".png", picture)[1].tobytes()
    return AdoptedTemplate(
        name=name, version=1, title="Crane card", width_mm=WIDTH_MM, height_mm=HEIGHT_MM,
        picture=BlankPicture(file=f"{name}.png", sha256=hashlib.sha256(png).hexdigest()), picture_png=png,
        walk=(Stage(stage="Round", items=tuple(ItemEntry(name=n, text=text) for n, text in ITEMS.items())),),
        fields=(
            AdoptedField(id="unit", kind=FieldKind.TEXT, label="Crane", box_mm=UNIT_MM),
            *(
                AdoptedField(
                    id=f"item.{item}", kind=FieldKind.CHOICE, label=text,
                    answers=tuple(AdoptedAnswer(answer=a, box_mm=box) for a, box in zip(ANSWERS, row, strict=True)),
                )
                for (item, text), row in zip(ITEMS.items(), ticks, strict=True)
            ),
            AdoptedField(id="remarks", kind=FieldKind.TEXT, label="Remarks", box_mm=REMARKS_MM),
        ),
    )  # fmt: skip


def drafted(binder: Path, name: str) -> str:
    """A draft of the card, its form called ``name``, in the binder's folder; the draft's own name."""
    return begun(binder, crane_card(name), "card.pdf", "AB", sure={})
