"""An old form has no numbered defect lines: what its remarks say of the items answered Defect."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from changed_sheets import UNIT
from made_quarter import MONDAY, Day, daily, day_fields
from recorded_sheets import BYTES

from scanform.binder import PageRecord, open_binder
from scanform.report import defect_register
from scanform.report.remarks import Remark, note_beside, remarks_on
from scanform.settle.types import Outcome, State
from scanform.settle.vocabulary import vocabulary_for

ITEMS = {18: "Fuel level and cap", 19: "Seat and seat belt"}
VOCABULARY = vocabulary_for((), tuple(ITEMS.values()))


@dataclass(frozen=True)
class Line:
    id: str
    value: str | None
    state: State = State.ACCEPTED

    @property
    def original(self) -> str | None:
        return self.value


def test_all_lines_of_remarks_are_about_the_one_item_that_is_answered_defect() -> None:
    lines = [Line("remarks.2", "fuel bowl", State.DOUBTFUL), Line("remarks.1", "water in"), Line("remarks.3", None)]
    assert remarks_on({18: ITEMS[18]}, lines, VOCABULARY) == {
        18: Remark("water in fuel bowl", "water in fuel bowl", State.DOUBTFUL, "tick")
    }


def test_among_several_items_a_line_goes_where_its_words_speak_of_and_one_that_speaks_of_none_nowhere() -> None:
    lines = [
        Line("remarks.1", "belt won't latch"),
        Line("remarks.2", "told Friday"),
        Line("remarks.3", "fuel cap loose"),
    ]
    found = remarks_on(ITEMS, lines, VOCABULARY)
    assert {number: (said.words, said.tied_by) for number, said in found.items()} == {
        19: ("belt won't latch", "words"),
        18: ("fuel cap loose", "words"),
    }


@pytest.mark.parametrize("dirt", ["11", "1 !", "-", None])
def test_what_is_left_of_a_ruled_line_is_no_remark(dirt: str | None) -> None:
    assert remarks_on({18: ITEMS[18]}, [Line("remarks.1", dirt)], VOCABULARY) == {}


def test_what_stands_in_an_items_own_cell_is_about_that_item() -> None:
    lines = [Line("note.horn", "works now and then", State.DOUBTFUL), Line("note.seat", "-"), Line("remarks.1", "horn")]
    said = Remark("works now and then", "works now and then", State.DOUBTFUL, "row")
    fields = {line.id: line for line in lines}
    assert note_beside("item.horn", fields) == said
    assert note_beside("item.seat", fields) is None
    assert note_beside("item.brakes", fields) is None


def test_remarks_without_an_item_answered_defect_make_none() -> None:
    assert remarks_on({}, [Line("remarks", "greased all points")], VOCABULARY) == {}


@pytest.mark.parametrize("beside", [False, True])
def test_the_register_tells_an_old_sheets_defect_in_the_words_of_its_remarks(tmp_path: Path, beside: bool) -> None:
    fields = {f.id: f for f in day_fields(Day(UNIT, MONDAY, 1000.0))}
    item = next(field_id for field_id in fields if field_id.startswith("item."))
    own_cell = item.replace("item.", "note.")
    words = replace(fields["operator"], id=own_cell if beside else "remarks.1", value="left mirror cracked")
    fields |= {item: replace(fields[item], value="defect"), words.id: words}
    with open_binder(tmp_path / "binder", create=True) as binder:
        binder.remember_template(daily().template)
        page = PageRecord(
            *("binder.pdf", "/scans/binder.pdf", 1, binder.archive(BYTES, "pdf"), Outcome.READ, None),
            *("site-machine", 1, None, UNIT, MONDAY),
            fields=tuple(fields.values()),
        )
        number = binder.record_page(page).number
        (defect,) = defect_register(binder)
    (report,) = defect.reports
    assert (report.words, report.ref) == ("left mirror cracked", f"{number}.{item}")
    assert report.complaint == "cracked"
