"""On a terminal of 80 columns every unit, meter reading and date stands whole, and every defect can be read."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import struct
import subprocess
import sys
import termios

import pytest
from changed_sheets import doubt, sheet
from commands import ROOT, Run, environment, runner
from made_quarter import MONDAY, daily

from scanform.binder import open_binder
from scanform.cli.options import console

ON = MONDAY.isoformat()


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("narrow") / "binder"
    with open_binder(folder, create=True) as binder:
        binder.remember_template(daily().template)
        sheet(binder, MONDAY, ("horn", "horn dead and nobody hears the truck behind the crusher"), unit="RT-1015")
        sheet(binder, MONDAY, ("wipers", "wiper blade torn"), changed=[doubt("hours")])
    return folder


@pytest.fixture
def at_80(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], folder) -> Run:
    run = runner(monkeypatch, capsys)
    monkeypatch.setattr(console, "width", 80)

    def ran(command, *arguments):
        done = run(command, "--binder", folder, *arguments)
        assert done.code == 0, done.err
        return done.out.splitlines()

    return ran


def test_the_hours_of_each_unit_stand_whole_on_a_real_terminal(folder):
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    command = [sys.executable, "-m", "scanform", "hours", "--binder", str(folder)]
    env = {name: value for name, value in environment().items() if name != "COLUMNS"}
    running = subprocess.Popen(command, cwd=ROOT, env=env, stdin=theirs, stdout=theirs, stderr=theirs)
    os.close(theirs)
    shown = b""
    try:
        while part := os.read(ours, 65_536):
            shown += part
    except OSError:
        pass  # so a terminal whose program has ended says that nothing more comes
    os.close(ours)
    assert running.wait(60) == 0
    lines = re.sub(r"\x1b\[[0-9;]*m", "", shown.decode()).replace("\r", "").splitlines()
    at = lines.index("RT-1015")
    assert "meter 1,000.0; " in lines[at + 1]
    assert "next (step) 1,250 h (250 h)" in lines[at + 1]
    assert not any("…" in line for line in lines)


def test_a_defect_is_a_block_with_its_item_and_words_whole(at_80):
    lines = at_80("defects")
    at = lines.index("SAFETY  1.defect.1  RT-1015")
    block = [line.rstrip() for line in lines[at + 1 : at + 8]]
    assert block[0] == f"  first {ON}; last {ON}; reports 1"
    assert "  item: 20 Horn" in "\n".join(block)
    assert "nobody hears the truck behind the crusher" in " ".join(" ".join(block).split())
    table = lines[at : lines.index("2 open, 0 closed.")]
    assert max(map(len, table)) <= 80
    assert "…" not in "".join(table)


def test_the_heads_of_trust_are_not_cut(at_80):
    text = "\n".join(at_80("trust"))
    for head in ("accepted", "spot-checked", "waiting", "wrong", "at most wrong in 1,000"):
        assert head in text
    assert "…" not in text


def test_a_doubt_has_its_name_unit_and_date_in_one_line(at_80):
    lines = at_80("doubts")
    assert ["2.hours", "WL07", ON] in [line.replace("│", " ").split()[:3] for line in lines]
    assert "…" not in "".join(lines)


def test_where_there_is_room_a_table_is_a_table(at_80, monkeypatch):
    monkeypatch.setattr(console, "width", 120)
    row = next(line for line in at_80("defects") if "RT-1015" in line and "│" in line)
    assert [cell.strip() for cell in row.split("│")][:3] == ["SAFETY", "1.defect.1", "RT-1015"]
