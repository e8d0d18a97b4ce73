"""The lists that leave the binder: right, harmless in a spreadsheet, and never without their caution."""

from __future__ import annotations

import csv
import datetime as dt
import json
import sqlite3
from contextlib import closing
from dataclasses import replace

import openpyxl
import pandas as pd
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st
from recorded_sheets import BYTES, TEMPLATE, a_field, a_page, a_sheet, doubtful, sheet_fields, with_field

from scanform.binder import open_binder
from scanform.binder.views import VIEWS
from scanform.errors import BinderError, UsageError
from scanform.form import find_template
from scanform.report import CAUTION, batch_summary, clopper_pearson, guarded, tables, unguarded, upper_bound
from scanform.report.export import export
from scanform.report.lists import lists
from scanform.settle.types import Outcome, State

FORMULA = '=HYPERLINK("http://invalid.example","see")'
NAMES = ["sheets", "answers", "defects", "hours", "pages", "pads", "doubts"]
DRAWN_UP = ["register", "gaps", "meters", "service", "closings"]  # from the whole record
EVERY = NAMES + DRAWN_UP


def a_week(binder) -> int:
    """Three sheets of two loaders with four defects, a blank back and a duplicate; returns the batch."""
    binder.remember_template(TEMPLATE)
    sha256 = binder.archive(BYTES, "pdf")
    batch_id = binder.begin_batch(["monday.pdf"])
    worn = with_field(sheet_fields("LD-02", tires="defect"), a_field("defect.1", "text", FORMULA))
    worn = with_field(worn, a_field("defect.1.item", "comb", "1"))
    worn = with_field(worn, a_field("defect.1.repair", "decision", "repaired"))
    unsafe = with_field(
        sheet_fields("LD-01", hours="1234.5", brakes="defect", horn="defect"), a_field("defect.1", "text", "pulls left")
    )
    unsafe = with_field(unsafe, a_field("defect.1.item", "comb", "02"))
    unsafe = with_field(unsafe, doubtful(a_field("item.horn", "choice", "defect", critical=True), "Struck out."))
    loose = with_field(sheet_fields("LD-02", "2026-11-24", "88.0"), a_field("defect.1", "text", "seat torn"))
    loose = with_field(loose, doubtful(a_field("hours", "comb", "8?.0")))
    records = [
        a_sheet(sha256, 1, worn),
        a_sheet(sha256, 2, unsafe),
        a_sheet(sha256, 3, loose),
        a_page(sha256, 4, Outcome.BLANK, "no ink"),
        a_page(sha256, 5, Outcome.DUPLICATE, "-1 is the sheet fed twice"),
    ]
    numbers = [binder.record_page(replace(r, batch_id=batch_id)).number for r in records]
    binder.end_batch(batch_id, numbers, pages_in=5)
    return batch_id


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        yield opened


def read_csv(path):
    with path.open(encoding="utf-8-sig", newline="") as handle:
        return list(csv.DictReader(handle))


# The tables


def test_the_defect_list_ties_words_to_items_and_puts_danger_first(binder):
    a_week(binder)
    defects = tables(binder)["defects"]
    got = [
        tuple(row)
        for row in defects[["unit", "item_number", "item", "critical", "words", "repair", "state"]].to_numpy()
    ]
    assert got == [
        ("LD-01", 2, "brakes", True, "pulls left", None, "accepted"),
        ("LD-01", 3, "horn", True, None, None, "doubtful"),
        ("LD-02", None, None, None, "seat torn", None, "accepted"),
        ("LD-02", 1, "tires", False, FORMULA, "repaired", "accepted"),
    ]
    assert list(defects["item_text"])[:2] == ["Service brake holds", "Horn sounds"]


def one_line(words: str, number: str | None = None, original: str | None = None):
    """A sheet with one defect line, and its row of the defect list."""
    fields = with_field(sheet_fields(), replace(a_field("defect.1", "text", words), original=original))
    return with_field(fields, a_field("defect.1.item", "comb", number))


