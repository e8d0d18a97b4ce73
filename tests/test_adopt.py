"""A template is proposed for a blank form that scanform did not print, and what was not understood is said."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import cv2
import numpy as np
import pytest
from blank_forms import ITEMS, Pen, day_card, month_card, pdf_of, prose, scan_of, week_card
from commands import ROOT, Run, json_lines, one_sentence

from scanform.adopt import Proposal, print_of, proposal_picture, propose
from scanform.form import AdoptedTemplate, FieldKind, load_template

README = ROOT / "README.md"


def proposed(folder: Path, data: bytes, suffix: str = "pdf") -> Proposal:
    path = folder / f"blank.{suffix}"
    path.write_bytes(data)
    return propose(print_of(path), "old-card")


def check_day_card(proposal: Proposal, within_mm: float) -> None:
    form = proposal.template
    fields = {made.id: made for made in form.fields}
    assert [item.text for item in form.items] == ITEMS
    boxes = [a.box_mm for made in form.fields if made.kind is FieldKind.CHOICE for a in made.answers]
    answers = [[a.answer for a in made.answers] for made in form.fields if made.kind is FieldKind.CHOICE]
    assert answers == [["ok", "defect"]] * len(ITEMS)
    truth = [(x, 68 + 8 * n, 4.5, 4.5) for n in range(len(ITEMS)) for x in (142, 163)]
    assert boxes == [pytest.approx(box, abs=within_mm) for box in truth]
    cells = fields["hours"].cells_mm
    assert cells == tuple(pytest.approx((45 + 6 * n + (3 if n == 5 else 0), 43, 6, 8), abs=within_mm) for n in range(6))
    assert (fields["hours"].charset, fields["hours"].pattern) == ("digits", "hhhhht")
    kinds = {i: fields[i].kind.value for i in ("unit", "date", "operator", "signature", "remarks.1", "remarks.3")}
    assert list(kinds.values()) == ["text", "date", "text", "signature", "text", "text"]


def test_boxes_comb_and_labels_of_a_pdf_are_found_where_they_were_drawn(tmp_path: Path) -> None:
    check_day_card(proposed(tmp_path, pdf_of(day_card)), within_mm=0.15)


def test_the_same_form_is_found_on_a_scan_that_lies_askew(tmp_path: Path) -> None:
    # Turned about the page's middle, where the form's own places stay but for what turning back leaves.
    check_day_card(proposed(tmp_path, scan_of(pdf_of(day_card)), "png"), within_mm=0.7)


def test_a_week_grid_gives_a_place_a_day_and_its_legend_says_what_signs_mean(tmp_path: Path) -> None:
    form = proposed(tmp_path, pdf_of(week_card)).template
    assert form.covers == "week"
    fields = {made.id: made for made in form.fields}
    name = form.items[3].name
    assert form.items[3].text == "Service brake"
    assert fields[f"item.{name}.wed"].kind is FieldKind.MARK
    assert fields[f"item.{name}.wed"].box_mm == pytest.approx((110, 77, 16, 8), abs=0.2)
    assert fields["hours.sun"].kind is FieldKind.NUMBER
    assert {"unit", "date", "signature"} <= set(fields)  # the week is filed under its first day
    assert [(s.sign, s.answer) for s in form.signs] == [("G", "ok"), ("R", "defect"), ("N", "na")]


def test_a_months_grid_asks_nothing_under_its_days_numbers_and_for_no_more_than_the_presence_of_initials(
    tmp_path: Path,
) -> None:
    form = proposed(tmp_path, pdf_of(month_card)).template
    assert form.covers == "month"
    assert [item.text for item in form.items] == ITEMS
    by_day = {made.id.split(".")[0]: made.kind for made in form.fields if made.id.endswith(".31")}
    assert by_day == {"item": FieldKind.MARK, "initials": FieldKind.SIGNATURE}


def test_an_unknown_label_is_kept_as_free_writing_and_named(tmp_path: Path) -> None:
    def with_tide_gauge(pen: Pen) -> None:
        day_card(pen)
        pen.text(120, 180, "Tide gauge")
        pen.line(140, 180.5, 190, 180.5)

    proposal = proposed(tmp_path, pdf_of(with_tide_gauge))
    assert proposal.sure["tide-gauge"] < 0.7
    assert any("'Tide gauge' is not a label known here" in note for note in proposal.notes)


def test_the_picture_shows_every_field_on_the_blank(tmp_path: Path) -> None:
    proposal = proposed(tmp_path, pdf_of(day_card))
    picture = proposal_picture(proposal)
    assert picture.shape == (2376, 1680, 3)
    inside = picture[562 - 8 : 562 + 8, 1154 - 8 : 1154 + 8]  # of the first tick box, about its middle: 70.2, 144.2 mm
    assert (np.ptp(inside, axis=2) > 5).mean() > 0.3, "shaded, so no longer grey"


def test_the_picture_writes_no_name_over_a_label_that_is_printed_in_its_cell(tmp_path: Path) -> None:
    def labelled_cells(pen: Pen) -> None:
        day_card(pen)
        for x, label in ((20, "Site"), (105, "Weather")):
            pen.box(x, 190, 85, 12)
            pen.text(x + 1, 194, label)

    proposal = proposed(tmp_path, pdf_of(labelled_cells))
    assert {"site", "weather"} <= {made.id for made in proposal.template.fields}
    blank = cv2.imdecode(np.frombuffer(proposal.template.picture_png, np.uint8), cv2.IMREAD_COLOR)
    label = np.zeros(blank.shape[:2], bool)
    for x in (20, 105):
        label[8 * 190 + 4 : 8 * 196, 8 * x + 4 : 8 * (x + 18)] = True
    printed = (blank.max(axis=2) < 100) & label
    assert printed.sum() > 500
    dark = proposal_picture(proposal)[printed].max(axis=1) < 140
    assert dark.mean() > 0.98, "every printed letter is still read through the shade"


def test_the_command_writes_a_template_its_picture_and_what_is_unsure(tmp_path: Path, run: Run) -> None:
    blank = tmp_path / "blank.pdf"
    blank.write_bytes(pdf_of(day_card))
    out, fields = tmp_path / "my_form.yaml", tmp_path / "fields.png"
    done = run("adopt", blank, "--out", out, "--picture", fields, "--binder", tmp_path / "binder")
    assert done.code == 0, done.err
    assert "Check list: 7 items, 7 with boxes to tick, for a day." in done.out
    form = load_template(out)
    assert isinstance(form, AdoptedTemplate)
    assert form.name == "my-form"
    assert fields.read_bytes().startswith(b"\x89PNG")
    assert load_template(tmp_path / "binder" / "templates" / "my-form-1" / "my-form-1.yaml") == form


def test_the_drawn_fields_never_take_the_place_of_the_blanks_own_picture(tmp_path: Path, run: Run) -> None:
    blank = tmp_path / "blank.pdf"
    blank.write_bytes(pdf_of(day_card))
    done = run("adopt", blank, "--out", tmp_path / "my_form.yaml", "--picture", tmp_path / "my-form.png")
    assert done.code != 0
    assert "give another name, such as my_form_fields.png" in one_sentence(done.err)
    assert not (tmp_path / "my_form.yaml").exists()


@pytest.mark.parametrize(
    ("data", "suffix", "said"),
    [
        (pdf_of(prose), "pdf", "this page is prose"),
        (pdf_of(lambda _: None), "pdf", "this page is empty"),
        (scan_of(pdf_of(day_card), dpi=72), "png", "are 72 dots an inch, too few"),
        (pdf_of(day_card, week_card), "pdf", "has 2 pages, which may be as many forms; say with --page"),
        (b"%PDF-1.7 cut off", "pdf", "blank.pdf"),
    ],
    ids=["prose", "empty", "72 dpi", "two forms", "broken"],
)
def test_bad_input_gets_one_sentence(tmp_path: Path, run: Run, data: bytes, suffix: str, said: str) -> None:
    blank = tmp_path / f"blank.{suffix}"
    blank.write_bytes(data)
    done = run("adopt", blank, "--out", tmp_path / "form.yaml")
    assert done.code != 0
    assert said in one_sentence(done.err)
    assert not (tmp_path / "form.yaml").exists()


def console(command: str) -> list[str]:
    """The README's block that begins with a command: the command line and what it says."""
    blocks = re.findall(r"```console\n(.*?)```", README.read_text(), re.DOTALL)
    (block,) = [b for b in blocks if b.startswith(f"$ scanform {command}")]
    return list(block.strip().splitlines())


