"""What the spot checks speak of: accepted fields that count and could have been drawn. Nothing else is vouched for."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest
from recorded_sheets import BYTES, TEMPLATE, a_field, a_sheet, doubtful, sheet_fields, with_field

from scanform.binder import Resolution, open_binder
from scanform.report import assurance, assurance_by_family
from scanform.settle import State

FIELDS = len(sheet_fields())


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(TEMPLATE)
        opened.set_spot_check_share(1, "AB")
        yield opened


def sheet(binder, number, *doubts):
    fields = sheet_fields()
    for name in doubts:
        fields = with_field(fields, doubtful(a_field(name, "comb", "1234.5")))
    return binder.record_page(a_sheet(binder.archive(BYTES, ".pdf"), number, fields)).number


def answer_all(binder, number):
    for field in binder.page_numbered(number).record.fields:
        if field.state is State.ACCEPTED:
            binder.confirm(f"{number}.{field.id}", field.value, "AB")


def counts(binder):
    """Accepted, checked and waiting, which are the same whole and by family, and wait as the queue shows them."""
    whole, families = assurance(binder), assurance_by_family(binder).values()
    assert whole.accepted == sum(one.accepted for one in families)
    assert whole.checked == sum(one.checked for one in families)
    assert whole.waiting == sum(one.waiting for one in families) == len(binder.spot_checks())
    return whole.accepted, whole.checked, whole.waiting


def test_a_void_sheet_is_neither_vouched_for_nor_does_it_vouch_for_others(binder):
    for number in (1, 2, 3):
        sheet(binder, number)
    answer_all(binder, 1)
    assert counts(binder) == (3 * FIELDS, FIELDS, 2 * FIELDS)
    binder.void_sheet(3, "AB", "crossed out")
    assert counts(binder) == (2 * FIELDS, FIELDS, FIELDS)
    binder.void_sheet(1, "AB", "crossed out")
    assert counts(binder) == (FIELDS, 0, FIELDS)
    binder.take_back_void(1, "AB")
    assert counts(binder) == (2 * FIELDS, FIELDS, FIELDS)


def test_sheets_from_times_without_spot_checks_are_counted_apart(binder):
    sheet(binder, 1)
    binder.set_spot_check_share(0, "AB")
    sheet(binder, 2)
    sheet(binder, 3)
    binder.confirm("3.operator", "B. Quarryman", "AB")
    binder.set_spot_check_share(1, "AB")
    answer_all(binder, 1)
    assert counts(binder) == (FIELDS, FIELDS, 0)
    found = assurance(binder)
    assert found.beyond == 2 * FIELDS
    assert found.sentence.startswith(f"{FIELDS} accepted, {FIELDS} spot-checked, 0 wrong: at most ")
    assert found.sentence.endswith(f"; {2 * FIELDS} more accepted that no spot check could be drawn from")


def test_a_doubt_that_other_sheets_settled_could_not_be_drawn_and_is_counted_apart(binder):
    sheet(binder, 1, "hours")
    sheet(binder, 2, "hours")
    binder.resolve_doubts([Resolution(number, "hours", "1234.5", "settled by later sheets") for number in (1, 2)])
    assert counts(binder) == (2 * FIELDS - 2, 0, 2 * FIELDS - 2)
    assert assurance(binder).beyond == 2
    assert assurance(binder).sentence.endswith(
        "none spot-checked yet; 2 more accepted that no spot check could be drawn from"
    )
    binder.confirm("1.hours", "1234.5", "AB")
    assert (counts(binder)[0], assurance(binder).beyond) == (2 * FIELDS - 2, 2)


def test_sheets_of_before_there_were_spot_checks_are_counted_apart(tmp_path):
    with open_binder(tmp_path / "old", create=True) as binder:
        sheet(binder, 1)
    with closing(sqlite3.connect(tmp_path / "old" / "record.sqlite")) as raw:  # as version 1 left it
        raw.execute("DROP TABLE spot_check")
        raw.execute("UPDATE meta SET value = '1' WHERE key = 'schema'")
        raw.commit()
    with open_binder(tmp_path / "old") as binder:
        binder.set_spot_check_share(1, "AB")
        sheet(binder, 2)
        assert counts(binder) == (FIELDS, 0, FIELDS)
        assert assurance(binder).beyond == FIELDS