def test_the_defect_list_has_the_short_form_and_the_words_as_the_ink_says_them(binder):
    binder.remember_template(TEMPLATE)
    binder.record_page(a_sheet("a" * 64, fields=one_line("lt front tire low", "1", "It fronf tire low")))
    (row,) = tables(binder)["defects"].to_dict("records")
    assert (row["part"], row["position"], row["complaint"]) == ("tire", "left front", "low")
    assert (row["words"], row["original"]) == ("lt front tire low", "It fronf tire low")
    assert row["tied_by"] == "number"


def test_a_line_without_a_number_is_tied_by_its_words_if_they_are_clear(binder):
    binder.remember_template(TEMPLATE)
    binder.record_page(a_sheet("a" * 64, 1, one_line("horn dead")))
    binder.record_page(a_sheet("a" * 64, 2, one_line("bolt missing")))
    rows = sorted(tables(binder)["defects"].to_dict("records"), key=lambda row: row["sheet"])
    assert [(row["item_text"], row["tied_by"]) for row in rows] == [("Horn sounds", "words"), (None, None)]
    assert rows[0]["critical"] is True


def test_a_sites_word_has_its_place_in_the_short_form(binder, tmp_path):
    binder.remember_template(TEMPLATE)
    binder.record_page(a_sheet("a" * 64, fields=one_line("zerk lh dry", "2")))
    assert tables(binder)["defects"]["part"][0] is None
    (tmp_path / "words.csv").write_text("word,normal,class\nzerk,grease fitting,part\n")
    binder.load_words(tmp_path / "words.csv")
    (row,) = tables(binder)["defects"].to_dict("records")
    assert (row["part"], row["position"], row["complaint"]) == ("grease fitting", "left", "dry")


def test_every_table_has_its_rows(binder):
    a_week(binder)
    frames = tables(binder)
    assert list(frames) == NAMES
    assert {name: len(frame) for name, frame in frames.items()} == {
        "sheets": 3,
        "answers": 9,
        "defects": 4,
        "hours": 3,
        "pages": 5,
        "pads": 0,
        "doubts": 2,
    }
    sheet = frames["sheets"].iloc[1]
    assert (sheet["unit"], sheet["date"], sheet["hours"]) == ("LD-01", dt.date(2026, 11, 23), 1234.5)
    assert (sheet["signed"], sheet["fit"], sheet["doubtful"]) == (True, "fit", 1)
    hours = frames["hours"]
    assert [list(row) for row in hours[["unit", "hours", "state"]].to_numpy()] == [
        ["LD-01", 1234.5, "accepted"],
        ["LD-02", 1234.5, "accepted"],
        ["LD-02", None, "doubtful"],
    ]
    assert list(frames["doubts"]["ref"]) == ["2.item.horn", "3.hours"]
    assert list(frames["doubts"]["value"]) == ["defect", "8?.0"]


def test_a_new_binder_has_tables_with_columns_and_no_rows(binder, tmp_path):
    frames = tables(binder)
    assert all(len(frame) == 0 and len(frame.columns) for frame in frames.values())
    assert len(export(binder, tmp_path / "out")) == 3 + 4 * len(EVERY)
    assert [pq.read_table(tmp_path / "out" / f"{name}.parquet").num_rows for name in EVERY] == [0] * len(EVERY)


def test_a_defect_stays_on_the_list_when_its_template_is_not_known(binder):
    binder.record_page(a_sheet("a" * 64, 1, sheet_fields(brakes="defect")))
    (row,) = tables(binder)["defects"].to_dict("records")
    assert (row["item"], row["item_text"], row["critical"]) == ("brakes", "brakes", True)


# The files


def test_an_export_goes_out_in_every_format_with_the_caution(binder, tmp_path):
    a_week(binder)
    written = export(binder, tmp_path / "out")
    assert sorted(p.name for p in written) == sorted(p.name for p in (tmp_path / "out").iterdir())
    assert {p.name for p in written} == {
        "README.txt",
        "record.xlsx",
        "lists.sqlite",
        *(f"{n}.{ending}" for n in EVERY for ending in ("csv", "json", "jsonl", "parquet")),
    }
    assert CAUTION in (tmp_path / "out" / "README.txt").read_text()
    book = openpyxl.load_workbook(tmp_path / "out" / "record.xlsx")
    assert set(book.sheetnames) == {"caution", *EVERY}
    assert book["caution"]["A1"].value == CAUTION
    assert export(binder, tmp_path / "one", {"json"})[0].name == "README.txt"
    assert len(list((tmp_path / "one").iterdir())) == 1 + len(EVERY)


