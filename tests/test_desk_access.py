"""Who may come to the desk, what they may do there, and what becomes of everybody else."""

from __future__ import annotations

import re

import httpx
import pytest
from desk_browser import OFFICE_SCREEN, at_the_desk, running_desk
from playwright.sync_api import expect

from scanform.binder import Person, open_binder
from scanform.desk.access import LONGEST_PAUSE_S, Role

PASSWORD = "four words with spaces"
HTML = {"accept": "text/html"}


def client(desk, role: Role | None = Role.CLERK) -> httpx.Client:
    """Somebody with that role who sends what a page of the desk would send; nobody if it is None."""
    opened = httpx.Client(base_url=desk.address)
    if role is not None:
        sessions = desk.app.state.sessions
        key = sessions.begin("AB", role)
        opened.cookies.set(sessions.cookie, key)
        opened.headers["X-Desk-Token"] = sessions.find(key).token
    return opened


@pytest.fixture
def named_desk(desk):
    """The same binder on a desk for other machines, with a clerk and a reader."""
    with open_binder(desk.folder) as binder:
        binder.let_in(Person("JH", "June Hale", "clerk"), PASSWORD, "AB")
        binder.let_in(Person("RE", "Ray Earl", "reader"), PASSWORD, "AB")
    with running_desk(desk.folder, by_link=False) as running:
        yield running


def test_the_link_opens_the_desk_once(desk, browser):
    page = at_the_desk(browser, desk, "jh")
    assert page.locator(".who").inner_text().startswith("JH")
    link = desk.link()
    page.goto(link)
    page.get_by_label("Your initials").fill("AB")
    page.get_by_role("button", name="Begin").click()
    page.wait_for_url(lambda url: "/open/" not in url)
    page.goto(link)
    assert "has been used" in page.locator(".said").inner_text()


def test_a_named_person_signs_in_and_comes_back_to_where_they_were(named_desk, browser):
    context = browser.new_context(viewport=OFFICE_SCREEN)
    page = context.new_page()
    page.goto(f"{named_desk.address}/settle/doubts")
    page.get_by_label("Your initials").fill("jh")
    page.get_by_label("Your password").fill("four words with commas")
    page.get_by_role("button", name="Come in").click()
    expect(page.get_by_role("alert")).to_contain_text("do not belong together")
    page.get_by_label("Your initials").fill("jh")
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Come in").click()
    expect(page).to_have_url(f"{named_desk.address}/settle/doubts")
    expect(page.locator(".who")).to_contain_text("JH, clerk")
    (cookie,) = context.cookies()
    assert (cookie["httpOnly"], cookie["sameSite"]) == (True, "Strict")


def test_whoever_is_shut_out_is_out_at_once(named_desk):
    with httpx.Client(base_url=named_desk.address) as june, open_binder(named_desk.folder) as binder:
        assert june.post("/sign-in", data={"initials": "JH", "password": PASSWORD}).status_code == 303
        assert june.get("/settle").status_code == 200
        binder.shut_out("JH", "AB")
        assert june.get("/settle").status_code == 401
        assert june.post("/sign-in", data={"initials": "JH", "password": PASSWORD}).status_code == 403


def test_a_reader_looks_and_does_not_settle(named_desk):
    with client(named_desk, Role.READER) as reader:
        assert reader.get("/pages/1/picture?high=300").status_code == 200
        refused = reader.post("/settle/undo", json={"seat": "00000000"})
        assert refused.status_code == 403
        assert refused.json()["said"] == ("Only a clerk may do this; nothing was changed. Ask one, or sign in as one.")
        assert reader.get("/settle", headers=HTML).status_code == 403


def test_whoever_lacks_the_role_is_told_who_may_and_finds_the_way_back(named_desk, browser):
    page = browser.new_context(viewport=OFFICE_SCREEN).new_page()
    page.goto(f"{named_desk.address}/sign-in")
    page.get_by_label("Your initials").fill("re")
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Come in").click()
    expect(page).to_have_url(f"{named_desk.address}/sheets")
    expect(page.get_by_role("navigation", name="The desk's pages").get_by_role("link", name="Settle")).to_have_count(0)
    page.goto(f"{named_desk.address}/settle")
    expect(page.locator(".said")).to_contain_text("Only a clerk may do this; nothing was changed.")
    page.get_by_role("link", name="Back to the desk").click()
    expect(page).to_have_url(f"{named_desk.address}/sheets")


