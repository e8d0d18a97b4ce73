"""The commands as a clerk meets them: what they say, what they write, and how they refuse."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pdfplumber
import pytest
import typer
from commands import ROOT, Run, environment, json_lines, one_sentence, run_process
from intake_files import jpeg_bytes, picture, put
from scanned_stack import CREW_CSV, UNITS_CSV, pdf_of, scanned

from scanform.binder import open_binder
from scanform.cli.app import COMMANDS, app_with
from scanform.form import Paper, find_template, lay_out, pad_of
from scanform.simulate import render_pdf

TEMPLATES = ("site-machine", "road-truck", "forklift")
MM_PER_PT = 25.4 / 72


# Help


def commands() -> dict[str, typer.core.TyperCommand]:
    return typer.main.get_command(app_with(COMMANDS)).commands  # type: ignore[attr-defined]


def test_a_command_alone_is_the_same_as_among_all_others() -> None:
    every = commands()
    assert list(every) == list(COMMANDS)
    (alone,) = typer.main.get_command(app_with(["void"])).commands.values()  # type: ignore[attr-defined]
    assert (alone.name, alone.help) == ("void", every["void"].help)


def test_every_command_explains_itself_and_every_option(run: Run) -> None:
    assert set(commands()) == {
        *("print", "layout", "adopt", "read", "doubts", "confirm", "undo", "export", "trust", "thresholds", "settings"),
        *("verify", "demo", "watch", "defects", "close", "reopen", "gaps", "calendar", "hours", "patterns", "letter"),
        *("evidence", "retention", "discard", "desk", "desk-people", "void"),
    }
    whole = run("--help")
    assert whole.code == 0
    for name, command in commands().items():
        assert len(command.help or "") > 60, f"{name} has no explanation"
        lines_of_paragraphs = [paragraph.splitlines() for paragraph in (command.help or "").split("\n\n")]
        assert {len(lines) for lines in lines_of_paragraphs} == {1}, f"{name}: the terminal breaks lines, not its text"
        for parameter in command.params:
            assert getattr(parameter, "help", None), f"{name}: {parameter.name} has no help"
        ran = run(name, "--help")
        assert ran.code == 0
        assert f"scanform {name}" in ran.out
        assert name in whole.out


def test_the_caution_stands_in_the_help(run: Run) -> None:
    said = " ".join(run("--help").out.split())
    assert "stays parked until a competent person has put it right" in said


# Layout


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", TEMPLATES)
def test_the_layouts_json_has_the_keys_that_other_tools_rely_on(run: Run, name: str, paper: str) -> None:
    ran = run("layout", name, "--paper", paper)
    assert ran.code == 0
    document = json.loads(ran.out)
    assert list(document) == ["template", "version", "paper", "pages"]
    assert (document["template"], document["version"], document["paper"]) == (name, 1, paper)
    (page,) = document["pages"]
    assert list(page) == ["page", "width_mm", "height_mm", "fields"]
    # ISO 216 for A4; US Letter is 8.5 x 11 in.
    size = {"a4": (210, 297), "letter": (8.5 * 25.4, 11 * 25.4)}[paper]
    assert (page["width_mm"], page["height_mm"]) == pytest.approx(size)
    keys = {
        "comb": ["id", "kind", "charset", "cells_mm"],
        "choice": ["id", "kind", "answers"],
        "decision": ["id", "kind", "answers"],
        "text": ["id", "kind", "box_mm"],
        "signature": ["id", "kind", "box_mm"],
    }
    fields = {field["id"]: field for field in page["fields"]}
    assert len(fields) == len(page["fields"])
    for field in fields.values():
        assert list(field) == keys[field["kind"]]
    template = find_template(name)
    for item in template.items:
        answers = fields[f"item.{item.name}"]["answers"]
        assert [answer["answer"] for answer in answers] == ["ok", "defect", "na"]
        assert all(list(answer) == ["answer", "box_mm"] and len(answer["box_mm"]) == 4 for answer in answers)
    for n in range(1, template.defect_lines + 1):
        assert fields[f"defect.{n}"]["kind"] == "text"
        assert fields[f"defect.{n}.item"]["kind"] == "comb"
    assert (fields["unit"]["charset"], fields["date"]["charset"], fields["hours"]["charset"]) == (
        "alnum",
        "digits",
        "digits",
    )
    assert len(fields["date"]["cells_mm"]) == 8
    assert len(fields["hours"]["cells_mm"]) == template.hour_cells + 1
    assert fields["operator"]["kind"] == "text"
    assert fields["signature"]["kind"] == "signature"


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_layouts_boxes_are_where_the_press_prints_them(run: Run, tmp_path: Path, paper: str) -> None:
    # pdfplumber reads the lines back from the PDF; it knows nothing of the layout.
    assert run("print", "forklift", "--out", tmp_path / "sheet.pdf", "--paper", paper).code == 0
    with pdfplumber.open(tmp_path / "sheet.pdf") as pdf:
        (page,) = pdf.pages
        drawn = np.array([[e["x0"], e["top"], e["x1"], e["bottom"]] for e in page.edges]) * MM_PER_PT
    across = drawn[np.abs(drawn[:, 3] - drawn[:, 1]) < 0.01]
    upright = drawn[np.abs(drawn[:, 2] - drawn[:, 0]) < 0.01]
    (described,) = json.loads(run("layout", "forklift", "--paper", paper).out)["pages"]
    boxes = []
    for field in described["fields"]:
        boxes += [answer["box_mm"] for answer in field.get("answers", [])]
        boxes += field.get("cells_mm", [])
        boxes += [field["box_mm"]] if "box_mm" in field else []
    assert len(boxes) > 100
    for x, y, w, h in boxes:
        for edge in (y, y + h):
            near = np.abs(across[:, 1] - edge) <= 0.1
            assert (near & (across[:, 0] <= x + 0.1) & (across[:, 2] >= x + w - 0.1)).any(), (x, y, w, h)
        for edge in (x, x + w):
            near = np.abs(upright[:, 0] - edge) <= 0.1
            assert (near & (upright[:, 1] <= y + 0.1) & (upright[:, 3] >= y + h - 0.1)).any(), (x, y, w, h)


# Print, and read an unused sheet


def unused_scan(run: Run, tmp_path: Path, *options: object, name: str = "site-machine") -> Path:
    """A sheet printed by the command and scanned as it came out of the printer."""
    assert run("print", name, "--out", tmp_path / "pad.pdf", *options).code == 0
    pages = render_pdf(tmp_path / "pad.pdf", 300.0)
    return put(tmp_path, "unused.pdf", pdf_of([jpeg_bytes(page, dpi=(300, 300)) for page in pages]))


@pytest.mark.parametrize(("name", "paper"), [("site-machine", "a4"), ("road-truck", "letter")])
def test_an_unused_pad_reads_as_its_unit_and_days_and_nothing_else(
    run: Run, tmp_path: Path, name: str, paper: str
) -> None:
    scan = unused_scan(run, tmp_path, "--unit", "wl-07", "--week", "2026-W46", "--paper", paper, name=name)
    out = tmp_path / "pages.jsonl"
    assert run("read", scan, "--binder", tmp_path / "binder", "--json", out, "--workers", 1).code == 0
    pages = json_lines(out)
    assert [page["outcome"] for page in pages] == ["read"] * 7
    assert [pad_of(page["serial"])[1:] for page in pages] == [(n, 7) for n in range(1, 8)]  # type: ignore[index]
    for n, page in enumerate(pages):
        fields = {field["id"]: field for field in page["fields"]}
        assert (fields["unit"]["value"], fields["unit"]["state"]) == ("WL-07", "accepted")
        # ISO 8601: week 46 of 2026 begins on Monday, 9 November.
        assert (fields["date"]["value"], fields["date"]["state"]) == (f"2026-11-{9 + n:02d}", "accepted")
        written = {name: f["value"] for name, f in fields.items() if name not in ("unit", "date")}
        assert all(value in (None, False) for value in written.values()), written
        for asked in ("hours", "operator", "signature", "fit", f"item.{find_template(name).items[0].name}"):
            assert fields[asked]["state"] == "doubtful", asked


def test_a_blank_sheet_asks_for_unit_and_date(run: Run, tmp_path: Path) -> None:
    scan = unused_scan(run, tmp_path, "--copies", 2)
    out = tmp_path / "pages.jsonl"
    assert run("read", scan, "--binder", tmp_path / "binder", "--json", out, "--workers", 1).code == 0
    for page in json_lines(out):
        fields = {field["id"]: field for field in page["fields"]}
        for name in ("unit", "date"):
            assert fields[name]["value"] is None
            assert fields[name]["state"] == "doubtful"


def test_defects_that_are_still_open_are_printed_on_the_next_sheet(run: Run, tmp_path: Path) -> None:
    listed = put(tmp_path, "open.csv", b"unit,item,words,since\nWL-07,20,Horn weak,2026-11-03\nEX-15,2,Tire cut,\n")
    arguments = ["print", "site-machine", "--out", tmp_path / "pad.pdf", "--still-open", listed]
    assert run(*arguments, "--unit", "WL-07").code == 0
    with pdfplumber.open(tmp_path / "pad.pdf") as pdf:
        words = pdf.pages[0].extract_text()
    assert "Horn weak" in words
    assert "Tire cut" not in words
    ran = run(*arguments)
    assert ran.code == 2
    assert "--unit" in one_sentence(ran.err)


# A binder of two sheets to work on: unused ones, so that what is doubtful does not depend on the readers


@pytest.fixture(scope="module")
def read_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two unused sheets of one pad, the second fed upside down, read into ``binder``; JSON and pictures beside it."""
    folder = tmp_path_factory.mktemp("desk")
    printed = run_process("print", "site-machine", "--unit", "WL-07", "--week", "2026-W46", "--out", folder / "pad.pdf")
    assert printed.code == 0, printed.err
    first, second = render_pdf(folder / "pad.pdf", 300.0)[:2]
    turned = np.ascontiguousarray(second[::-1, ::-1])
    put(folder, "scan.pdf", pdf_of([jpeg_bytes(page, dpi=(300, 300)) for page in (first, turned)]))
    put(folder, "units.csv", UNITS_CSV.encode())
    put(folder, "crew.csv", CREW_CSV.encode())
    put(folder, "words.csv", b"word,normal,class\nzerk,grease fitting,part\n")
    registers = ["--units", folder / "units.csv", "--crew", folder / "crew.csv", "--words", folder / "words.csv"]
    writes = ["--json", folder / "pages.jsonl", "--show", folder / "seen"]
    ran = run_process("read", folder / "scan.pdf", "--binder", folder / "binder", *registers, *writes)
    assert ran.code == 0, ran.err
    return folder