def test_every_format_says_the_same(binder, tmp_path):
    a_week(binder)
    export(binder, tmp_path)
    book = openpyxl.load_workbook(tmp_path / "record.xlsx")
    base = sqlite3.connect(tmp_path / "lists.sqlite")
    base.row_factory = sqlite3.Row
    for name, frame in (tables(binder) | lists(binder)).items():
        plain = frame.to_dict("records")
        # Parquet is read by Arrow's own reader, SQLite by SQLite's.
        assert pq.read_table(tmp_path / f"{name}.parquet").to_pylist() == plain
        dated = [{k: v.isoformat() if isinstance(v, dt.date) else v for k, v in row.items()} for row in plain]
        assert [dict(row) for row in base.execute(f'SELECT * FROM "{name}"')] == dated
        lines = (tmp_path / f"{name}.jsonl").read_text().splitlines()
        assert [json.loads(line) for line in lines] == dated
        as_json = json.loads((tmp_path / f"{name}.json").read_text())
        assert as_json == [{k: v.isoformat() if isinstance(v, dt.date) else v for k, v in r.items()} for r in plain]
        header, *cells = book[name].iter_rows(values_only=True)
        dates = [[v.date() if isinstance(v, dt.datetime) else v for v in row] for row in cells]
        assert [dict(zip(header, row, strict=True)) for row in dates] == plain
        rows = [{k: unguarded(v) for k, v in r.items()} for r in read_csv(tmp_path / f"{name}.csv")]
        flags = {True: "true", False: "false"}
        assert rows == [
            {k: "" if v is None else flags[v] if isinstance(v, bool) else str(v) for k, v in r.items()} for r in plain
        ]


def test_the_views_in_the_record_say_what_the_tables_say(binder):
    a_week(binder)
    frames = tables(binder)
    with closing(sqlite3.connect(f"file:{binder.folder / 'record.sqlite'}?mode=ro", uri=True)) as raw:
        raw.row_factory = sqlite3.Row
        shown = {name: [dict(row) for row in raw.execute(f"SELECT * FROM {name}")] for name in VIEWS}

    def plain(row):
        return {k: v.isoformat() if isinstance(v, dt.date) else v for k, v in row.items()}

    for name in ("answers", "pages"):
        rows = [plain(row) for row in frames[name].to_dict("records")]
        assert sorted(
            map(str, ({**r, "critical": bool(r["critical"])} if "critical" in r else r for r in shown[f"list_{name}"]))
        ) == (sorted(map(str, rows)))
    for view, table in (("list_sheets", "sheets"), ("list_doubts", "doubts")):
        both = set(shown[view][0]) & set(frames[table].columns) - {
            "signed",
            "hours",
            "reasons",
            "critical",
            "confidence",
        }
        assert both > {"unit", "date"}
        rows = [{k: row[k] for k in both} for row in map(plain, frames[table].to_dict("records"))]
        assert sorted(map(str, ({k: row[k] for k in both} for row in shown[view]))) == sorted(map(str, rows))
    assert len(shown["list_hours"]) == 3
    assert {row["words"] for row in shown["list_defect_lines"]} == {FORMULA, "pulls left", "seat torn"}


def test_a_weeks_view_gives_each_answer_its_day(binder):
    binder.remember_template(find_template("quarry-weekly"))
    fields = (
        a_field("unit", "comb", "HT21"),
        a_field("date", "comb", "2026-11-23"),
        a_field("item.horn.wed", "mark", "ok", critical=True),
        a_field("hours.sun", "comb", "12.5"),
    )
    binder.record_page(a_sheet("a" * 64, fields=fields, template="quarry-weekly"))
    with closing(sqlite3.connect(binder.folder / "record.sqlite")) as raw:
        (answer,) = raw.execute("SELECT date, item, item_text, answer FROM list_answers").fetchall()
        (hours,) = raw.execute("SELECT date, hours FROM list_hours").fetchall()
    assert answer == ("2026-11-25", "horn", "Horn", "ok")
    assert hours == ("2026-11-29", 12.5)


