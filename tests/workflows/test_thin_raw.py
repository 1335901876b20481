"""Raw samples thinned and dropped by a club's settings: what was found stays, and what is lost is said."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from barsim import simulate
from barwright.app import create_app
from barwright.ingest.block import Block, unpack_many
from barwright.storage.streams import StreamStore
from barwright.storage.tables import StreamRow
from barwright.workflows import thin_raw
from barwright.workflows.analysis_job import run_job
from barwright.workflows.parts import utc_now
from barwright.workflows.thin_raw import cut_blocks, thin_what_is_due
from barwright.workflows.verify import verify
from conftest import IMU_COLUMNS, Service, TestClient, imu_block

OLD, NEW = ((utc_now() - timedelta(days=days)).isoformat() for days in (200, 2))


def settle(service, **told):
    assert service.client.patch("/v1/club", json=told).status_code == 200


def noisy(seq: int, count: int = 400) -> dict:
    random = np.random.default_rng(seq)
    return imu_block(seq, count, channels={name: random.normal(size=count).round(3).tolist() for name in IMU_COLUMNS})


def recorded(service, started_at, **more):
    stream = service.stream(started_at=started_at, **more)
    for seq in range(2):
        service.send(stream["id"], noisy(seq))
    closed = service.client.post(f"/v1/streams/{stream['id']}/close?wait=20").json()
    return stream, service.client.get(f"/v1/sets/{closed['set_id']}").json()


def raw_of(service, stream):
    with service.parts.database.reading() as session:
        row = session.get(StreamRow, stream["id"])
        return StreamStore(session, row.club_id).get(stream["id"]).raw


def test_nothing_happens_unless_a_club_says_so(service):
    recorded(service, OLD)
    assert thin_what_is_due(service.parts) == {}
    settle(service, raw_full_days=365)
    assert thin_what_is_due(service.parts) == {}


def test_packed_raw_loses_no_sample_and_is_smaller(service):
    stream, before = recorded(service, OLD)
    young, _ = recorded(service, NEW)
    old, young_raw = raw_of(service, stream), raw_of(service, young)
    as_sent = unpack_many(service.parts.raw.get(old))
    settle(service, raw_full_days=30)
    assert thin_what_is_due(service.parts) == {"packed": 1}
    now = raw_of(service, stream)
    sizes = {one.name: one.size for one in service.parts.raw.all()}
    assert set(sizes) == {now.name, young_raw.name}  # the old object is gone
    for sent, kept in zip(as_sent, unpack_many(service.parts.raw.get(now)), strict=True):
        assert sent.digest() == kept.digest()
    assert verify(service.parts.database, service.parts.raw).wrong == []
    assert service.client.get(f"/v1/sets/{before['id']}").json() == before
    assert thin_what_is_due(service.parts) == {}
    again = service.client.post(f"/v1/sets/{before['id']}/reanalyse?wait=20").json()
    assert again == {**before, "revision": 2, "analysed_at": again["analysed_at"]}
    assert service.send(stream["id"], noisy(0)).json()["stored"] is False


def test_dropped_raw_leaves_the_results_and_says_so(service):
    _, before = recorded(service, OLD)
    settle(service, raw_full_days=30, raw_drop_days=90)
    assert thin_what_is_due(service.parts) == {"dropped": 1}
    assert service.parts.raw.all() == []
    after = service.client.get(f"/v1/sets/{before['id']}").json()
    assert after == {**before, "notes": after["notes"]}
    assert after["notes"][:-1] == before["notes"]
    assert "raw samples were dropped on" in after["notes"][-1]
    for answer in (
        service.client.post(f"/v1/sets/{before['id']}/reanalyse?wait=20"),
        service.client.patch(f"/v1/sets/{before['id']}", json={"lift": "clean"}),
    ):
        assert (answer.status_code, answer.json()["code"]) == (409, "raw-gone")
        assert "cannot be analysed again" in answer.json()["detail"]
    assert service.client.patch(f"/v1/sets/{before['id']}", json={"load_kg": 61}).status_code == 200
    found = verify(service.parts.database, service.parts.raw)
    assert (found.wrong, found.thinned) == ([], 1)
    export = service.client.get(f"/v1/athletes/{before['athlete_id']}/export").json()
    assert export["streams"][0]["blocks"] == []


def test_a_block_that_comes_after_the_drop_changes_no_result(service):
    stream, before = recorded(service, OLD)
    settle(service, raw_drop_days=90)
    thin_what_is_due(service.parts)
    late = service.send(stream["id"], noisy(2))
    assert (late.status_code, late.json()["stored"]) == (200, True)
    service.client.post(f"/v1/streams/{stream['id']}/close?wait=20")
    after = service.client.get(f"/v1/sets/{before['id']}").json()
    assert (after["state"], after["reps"], after["revision"]) == ("analysed", before["reps"], 1)
    assert verify(service.parts.database, service.parts.raw).wrong == []


def test_drop_comes_after_thinning(service):
    bad = service.client.patch("/v1/club", json={"raw_full_days": 90, "raw_drop_days": 30})
    assert (bad.status_code, bad.json()["errors"][0]["pointer"]) == (422, "/raw_drop_days")
    settle(service, raw_drop_days=30)
    assert service.client.patch("/v1/club", json={"raw_full_days": 90}).status_code == 422


def sent_snatch(service, seed, quiet_s):
    """A simulated snatch with a long rest before and after it, sent in blocks of a second."""
    made = simulate("snatch", seed=seed, device="good")
    part = made.recording.parts[0]
    rate = round(1 / float(np.median(np.diff(part.t_s))))
    rest = int(quiet_s * rate)
    columns = {}
    for group, values in (("accel", part.accel_m_s2), ("gyro", part.gyro_rad_s)):
        noise = np.random.default_rng(seed).permutation(np.arange(rest) % 50)
        before, after = values[noise % 50], values[-1 - noise % 50]  # the rests of the recording itself, in other order
        whole = np.concatenate([before, values, after])
        columns |= {f"{group}_{axis}": whole[:, n] for n, axis in enumerate("xyz")}
    t_us = np.arange(len(columns["accel_x"])) * (1_000_000 // rate)
    stream = service.stream(started_at=OLD, units={"accel": "m/s2", "gyro": "rad/s"}, lift="snatch")
    for seq, start in enumerate(range(0, len(t_us), rate)):
        channels = {name: column[start : start + rate].tolist() for name, column in columns.items()}
        sent = {"boot": "b1", "seq": seq, "t_us": t_us[start : start + rate].tolist(), "channels": channels}
        assert service.send(stream["id"], sent).status_code == 200
    closed = service.client.post(f"/v1/streams/{stream['id']}/close?wait=30").json()
    return stream, service.client.get(f"/v1/sets/{closed['set_id']}").json()


@pytest.mark.sqlite
def test_around_the_reps_the_figures_stay(settings, monkeypatch):
    app = create_app(settings, analyse=run_job)
    with TestClient(app) as client:
        service = Service(client, settings, app.state.parts)
        client.headers.update(service.new_key())
        stream, before = sent_snatch(service, 5, 20.0)
        other, _ = sent_snatch(service, 6, 20.0)
        assert len(before["reps"]) == 1, before["quality"]
        settle(service, raw_full_days=30, raw_thinning="around_reps")
        old = raw_of(service, stream)
        size = len(service.parts.raw.get(old))
        real = thin_raw._moved
        far = {other["set_id"]: 0.51}  # as if a figure of the other set had moved too far
        monkeypatch.setattr(thin_raw, "_moved", lambda found, reps: far.get(found.id, real(found, reps)))
        assert thin_what_is_due(service.parts) == {"around_reps": 1, "packed": 1}
        now = raw_of(service, stream)
        assert len(service.parts.raw.get(now)) < 0.6 * size
        after = client.get(f"/v1/sets/{before['id']}").json()
        assert after["reps"] == before["reps"]
        assert "only the raw samples around the reps are kept" in after["notes"][-1]
        again = client.post(f"/v1/sets/{before['id']}/reanalyse?wait=30").json()
        assert again["notes"][-1] == after["notes"][-1]
        for name, was in before["reps"][0]["measures"].items():
            is_now = again["reps"][0]["measures"][name]
            assert (was["value"] is None) == (is_now["value"] is None)
            if was["value"] is not None:
                assert abs(was["value"] - is_now["value"]) <= 0.5 * was["u"], name
        assert verify(service.parts.database, service.parts.raw).wrong == []


def test_samples_are_cut_by_time_and_the_beginning_stays():
    t_us = np.arange(1000, dtype=np.int64) * 10_000
    block = Block("b1", 0, t_us, {"position": np.arange(1000.0)})
    (cut,) = cut_blocks([block], [(4.0, 5.0)])
    assert cut.channels["position"].tolist() == [*range(101), *range(400, 501)]
    assert np.array_equal(cut.t_us, t_us[cut.channels["position"].astype(int)])
    two = [block, replace(block, boot="b2")]
    assert cut_blocks(two, [(4.0, 5.0)]) == two
