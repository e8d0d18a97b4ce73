"""Spot checks: drawn by content, asked without the answer, and turned into a statement about the whole record."""

from __future__ import annotations

import hashlib
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from commands import Run, one_sentence
from recorded_sheets import BYTES, TEMPLATE, a_field, a_sheet, doubtful, sheet_fields, with_field

from scanform.binder import Binder, Settings, open_binder
from scanform.binder.spot_checks import drawn
from scanform.report import assurance, assurance_by_family, per_thousand, proposals, thresholds_after
from scanform.settle import State, calibration, family_of, fewest_for, same_value, upper_bound
from scanform.settle.calibration import LEAST_THRESHOLD


@pytest.fixture
def binder(tmp_path: Path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(TEMPLATE)
        yield opened


def fill(binder: Binder, pages: int, share: float = 1.0, **other: object) -> None:
    """Sheets of which every field was accepted but the hours, and that share of the accepted ones is to be checked."""
    binder.set_spot_check_share(share, "AB")
    sha256 = binder.archive(BYTES, ".pdf")
    for number in range(1, pages + 1):
        fields = with_field(sheet_fields(), doubtful(a_field("hours", "comb", "1234.5")))
        binder.record_page(a_sheet(sha256, number, fields, **other))


def answer(binder: Binder, ref: str, said: str | bool | None = "as it is") -> None:
    """Answer a spot check as the record has it, or as told."""
    number, _, field_id = ref.partition(".")
    page = binder.page_numbered(int(number))
    assert page is not None
    field = page.record.field(field_id)
    assert field is not None
    binder.confirm(ref, field.value if said == "as it is" else said, "AB")


# Drawing


def test_which_fields_are_drawn_follows_from_the_page_and_its_name_alone() -> None:
    sha256 = hashlib.sha256(b"a page").hexdigest()
    names = [f"item.{n}" for n in range(20_000)]
    chosen = [name for name in names if drawn(sha256, 1, name, 0.01)]
    assert chosen == [name for name in names if drawn(sha256, 1, name, 0.01)]
    # 200 expected; the binomial's standard deviation is 14.
    assert 140 < len(chosen) < 260
    assert set(chosen) < {name for name in names if drawn(sha256, 1, name, 0.02)}, "a larger share only adds"
    other = {name for name in names if drawn(sha256, 2, name, 0.01)}
    assert len(other & set(chosen)) < 15, "another page has other ones"
    assert not any(drawn(sha256, 1, name, 0.0) for name in names)
    assert all(drawn(sha256, 1, name, 1.0) for name in names)


def test_two_binders_draw_the_same_fields_of_the_same_page(tmp_path: Path) -> None:
    found = []
    for name in ("one", "two"):
        with open_binder(tmp_path / name, create=True) as binder:
            fill(binder, 20, share=0.1)
            found.append([check.ref for check in binder.spot_checks()])
    assert found[0] == found[1]
    assert len(found[0]) > 5


def test_only_accepted_fields_are_drawn_and_a_new_share_leaves_old_pages_alone(binder: Binder) -> None:
    fill(binder, 2)
    refs = {check.ref for check in binder.spot_checks()}
    assert "1.unit" in refs
    assert "1.hours" not in refs, "a doubt is looked at anyway"
    binder.set_spot_check_share(0.0, "AB")
    assert {check.ref for check in binder.spot_checks()} == refs
    binder.record_page(a_sheet(binder.archive(BYTES, ".pdf"), 3))
    assert {check.ref for check in binder.spot_checks()} == refs


# Asking


def test_a_spot_check_tells_nothing_of_what_was_read(binder: Binder) -> None:
    fill(binder, 1)
    checks = {check.field.id: check for check in binder.spot_checks()}
    for check in checks.values():
        assert (check.field.value, check.field.alternatives) == (None, ())
        assert check.field.polygon_px, "where it is has to be told"
    assert (checks["unit"].unit, checks["date"].date) == (None, None)
    assert checks["item.horn"].unit == "LD-01"


def test_the_list_shows_spot_checks_apart_and_without_values(binder: Binder, run: Run) -> None:
    fill(binder, 1)
    ran = run("doubts", "--binder", binder.folder)
    doubts, checks = ran.out.split("spot checks: say what the paper says")
    assert "1.hours" in doubts
    assert "1.item.horn" in checks
    unit_row = next(line for line in checks.splitlines() if "1.unit" in line)
    assert "LD-01" not in unit_row
    date_row = next(line for line in checks.splitlines() if "1.date" in line)
    assert "2026-11-23" not in date_row
    assert "A. Quarryman" not in checks


def test_a_spot_check_is_answered_and_not_asked_again(binder: Binder, run: Run) -> None:
    fill(binder, 1)
    mine = ["--binder", binder.folder, "--initials", "AB"]
    ran = run("confirm", "1.item.horn", "ok", *mine)
    assert "the machine had read the same" in ran.out
    ran = run("confirm", "1.unit", "LD-07", *mine)
    assert "the machine had read 'LD-01'" in ran.out
    assert not {"1.item.horn", "1.unit"} & {check.ref for check in binder.spot_checks()}
    assert assurance(binder).wrong == 1
    binder.undo_last("AB")
    assert "1.unit" in {check.ref for check in binder.spot_checks()}, "taken back, it is open again"
    assert (assurance(binder).checked, assurance(binder).wrong) == (1, 0)


def test_a_spot_check_cannot_be_waved_through(binder: Binder, run: Run) -> None:
    fill(binder, 1)
    ran = run("confirm", "1.unit", "--as-read", "--binder", binder.folder, "--initials", "AB")
    assert ran.code == 2
    assert "spot check" in one_sentence(ran.err)


def test_spelling_is_no_error() -> None:
    assert same_value("unit", "LD-01", "ld01")
    assert same_value("defect.1", "Tire  worn", "TIRE WORN")
    assert same_value("told", None, "")
    assert not same_value("hours", "1234.5", "1234.6")
    assert not same_value("signature", True, False)


# The statement


def test_the_record_states_how_wrong_it_may_be(binder: Binder, run: Run) -> None:
    fill(binder, 4)
    accepted = sum(len(page.record.fields) - 1 for page in binder.pages())
    assert assurance(binder).sentence == f"{accepted} accepted, none spot-checked yet"
    checks = binder.spot_checks()[:30]
    assert checks[0].field.kind == "choice"
    answer(binder, checks[0].ref, "na")
    for check in checks[1:]:
        answer(binder, check.ref)
    found = assurance(binder)
    assert (found.accepted, found.checked, found.wrong) == (accepted, 30, 1)
    # Clopper and Pearson, one-sided: 1 in 30 leaves 14.9 % (NIST/SEMATECH e-Handbook, 7.2.4.2: the F distribution).
    assert found.at_most == pytest.approx(0.1486, abs=0.0002)
    said = f"{accepted} accepted, 30 spot-checked, 1 wrong: at most 149 in 1,000 with 95 % confidence"
    assert found.sentence == said
    ran = run("trust", "--binder", binder.folder)
    assert said in ran.out
    assert f"{accepted - 30} spot checks wait" in ran.out
    parts = assurance_by_family(binder)
    assert sum(part.checked for part in parts.values()) == 30
    assert sum(part.accepted for part in parts.values()) == accepted
    assert parts["choice"].accepted == 4 * 5, "three items, the repair and the fitness, each"


@pytest.mark.parametrize(("share", "said"), [(0.02451, "25"), (0.0012, "1.2"), (0.00121, "1.3"), (1.0, "1,000")])
def test_a_bound_is_never_rounded_down(share: float, said: str) -> None:
    assert per_thousand(share) == said


def test_every_kind_of_field_has_a_family() -> None:
    found = [
        family_of(*field)
        for field in (
            *(("item.horn", "choice"), ("fit", "decision"), ("item.horn.mon", "mark"), ("workshop.date", "comb")),
            *(("defect.1.item", "comb"), ("defect.1", "text"), ("operator", "text"), ("signature", "signature")),
        )
    ]
    assert found == ["choice", "choice", "mark", "numbers", "item-number", "words", "name", "signature"]


# The journal


def test_spot_checks_and_settings_are_in_the_journal_and_tampering_shows(binder: Binder) -> None:
    fill(binder, 2, share=0.5)
    binder.set_silent_error_target(1 / 5000, "CD")
    binder.set_silent_error_target(1 / 5000, "CD")
    assert binder.verify().problems == ()
    changes = [entry.body for entry in binder.journal() if entry.kind == "setting-changed"]
    assert changes[-1] == {"setting": "silent_error_target", "old": None, "new": 0.0002, "initials": "CD"}
    assert len(changes) == 2, "the same again writes nothing"
    with closing(sqlite3.connect(binder.folder / "record.sqlite")) as raw:
        raw.execute("DELETE FROM spot_check WHERE rowid = (SELECT min(rowid) FROM spot_check)")
        raw.execute("UPDATE setting SET value = '0.01' WHERE key = 'silent_error_target'")
        raw.commit()
    problems = " ".join(binder.verify().problems)
    assert "spot_check" in problems
    assert "silent_error_target" in problems


def test_a_binder_of_the_version_before_is_brought_up_to_date_once(tmp_path: Path) -> None:
    with open_binder(tmp_path / "old", create=True) as binder:
        binder.set_spot_check_share(0.0, "AB")
    with closing(sqlite3.connect(tmp_path / "old" / "record.sqlite")) as raw:
        raw.execute("DROP TABLE spot_check")
        raw.execute("UPDATE meta SET value = '1' WHERE key = 'schema'")
        raw.commit()
    for _ in range(2):
        with open_binder(tmp_path / "old") as binder:
            assert binder.spot_checks() == []
            assert [entry.kind for entry in binder.journal()].count("binder-brought-up-to-date") == 1
            assert binder.verify().problems == ()


# Settings


def test_settings_reach_settling(binder: Binder) -> None:
    assert binder.settings() == Settings()
    binder.set_silent_error_target(1 / 5000, "AB")
    binder.set_thresholds({"numbers": 0.9991}, "AB")
    known = binder.known()
    assert known.silent_error_target == 1 / 5000
    assert known.thresholds == (("numbers", 0.9991),)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--silent-errors", "2", "--initials", "AB"), "silent-error target"),
        (("--silent-errors", "few", "--initials", "AB"), "write it as 1/2000"),
        (("--spot-checks", "1/0", "--initials", "AB"), "write it as 1/2000"),
        (("--spot-checks", "7", "--initials", "AB"), "share of spot checks"),
        (("--spot-checks", "1/50"), "--initials"),
        (("--spot-checks", "1/50", "--initials", "A1"), "initials"),
    ],
)
def test_a_setting_that_cannot_be_is_refused_in_a_sentence(
    binder: Binder, run: Run, options: tuple[str, ...], said: str
) -> None:
    ran = run("settings", "--binder", binder.folder, *options)
    assert ran.code == 2
    assert said in one_sentence(ran.err)
    assert binder.settings() == Settings()


