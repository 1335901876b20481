from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from starlette.testclient import TestClient

from barwright.coach.attempts import MOST, MOST_OF_ADDRESS, WITHIN, Attempts
from barwright.workflows.parts import utc_now
from barwright.workflows.sign_in import LINK_LASTS, SESSION_LASTS, make_link, sign_in_with_link, who_is_signed_in
from coach.conftest import SAME_ORIGIN, sign_in
from conftest import CLUB

PHRASE = "chalk and iron and wood"
PAGES = ("/", "/athletes", "/plan", "/review", "/wall", "/sets", "/devices", "/club")


@pytest.fixture
def stranger(service):
    return TestClient(service.client.app, raise_server_exceptions=False)


@pytest.mark.parametrize("path", PAGES)
def test_every_page_sends_strangers_to_the_door(stranger, path):
    answer = stranger.get(path, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/sign-in")


def test_after_signing_in_the_coach_is_where_they_wanted_to_be(desk, stranger):
    desk.send("/club/passphrase", passphrase=PHRASE)
    assert stranger.get("/devices", follow_redirects=False).headers["location"] == "/sign-in?next=/devices"
    sent = {"name": "Marit", "passphrase": PHRASE, "next": "/devices"}
    answer = stranger.post("/sign-in", data=sent, headers=SAME_ORIGIN, follow_redirects=False)
    assert answer.headers["location"] == "/devices"
    assert stranger.get("/devices").status_code == 200


@pytest.mark.parametrize("wanted", ["//elsewhere.example", "https://elsewhere.example", "/\\elsewhere", "x"])
def test_nobody_is_led_elsewhere_after_signing_in(desk, stranger, wanted):
    desk.send("/club/passphrase", passphrase=PHRASE)
    sent = {"name": "Marit", "passphrase": PHRASE, "next": wanted}
    answer = stranger.post("/sign-in", data=sent, headers=SAME_ORIGIN, follow_redirects=False)
    assert answer.headers["location"] == "/"


def test_a_wrong_passphrase_is_refused_in_the_same_words_as_an_unknown_name(desk, stranger):
    desk.send("/club/passphrase", passphrase=PHRASE)
    for name in ("Marit", "Nobody"):
        answer = stranger.post("/sign-in", data={"name": name, "passphrase": "wrong"}, headers=SAME_ORIGIN)
        assert answer.status_code == 401
        assert "do not belong together" in answer.text
        assert "barwright_session" not in stranger.cookies


def test_after_ten_wrong_ones_even_the_right_one_has_to_wait():
    now, attempts = utc_now(), Attempts()
    for _ in range(MOST):
        assert not attempts.too_many("Marit", now)
        attempts.note_wrong("Marit", now)
    assert attempts.too_many("Marit", now)
    assert not attempts.too_many("Another", now)
    assert not attempts.too_many("Marit", now + timedelta(minutes=11))


def test_a_link_works_once(service, stranger):
    token = make_link(service.parts.database, CLUB, "Marit", utc_now())
    assert stranger.get(f"/sign-in/{token}").status_code == 200  # looking at it does not use it up
    assert stranger.post(f"/sign-in/{token}", headers=SAME_ORIGIN, follow_redirects=False).status_code == 303
    again = stranger.post(f"/sign-in/{token}", headers=SAME_ORIGIN, follow_redirects=False)
    assert again.status_code == 410
    assert "This link is over" in again.text


def test_a_link_is_over_after_a_day(service):
    token = make_link(service.parts.database, CLUB, "Marit", utc_now())
    later = replace(service.parts, now=lambda: utc_now() + LINK_LASTS + timedelta(seconds=1))
    assert sign_in_with_link(later, token) is None


def test_a_session_ends_by_itself_and_by_signing_out(service, desk):
    session = desk.session
    later = replace(service.parts, now=lambda: utc_now() + SESSION_LASTS + timedelta(seconds=1))
    assert who_is_signed_in(service.parts, session) is not None
    assert who_is_signed_in(later, session) is None
    assert desk.send("/sign-out").status_code == 303
    assert who_is_signed_in(service.parts, session) is None


def test_a_new_passphrase_signs_out_everywhere_else(service, desk):
    other = sign_in(service)
    assert desk.send("/club/passphrase", passphrase=PHRASE).status_code == 303
    assert desk.client.get("/club").status_code == 200
    assert other.client.get("/club", follow_redirects=False).status_code == 303


def test_a_short_passphrase_is_refused_in_plain_words(desk):
    answer = desk.send("/club/passphrase", passphrase="short")
    assert answer.status_code == 422
    assert "10 to 200 characters" in answer.text


def test_the_cookie_cannot_be_read_by_scripts_nor_sent_from_elsewhere(service, stranger):
    token = make_link(service.parts.database, CLUB, "Marit", utc_now())
    answer = stranger.post(f"/sign-in/{token}", headers=SAME_ORIGIN, follow_redirects=False)
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=lax" in cookie
    secure = TestClient(service.client.app, base_url="https://testserver")
    token = make_link(service.parts.database, CLUB, "Marit", utc_now())
    answer = secure.post(f"/sign-in/{token}", headers=SAME_ORIGIN, follow_redirects=False)
    assert "secure" in answer.headers["set-cookie"].lower()


def test_the_database_holds_no_token_that_opens_anything(service, desk):
    held = (service.settings.data / "barwright.db").read_bytes()
    held += (service.settings.data / "barwright.db-wal").read_bytes()
    assert desk.session.encode() not in held


@pytest.mark.parametrize("token", [None, "", "AAAA"])
def test_a_form_without_its_token_changes_nothing(desk, token):
    fields = {"name": "Intruder"} if token is None else {"name": "Intruder", "token": token}
    answer = desk.client.post("/athletes", data=fields, follow_redirects=False)
    assert answer.status_code == 403
    assert "Intruder" not in desk.page("/athletes")


def test_a_form_token_of_another_coach_is_none(service, desk):
    other = sign_in(service, coach="Second")
    answer = desk.client.post("/athletes", data={"name": "X", "token": other.token()}, follow_redirects=False)
    assert answer.status_code == 403


def test_a_sign_in_form_from_elsewhere_is_refused(desk, stranger):
    desk.send("/club/passphrase", passphrase=PHRASE)
    sent = {"name": "Marit", "passphrase": PHRASE}
    for headers in ({"sec-fetch-site": "cross-site"}, {"origin": "https://elsewhere.example"}):
        assert stranger.post("/sign-in", data=sent, headers=headers).status_code == 403


def test_names_of_coaches_are_unique_over_all_clubs(service, desk):
    other = sign_in(service, club="Harbour Barbell", coach="Second")
    answer = other.send("/club/coaches", name="Marit")
    assert answer.status_code == 409
    assert "Another club has a coach named" in answer.text


def test_a_coach_can_be_taken_away_but_not_by_themselves(service, desk):
    other = sign_in(service, coach="Second")
    listed = desk.page("/club")
    ids = {part.split("/")[0] for part in listed.split("/club/coaches/")[1:] if "/remove" in part[:40]}
    (second,) = ids
    assert desk.send(f"/club/coaches/{second}/remove").status_code == 303
    assert other.client.get("/club", follow_redirects=False).status_code == 303


def test_every_answer_forbids_scripts_and_styles_from_elsewhere(desk):
    for path in PAGES:
        answer = desk.client.get(path)
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "<script>" not in answer.text
        assert " style=" not in answer.text
        assert " onclick=" not in answer.text
        assert answer.headers["cache-control"] == "no-store"


def test_an_address_that_tries_many_names_has_to_wait_and_is_told_how_long(desk, stranger):
    desk.send("/club/passphrase", passphrase=PHRASE)
    for number in range(MOST_OF_ADDRESS):
        stranger.app.state.attempts.note_wrong(f"coach {number}", utc_now(), "testclient")
    sent = {"name": "Marit", "passphrase": PHRASE}
    answer = stranger.post("/sign-in", data=sent, headers=SAME_ORIGIN, follow_redirects=False)
    assert answer.status_code == 429
    assert 0 < int(answer.headers["retry-after"]) <= WITHIN.total_seconds()
    assert answer.headers["ratelimit"].startswith('"sign-in";r=0;t=')


def test_one_wrong_name_does_not_keep_others_of_the_same_address_out():
    attempts, now = Attempts(), utc_now()
    for _ in range(MOST):
        attempts.note_wrong("Marit", now, "10.0.0.1")
    assert attempts.too_many("Marit", now, "10.0.0.2")
    assert not attempts.too_many("Jorun", now, "10.0.0.1")
    assert attempts.wait_s("Marit", now + WITHIN, "10.0.0.1") == 0