@pytest.fixture
def binder(read_once: Path, tmp_path: Path) -> Path:
    """A copy of the binder that a test may work in."""
    return shutil.copytree(read_once / "binder", tmp_path / "binder")


def test_the_json_of_a_page_has_the_keys_that_other_tools_rely_on(read_once: Path) -> None:
    lines = (read_once / "pages.jsonl").read_text(encoding="utf-8").splitlines()
    assert len(lines) == 2
    for number, line in enumerate(lines, start=1):
        page = json.loads(line)
        assert list(page) == [
            *("source", "page", "sha256", "outcome", "reason", "template", "version", "serial", "fields"),
        ]
        assert (page["source"], page["page"]) == (str(read_once / "scan.pdf"), number)
        assert len(page["sha256"]) == 64
        layout = lay_out(find_template("site-machine"), Paper.A4)
        assert [field["id"] for field in page["fields"]] == [field.id for field in layout.fields]
        for field in page["fields"]:
            assert list(field) == ["id", "value", "state", "confidence", "reasons", "polygon_px"]
            assert field["state"] in ("accepted", "doubtful")
            assert 0 <= field["confidence"] <= 1
            assert isinstance(field["reasons"], list)
            assert [len(corner) for corner in field["polygon_px"]] == [2] * 4


def test_json_may_go_to_stdout_alone(run: Run, read_once: Path) -> None:
    ran = run("read", read_once / "scan.pdf", "--binder", read_once / "binder", "--json", "-", "--workers", 1)
    assert [json.loads(line)["page"] for line in ran.out.splitlines()] == [1, 2]
    assert "Pages in: 2 = 2 read" in ran.err


