"""A binder of old forms read from its first sheet on: what later sheets make clear leaves the queue."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from old_pages import DATE, HOURS, UNIT, layout_of, page_with, writing

from scanform.batch.knowledge import MeterBook, learn
from scanform.batch.reconciling import LeftInDoubt
from scanform.binder import Binder, PageRecord, open_binder
from scanform.errors import UsageError
from scanform.form import FieldKind
from scanform.read import Instruments, Reading, read_sheet
from scanform.settle import Known, Outcome, State, UnitRecord, settle_sheet

TODAY = date(2026, 7, 1)
LAYOUT = layout_of()
KNOWN = Known(today=TODAY, units=(UnitRecord("WL40"), UnitRecord("EX12")))


@pytest.fixture(scope="module")
def readings() -> dict[tuple[str, str], tuple[Reading, ...]]:
    """What three sheets of one unit say, filed in the order in which they are read."""
    instruments, found = Instruments(), {}
    for day, hours in (("03/04/2026", "45125"), ("14/04/2026", "4580.5"), ("15/04/2026", "4588.0")):
        sheet = page_with(LAYOUT, writing("WL40", UNIT), writing(day, DATE), writing(hours, HOURS))
        found[day, hours] = tuple(read_sheet(sheet, instruments))
    return found


def _record(binder: Binder, number: int, readings: Sequence[Reading], known: Known, meters: MeterBook) -> PageRecord:
    fields = settle_sheet(LAYOUT, readings, replace(known, recall=meters.of))
    by_id = {field.id: field for field in fields}
    day = by_id["date"]
    return PageRecord(
        source="old.tif", source_path="/old.tif", page_number=number, sha256=binder.archive(f"page {number}".encode(),
        ".tif"), outcome=Outcome.READ, reason=None, template="day-card", version=1, serial=None,
        unit=str(by_id["unit"].value), date=date.fromisoformat(str(day.value)) if day.value else None, width_px=1417,
        height_px=992, residual_mm=0.1, fields=fields, ink_signature=None, batch_id=1,
    )  # fmt: skip


def _read(binder: Binder, readings: dict[tuple[str, str], tuple[Reading, ...]]) -> int:
    binder.begin_batch(["old.tif"])
    known, meters = KNOWN, MeterBook(binder)
    with LeftInDoubt() as in_doubt:
        for number, said in enumerate(readings.values(), start=1):
            kept = binder.record_page(_record(binder, number, said, known, meters))
            known = learn(known, kept.record)
            meters.note(kept.record)
            in_doubt.note(kept, LAYOUT, said, known.place - 1)
        return in_doubt.settle(binder, replace(known, day_first=known.day_first + 8), lambda _: LAYOUT)


def test_a_date_is_settled_by_the_sheets_after_it(tmp_path: Path, readings: dict) -> None:
    with open_binder(tmp_path / "binder", create=True) as binder:
        resolved = _read(binder, readings)
        first = binder.pages()[0].record
        field = first.field("date")
        assert resolved >= 1
        assert field is not None
        assert (field.value, field.state) == ("2026-04-03", State.ACCEPTED)
        assert first.date == date(2026, 4, 3)
        assert "1.date" not in {doubt.ref for doubt in binder.queue()}
        assert any("other sheets" in reason for reason in field.reasons)


def test_the_journal_says_what_settled_a_doubt_and_the_record_verifies(tmp_path: Path, readings: dict) -> None:
    with open_binder(tmp_path / "binder", create=True) as binder:
        _read(binder, readings)
        events = binder.field_history(1, "date")
        assert [event.what for event in events] == ["read", "resolved"]
        assert (events[1].old_state, events[1].new_state) == (State.DOUBTFUL, State.ACCEPTED)
        assert "settled by" in events[1].reason
        report = binder.verify()
        assert not report.problems, report.problems


def test_what_a_person_has_said_is_not_settled_over(tmp_path: Path, readings: dict) -> None:
    with open_binder(tmp_path / "binder", create=True) as binder:
        binder.begin_batch(["old.tif"])
        said = readings["03/04/2026", "45125"]
        kept = binder.record_page(_record(binder, 1, said, KNOWN, MeterBook(binder)))
        assert any(f.kind == FieldKind.DATE and f.state is State.DOUBTFUL for f in kept.record.fields)
        with LeftInDoubt() as in_doubt:
            in_doubt.note(kept, LAYOUT, said, 0)
            binder.confirm("1.date", "2026-03-04", "AB")
            in_doubt.settle(binder, replace(KNOWN, day_first=20), lambda _: LAYOUT)
        field = binder.pages()[0].record.field("date")
        assert field is not None
        assert (field.value, field.state) == ("2026-03-04", State.CONFIRMED)


def test_a_person_may_say_what_a_circled_word_a_date_or_a_count_is(tmp_path: Path, readings: dict) -> None:
    with open_binder(tmp_path / "binder", create=True) as binder:
        binder.begin_batch(["old.tif"])
        binder.record_page(_record(binder, 1, readings["03/04/2026", "45125"], KNOWN, MeterBook(binder)))
        assert binder.confirm("1.item.oil", "Defect", "AB").value == "defect"
        assert binder.confirm("1.loads", "27", "AB").value == "27"
        with pytest.raises(UsageError, match="is no number"):
            binder.confirm("1.loads", "many", "AB")
        with pytest.raises(UsageError, match="not one of its answers"):
            binder.confirm("1.item.oil", "perhaps", "AB")
