"""Devices that only stream: sets open when the bar moves and close when it has lain still for 20 s."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

import stand_in
from barwright.app import create_app
from barwright.settings import Settings
from barwright.workflows.device_feed import QUIET_S
from barwright.workflows.parts import utc_now
from barwright.workflows.quiet_feeds import close_quiet_feeds
from conftest import IMU_COLUMNS, Service

RATE = 100


@pytest.fixture
def device(service: Service) -> dict[str, Any]:
    answer = service.client.post("/v1/devices", json={"name": "bar 9", "kind": "imu", "mounting": {"bar_axis": "+x"}})
    assert answer.status_code == 201
    return answer.json()


def samples(seconds: float, moving: list[tuple[float, float]]) -> np.ndarray:
    """(n, 6) force and rates at 100 Hz: at rest, and swinging within the spans."""
    t = np.arange(round(seconds * RATE)) / RATE
    values = np.random.default_rng(1).normal(0, 0.02, (len(t), 6))
    values[:, 2] += 9.81
    for a, b in moving:
        inside = (t >= a) & (t < b)
        values[inside, 2] += 6 * np.sin(2 * np.pi * 0.9 * (t[inside] - a))
    return values


def blocks(values: np.ndarray, boot: str = "b1") -> list[dict[str, Any]]:
    size = RATE // 2
    out = []
    for seq, start in enumerate(range(0, len(values), size)):
        columns = values[start : start + size].T.tolist()
        channels = dict(zip(IMU_COLUMNS, columns, strict=True))
        out.append({"boot": boot, "seq": seq, "t0_us": start * 10_000, "dt_us": 10_000, "channels": channels})
    return out


def send(client: TestClient, device: dict[str, Any], some: list[dict[str, Any]]) -> list[dict[str, Any]]:
    answers = [client.post(f"/v1/devices/{device['id']}/blocks", json=block) for block in some]
    assert all(answer.status_code == 200 for answer in answers), answers[-1].text
    return [answer.json() for answer in answers]


TWO_SETS = samples(80.0, [(15.0, 22.0), (52.0, 57.0)])


def test_sets_open_and_close_by_themselves(service: Service, device: dict[str, Any]) -> None:
    athlete = service.client.post("/v1/athletes", json={"name": "Imke"}).json()
    told = {"athlete_id": athlete["id"], "lift": "back_squat", "load_kg": 80, "velocity_loss": 20}
    assert service.client.put(f"/v1/devices/{device['id']}/next", json=told).status_code == 200
    answers = send(service.client, device, blocks(TWO_SETS))
    sets = list(dict.fromkeys(answer["set_id"] for answer in answers if answer["set_id"]))
    assert len(sets) == 2
    assert answers[0]["set_id"] is None
    assert answers[-1]["set_id"] is None
    opened = [n / 2 for n, answer in enumerate(answers) if answer["set_id"] == sets[0]]
    assert 15.0 <= opened[0] <= 16.0
    assert 41.0 <= opened[-1] <= 43.0  # 20 s after it came to rest
    for set_id in sets:
        done = service.client.get(f"/v1/sets/{set_id}").json()
        assert (done["athlete"], done["lift"], done["load_kg"]) == ("Imke", "back_squat", 80)
        assert done["state"] in ("analysing", "analysed")
        stream = service.client.get(f"/v1/streams/{done['stream_id']}").json()
        assert stream["missing"] == []
        assert stream["state"] == "closed"
    first = service.client.get(f"/v1/streams/{service.client.get(f'/v1/sets/{sets[0]}').json()['stream_id']}").json()
    assert first["received"][0]["duration_s"] == pytest.approx(3.0 + 7.0 + 20.0, abs=1.2)


def test_a_device_nobody_spoke_for_still_loses_nothing(service: Service, device: dict[str, Any]) -> None:
    answers = send(service.client, device, blocks(samples(40.0, [(12.0, 15.0)])))
    (set_id,) = {answer["set_id"] for answer in answers} - {None}
    done = service.client.get(f"/v1/sets/{set_id}").json()
    assert (done["athlete"], done["load_kg"]) == ("Not named yet", 0)


def test_sent_twice_or_late_a_block_goes_where_it_belongs(service: Service, device: dict[str, Any]) -> None:
    some = blocks(samples(42.0, [(12.0, 15.0)]))
    late = 26
    answers = send(service.client, device, [block for n, block in enumerate(some) if n != late])
    (set_id,) = {answer["set_id"] for answer in answers} - {None}
    again = send(service.client, device, [some[25], some[late], some[late]])
    assert [answer["stored"] for answer in again] == [False, True, False]
    assert {answer["set_id"] for answer in again} == {set_id}
    stream_id = service.client.get(f"/v1/sets/{set_id}").json()["stream_id"]
    assert service.client.get(f"/v1/streams/{stream_id}").json()["missing"] == []


def test_a_restart_in_mid_set_changes_nothing(settings: Settings) -> None:
    def streams(cut: int | None, boot: str) -> list[float]:
        some, found = blocks(TWO_SETS, boot), []
        for part in [some] if cut is None else [some[:cut], some[cut:]]:
            app = create_app(settings, analyse=stand_in.outcome_of)
            with TestClient(app) as client:
                client.headers.update(Service(client, settings, app.state.parts).new_key())
                known = {one["name"]: one for one in client.get("/v1/devices").json()["items"]}
                made = {"name": boot, "kind": "imu"}
                device = known.get(boot) or client.post("/v1/devices", json=made).json()
                send(client, device, part)
                mine = [one for one in client.get("/v1/streams").json()["items"] if one["device"] == boot]
                ids = [one["id"] for one in mine]
                found = [client.get(f"/v1/streams/{one}").json()["received"][0]["samples"] for one in ids]
        return found

    whole = streams(None, "whole")
    assert len(whole) == 2
    assert streams(36, "mid-set") == whole
    assert streams(20, "before") == whole


def test_idle_blocks_are_not_piled_up(service: Service, device: dict[str, Any]) -> None:
    from barwright.storage.feeds import FeedStore

    send(service.client, device, blocks(samples(60.0, [])))
    with service.parts.database.reading() as session:
        club = service.client.get("/v1/club").json()
        assert club
        kept = FeedStore(session, "", device["id"]).idle("b1")
    assert 18 <= len(kept) <= 22


def test_another_clubs_device_is_not_there(service: Service, device: dict[str, Any]) -> None:
    stranger = service.new_key(club="Somebody else")
    (block, *_) = blocks(samples(1.0, []))
    answer = service.client.post(f"/v1/devices/{device['id']}/blocks", json=block, headers=stranger)
    assert answer.status_code == 404
    told = {"athlete_id": "ath_1", "lift": "snatch", "load_kg": 50}
    assert service.client.put(f"/v1/devices/{device['id']}/next", json=told, headers=stranger).status_code == 404


def test_what_is_lifted_next_has_to_be_known(service: Service, device: dict[str, Any]) -> None:
    athlete = service.client.post("/v1/athletes", json={"name": "Rana"}).json()
    good = {"athlete_id": athlete["id"], "lift": "snatch", "load_kg": 50}
    for change, code in (
        ({"lift": "snach"}, "unknown-lift"),
        ({"athlete_id": "ath_1"}, "not-found"),
        ({"load_kg": 900}, "bad-load"),
    ):
        answer = service.client.put(f"/v1/devices/{device['id']}/next", json={**good, **change})
        assert answer.json()["code"] == code


def test_a_device_that_stops_in_mid_set_leaves_no_set_open(service: Service, device: dict[str, Any]) -> None:
    moving = blocks(samples(40.0, [(15.0, 38.0)]))
    stream_id = send(service.client, device, moving[:44])[-1]["stream_id"]  # the last word comes in mid-motion
    queue = service.client.app.state.queue
    assert close_quiet_feeds(service.parts, queue) == 0  # it has only just spoken

    later = replace(service.parts, now=lambda: utc_now() + timedelta(seconds=QUIET_S + 1))
    assert close_quiet_feeds(later, queue) == 1
    assert close_quiet_feeds(later, queue) == 0
    closed = service.client.post(f"/v1/streams/{stream_id}/close?wait=20").json()
    assert closed["state"] != "open"
    assert service.client.get(f"/v1/streams/{stream_id}").json()["closed_at"] is not None

    again = blocks(samples(30.0, [(15.0, 20.0)]))
    late = [{**one, "seq": 200 + one["seq"], "t0_us": one["t0_us"] + 60_000_000} for one in again]
    ids = [answer["stream_id"] for answer in send(service.client, device, late)]
    assert ids[0] is None  # the bar lies still: no set
    assert stream_id not in ids
    assert len(set(ids) - {None}) == 1  # and its next motion is a set of its own
