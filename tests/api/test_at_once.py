"""Many requests at the same time."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

from conftest import STREAM, imu_block


def at_once(calls):
    with ThreadPoolExecutor(len(calls)) as pool:
        return [future.result() for future in [pool.submit(call) for call in calls]]


def test_the_same_block_many_times_is_stored_once(service):
    stream = service.stream()["id"]
    answers = at_once([lambda seq=seq: service.send(stream, imu_block(seq)) for seq in range(4) for _ in range(4)])
    assert [answer.status_code for answer in answers] == [200] * 16
    assert sum(answer.json()["stored"] for answer in answers) == 4
    assert service.client.get(f"/v1/streams/{stream}").json()["received"][0]["samples"] == 200


def test_a_new_name_sent_by_many_is_one_athlete(service):
    answers = at_once([lambda: service.client.post("/v1/streams", json=STREAM)] * 8)
    assert [answer.status_code for answer in answers] == [201] * 8
    assert len({answer.json()["athlete_id"] for answer in answers}) == 1
    assert len(service.client.get("/v1/athletes").json()["items"]) == 1
    assert len({answer.json()["id"] for answer in answers}) == 8


def test_one_retry_key_used_by_many_at_once_creates_one_thing(service):
    headers = {"Idempotency-Key": '"all at once"'}
    answers = at_once([lambda: service.client.post("/v1/streams", json=STREAM, headers=headers)] * 8)
    assert len({answer.content for answer in answers}) == 1
    assert len(service.client.get("/v1/streams").json()["items"]) == 1


def test_closing_many_times_at_once_is_one_analysis(service):
    stream = service.stream()["id"]
    service.send(stream, imu_block(0))
    answers = at_once([lambda: service.client.post(f"/v1/streams/{stream}/close?wait=20")] * 6)
    assert {(answer.json()["state"], answer.json()["revision"]) for answer in answers} == {("analysed", 1)}


def test_blocks_that_come_while_the_stream_is_closed_are_all_in_the_set(service):
    stream = service.stream()["id"]
    service.send(stream, imu_block(0))
    calls = [lambda seq=seq: service.send(stream, imu_block(seq)) for seq in range(1, 9)]
    close = [lambda: service.client.post(f"/v1/streams/{stream}/close?wait=20")]
    at_once(calls[:4] + close + calls[4:])
    closed = service.client.post(f"/v1/streams/{stream}/close?wait=20").json()
    assert (closed["state"], closed["missing"]) == ("analysed", [])
    assert service.client.get(f"/v1/sets/{closed['set_id']}").json()["quality"]["samples"] == 450
