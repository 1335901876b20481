"""Raw samples: durable, packed once per closed stream, and never lost on the way."""

from __future__ import annotations

import pytest
from sqlmodel import func, select

import stand_in
from barwright.ingest.block import unpack_many
from barwright.storage.raw_folder import RawFolder
from barwright.storage.streams import StreamStore
from barwright.storage.tables import BlockBodyRow, BlockRow
from barwright.workflows.analyse_stored_set import analyse_stored_set
from barwright.workflows.close_stream import finish_what_was_left
from barwright.workflows.manage_keys import who_calls
from barwright.workflows.set_queue import SetQueue
from conftest import imu_block


def club_of(service):
    return who_calls(
        service.parts.database, service.client.headers["Authorization"].removeprefix("Bearer "), service.parts.now()
    ).club_id


def counts(service):
    with service.parts.database.reading() as session:
        return (
            session.exec(select(func.count()).select_from(BlockRow)).one(),
            session.exec(select(func.count()).select_from(BlockBodyRow)).one(),
        )


def stored_stream(service, stream_id):
    with service.parts.database.reading() as session:
        return StreamStore(session, club_of(service)).get(stream_id)


def seqs_in_object(service, stream_id):
    stream = stored_stream(service, stream_id)
    return [block.seq for block in unpack_many(service.parts.raw.get(stream.raw))]


def test_a_closed_stream_is_one_object_and_its_rows_are_light(service):
    stream = service.stream()["id"]
    for seq in (0, 2, 1):
        service.send(stream, imu_block(seq))
    assert counts(service) == (3, 3)
    assert stored_stream(service, stream).raw is None
    service.client.post(f"/v1/streams/{stream}/close?wait=20")
    assert counts(service) == (3, 0)
    assert seqs_in_object(service, stream) == [0, 1, 2]


def test_late_blocks_are_packed_too_and_the_old_object_goes(service):
    stream = service.stream()["id"]
    service.send(stream, imu_block(0))
    service.client.post(f"/v1/streams/{stream}/close?wait=20")
    before = stored_stream(service, stream).raw
    service.send(stream, imu_block(1))
    service.client.post(f"/v1/streams/{stream}/close?wait=20")
    after = stored_stream(service, stream).raw
    assert after != before
    assert seqs_in_object(service, stream) == [0, 1]
    assert [path.name for path in (service.settings.data / "raw").iterdir()] == [after.name]


def test_a_crash_between_object_and_rows_loses_nothing(service, monkeypatch):
    stream = service.stream()["id"]
    service.send(stream, imu_block(0))
    service.send(stream, imu_block(1))

    def power_cut(*_):
        raise KeyboardInterrupt

    put = RawFolder.put
    monkeypatch.setattr(RawFolder, "put", lambda self, *told: (put(self, *told), power_cut()))
    club, set_id = club_of(service), stored_stream(service, stream).set_id
    with pytest.raises(KeyboardInterrupt):
        analyse_stored_set(service.parts, club, set_id)
    monkeypatch.undo()
    assert counts(service) == (2, 2)
    assert len(list((service.settings.data / "raw").iterdir())) == 1
    queue = SetQueue(lambda *_: None, 1)
    assert finish_what_was_left(service.parts, queue) == 0
    queue.close()
    assert list((service.settings.data / "raw").iterdir()) == []
    service.client.post(f"/v1/streams/{stream}/close?wait=20")
    assert seqs_in_object(service, stream) == [0, 1]


def test_a_block_that_comes_during_the_analysis_is_not_forgotten(service):
    stream = service.stream()["id"]
    service.send(stream, imu_block(0))
    runs = []

    def analyse(job):
        if not runs:
            assert service.send(stream, imu_block(1)).json()["stored"]
        runs.append(sum(len(block.t_us) for stored in job.stored for block in unpack_many(stored)))
        return stand_in.outcome_of(job)

    object.__setattr__(service.parts, "analyse", analyse)
    closed = service.client.post(f"/v1/streams/{stream}/close?wait=20").json()
    again = service.client.post(f"/v1/streams/{stream}/close?wait=20").json()
    assert again["state"] == "analysed"
    assert runs == [50, 100]
    assert service.client.get(f"/v1/sets/{closed['set_id']}").json()["quality"]["samples"] == 100
    assert seqs_in_object(service, stream) == [0, 1]


def test_an_athlete_erased_during_the_analysis_stays_erased(service):
    stream = service.stream()
    service.send(stream["id"], imu_block(0))

    def analyse(job):
        assert service.client.delete(f"/v1/athletes/{stream['athlete_id']}").status_code == 200
        return stand_in.outcome_of(job)

    object.__setattr__(service.parts, "analyse", analyse)
    service.client.post(f"/v1/streams/{stream['id']}/close?wait=20")
    assert service.client.get("/v1/sets").json()["items"] == []
    assert counts(service) == (0, 0)
    assert list((service.settings.data / "raw").iterdir()) == []


def test_damaged_raw_samples_fail_the_set_and_say_so(service):
    lift_set = service.closed_set()
    (path,) = (service.settings.data / "raw").iterdir()
    good = path.read_bytes()
    path.write_bytes(good[:-1])
    failed = service.client.post(f"/v1/sets/{lift_set['id']}/reanalyse?wait=20").json()
    assert (failed["state"], failed["reason_code"]) == ("failed", "raw-damaged")
    path.write_bytes(good)
    mended = service.client.post(f"/v1/sets/{lift_set['id']}/reanalyse?wait=20").json()
    assert (mended["state"], mended["revision"]) == ("analysed", 3)
    assert mended["reps"] == lift_set["reps"]