def test_settings_are_shown_and_changed(binder: Binder, run: Run) -> None:
    ran = run("settings", "--binder", binder.folder)
    assert "Spot checks: 1 in 100 accepted fields" in ran.out
    ran = run("settings", "--binder", binder.folder, "--silent-errors", "1/5000", "--initials", "ab")
    assert "at most 1 in 5,000" in ran.out
    ran = run("settings", "--binder", binder.folder, "--silent-errors", "installed", "--initials", "ab")
    assert binder.settings().silent_error_target is None


# A site's own thresholds


def with_confidences(binder: Binder, pages: int, confidence: float) -> None:
    """Sheets with every accepted answer at this confidence, all of them to be checked."""
    binder.set_spot_check_share(1.0, "AB")
    sha256 = binder.archive(BYTES + str(confidence).encode(), ".pdf")
    for number in range(1, pages + 1):
        fields = tuple(replace(f, confidence=confidence) for f in sheet_fields())
        binder.record_page(a_sheet(sha256, number, fields))


def test_too_few_confirmed_fields_are_refused_and_the_number_needed_is_told(binder: Binder, run: Run) -> None:
    with_confidences(binder, 2, 0.999)
    answer(binder, "1.item.horn")
    ran = run("thresholds", "--binder", binder.folder)
    assert ran.code == 2
    assert "too few spot checks" in one_sentence(ran.err)
    (choice,) = [p for p in proposals(binder) if p.family == "choice"]
    assert choice.after is None
    assert choice.needed == fewest_for(choice.target, 0, 0.95)
    assert f"{choice.needed:,} spot" in " ".join(ran.out.split())