def test_doubts_are_listed_safety_first_with_name_value_and_reason(run: Run, binder: Path) -> None:
    ran = run("doubts", "--binder", binder)
    assert ran.code == 0
    rows = [line for line in ran.out.splitlines() if "1." in line or "2." in line]
    safety = ["SAFETY" in row for row in rows]
    assert any(safety)
    assert safety == sorted(safety, reverse=True)
    (horn,) = [row for row in rows if "1.item.horn" in row]
    for part in ("SAFETY", "WL-07", "2026-11-09", "no answer is marked"):
        assert part in horn
    few = run("doubts", "--binder", binder, "--most", 3)
    with open_binder(binder) as record:
        assert f"and {len(record.queue()) - 3} more" in few.out


def test_doubts_confirm_undo_export_verify(run: Run, binder: Path, tmp_path: Path) -> None:
    def waiting() -> int:
        with open_binder(binder) as record:
            return len(record.queue())

    at_first = waiting()
    mine = ["--initials", "ab", "--binder", binder]
    for name, value, shown in (
        ("1.hours", "4521.3", "4521.3"),
        ("1.item.horn", "defect", "defect"),
        ("1.operator", "Dora Pell", "Dora Pell"),
        ("1.signature", "signed", "signed"),
        ("1.fit", "parked", "parked"),
        ("2.hours", "--blank", "-"),
        ("2.item.horn", "--as-read", "-"),
    ):
        sure = ["--sure"] if value == "--blank" else []  # a sheet without hours is asked about
        ran = run("confirm", name, value, *sure, *mine)
        assert ran.code == 0, ran.err
        assert f"{name} is {shown}, confirmed by AB." in ran.out
    assert waiting() == at_first - 7
    assert f"{waiting()} doubts left" in ran.out
    listed = run("doubts", "--binder", binder).out
    assert "1.hours" not in listed
    assert "2.item.horn " not in listed

    ran = run("undo", *mine)
    assert ran.code == 0
    assert "2.item.horn is as it was before: - (doubtful)" in ran.out
    assert waiting() == at_first - 6

    ran = run("export", "--binder", binder, "--out", tmp_path / "lists", "--format", "csv", "--format", "json")
    assert ran.code == 0
    assert {Path(line).suffix for line in ran.out.splitlines()} == {".csv", ".json", ".txt"}
    assert all(Path(line).is_file() for line in ran.out.splitlines())
    hours = json.loads((tmp_path / "lists" / "hours.json").read_text(encoding="utf-8"))
    assert [(row["unit"], row["date"], row["hours"], row["state"]) for row in hours] == [
        ("WL-07", "2026-11-09", 4521.3, "confirmed")
    ]
    answers = json.loads((tmp_path / "lists" / "answers.json").read_text(encoding="utf-8"))
    assert [row["answer"] for row in answers if row["item"] == "horn" and row["sheet"] == 1] == ["defect"]

    ran = run("verify", "--binder", binder)
    assert ran.code == 0
    assert ran.out.startswith("Sound: ")
    with open_binder(binder) as record:
        assert record.verify().head_hash in ran.out