def test_a_months_view_gives_each_answer_and_reading_its_day(binder):
    fields = (
        a_field("unit", "comb", "LD-01"),
        a_field("date", "date", "2026-02-01"),
        a_field("item.horn.9", "mark", "ok"),
        a_field("item.axle.2.13", "mark", "ok"),
        a_field("hours.9", "number", "64.0"),
        a_field("hours.28", "number", "216.0"),
        a_field("defect.2", "text", "horn weak"),
    )
    binder.record_page(a_sheet("a" * 64, fields=fields, template="old-month"))
    with closing(sqlite3.connect(binder.folder / "record.sqlite")) as raw:
        answers = raw.execute("SELECT date, item FROM list_answers ORDER BY date").fetchall()
        hours = raw.execute("SELECT date, hours FROM list_hours ORDER BY date").fetchall()
        (line,) = raw.execute("SELECT date FROM list_defect_lines").fetchall()
    assert answers == [("2026-02-09", "horn"), ("2026-02-13", "axle.2")]
    assert hours == [("2026-02-09", 64.0), ("2026-02-28", 216.0)]
    assert line == ("2026-02-01",)


def test_pandas_reads_the_csv_back_with_numbers_as_numbers(binder, tmp_path):
    a_week(binder)
    export(binder, tmp_path, {"csv"})
    hours = pd.read_csv(tmp_path / "hours.csv")
    assert list(hours.columns)[:3] == ["unit", "date", "hours"]
    assert hours["hours"].dtype == float
    assert list(pd.to_datetime(hours["date"]).dt.day) == [23, 23, 24]


def test_no_cell_runs_as_a_formula(binder, tmp_path):
    # OWASP, "CSV Injection": cells that begin with = + - @, tab or carriage return are dangerous.
    a_week(binder)
    export(binder, tmp_path)
    words = [row["words"] for row in read_csv(tmp_path / "defects.csv")]
    assert f"'{FORMULA}" in words
    for path in tmp_path.glob("*.csv"):
        for row in read_csv(path):
            assert not any(cell[:1] in set("=+-@\t\r\n＝＋－＠") and cell for cell in row.values()), path
    assert [r["reason"] for r in read_csv(tmp_path / "pages.csv")][4] == "'-1 is the sheet fed twice"
    book = openpyxl.load_workbook(tmp_path / "record.xlsx")
    (cell,) = [c for row in book["defects"].iter_rows() for c in row if c.value == FORMULA]
    assert (cell.data_type, cell.quotePrefix) == ("s", True)
    assert not [c for s in book for row in s.iter_rows() for c in row if c.data_type in ("f", "e")]


def test_a_negative_number_is_a_number_and_an_error_word_is_text(binder, tmp_path):
    fields = with_field(sheet_fields(), a_field("defect.1", "text", "#N/A"))
    binder.record_page(a_sheet("a" * 64, 1, fields, residual_mm=-0.25))
    export(binder, tmp_path)
    assert read_csv(tmp_path / "sheets.csv")[0]["residual_mm"] == "-0.25"
    book = openpyxl.load_workbook(tmp_path / "record.xlsx")
    by_value = {c.value: c for s in book for row in s.iter_rows() for c in row}
    assert by_value[-0.25].data_type == "n"
    assert by_value["#N/A"].data_type == "s"


@pytest.mark.parametrize("text", ["=1", "+1", "-1", "@x", "\t1", "\r1", "＝1", "－1", "＋1", "＠1", "  =1", "'=1"])
def test_dangerous_text_is_guarded(text):
    assert guarded(text) == f"'{text}"
    assert unguarded(guarded(text)) == text


@pytest.mark.parametrize("text", ["", "LD-01", "won't start", "'tis loose", "2026-11-23", "1 - 2"])
def test_harmless_text_is_left_alone(text):
    assert guarded(text) == text == unguarded(text)


@given(st.text(alphabet="'=+-@ \t\rab＝１", max_size=8) | st.text())
def test_the_guard_can_always_be_taken_off_again(text):
    assert unguarded(guarded(text)) == text


