"""Pages read for unit, date and hours alone, on which most of these fields' thresholds are fitted."""

from __future__ import annotations

import cv2
import numpy as np

from scanform.intake import Page
from scanform.locate import LocatedSheet, locate
from scanform.read import read_sheet
from scanform.simulate import Grade
from scanform.training.number_pages import number_page
from scanform.training.trial import NUMBERS, Plan, field_trials, known_when_read, setting, simulated

SEED = 8_700_001


def test_numbers_read_alone_are_read_as_on_the_whole_page():
    plan = Plan(Grade.OFFICE, SEED, None)
    page, (layouts, instruments) = simulated(plan), setting()
    pixels = cv2.imdecode(np.frombuffer(page.encoded, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert pixels is not None
    found = locate(Page("whole", 1, "", pixels), layouts)
    assert isinstance(found, LocatedSheet)
    whole = field_trials(found, read_sheet(found, instruments), known_when_read(plan, page.truth), page.truth)
    alone = number_page(plan)
    assert alone is not None
    assert {field.id: field for field in whole if field.id in NUMBERS} == {field.id: field for field in alone.fields}
    assert [field.id for field in alone.unaided if field.kind.endswith("-free")] == ["unit", "hours"]