def test_reading_again_leaves_what_people_have_said(run: Run, binder: Path, read_once: Path, tmp_path: Path) -> None:
    assert run("confirm", "1.hours", "4521.3", "--initials", "AB", "--binder", binder).code == 0
    out = Path(shutil.copy(read_once / "pages.jsonl", tmp_path))  # the JSON of an earlier read is replaced
    ran = run("read", read_once / "scan.pdf", "--binder", binder, "--json", out, "--workers", 1)
    assert ran.code == 0
    assert "1 confirmed" in ran.out
    field = next(field for field in json_lines(out)[0]["fields"] if field["id"] == "hours")
    assert (field["value"], field["state"]) == ("4521.3", "confirmed")


def test_with_every_doubt_settled_nothing_is_doubtful(run: Run, binder: Path) -> None:
    with open_binder(binder) as record:
        for doubt in record.queue():
            record.confirm(doubt.ref, None, "AB")
    assert "Nothing is doubtful" in run("doubts", "--binder", binder).out


# Pictures


def test_the_ink_of_a_doubt_is_upright_on_a_page_that_was_fed_upside_down(
    run: Run, binder: Path, tmp_path: Path
) -> None:
    ran = run("doubts", "--binder", binder, "--crops", tmp_path / "ink")
    assert ran.code == 0
    with open_binder(binder) as record:
        refs = {doubt.ref for doubt in [*record.queue(), *record.spot_checks()]}
    assert {path.stem for path in (tmp_path / "ink").glob("*.png")} == refs
    assert f"{len(refs)} pictures of the ink" in ran.out
    for field in ("hours", "operator", "signature", "item.horn"):
        upright, fed_turned = (
            cv2.imread(str(tmp_path / "ink" / f"{sheet}.{field}.png"), cv2.IMREAD_GRAYSCALE) for sheet in (1, 2)
        )
        size = upright.shape[::-1]
        # The label and the point make a field look different upside down.
        same = alike(upright, cv2.resize(fed_turned, size))
        assert same > 0.9, field
        assert same > alike(upright, cv2.resize(fed_turned, size)[::-1, ::-1]) + 0.02, field


