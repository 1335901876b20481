"""Keys over HTTP: made, told apart, replaced with an overlap, ended; and a key of one device."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from barwright.access.keys import looks_like_a_key, new_key
from barwright.access.scopes import Scope
from barwright.storage.sessions import Database
from barwright.workflows.manage_keys import write_down_uses
from barwright.workflows.parts import utc_now
from conftest import imu_block, still_poses


def bearer(shown):
    return {"Authorization": f"Bearer {shown}"}


def made(service, **told):
    answer = service.client.post("/v1/keys", json={"label": "bar 3", "scopes": ["results:read"], **told})
    assert answer.status_code == 201, answer.text
    return answer.json()


def later(service, **by):
    object.__setattr__(service.parts, "now", lambda: utc_now() + timedelta(**by))


def code_of(service, shown, url="/v1/sets"):
    answer = service.client.get(url, headers=bearer(shown))
    return answer.status_code, answer.json().get("code")


def test_a_key_is_shown_once_and_listed_without_itself(service):
    key = made(service)
    assert looks_like_a_key(key["key"])
    assert key["key"].startswith(key["hint"])
    listed = service.client.get("/v1/keys").text
    assert key["id"] in listed
    assert key["key"] not in listed
    assert code_of(service, key["key"]) == (200, None)


@pytest.mark.parametrize("wrong", ["bw_", "bw_" + "0" * 46, "nonsense"])
def test_a_mistyped_key_is_told_as_such_without_a_look_into_the_database(service, monkeypatch, wrong):
    def nobody_asks(*_):
        raise AssertionError

    monkeypatch.setattr(Database, "reading", nobody_asks)
    assert code_of(service, wrong) == (401, "key-mistyped")


def test_one_wrong_letter_is_mistyped_and_a_whole_key_of_nobody_is_not_known(service):
    shown = made(service)["key"]
    other = "a" if shown[20] != "a" else "b"
    assert code_of(service, shown[:20] + other + shown[21:]) == (401, "key-mistyped")
    assert code_of(service, new_key().shown) == (401, "key-not-known")


def test_a_key_ends_when_it_was_made_to(service):
    ends = (utc_now() + timedelta(hours=1)).isoformat().replace("+00:00", "Z")
    key = made(service, expires_at=ends)
    later(service, minutes=59)
    assert code_of(service, key["key"]) == (200, None)
    later(service, minutes=61)
    assert code_of(service, key["key"]) == (401, "key-expired")
    assert key["id"] not in service.client.get("/v1/keys").text


@pytest.mark.parametrize("ends", ["2020-01-01T00:00:00Z", "2126-01-01T00:00:00Z"])
def test_an_end_lies_ahead(service, ends):
    told = {"label": "a", "scopes": ["results:read"], "expires_at": ends}
    answer = service.client.post("/v1/keys", json=told)
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, "/expires_at")


def test_a_replaced_key_goes_on_for_the_overlap_and_no_longer(service):
    old = made(service)
    new = service.client.post(f"/v1/keys/{old['id']}/replace", json={"overlap_hours": 2}).json()
    assert (new["scopes"], new["label"]) == (old["scopes"], old["label"])
    listed = {one["id"]: one for one in service.client.get("/v1/keys").json()["items"]}
    assert listed[old["id"]]["replaced_by"] == new["id"]
    assert code_of(service, old["key"]) == code_of(service, new["key"]) == (200, None)
    again = service.client.post(f"/v1/keys/{old['id']}/replace", json={})
    assert (again.status_code, again.json()["code"]) == (409, "already-there")
    later(service, hours=2, seconds=1)
    assert code_of(service, old["key"]) == (401, "key-expired")
    assert code_of(service, new["key"]) == (200, None)


def test_a_replacement_does_not_lengthen_a_key_that_ends_before(service):
    ends = (utc_now() + timedelta(hours=1)).isoformat().replace("+00:00", "Z")
    old = made(service, expires_at=ends)
    service.client.post(f"/v1/keys/{old['id']}/replace", json={"overlap_hours": 48})
    later(service, minutes=61)
    assert code_of(service, old["key"]) == (401, "key-expired")


def test_a_revoked_key_opens_nothing_at_once_not_even_for_blocks(service):
    key = made(service, scopes=["streams:write"])
    stream = service.stream()["id"]
    for seq in range(2):  # the second takes the short way in
        url = f"/v1/streams/{stream}/blocks"
        assert service.client.post(url, json=imu_block(seq), headers=bearer(key["key"])).status_code == 200
    assert service.client.delete(f"/v1/keys/{key['id']}").status_code == 204
    refused = service.client.post(url, json=imu_block(2), headers=bearer(key["key"]))
    assert (refused.status_code, refused.json()["code"]) == (401, "key-not-known")
    assert service.client.delete(f"/v1/keys/{key['id']}").status_code == 404


def test_last_use_is_told_at_once_and_written_down_later(service):
    key = made(service)

    def last_use():
        return {one["id"]: one["last_used_at"] for one in service.client.get("/v1/keys").json()["items"]}[key["id"]]

    assert last_use() is None
    code_of(service, key["key"])
    told = last_use()
    assert told is not None
    write_down_uses(service.parts)
    assert service.parts.uses.get(key["id"]) is None
    assert last_use() == told


@pytest.fixture
def of_device(service):
    """A key of the device of one stream, that stream, and another stream of another device."""
    mine, other = service.stream(), service.stream(device="bar 4")
    key = made(service, scopes=["streams:write"], device_id=mine["device_id"])
    return bearer(key["key"]), mine, other


def test_a_device_key_sends_the_blocks_of_its_device(service, of_device):
    key, mine, _ = of_device
    told = {"athlete_id": mine["athlete_id"], "device": "bar 3", "lift": "snatch", "load_kg": 60}
    stream = service.client.post("/v1/streams", json=told, headers=key)
    assert stream.status_code == 201, stream.text
    url = f"/v1/streams/{stream.json()['id']}"
    for seq in range(3):
        assert service.client.post(f"{url}/blocks", json=imu_block(seq), headers=key).status_code == 200
    assert service.client.get(url, headers=key).json()["received"][0]["next_seq"] == 3
    assert service.client.post(f"{url}/close", headers=key).status_code == 200


def test_a_device_key_sees_and_touches_nothing_of_other_devices(service, of_device):
    key, mine, other = of_device
    url = f"/v1/streams/{other['id']}"
    service.send(other["id"], imu_block(0))  # the stream is one the short way in knows
    service.client.post(f"/v1/streams/{mine['id']}/blocks", json=imu_block(0), headers=key)
    told = {"athlete_id": mine["athlete_id"], "lift": "snatch", "load_kg": 60}
    for answer in (
        service.client.post(f"{url}/blocks", json=imu_block(1), headers=key),
        service.client.get(url, headers=key),
        service.client.post(f"{url}/close", headers=key),
        service.client.post("/v1/streams", json={**told, "device_id": other["device_id"]}, headers=key),
        service.client.post("/v1/streams", json={**told, "device": "bar 4"}, headers=key),
        service.client.post("/v1/streams", json={**told, "device": "bar 99"}, headers=key),
        service.client.post(f"/v1/devices/{other['device_id']}/blocks", json=imu_block(1), headers=key),
    ):
        assert (answer.status_code, answer.json()["code"]) == (404, "not-found"), answer.text


def test_a_device_key_opens_no_other_route(service, of_device):
    key, mine, _ = of_device
    for method, url, body in (
        ("GET", "/v1/streams", None),
        ("GET", "/v1/devices", None),
        ("GET", f"/v1/devices/{mine['device_id']}", None),
        ("PATCH", f"/v1/devices/{mine['device_id']}", {"class": "good"}),
        ("POST", f"/v1/devices/{mine['device_id']}/calibration", still_poses()),
        ("PUT", f"/v1/devices/{mine['device_id']}/next", {"athlete_id": "a", "lift": "snatch", "load_kg": 60}),
        ("POST", f"/v1/sets/{mine['set_id']}/reanalyse", None),
        ("GET", "/v1/sets", None),
        ("GET", "/v1/athletes", None),
        ("GET", "/v1/keys", None),
    ):
        answer = service.client.request(method, url, json=body, headers=key)
        assert (answer.status_code, answer.json()["code"]) == (403, "scope-missing"), url


def test_a_device_key_has_the_one_scope_and_a_device_of_the_club(service):
    device = service.stream()["device_id"]
    told = {"label": "a", "scopes": ["streams:write"], "device_id": device}
    for changes, status in (({"scopes": ["streams:write", "results:read"]}, 422), ({"device_id": "dev_none"}, 404)):
        assert service.client.post("/v1/keys", json={**told, **changes}).status_code == status
    other = service.new_key(club="Another club")
    assert service.client.post("/v1/keys", json=told, headers=other).status_code == 404


def test_keys_made_before_keys_had_more_than_scopes_still_work(service):
    """As rows are after the migration: nothing in the new columns."""
    key = service.new_key(Scope.RESULTS_READ)
    listed = service.client.get("/v1/keys").json()["items"][0]
    assert (listed["label"], listed["device_id"], listed["expires_at"]) == (None, None, None)
    assert service.client.get("/v1/sets", headers=key).status_code == 200


def limited(service, **limits):
    rates = type(service.parts.rates)(replace(service.parts.rates.limits, **limits))
    object.__setattr__(service.parts, "rates", rates)


def test_too_many_requests_of_a_key_wait_as_long_as_they_are_told(service):
    limited(service, requests=3)
    answers = [service.client.get("/v1/sets") for _ in range(4)]
    assert [one.status_code for one in answers] == [200, 200, 200, 429]
    assert answers[0].headers["ratelimit-policy"] == '"requests";q=3;w=60'
    assert answers[0].headers["ratelimit"] == '"requests";r=2;t=60'
    assert answers[3].json()["code"] == "too-many-requests"
    assert 1 <= int(answers[3].headers["retry-after"]) <= 60
    assert answers[3].headers["ratelimit"].startswith('"requests";r=0;t=')
    assert service.client.get("/v1/sets", headers=service.new_key()).status_code == 200  # another key has its own


def test_blocks_have_a_quota_of_their_own(service):
    stream = service.stream()["id"]
    limited(service, requests=2, blocks=3)
    answers = [service.send(stream, imu_block(seq)) for seq in range(5)]
    assert [one.status_code for one in answers] == [200, 200, 200, 429, 429]
    assert answers[1].headers["ratelimit-policy"] == '"blocks";q=3;w=60'
    assert "retry-after" in answers[4].headers


def test_wrong_keys_of_one_address_are_slowed_down_and_good_ones_are_not(service):
    limited(service, wrong_keys=3)
    answers = [service.client.get("/v1/sets", headers=bearer("bw_wrong")) for _ in range(4)]
    assert [one.status_code for one in answers] == [401, 401, 401, 429]
    assert "retry-after" in answers[3].headers
    assert service.client.get("/v1/sets").status_code == 200


def test_the_quotas_are_published(service):
    limits = service.client.get("/v1/limits").json()
    assert (limits["requests_per_window"], limits["blocks_per_window"]) == (60_000, 300_000)
    assert limits["window_seconds"] == 60
