"""Damaged files of every kind, made by other programs, end in pages or in one sentence; see scanform.training.fuzz."""

from __future__ import annotations

import zlib
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanform.batch.crew import Loss
from scanform.training.fuzz import Opened, fault_in, fuzz_file, fuzzed, report
from scanform.training.fuzz_damage import WAYS, Change, damaged
from scanform.training.fuzz_files import whole_files

FILES = 360
WHOLE = whole_files()
CHANGES = st.builds(
    Change,
    st.sampled_from(WAYS),
    st.floats(0, 1, exclude_max=True),
    st.floats(0, 1, exclude_max=True),
    st.integers(0, 255),
)


def test_hundreds_of_damaged_files_are_carried_and_none_ends_the_batch_or_meets_a_fault_of_ours() -> None:
    ends = list(fuzzed(FILES, workers=2))
    assert len(ends) == FILES
    lost = [fuzz_file(n, WHOLE)[0] for n, end in enumerate(ends) if isinstance(end, Loss)]
    assert lost == []
    opened = [end for end in ends if isinstance(end, Opened)]
    assert [end.fault for end in opened if end.fault] == []
    outcomes = Counter(outcome for end in opened for outcome in end.outcomes)
    assert outcomes["refused"] > 50, "damage that nothing notices is none"
    assert outcomes["unknown-form"] > 50, "files damaged beyond opening never reach a decoder"
    assert "the batch survived all; 0 ended or blocked their worker, 0 met a fault of ours" in report(ends, WHOLE, 0.1)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(sorted(WHOLE)), st.lists(CHANGES, max_size=6))
def test_any_list_of_changes_can_be_made_to_any_file(name: str, changes: list[Change]) -> None:
    data = damaged(WHOLE[name], changes)
    assert damaged(WHOLE[name], changes) == data
    if not changes:
        assert data == WHOLE[name]


def test_damage_inside_a_png_gets_past_its_check_sums() -> None:
    data = damaged(WHOLE["grey.png"], [Change("flip", 0.5, 0.5, 3)])
    assert data != WHOLE["grey.png"]
    at = 8
    while data[at + 4 : at + 8] != b"IEND":
        end = at + 8 + int.from_bytes(data[at : at + 4], "big")
        assert int.from_bytes(data[end : end + 4], "big") == zlib.crc32(data[at + 4 : end])
        at = end + 4


@pytest.mark.parametrize(
    ("sentence", "faulty"),
    [
        ("scan.pdf is damaged; copy or scan it again.", False),
        ("scan.pdf, page 1 could not be read (KeyError: 'x'); the file is kept. Scan the sheet again.", True),
        ("scan.pdf is damaged\nin two lines.", True),
        ("\x1b[2Jscan.pdf is damaged.", True),
        ("scan.pdf: error 4", True),
    ],
)
def test_what_is_no_sentence_for_a_person_is_a_fault(sentence: str, faulty: bool) -> None:
    assert bool(fault_in(sentence)) is faulty