def test_enough_checks_without_an_error_let_the_sites_doubts_through_and_not_before(binder: Binder, run: Run) -> None:
    binder.set_silent_error_target(0.05, "AB")  # a target that a test's record can show
    target = calibration().for_target(0.05).targets["signature", ""]
    needed = fewest_for(target, 0, 0.975)
    assert needed < 300
    binder.set_thresholds({"signature": 0.998}, "AB")
    with_confidences(binder, needed, 0.999)
    sha256 = binder.archive(b"faint ones", ".pdf")
    faint = replace(a_field("signature", "signature", True), confidence=0.97)
    faint = replace(faint, state=State.DOUBTFUL, reasons=("the ink is not clear enough to be sure",))
    for number in range(1, needed + 1):
        binder.record_page(a_sheet(sha256, number, with_field(sheet_fields(), faint)))
    for number in range(1, needed + 1):
        answer(binder, f"{number}.signature")

    def signature():
        return next(p for p in proposals(binder) if p.family == "signature")

    assert signature().after == pytest.approx(0.998, abs=1e-6), "nobody has looked at the faint ones"
    for doubt in binder.queue():
        binder.confirm(doubt.ref, True, "AB")
    found = signature()
    assert found.after == pytest.approx(0.97, abs=1e-6)
    assert found.now_accepted == needed
    # Both sorts without an error among as many: each at most 1 - 0.025 ** (1 / n).
    assert found.at_most == pytest.approx(1 - 0.025 ** (1 / needed), rel=1e-6)
    ran = run("thresholds", "--binder", binder.folder)
    assert f"{needed} of the fields" in ran.out
    assert binder.settings().thresholds == {"signature": 0.998}, "nothing changes without --apply"
    assert "--initials" in one_sentence(run("thresholds", "--binder", binder.folder, "--apply").err)
    assert run("thresholds", "--binder", binder.folder, "--apply", "--initials", "cd").code == 0
    assert binder.settings().thresholds["signature"] == pytest.approx(0.97, abs=1e-6)
    change = [entry.body for entry in binder.journal() if entry.kind == "setting-changed"][-1]
    assert (change["initials"], change["setting"]) == ("CD", "thresholds")
    assert binder.verify().problems == ()