def test_whoever_guesses_passwords_has_to_wait(named_desk):
    with httpx.Client(base_url=named_desk.address) as guesser:
        wrong = {"initials": "JH", "password": "open sesame, please"}
        answers = [guesser.post("/sign-in", data=wrong).status_code for _ in range(6)]
        assert answers == [403] * 5 + [429]
        right = guesser.post("/sign-in", data={"initials": "JH", "password": PASSWORD})
        assert right.status_code == 429
        assert int(right.headers["retry-after"]) > 0
        other = guesser.post("/sign-in", data={"initials": "RE", "password": PASSWORD})
        assert other.status_code == 303, "somebody else at the same machine is not kept out"


@pytest.mark.parametrize("path", ["/pages/1/picture", "/pages/1/ink/hours", "/pages/1/places", "/settle"])
def test_nobody_sees_anything_without_signing_in(desk, path):
    with client(desk, None) as stranger:
        assert stranger.get(path).status_code == 401
        sent_on = stranger.get(path, headers=HTML)
        assert (sent_on.status_code, sent_on.headers["location"].partition("?")[0]) == (303, "/sign-in")
    with client(desk) as clerk:
        answer = clerk.get(path)
        assert answer.status_code == 200
        assert re.search("no-store|no-cache", answer.headers["cache-control"])


def test_a_change_needs_the_token_of_the_session_and_comes_from_the_desk_itself(desk):
    body = {"seat": "00000000"}
    with client(desk) as clerk:
        assert clerk.post("/settle/lend", json=body).status_code == 200
        assert clerk.post("/settle/lend", json=body, headers={"origin": "http://quarry.example"}).status_code == 403
        assert clerk.post("/settle/lend", json=body, headers={"sec-fetch-site": "cross-site"}).status_code == 403
        clerk.headers["X-Desk-Token"] = "stale"
        stale = clerk.post("/settle/lend", json=body)
        assert (stale.status_code, "nothing was saved" in stale.json()["said"]) == (403, True)


def test_nobody_fills_the_memory_through_the_door(desk):
    with client(desk, None) as stranger:
        assert stranger.post("/sign-in", data={"initials": "A" * 2**20}).status_code == 413
        assert stranger.post("/sign-in", content=iter([b"initials=AB"])).status_code == 411


def test_the_desk_answers_to_its_own_name_alone(desk):
    with client(desk) as clerk:
        assert clerk.get("/settle", headers={"host": "quarry.example"}).status_code == 400
    with running_desk(desk.folder, hosts=("desk.dunmarrow.example",)) as elsewhere, client(elsewhere) as clerk:
        assert clerk.get("/settle", headers={"host": "desk.dunmarrow.example"}).status_code == 200
        assert clerk.get("/settle").status_code == 400


def test_no_page_may_run_what_is_written_into_it(desk):
    with client(desk) as clerk:
        for path in ("/settle", "/settle/doubts", "/sign-in", "/nowhere", "/static/desk.css"):
            answer = clerk.get(path, headers=HTML)
            policy = answer.headers["content-security-policy"]
            assert "unsafe" not in policy
            assert "default-src 'none'" in policy
            assert answer.headers["x-content-type-options"] == "nosniff"
            assert not re.search(r"<[^>]+\s(style|on\w+)=|<script(?![^>]*(src=|application/json))", answer.text)


def test_whoever_has_to_sign_in_comes_back_to_the_very_list_that_they_asked_for(named_desk):
    with httpx.Client(base_url=named_desk.address, headers=HTML) as june:
        for asked in ("/defects?unit=WL07&closed=true", "/sheets/1/enter?form=site-machine~1", "/sheets?unit=WL+07"):
            back = httpx.URL(june.get(asked).headers["location"]).params["back"]
            come = {"initials": "JH", "password": PASSWORD, "back": back}
            assert june.post("/sign-in", data=come).headers["location"] == asked
            june.cookies.clear()
        long = june.get("/defects?unit=" + "W" * 600).headers["location"]
        assert httpx.URL(long).params["back"] == "/defects"


def test_signing_in_leads_nowhere_else(named_desk):
    with httpx.Client(base_url=named_desk.address) as june:
        for back in ("//quarry.example", "https://quarry.example", "/\\quarry.example", "/settle\r\nX: 1"):
            come = {"initials": "JH", "password": PASSWORD, "back": back}
            assert june.post("/sign-in", data=come).headers["location"] == "/"


def test_behind_tls_the_cookie_travels_by_tls_alone(desk):
    with running_desk(desk.folder, tls=True) as behind, httpx.Client() as browser:
        answer = browser.post(behind.link(), data={"initials": "AB"})
        cookie = answer.headers["set-cookie"]
        assert cookie.startswith("__Host-desk_")
        assert "Secure" in cookie
        assert "strict-transport-security" in answer.headers


def test_a_desk_left_alone_for_long_asks_anew(desk):
    sessions = desk.app.state.sessions
    key = sessions.begin("AB", Role.CLERK)
    sessions.find(key).seen -= LONGEST_PAUSE_S + 1
    assert sessions.find(key) is None
