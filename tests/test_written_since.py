"""A sheet that is fed again after something more was written on it: it stays on record, and a person looks at it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from recorded_sheets import TEMPLATE, a_field, a_sheet, doubtful, sheet_fields, with_field
from scanned_stack import UNIT, WEEK, printed_pad

from scanform.batch import gather, read_stack
from scanform.batch.duplicates import seen_before
from scanform.batch.written_since import written_since
from scanform.binder import Binder, PageRecord, open_binder
from scanform.form import built_in_templates, find_template
from scanform.press import parse_week
from scanform.read.types import Alternative
from scanform.report import defect_register
from scanform.settle import Outcome, SettledField, State
from scanform.simulate import CREW, Grade, fill, random_truth, random_writer, scan

INK = bytes(np.random.default_rng(1).integers(0, 256, 64 * 12, np.uint8))
TOO_LITTLE_INK = bytes(64 * 12)
WORDS = "brake pedal goes to the floor"


@pytest.fixture
def binder(tmp_path: Path) -> Iterator[Binder]:
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(TEMPLATE)
        yield opened


def fed(
    binder: Binder, fields: Sequence[SettledField], ink: bytes = INK, serial: str | None = "F7K2QD0101"
) -> PageRecord:
    """One more scan of the sheet, seen and recorded as a batch does."""
    n = len(binder.pages()) + 1
    sha256 = binder.archive(b"scan %d" % n, ".pdf")
    where = {"source": f"{n}.pdf", "source_path": f"/scans/{n}.pdf"}
    scanned = replace(a_sheet(sha256, serial=serial, ink_signature=ink, **where), fields=(), unit=None, date=None)
    found = seen_before(scanned, tuple(fields), (), binder)
    return binder.record_page(found).record


def with_fields(*changed: SettledField) -> tuple[SettledField, ...]:
    fields = sheet_fields()
    for one in changed:
        fields = with_field(fields, one)
    return fields


def read_as(field: SettledField, *alternatives: tuple[str | None, float]) -> SettledField:
    return replace(field, alternatives=tuple(Alternative(value, p) for value, p in alternatives))


LINE = a_field("defect.1", "text", WORDS)
NUMBER = a_field("defect.1.item", "comb", "2")
BRAKES = a_field("item.brakes", "choice", "ok", critical=True)
BOTH_TICKED = doubtful(read_as(BRAKES, ("ok", 0.008), ("defect", 0.004)), "OK and Defect are both marked")
FIT = a_field("fit", "decision", "fit")
PARKED_TOO = doubtful(read_as(replace(FIT, value="parked"), ("parked", 0.003), ("fit", 0.002)), "both are marked")


@pytest.mark.parametrize(
    "added",
    [
        [LINE, doubtful(NUMBER, "this line names item 2, which is answered OK"), doubtful(BRAKES, "line 1 names it")],
        [LINE],
        [doubtful(LINE)],
        [doubtful(NUMBER)],
        [BOTH_TICKED],
        [doubtful(replace(BRAKES, value="defect"))],
        [PARKED_TOO],
        [doubtful(a_field("defect.1.repair", "decision", "repaired"))],
    ],
)
@pytest.mark.parametrize("ink", [INK, TOO_LITTLE_INK])
def test_what_was_written_on_a_sheet_after_its_first_scan_stays_on_record_and_waits_for_a_person(
    binder: Binder, added: list[SettledField], ink: bytes
) -> None:
    fed(binder, sheet_fields(), ink)
    again = fed(binder, with_fields(*added), ink)
    assert again.outcome is Outcome.READ
    assert "written on the paper since" in (again.reason or "")
    waiting = [doubt.ref for doubt in binder.queue()]
    assert set(waiting) == {f"2.{field.id}" for field in again.fields if field.state is State.DOUBTFUL}
    assert f"2.{added[0].id}" in waiting, "what is new waits, and nothing on the first scan does"
    assert binder.verify().problems == ()


def test_words_added_to_a_line_are_new_words(binder: Binder) -> None:
    fed(binder, with_fields(a_field("defect.1", "text", "left mirror cracked")))
    again = fed(binder, with_fields(a_field("defect.1", "text", "left mirror cracked, no brakes")))
    assert (again.outcome, again.field("defect.1").state) == (Outcome.READ, State.DOUBTFUL)


def test_a_sheet_without_its_code_that_says_more_is_kept_too(binder: Binder) -> None:
    fed(binder, sheet_fields(), serial=None)
    again = fed(binder, with_fields(LINE), serial=None)
    assert (again.outcome, again.field("defect.1").state) == (Outcome.READ, State.DOUBTFUL)


def test_a_defect_written_since_is_on_the_list_and_a_third_scan_adds_nothing(binder: Binder) -> None:
    fed(binder, sheet_fields())
    fed(binder, with_fields(LINE, doubtful(NUMBER), doubtful(BRAKES)))
    assert fed(binder, with_fields(LINE, doubtful(NUMBER), doubtful(BRAKES))).outcome is Outcome.DUPLICATE
    assert fed(binder, sheet_fields()).outcome is Outcome.DUPLICATE
    (defect,) = defect_register(binder)
    assert (defect.name, defect.critical, defect.is_open) == ("2.defect.1", True, True)


@pytest.mark.parametrize(
    "unsure",
    [
        doubtful(read_as(BRAKES, ("ok", 0.95), ("defect", 0.04)), "there may be a mark in the box Defect too"),
        doubtful(replace(BRAKES, value=None)),
        doubtful(a_field("defect.1", "text", "11")),
        doubtful(a_field("told", "text", "E")),
        doubtful(a_field("fit", "decision", None)),
        a_field("signature", "signature", False),
    ],
)
def test_dirt_and_what_a_poor_scan_does_not_show_say_nothing_more(binder: Binder, unsure: SettledField) -> None:
    fed(binder, with_fields(doubtful(a_field("signature", "signature", True))))
    assert fed(binder, with_fields(unsure)).outcome is Outcome.DUPLICATE


def test_what_a_person_has_settled_on_the_first_scan_is_not_asked_again_on_the_second(binder: Binder) -> None:
    dirt = doubtful(read_as(LINE, (WORDS, 0.6)))
    read = with_fields(dirt, BOTH_TICKED, doubtful(read_as(FIT, ("fit", 0.7), ("parked", 0.3))))
    fed(binder, read)
    binder.confirm("1.defect.1", None, "AB")
    binder.confirm("1.item.brakes", "na", "AB")
    binder.confirm("1.fit", "parked", "AB")
    assert fed(binder, read).outcome is Outcome.DUPLICATE


@pytest.mark.parametrize(("value", "is_new"), [("ok", False), (None, False), ("defect", True)])
def test_a_faint_sign_that_waits_on_the_first_scan_is_asked_about_once(value: str | None, is_new: bool) -> None:
    sign = a_field("item.brakes.mon", "mark", "ok")
    first = doubtful(read_as(sign, ("ok", 0.6)))
    again = doubtful(read_as(replace(sign, value=value), (value, 0.4)))
    assert bool(written_since([first], [again])) is is_new
    assert written_since([sign], [again]), "where the first scan was sure, an unclear sign is one that was changed"


@pytest.fixture(scope="module")
def papers() -> tuple[list[np.ndarray], str]:
    """Monday's sheet as it was scanned in the morning, all OK, and with a line written on it afterwards; its serial."""
    layout, blanks, serials = printed_pad(find_template("site-machine"))
    rng = np.random.default_rng(8_720_000)
    writer = replace(random_writer(rng), marks=(("tick", 1.0),))
    truth = random_truth(layout, rng, [UNIT], CREW, parse_week(WEEK)[0], Decimal("4510.5"), serials[0])
    plain = {
        name: "ok" if name.startswith("item.") else None if name.startswith("defect.") else value
        for name, value in truth.values.items()
    } | {"fit": "fit", "told": None}
    morning, _ = fill(layout, blanks[0], replace(truth, values=plain), writer, rng, printed=("unit", "date"))
    nothing = {name: False if isinstance(value, bool) else None for name, value in plain.items()}
    line = nothing | {"defect.1.item": "24", "defect.1": WORDS}
    noon, _ = fill(layout, morning, replace(truth, values=line), writer, rng, printed=("unit", "date"))
    return [morning, noon], serials[0]


def test_a_real_sheet_is_known_again_until_a_line_is_written_on_it(
    papers: tuple[list[np.ndarray], str], tmp_path: Path, binder: Binder
) -> None:
    (morning, noon), serial = papers
    for n, paper in enumerate((morning, morning, noon)):
        scanned = scan(paper, Grade.OFFICE, np.random.default_rng([8_720_001, n]))
        (tmp_path / f"{n}.jpg").write_bytes(scanned.encoded)
    pages = read_stack(gather(sorted(tmp_path.glob("*.jpg"))), binder, built_in_templates(), workers=1).pages
    assert {page.record.serial for page in pages} == {serial}
    assert [page.record.outcome.value for page in pages] == ["read", "duplicate", "read"]
    assert "3.defect.1" in [doubt.ref for doubt in binder.queue()]