def test_errors_that_surely_miss_the_target_raise_the_threshold_above_them(binder: Binder) -> None:
    with_confidences(binder, 12, 0.999)
    for number in range(1, 13):
        answer(binder, f"{number}.item.horn", "na" if number <= 4 else "ok")
    (choice,) = [p for p in proposals(binder) if p.family == "choice"]
    assert choice.after is not None
    assert choice.after > 0.999
    assert not choice.proven
    assert choice.now_doubtful == 12 * 5
    assert thresholds_after(binder, [choice]) == {"choice": choice.after}


def test_no_site_goes_below_the_least_threshold(binder: Binder) -> None:
    binder.set_silent_error_target(0.05, "AB")
    target = calibration().for_target(0.05).targets["signature", ""]
    with_confidences(binder, fewest_for(target, 0, 0.95), 0.5)
    for check in [c for c in binder.spot_checks() if c.field.id == "signature"]:
        answer(binder, check.ref)
    (found,) = [p for p in proposals(binder) if p.family == "signature"]
    assert found.after is None or found.after >= LEAST_THRESHOLD


def test_the_bound_is_the_one_that_statistics_tables_have() -> None:
    # 0 in 59 at 95 %: 4.95 %; Clopper and Pearson's limit for no case is 1 - 0.05 ** (1 / n).
    assert upper_bound(0, 59, 0.95) == pytest.approx(1 - 0.05 ** (1 / 59))
