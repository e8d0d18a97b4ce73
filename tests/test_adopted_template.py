"""Files of forms that scanform did not print: kept whole, and refused with one sentence where they are wrong."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from adopted_forms import a_form, form_data
from commands import Run, one_sentence

from scanform.batch import templates_for
from scanform.binder import open_binder
from scanform.errors import LayoutError, TemplateError
from scanform.form import AdoptedTemplate, FieldKind, Paper, lay_out, load_template, write_adopted


def written(folder: Path, **changes: object) -> Path:
    path = folder / "plant-card.yaml"
    write_adopted(a_form(**changes), path)
    return path


def test_an_adopted_form_read_back_from_its_files_is_the_same_form(tmp_path: Path) -> None:
    assert load_template(written(tmp_path)) == a_form()


def test_an_adopted_form_lies_as_it_was_printed_and_on_no_other_paper() -> None:
    form = a_form()
    layout = lay_out(form, form.paper)
    assert (layout.width_mm, layout.height_mm) == (148.0, 210.0)
    assert layout.field("item.brakes").answers[1].box_mm == (115.0, 80.0, 4.0, 4.0)
    assert layout.field("unit").box_mm == (20.0, 30.0, 30.0, 8.0)
    assert layout.field("date").kind is FieldKind.DATE
    assert not layout.marks
    with pytest.raises(LayoutError, match="printed elsewhere"):
        lay_out(form, Paper.LETTER)


def test_another_picture_than_the_one_a_form_was_made_with_is_refused(tmp_path: Path) -> None:
    path = written(tmp_path)
    picture = tmp_path / "plant-card.png"
    picture.write_bytes(picture.read_bytes() + b" ")
    with pytest.raises(TemplateError, match=r"is not the picture that plant-card\.yaml was made with"):
        load_template(path)
    picture.unlink()
    with pytest.raises(TemplateError, match="belongs beside the template file"):
        load_template(path)


def test_a_wrong_field_is_named_with_its_line(tmp_path: Path) -> None:
    path = written(tmp_path)
    text = path.read_text().replace("id: item.oil,", "id: item.oils,")
    path.write_text(text)
    line = next(n for n, row in enumerate(text.splitlines(), start=1) if "item.oils" in row)
    with pytest.raises(TemplateError, match=rf"line {line}, key 'fields.3.id': field 'item.oils' is for an item"):
        load_template(path)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"fields": form_data()["fields"][:-1]}, "item 'brakes' has no field"),
        ({"fields": form_data()["fields"] * 2}, "stands here twice"),
        ({"height_mm": 75.0}, "lies off the page"),
        ({"unit_cells": 5}, "is for sheets that scanform prints"),
        ({"fields": [{"id": "hours", "kind": "comb", "box_mm": [1, 1, 5, 5]}]}, "placed by the key cells_mm"),
    ],
)
def test_a_form_that_cannot_be_is_refused(changes: dict[str, object], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        a_form(**changes)


def test_a_binder_keeps_an_adopted_form_with_its_picture(tmp_path: Path) -> None:
    path = written(tmp_path)
    with open_binder(tmp_path / "binder", create=True) as binder:
        templates_for(binder, [path])
        path.unlink()
        known = templates_for(binder, [])
        (form,) = [template for template in known if isinstance(template, AdoptedTemplate)]
    assert form == a_form()


def test_the_layout_of_an_adopted_form_is_told_like_any_other(tmp_path: Path, run: Run) -> None:
    told = json.loads(run("layout", written(tmp_path)).out)
    assert told["pages"][0]["width_mm"] == 148.0
    unit, date, *_ = told["pages"][0]["fields"]
    assert unit["cells_mm"][1] == [26.0, 30.0, 6.0, 8.0]
    assert date == {"id": "date", "kind": "date", "pattern": "dmy", "box_mm": [90.0, 30.0, 48.0, 8.0]}


def test_an_adopted_form_is_not_printed(tmp_path: Path, run: Run) -> None:
    done = run("print", written(tmp_path), "--out", tmp_path / "blank.pdf")
    assert done.code == 2
    assert "printed elsewhere and is read here, not printed" in one_sentence(done.err)
