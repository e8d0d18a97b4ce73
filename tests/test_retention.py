"""How long sheets are kept: by the rules named, never less while anything is open, and deleted with a trace."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from made_quarter import Day, TrueDefect, daily, day_fields, doubted, settled
from recorded_sheets import a_page

from scanform.binder import ClosingWish, PageRecord, open_binder
from scanform.errors import UsageError
from scanform.report import coverage, defect_register, files_that_may_go, gather_evidence, keeping, rule_in_words
from scanform.report.deleted_days import deleted_days
from scanform.report.retention import months_after
from scanform.settle.types import Outcome

REPORTED = dt.date(2026, 3, 31)
DAY = dt.timedelta(days=1)


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.set_spot_check_share(0, "AB")
        opened.remember_template(daily().template)
        opened.remember_template(daily().template.model_copy(update={"name": "road-truck"}))
        yield opened


def sheet(binder, *lines, template="road-truck", on=REPORTED, file=b"a", page=1, doubt=None, unit="RT11"):
    said = [(TrueDefect("RT11", item, words), words, repair) for item, words, repair in lines]
    fields = tuple(doubted(f) if f.id == doubt else f for f in day_fields(Day("RT11", on, 100.0, said)))
    record = PageRecord(
        *("t.pdf", "/t.pdf", page, binder.archive(file, "pdf"), Outcome.READ, None, template, 1, None, unit, on),
        fields=fields,
    )
    return binder.record_page(record).number


def newest(binder):
    """The file of the newest page never goes, so something else has to be it."""
    sheet(binder, on=dt.date(2026, 11, 1), file=b"newest")


def until(binder, number=1):
    return next(page for page in keeping(binder) if page.page == number).until


def may_go(binder, today):
    return sorted(page.page for pages in files_that_may_go(keeping(binder), today).values() for page in pages)


def test_a_road_vehicles_report_is_kept_three_months(binder):
    # 49 CFR 396.11(a)(4): reports and certifications of repairs are kept three months.
    sheet(binder)
    newest(binder)
    assert until(binder) == dt.date(2026, 6, 30)
    assert may_go(binder, dt.date(2026, 6, 30)) == []
    assert may_go(binder, dt.date(2026, 7, 1)) == [1]


def test_the_three_months_count_from_the_repair_if_that_comes_later(binder):
    sheet(binder, ("horn", "horn dead", None))
    newest(binder)
    binder.close_defects([ClosingWish("1.defect.1", "repaired", dt.date(2026, 4, 20), "Otis Granger", "WO 1")], "OG")
    assert until(binder) == dt.date(2026, 7, 20)


def test_a_sheet_with_an_open_defect_is_never_let_go(binder):
    # 30 CFR 56.14100(d): records of defects are kept until the defects are corrected.
    sheet(binder, ("horn", "horn dead", None))
    newest(binder)
    assert until(binder) is None
    assert may_go(binder, dt.date(2099, 1, 1)) == []


@pytest.mark.parametrize("doubt", ["hours", "item.horn"])
def test_a_sheet_with_a_doubt_is_never_let_go(binder, doubt):
    sheet(binder, doubt=doubt)
    newest(binder)
    assert until(binder) is None


def test_a_sheet_without_a_unit_or_a_page_never_read_keeps_its_whole_file(binder):
    sheet(binder)
    sheet(binder, page=2, unit=None)
    sheet(binder, file=b"b", page=1)
    binder.record_page(a_page(binder.archive(b"b", "pdf"), 2, Outcome.UNREADABLE, "torn"))
    newest(binder)
    assert may_go(binder, dt.date(2099, 1, 1)) == []


def test_kinds_that_no_rule_gives_a_time_stay_until_the_site_sets_one(binder):
    sheet(binder, template="site-machine")
    newest(binder)
    assert until(binder) is None
    binder.set_keep_months(24, "AB")
    assert until(binder) == dt.date(2028, 3, 31)


def test_the_longer_of_two_rules_holds(binder):
    sheet(binder)
    newest(binder)
    binder.set_keep_months(1, "AB")
    assert until(binder) == dt.date(2026, 6, 30)
    binder.set_keep_months(12, "AB")
    assert until(binder) == dt.date(2027, 3, 31)


@pytest.mark.parametrize(
    ("day", "months", "then"),
    [("2026-11-30", 3, "2027-02-28"), ("2027-11-30", 3, "2028-02-29"), ("2026-12-31", 12, "2027-12-31")],
)
def test_months_end_on_the_last_day_that_there_is(day, months, then):
    assert months_after(dt.date.fromisoformat(day), months) == dt.date.fromisoformat(then)


def test_a_deletion_leaves_its_trace_and_a_sound_record(binder):
    sheet(binder)
    binder.record_page(replace(a_page(binder.archive(b"a", "pdf"), 2, Outcome.BLANK), source="t.pdf"))
    sheet(binder, file=b"kept", on=dt.date(2026, 10, 31))
    newest(binder)
    binder.confirm("1.hours", "101.0", "AB")
    recorded = {entry.body["page"]: entry.hash for entry in binder.journal() if entry.kind == "page"}
    going = files_that_may_go(keeping(binder), dt.date(2026, 11, 1))
    assert binder.delete_files(dict.fromkeys(going, "three months"), "AB") == [1, 2]
    trace = binder.journal()[-1]
    assert (trace.kind, trace.body["pages"], trace.body["initials"]) == ("pages-deleted", [1, 2], "AB")
    assert trace.body["entries"] == {"1": recorded[1], "2": recorded[2]}
    assert binder.archived(trace.body["sha256"]) is None
    assert [page.number for page in binder.pages()] == [3, 4]
    report = binder.verify()
    assert report.sound, report.problems
    assert binder.verify_sheets([3, 4]).sound


def test_nothing_open_is_deleted_even_when_it_is_asked_for_by_name(binder):
    sheet(binder, doubt="hours")
    newest(binder)
    with pytest.raises(UsageError, match="may not go yet"):
        binder.delete_files({binder.page_numbered(1).record.sha256: "because"}, "AB")
    assert binder.archived(binder.page_numbered(1).record.sha256) is not None


def test_the_list_deletes_nothing_and_discard_only_with_yes(binder, run):
    sheet(binder)
    newest(binder)
    assert "1 file with 1 page may go" in run("retention", "--binder", binder.folder).out
    to = ("discard", "--binder", binder.folder, "--initials", "AB")
    assert "Nothing was deleted" in run(*to).out
    assert len(binder.pages()) == 2
    assert "1 file with 1 page deleted" in run(*to, "--yes").out
    assert len(binder.pages()) == 1


@pytest.mark.parametrize("on_paper", [False, True], ids=["closed by command", "closed by the workshop's block"])
def test_a_closed_defect_stays_closed_when_the_report_that_it_was_closed_by_goes(binder, run, on_paper):
    brake = ("service-brake", "brake pedal goes to the floor")
    later = REPORTED + DAY
    if on_paper:  # a page with the workshop's block, and one with the first report whose file has to stay longer
        sheet(binder, (*brake, None), file=b"long")
        sheet(binder, (*brake, "repaired"), on=later)
    else:
        sheet(binder, (*brake, None))
        sheet(binder, (*brake, None), on=later, file=b"long")
        binder.close_defects([ClosingWish("1.defect.1", "repaired", later, "Otis Granger", "WO 1")], "OG")
    sheet(binder, file=b"long", page=2, on=dt.date(2099, 1, 1))
    newest(binder)
    (before,) = defect_register(binder)
    assert (before.state, len(before.reports)) == ("repaired", 2)
    assert "1 file with 1 page deleted" in run("discard", "--binder", binder.folder, "--initials", "AB", "--yes").out
    (after,) = defect_register(binder)
    assert (after.state, after.closed.on, after.closed.by) == ("repaired", before.closed.on, before.closed.by)
    assert before.closed.where in after.closed.where
    assert set(after.used_on) <= set(before.used_on)
    assert len(after.reports) == 1
    assert binder.verify().problems == ()
    assert binder.verify_sheets([after.reports[0].sheet]).problems == ()


@pytest.mark.parametrize(
    ("first", "fields", "until"),
    [
        ("2026-01-01", [("item.leaks.3", "mark", "ok"), ("item.leaks.4", "mark", "ok")], "2026-02-28"),
        ("2026-01-05", [(f"item.leaks.{day}", "mark", "ok") for day in ("mon", "tue", "sat")], "2026-02-11"),
        ("2026-01-05", [("hours.mon", "comb", "101.0")], "2026-02-11"),
        ("2026-01-05", [("initials.tue", "signature", True)], "2026-02-11"),
        ("2026-01-05", [("item.leaks", "choice", "ok"), ("hours", "comb", "101.0")], "2026-02-05"),
    ],
    ids=["a month", "a week's signs", "a week's hours", "a week's initials", "a day"],
)
def test_time_counts_from_the_last_day_that_a_sheet_may_speak_of(binder, first, fields, until):
    binder.set_keep_months(1, "AB")
    head = [("unit", "comb", "RT11"), ("date", "comb", first)]
    record = PageRecord(
        *("o.pdf", "/o.pdf", 1, binder.archive(b"old form", "pdf"), Outcome.READ, None, "old-form", 1, None, "RT11"),
        dt.date.fromisoformat(first),
        fields=tuple(settled(*said) for said in [*head, *fields]),
    )
    binder.record_page(record)
    assert next(iter(keeping(binder))).until == dt.date.fromisoformat(until)


def test_a_void_sheet_stays_and_is_called_void(binder):
    sheet(binder)
    newest(binder)
    binder.void_sheet(1, "AB", "crossed out")
    void = next(iter(keeping(binder)))
    assert (void.until, void.rule.partition(",")[0]) == (None, "void")


def test_the_journal_still_tells_of_which_days_deleted_sheets_were(binder):
    binder.set_keep_months(1, "AB")
    assert deleted_days(binder) == {}
    sheet(binder, template="site-machine")
    binder.confirm("1.unit", "WL07", "AB")
    sheet(binder, template="site-machine", on=REPORTED + 9 * DAY, file=b"b")
    binder.confirm("2.date", str(REPORTED + DAY), "AB")
    signs = [("initials.mon", "signature", True), ("item.leaks.wed", "mark", "ok"), ("item.leaks.fri", "mark", None)]
    head = [("unit", "comb", "RT12"), ("date", "comb", "2026-03-30")]
    fields = tuple(settled(*said) for said in [*head, *signs])
    week = PageRecord(
        "w.pdf", "/w.pdf", 1, binder.archive(b"w", "pdf"), Outcome.READ, None, "old-week", 1, None, "RT12"
    )
    binder.record_page(replace(week, date=dt.date(2026, 3, 30), fields=fields))
    newest(binder)
    going = files_that_may_go(keeping(binder), dt.date(2026, 6, 1))
    binder.delete_files({sha256: rule_in_words(pages) for sha256, pages in going.items()}, "AB")
    found = deleted_days(binder)
    assert {key for key, day in found.items() if day.filled} == {
        ("WL07", REPORTED),
        ("RT11", REPORTED + DAY),
        ("RT12", dt.date(2026, 3, 30)),
        ("RT12", dt.date(2026, 4, 1)),
    }
    today = binder.journal()[-1].at.date()
    assert {key for key, day in found.items() if not day.filled} == {("RT12", dt.date(2026, 4, 3))}
    assert found["WL07", REPORTED].note == f"sheet 1 deleted on {today} under rule: the site's rule: 1 month"


def test_days_of_deleted_sheets_are_days_with_a_sheet_and_no_gap(binder):
    # Twenty days on every one of which the unit ran a shift; the lawful deletion must not read as work without a sheet.
    binder.set_keep_months(1, "AB")
    brake = ("service-brake", "brake pedal goes to the floor")
    for n in range(20):
        fields = day_fields(Day("WL07", REPORTED + n * DAY, 100.0 + 8 * n))
        if n in (0, 10):
            said = [(TrueDefect("WL07", *brake), brake[1], None)] if n == 10 else []
            fields = day_fields(Day("WL07", REPORTED + n * DAY, 100.0 + 8 * n, said))
        record = PageRecord(
            *("t.pdf", "/t.pdf", 1, binder.archive(bytes([n]), "pdf"), Outcome.READ, None, "site-machine", 1, None),
            *("WL07", REPORTED + n * DAY),
            fields=fields,
        )
        binder.record_page(record)
    newest(binder)
    last = REPORTED + 19 * DAY
    before = coverage(binder, REPORTED, last, "WL07")
    assert before.in_words() == "100 % (20 of 20 days)"
    going = files_that_may_go(keeping(binder), dt.date(2026, 11, 2))
    binder.delete_files({sha256: rule_in_words(pages) for sha256, pages in going.items()}, "AB")
    after = coverage(binder, REPORTED, last, "WL07")
    assert after.in_words() == "100 % (20 of 20 days, 19 with a sheet that was deleted by rule since)"
    assert (after.missing, after.waiting, len(after.days)) == ((), (), 20)
    deleted = [day for day in after.days if day.basis == "deleted"]
    assert all(day.sheets == () and "under rule: the site's rule: 1 month" in day.note for day in deleted)
    with pytest.raises(UsageError, match="the journal tells of sheet 1 deleted on"):
        gather_evidence(binder, "WL07", REPORTED, REPORTED + DAY, last)
    pack = gather_evidence(binder, "WL07", REPORTED, last, dt.date(2026, 11, 2))
    assert (pack.sheets, pack.coverage.missing, pack.verified.problems) == ((11,), (), ())