def alike(one: np.ndarray, other: np.ndarray) -> float:
    """Correlation of two pictures, a little softened."""
    soft = [cv2.GaussianBlur(picture, (0, 0), 2.0).astype(float).ravel() for picture in (one, other)]
    return float(np.corrcoef(*soft)[0, 1])


def test_show_draws_every_page_as_it_was_seen(read_once: Path) -> None:
    drawn = sorted((read_once / "seen").glob("*.png"))
    assert len(drawn) == 2
    plain = render_pdf(read_once / "pad.pdf", 100.0)[0]
    for path in drawn:
        shown = cv2.imread(str(path))
        colour = shown.max(axis=2).astype(int) - shown.min(axis=2) > 60
        assert colour.mean() > 0.002, "outlines of fields and marks"
        # The whole page, and at most a headline more.
        assert 1.0 <= (shown.shape[0] / shown.shape[1]) / (plain.shape[0] / plain.shape[1]) < 1.05


def test_two_scans_of_one_name_get_a_picture_each(run: Run, tmp_path: Path) -> None:
    for folder, data in (("a", picture("PNG")), ("b", picture("TIFF"))):
        (tmp_path / folder).mkdir()
        put(tmp_path / folder, "scan.png", data)
    arguments = ["read", tmp_path / "a", tmp_path / "b", "--binder", tmp_path / "binder", "--workers", 1]
    assert run(*arguments, "--show", tmp_path / "seen").code == 0
    assert len(list((tmp_path / "seen").glob("*.png"))) == 2


# Refusals: one sentence, an exit code, no traceback


def test_what_makes_no_sense_is_refused_in_a_sentence_that_names_it(run: Run, tmp_path: Path, binder: Path) -> None:
    nowhere, file = tmp_path / "nowhere", put(tmp_path, "notes.txt", b"to do: tires\n")
    pad = ["print", "site-machine", "--out", tmp_path / "pad.pdf"]
    mine = ["--initials", "AB", "--binder", binder]
    sheet = put(tmp_path, "sheet.jpg", scanned(0).encoded)
    reading = ["read", sheet, "--binder", tmp_path / "new", "--workers", 1]
    (tmp_path / "empty").mkdir()
    for arguments, named in (
        (["print", "crane", "--out", tmp_path / "pad.pdf"], "crane"),
        (["layout", "crane"], "site-machine"),
        (["layout", nowhere.with_suffix(".yaml")], "nowhere.yaml"),
        (["layout", file], "notes.txt"),
        ([*pad, "--week", "2026-48"], "2026-48"),
        ([*pad, "--week", "2025-W53"], "2025"),
        ([*pad, "--date", "2026-02-29"], "2026-02-29"),
        ([*pad, "--date", "2026-11-25", "--week", "2026-W48"], "--week"),
        ([*pad, "--unit", "WL_07"], "WL_07"),
        ([*pad, "--unit", "WL-0000001"], "WL-0000001"),
        ([*pad, "--copies", "0"], "--copies"),
        ([*pad, "--still-open", nowhere], "nowhere"),
        (["print", "site-machine", "--out", nowhere / "deeper" / "pad.pdf"], "pad.pdf"),
        (["read", nowhere, "--binder", tmp_path / "new"], "nowhere"),
        (["read", tmp_path / "empty", "--binder", tmp_path / "new"], "no scans"),
        (["read", sheet, "--binder", file], "notes.txt"),
        (["read", sheet, "--binder", tmp_path], "no binder"),
        ([*reading, "--units", nowhere], "nowhere"),
        ([*reading, "--crew", file], "notes.txt"),
        ([*reading, "--words", file], "notes.txt"),
        ([*reading, "--template", nowhere.with_suffix(".yaml")], "nowhere.yaml"),
        ([*reading, "--template", file], "notes.txt"),
        ([*reading, "--template", "site-machine"], "scanform's own sheets are known without being named"),
        ([*reading, "--show", file], "notes.txt"),
        ([*reading, "--json", nowhere / "pages.jsonl"], "pages.jsonl"),
        (["doubts", "--binder", nowhere], "nowhere"),
        (["doubts", "--binder", tmp_path / "empty"], "no binder"),
        (["doubts", "--binder", binder, "--crops", file], "notes.txt"),
        (["verify", "--binder", nowhere], "nowhere"),
        (["export", "--binder", nowhere, "--out", tmp_path / "lists"], "nowhere"),
        (["export", "--binder", binder, "--out", file], "notes.txt"),
        (["export", "--binder", binder, "--out", tmp_path / "lists", "--format", "pdf"], "pdf"),
        (["confirm", "1.hours", "12 o'clock", *mine], "12 o'clock"),
        (["confirm", "1.hours", "12.34", *mine], "12.34"),
        (["confirm", "1.date", "2026-13-01", *mine], "2026-13-01"),
        (["confirm", "1.item.horn", "maybe", *mine], "maybe"),
        (["confirm", "1.fit", "ok", *mine], "parked"),
        (["confirm", "1.signature", "Dora Pell", *mine], "Dora Pell"),
        (["confirm", "1.defect.1.item", "88", *mine], "88"),
        (["confirm", "1.gearbox", "ok", *mine], "gearbox"),
        (["confirm", "77.hours", "12.3", *mine], "77"),
        (["confirm", "hours", "12.3", *mine], "hours"),
        (["confirm", "1.hours", *mine], "--as-read"),
        (["confirm", "1.hours", "12.3", "--blank", *mine], "--blank"),
        (["confirm", "1.unit", "--as-read", *mine], "1.unit"),
        (["confirm", "1.hours", "12.3", "--initials", "A1", "--binder", binder], "A1"),
        (["confirm", "1.hours", "12.3", "--initials", "AB", "--binder", nowhere], "nowhere"),
        (["undo", *mine], "AB"),
    ):
        ran = run(*arguments)
        assert ran.code == 2, (arguments, ran)
        assert named in one_sentence(ran.err), (arguments, ran.err)
    assert not nowhere.exists()
    assert run("verify", "--binder", binder).code == 0