def typed(line: str, folder: Path, made: tuple[str, ...]) -> list[object]:
    """The words of a README's command, what it makes or reads in a folder of the test's own."""
    words = shlex.split(line.removeprefix("$ scanform "))
    return [folder / word if word.endswith((".yaml", ".png")) or word in made else word for word in words]


def test_the_readmes_old_form_is_adopted_and_its_old_pages_are_read_as_the_readme_says(
    tmp_path: Path, run: Run
) -> None:
    command, *said = console("adopt fixtures/old_binder")
    done = run(*typed(command, tmp_path, ()))
    assert done.out.replace(f"{tmp_path}/", "").splitlines() == said
    pages = tmp_path / "old_pages"
    pages.mkdir()
    blank = (ROOT / "fixtures" / "old_binder" / "blank.pdf").read_bytes()
    (pages / "page.png").write_bytes(scan_of(blank, dpi=200))
    (command,) = console("read old_pages")
    out = tmp_path / "pages.jsonl"
    assert run(*typed(command, tmp_path, ("old_pages", "quarry")), "--json", out, "--workers", 1).code == 0
    (page,) = json_lines(out)
    assert (page["outcome"], page["template"], page["version"]) == ("read", "shovel-check", 1)
    answers = {field["id"]: field for field in page["fields"] if field["id"].startswith("item.")}
    assert len(answers) == 21
    # Nobody has ticked anything on it, and that is no answer.
    assert {(field["value"], field["state"]) for field in answers.values()} == {(None, "doubtful")}
