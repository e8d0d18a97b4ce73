"""A list that is printed loads nothing that draws, opens scans or reads ink: people wait for what is loaded."""

from __future__ import annotations

import datetime as dt
import json
import pkgutil
import subprocess
import sys
from importlib import import_module

import pytest
from changed_sheets import sheet
from made_quarter import MONDAY, daily

from scanform.binder import open_binder

DAY = dt.timedelta(days=1)
HEAVY = (
    *("PIL", "cv2", "fastapi", "jinja2", "matplotlib", "onnxruntime", "openpyxl", "pdfplumber", "pikepdf", "pypdfium2"),
    *("pytesseract", "rapidocr", "reportlab", "scipy", "zxingcpp"),
)
LISTS = ("defects", "gaps", "hours", "patterns", "retention")
ROOMS = ("form", "press", "intake", "locate", "read", "settle", "binder", "batch", "report", "adopt", "desk")
# Each command runs in one process of its own with the others of the program left out, as scanform.cli.app has it.
RUN_ALL = """
import json, sys
from scanform.cli.app import app_with
loaded = {}
for name in sys.argv[2:]:
    app_with([name])([name, "--binder", sys.argv[1]], standalone_mode=False)
    loaded[name] = sorted(sys.modules)
sys.stderr.write(json.dumps(loaded))
"""


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    folder = tmp_path_factory.mktemp("light") / "binder"
    with open_binder(folder, create=True) as binder:
        binder.remember_template(daily().template)
        sheet(binder, MONDAY, ("horn", "horn dead"))
        sheet(binder, MONDAY + DAY, ("horn", "horn dead", "repaired"))
        sheet(binder, MONDAY + 3 * DAY, ("seat-belt", "seat belt frayed"))
    done = subprocess.run(
        [sys.executable, "-c", RUN_ALL, str(folder), *LISTS], capture_output=True, encoding="utf-8", check=True
    )
    assert "Seat and seat belt" in done.stdout
    return json.loads(done.stderr)


@pytest.mark.parametrize("name", LISTS)
def test_a_list_on_the_terminal_loads_no_library_that_it_does_not_need(loaded, name):
    assert "pandas" in loaded[name]  # the list was drawn up
    assert [library for library in HEAVY if library in loaded[name]] == []


@pytest.mark.parametrize("room", ROOMS)
def test_a_rooms_door_gives_out_what_it_names_and_no_module_stands_in_for_it(room):
    door = import_module(f"scanform.{room}")
    inside = {module.name for module in pkgutil.iter_modules(door.__path__)}
    for name in door.__all__:
        assert not (name in inside and getattr(door, name) is sys.modules.get(f"scanform.{room}.{name}")), name


def test_a_name_that_a_room_does_not_have_is_no_attribute_of_it():
    report = import_module("scanform.report")
    with pytest.raises(AttributeError, match="has no attribute 'calendars'"):
        report.calendars  # noqa: B018
