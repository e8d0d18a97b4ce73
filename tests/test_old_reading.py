"""Old forms: words that are circled, dates and hours in free writing, read off pages with real strokes."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from scanform.form import FieldKind
from scanform.read import Instruments, read_sheet
from scanform.settle import Known, SettledField, State, settle_sheet
from scanform.training.old_fields import FieldPage, make_field_page

TODAY = date(2026, 7, 1)


@pytest.fixture(scope="module")
def instruments() -> Instruments:
    return Instruments()


@pytest.fixture(scope="module")
def pages(instruments: Instruments) -> list[tuple[FieldPage, tuple[SettledField, ...]]]:
    found = []
    for seed, grade in ((8_400_001, "office"), (8_400_002, "bitonal")):
        page = make_field_page(seed, grade)
        known = Known(today=TODAY, day_first=10 * (page.order == "dmy"), month_first=10 * (page.order == "mdy"))
        found.append((page, settle_sheet(page.sheet.layout, read_sheet(page.sheet, instruments), known)))
    return found


def test_every_field_of_an_old_form_is_settled(pages: list[tuple[FieldPage, tuple[SettledField, ...]]]) -> None:
    for page, fields in pages:
        assert [field.id for field in fields] == [spec.id for spec in page.sheet.layout.fields]


def test_what_is_accepted_on_old_forms_is_right(pages: list[tuple[FieldPage, tuple[SettledField, ...]]]) -> None:
    for page, fields in pages:
        for field in fields:
            truth = page.truth[field.id]
            if field.state is State.ACCEPTED:
                assert not truth.unclear, field
                if field.kind == FieldKind.NUMBER:
                    assert field.value is None or Decimal(str(field.value)) == Decimal(str(truth.value)), (field, truth)
                else:
                    assert field.value == truth.value, (field, truth)
