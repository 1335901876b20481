"""When nothing can be stored the sender is told to keep its samples; when it can be again, all goes on by itself."""

from __future__ import annotations

import errno
import os
import time

import pytest
from sqlalchemy import event, text

from barwright.workflows.upkeep import Upkeep
from conftest import imu_block

MORE_PAGES = 20


@pytest.fixture
def limit(service):
    """Sets how far the database may grow, as SQLite itself limits it: it then answers as on a full disk."""
    database = service.parts.database
    most = {"pages": 1_000_000}

    @event.listens_for(database._engine, "checkout")
    def limited(connection, _record, _proxy):
        connection.execute(f"PRAGMA max_page_count={most['pages']}")

    def set_limit(more: int | None) -> None:
        with database.reading() as session:
            pages = session.execute(text("PRAGMA page_count")).scalar()
        most["pages"] = 1_000_000 if more is None else pages + more

    return set_limit


@pytest.fixture
def read_only(service):
    """Makes the database read-only, and writable again."""
    told = {"on": 0}

    @event.listens_for(service.parts.database._engine, "checkout")
    def limited(connection, _record, _proxy):
        connection.execute(f"PRAGMA query_only={told['on']}")

    return lambda on: told.update(on=int(on))


@pytest.fixture
def bad_raw(service, monkeypatch):
    """Makes writing raw objects fail with an error of the operating system, and work again."""
    folder, real = service.settings.raw, os.fsync
    told = {"errno": 0}

    def fsync(handle):
        if told["errno"] and os.readlink(f"/proc/self/fd/{handle}").startswith(folder):
            raise OSError(told["errno"], os.strerror(told["errno"]))
        real(handle)

    monkeypatch.setattr(os, "fsync", fsync)
    return lambda number: told.update(errno=number)


def fill(service, stream):
    """Blocks until one is refused: how many were taken, and the refusal."""
    sent = 0
    while (answer := service.send(stream, imu_block(sent, count=500))).status_code == 200:
        sent += 1
        assert sent < 200
    return sent, answer


@pytest.mark.sqlite
def test_a_block_that_cannot_be_stored_is_not_acknowledged_and_may_come_again(service, limit):
    stream = service.stream()["id"]
    limit(MORE_PAGES)
    sent, answer = fill(service, stream)
    assert sent
    assert (answer.status_code, answer.json()["code"]) == (507, "storage-full")
    assert answer.headers["retry-after"].isdecimal()
    assert "send it again" in answer.json()["detail"]
    assert service.client.get("/healthz/live").status_code == 200
    received = service.client.get(f"/v1/streams/{stream}").json()["received"]
    assert [(one["next_seq"], one["samples"]) for one in received] == [(sent, sent * 500)]

    limit(None)
    assert service.send(stream, imu_block(sent, count=500)).json()["stored"] is True
    assert service.send(stream, imu_block(0, count=500)).json()["stored"] is False
    with service.parts.database.reading() as session:
        assert session.execute(text("PRAGMA integrity_check")).scalar() == "ok"


@pytest.mark.sqlite
def test_a_read_only_disk_is_told_and_overcome(service, read_only):
    stream = service.stream()["id"]
    assert service.send(stream, imu_block(0)).status_code == 200
    read_only(True)
    for answer in (service.send(stream, imu_block(1)), service.client.get("/healthz/ready")):
        assert (answer.status_code, answer.json()["code"]) == (503, "not-ready")
        assert answer.headers["retry-after"].isdecimal()
    assert service.client.get(f"/v1/streams/{stream}").status_code == 200
    read_only(False)
    assert service.client.get("/healthz/ready").status_code == 200
    assert service.send(stream, imu_block(1)).json() | {"received_at": ""} == {
        "stored": True,
        "next_seq": 2,
        "missing": [],
        "received_at": "",
    }


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS])
def test_a_set_that_could_not_be_kept_is_finished_by_itself(service, bad_raw, number):
    stream = service.stream()
    for seq in range(2):
        service.send(stream["id"], imu_block(seq))
    bad_raw(number)
    closed = service.client.post(f"/v1/streams/{stream['id']}/close?wait=10")
    assert (closed.status_code, closed.json()["state"]) == (200, "analysing")
    assert service.parts.raw.all() == []

    bad_raw(0)
    clock = [0.0]
    upkeep = Upkeep(service.parts, service.client.app.state.queue, every_s=3600, clock=lambda: clock[0])
    upkeep.once()  # nothing is asked for again before it had its time
    assert "barwright_sets_unfinished 0.0" in service.client.get("/metrics").text.splitlines()
    clock[0] += 3600
    upkeep.once()
    deadline = time.monotonic() + 20
    while (found := service.client.get(f"/v1/sets/{stream['set_id']}").json())["state"] == "analysing":
        assert time.monotonic() < deadline
        time.sleep(0.02)
    upkeep.close()
    assert (found["state"], found["revision"], found["quality"]["samples"]) == ("analysed", 1, 100)


def test_a_full_disk_for_raw_samples_makes_the_service_not_ready(service, monkeypatch):
    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("pathlib.Path.write_bytes", full)
    answer = service.client.get("/healthz/ready")
    assert (answer.status_code, answer.json()["code"]) == (507, "storage-full")
