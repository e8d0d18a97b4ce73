"""Lists on the desk: looked at, looked up by other programs, closed by those who may, taken away as evidence."""

from __future__ import annotations

import io
import subprocess
import zipfile

import httpx
import pytest
from desk_axe import serious_faults
from desk_binder import NASTY, UNIT
from desk_browser import at_the_desk
from playwright.sync_api import expect

from scanform.binder import open_binder
from scanform.desk.access import Role
from scanform.report import CAUTION, defect_register
from scanform.report.lists import LIST_COLUMNS, lists

HTML = {"accept": "text/html"}
REF = "1.defect.1"
CLOSING = {"repair": "repaired", "closed_on": "2026-11-12", "closed_by": "Otis Granger", "paper": "work order 4711"}
LISTS = ("defects", "gaps", "days", "meters", "service", "closings", "patterns")
PAGES = ("/defects", f"/defects/{REF}", "/missing", f"/hours?unit={UNIT}", "/patterns", "/letter", "/evidence")


def signed_in(desk, role=Role.CLERK):
    """Somebody with that role, and the token that goes with their changes."""
    client = httpx.Client(base_url=desk.address, timeout=60)
    sessions = desk.app.state.sessions
    key = sessions.begin("KL", role)
    client.cookies.set(sessions.cookie, key)
    return client, {"desk_token": sessions.find(key).token}


def test_a_defect_is_closed_at_the_desk_with_who_when_and_on_what_paper_and_taken_back(desk, browser):
    page = at_the_desk(browser, desk)
    page.goto(f"{desk.address}/defects")
    row = page.get_by_role("row").filter(has_text=UNIT)
    expect(row).to_contain_text("brakes")  # NASTY, as text and not as a script
    assert page.title() != "owned"
    row.get_by_role("link").first.click()
    page.get_by_label("repaired", exact=True).check()
    page.get_by_label("On which day").fill(CLOSING["closed_on"])
    page.get_by_label("By whom").fill(CLOSING["closed_by"])
    page.get_by_label("On what paper").fill(CLOSING["paper"])
    page.get_by_role("button", name="Close this defect").click()
    expect(page.locator("main")).to_contain_text("Repaired on 2026-11-12 by Otis Granger, work order 4711")
    with open_binder(desk.folder) as binder:
        (defect,) = defect_register(binder)
        assert (defect.written, defect.state, defect.closed.initials) == (NASTY, "repaired", "AB")
        assert binder.verify().sound
    page.get_by_role("button", name="Take the closing back").click()
    expect(page.get_by_role("button", name="Close this defect")).to_be_visible()
    with open_binder(desk.folder) as binder:
        assert defect_register(binder)[0].is_open


@pytest.mark.parametrize("role", [Role.READER, None])
def test_who_only_reads_closes_nothing_and_nobody_does_without_the_pages_own_token(desk, role):
    client, token = signed_in(desk, role or Role.CLERK)
    answer = client.post(f"/defects/{REF}/closing", data=CLOSING | (token if role else {}))
    assert answer.status_code == 403
    with open_binder(desk.folder) as binder:
        assert binder.closings() == []


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"closed_on": "2026-11-01"}, "cannot have been closed"),
        ({"closed_on": "soon"}, "year first"),
        ({"closed_by": " "}, "name the competent person"),
        ({"repair": "forgotten"}, "closes nothing"),
    ],
)
def test_a_closing_that_says_too_little_is_refused_in_a_sentence(desk, changed, why):
    client, token = signed_in(desk)
    answer = client.post(f"/defects/{REF}/closing", data=CLOSING | changed | token)
    assert answer.status_code == 422
    assert why in answer.json()["said"]
    with open_binder(desk.folder) as binder:
        assert binder.closings() == []


def test_every_list_shows_its_pictures_and_its_caution_and_can_be_used_by_everybody(desk, browser):
    page = at_the_desk(browser, desk, bypass_csp=True)  # axe-core is put into the page as a script
    for path in PAGES:
        page.goto(desk.address + path)
        page.wait_for_load_state("networkidle")
        assert serious_faults(page) == [], path
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
        expect(page.locator("footer")).to_contain_text(CAUTION)