def test_a_missing_option_is_named(run: Run, binder: Path) -> None:
    ran = run("confirm", "1.hours", "12.3", "--binder", binder)
    assert ran.code == 2
    assert "--initials" in ran.err
    for command in ("doubts", "verify"):
        ran = run(command)
        assert ran.code == 2
        assert "--binder" in ran.err


def test_a_record_that_was_changed_from_outside_ends_in_exit_code_3(run: Run, binder: Path) -> None:
    (archived,) = [path for path in (binder / "pages").rglob("*") if path.is_file()]
    archived.chmod(0o644)
    archived.write_bytes(archived.read_bytes()[:-1] + b"!")
    ran = run("verify", "--binder", binder)
    assert ran.code == 3
    assert "PROBLEM: " in ran.out
    assert str(binder) in one_sentence(ran.err)


def test_without_tesseract_one_sentence_says_what_to_install_and_everything_else_works(tmp_path: Path) -> None:
    sheet = scanned(3)
    (words,) = [value for field, value in sheet.truth.values.items() if field == "defect.1"]
    assert words, "the sheet has words that would get a second opinion"
    put(tmp_path, "sheet.jpg", sheet.encoded)
    (tmp_path / "bin").mkdir()
    out = tmp_path / "pages.jsonl"
    arguments = ["read", tmp_path / "sheet.jpg", "--binder", tmp_path / "binder", "--json", out, "--workers", 1]
    ran = run_process(*arguments, env=environment(PATH=str(tmp_path / "bin")))
    assert ran.code == 0, ran.err
    assert "Traceback" not in ran.err
    (note,) = [line for line in ran.err.splitlines() if "Tesseract" in line]
    assert "install" in note
    assert "tesseract-ocr" in note
    (page,) = json_lines(out)
    assert page["outcome"] == "read"
    read = {field["id"]: field["value"] for field in page["fields"]}
    assert read["defect.1"], "the first opinion stands"
    assert read["date"] == sheet.truth.values["date"]


@pytest.mark.parametrize("command", [["layout", "site-machine"], ["--help"]])
def test_the_reader_of_a_pipe_may_stop_early(command: list[str]) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "scanform", *command],
        cwd=ROOT,
        env=environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()  # as `| head` does, here before the first line
    said = process.stderr.read()
    process.stderr.close()
    process.wait()
    assert said == ""