def test_control_characters_do_not_stop_a_workbook(binder, tmp_path):
    fields = with_field(sheet_fields(), a_field("defect.1", "text", "oil\x07leak"))
    binder.record_page(a_sheet("a" * 64, 1, fields))
    export(binder, tmp_path, {"xlsx"})
    assert "oil�leak" in [c.value for row in openpyxl.load_workbook(tmp_path / "record.xlsx")["defects"] for c in row]


def test_what_is_no_format_or_no_folder_is_one_sentence(binder, tmp_path):
    with pytest.raises(UsageError, match="'ods' is no export format"):
        export(binder, tmp_path, {"csv", "ods"})
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(UsageError, match="cannot be written"):
        export(binder, tmp_path / "taken")


# The summary of a batch


def test_the_summary_balances_and_puts_danger_first(binder):
    batch_id = a_week(binder)
    summary = batch_summary(binder, batch_id)
    assert summary.pages_in == sum(summary.balance.values()) == 5
    assert {o: n for o, n in summary.balance.items() if n} == {
        Outcome.READ: 3,
        Outcome.BLANK: 1,
        Outcome.DUPLICATE: 1,
    }
    assert summary.sheets_by_unit == {"LD-01": 1, "LD-02": 2}
    fields_a_sheet = len(sheet_fields())
    assert summary.fields == {State.ACCEPTED: 3 * fields_a_sheet - 2, State.DOUBTFUL: 2, State.CONFIRMED: 0}
    assert summary.critical_doubts == 1
    assert [(d.item_text, d.words) for d in summary.critical_defects] == [
        ("Service brake holds", "pulls left"),
        ("Horn sounds", ""),
    ]
    assert summary.defects[:2] == summary.critical_defects


def test_a_batch_read_again_comes_to_the_same(binder):
    first = batch_summary(binder, a_week(binder))
    again = binder.begin_batch(["monday.pdf"])
    binder.end_batch(again, [p.number for p in binder.pages()], pages_in=5)
    assert replace(batch_summary(binder, again), batch_id=first.batch_id) == first


def test_a_batch_that_was_stopped_has_no_summary_yet(binder):
    batch_id = binder.begin_batch(["monday.pdf"])
    with pytest.raises(BinderError, match="stopped before its end"):
        batch_summary(binder, batch_id)


def test_a_balance_that_no_longer_holds_is_not_glossed_over(binder):
    batch_id = a_week(binder)
    with closing(sqlite3.connect(binder.folder / "record.sqlite")) as raw:
        raw.execute("UPDATE page SET outcome = 'blank' WHERE id = 3")
        raw.commit()
    with pytest.raises(BinderError, match="does not balance"):
        batch_summary(binder, batch_id)


# Bounds


def test_the_exact_interval_is_the_handbooks():
    # NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.4.2: 4 defectives in 20, 90 % two-sided.
    low, high = clopper_pearson(4, 20, 0.90)
    assert low == pytest.approx(0.071354, abs=1e-6)
    assert high == pytest.approx(0.401028, abs=1e-6)


@pytest.mark.parametrize("n", [20, 100, 3000])
def test_no_failure_in_n_trials_bounds_the_rate_at_about_three_in_n(n):
    # The rule of three (common practice); exact: 1 - 0.05 ** (1 / n), by solving (1 - p) ** n = 0.05.
    bound = upper_bound(0, n, 0.95)
    assert bound == pytest.approx(1 - 0.05 ** (1 / n), rel=1e-9)
    assert bound == pytest.approx(3 / n, rel=0.08)


def test_the_interval_ends_where_it_must():
    assert clopper_pearson(0, 10, 0.95)[0] == 0.0
    assert clopper_pearson(10, 10, 0.95)[1] == 1.0
    assert upper_bound(10, 10, 0.95) == 1.0
    for k, n, confidence in [(-1, 10, 0.9), (11, 10, 0.9), (0, 0, 0.9), (1, 10, 1.0)]:
        with pytest.raises(ValueError, match=r"cannot be|not between"):
            clopper_pearson(k, n, confidence)