def test_pictures_are_drawn_under_the_desks_own_policy(desk, browser):
    page = at_the_desk(browser, desk)
    for path, most in (("/missing", 1), (f"/hours?unit={UNIT}", 1), ("/letter", 3)):
        page.goto(desk.address + path)
        page.wait_for_load_state("networkidle")
        drawn = page.locator("img.drawn")
        assert drawn.count() == most
        assert drawn.evaluate_all("them => them.every((one) => one.complete && one.naturalWidth > 100)"), path


def test_the_interface_gives_each_list_with_the_columns_of_the_exports_and_the_cautions(desk):
    client, _ = signed_in(desk, Role.READER)
    described = client.get("/api/openapi.json").json()
    for name in LISTS:
        answer = client.get(f"/api/{name}")
        assert answer.status_code == 200, name
        told = answer.json()
        assert CAUTION in told["cautions"], name
        assert len(told["rows"]) <= told["total"]
        assert f"/api/{name}" in described["paths"]
    with open_binder(desk.folder) as binder:
        exported = lists(binder)
    (defect,) = client.get("/api/defects").json()["rows"]
    assert list(defect) == list(LIST_COLUMNS["register"])
    assert defect["original"] == exported["register"]["original"][0]
    meters = client.get("/api/meters").json()["rows"]
    assert [row["hours"] for row in meters if row["unit"] == UNIT] == [
        hours
        for hours, unit in zip(exported["meters"]["hours"], exported["meters"]["unit"], strict=True)
        if unit == UNIT
    ]
    days = client.get("/api/days", params={"unit": UNIT}).json()["rows"]
    # It ran from the day of the register's reading until its first sheet.
    assert [(day["status"], day["ran_hours"]) for day in days[:2]] == [("no sheet", 10.5), ("sheet", None)]


def test_nobody_gets_a_list_without_signing_in(desk):
    for path in [*(f"/api/{name}" for name in LISTS), "/api/openapi.json", "/evidence/pack", "/letter/file"]:
        assert httpx.get(desk.address + path).status_code == 401, path


@pytest.mark.parametrize(
    ("path", "why"),
    [
        ("/api/gaps?since=0001-01-01&until=9999-12-31", "400 days at most"),
        ("/api/days?unit=XX99", "check the number"),
        ("/missing/picture?since=2026-13-01", "year first"),
        ("/hours/picture", "say which"),
        ("/letter/file?week=2026-W99", "week"),
        ("/evidence/pack?unit=WL07&since=2020-01-01&until=2020-02-01", "No sheet of WL07"),
    ],
)
def test_what_makes_no_sense_is_refused_in_a_sentence(desk, path, why):
    client, _ = signed_in(desk)
    answer = client.get(path)
    assert answer.status_code == 422
    assert why in answer.json()["said"]


def test_the_evidence_comes_as_one_file_that_standard_tools_check(desk, tmp_path):
    client, _ = signed_in(desk, Role.READER)
    answer = client.get("/evidence/pack", params={"unit": UNIT, "since": "2026-11-09", "until": "2026-11-15"})
    assert answer.headers["content-type"] == "application/zip"
    zipfile.ZipFile(io.BytesIO(answer.content)).extractall(tmp_path / "taken")
    (folder,) = (tmp_path / "taken").iterdir()
    checked = subprocess.run(["sha256sum", "-c", "SHA256SUMS"], cwd=folder, capture_output=True, text=True, check=False)
    assert checked.returncode == 0, checked.stderr
    assert checked.stdout.count(": OK") > 5


def test_the_letter_comes_as_a_page_to_print_and_as_one_to_send(desk):
    client, _ = signed_in(desk, Role.READER)
    assert client.get("/letter/file", params={"week": "2026-W46"}).content.startswith(b"%PDF")
    html = client.get("/letter/file", params={"week": "2026-W46", "ending": "html"}).text
    assert "<svg" in html
    assert "<script>" not in html
