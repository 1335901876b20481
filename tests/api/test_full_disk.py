"""When nothing can be stored the sender is told to keep its samples."""

from __future__ import annotations

import pytest
from sqlalchemy import event, text

from conftest import imu_block


@pytest.fixture
def full(service):
    """The database may grow no further (SQLite's own limit, which answers as a full disk does)."""
    database = service.parts.database
    with database.reading() as session:
        pages = session.execute(text("PRAGMA page_count")).scalar()

    @event.listens_for(database._engine, "checkout")
    def limit(connection, _record, _proxy):
        connection.execute(f"PRAGMA max_page_count={pages + 20}")


def test_a_block_that_cannot_be_stored_is_not_acknowledged_and_may_come_again(service, full):
    stream = service.stream()["id"]
    sent = 0
    while (answer := service.send(stream, imu_block(sent, count=500))).status_code == 200:
        sent += 1
        assert sent < 200
    problem = answer.json()
    assert (answer.status_code, problem["code"]) == (503, "not-ready")
    assert answer.headers["retry-after"].isdecimal()
    assert "send it again" in problem["detail"]
    assert service.client.get("/healthz/live").status_code == 200
    assert sent
    received = service.client.get(f"/v1/streams/{stream}").json()["received"]
    assert [(one["next_seq"], one["samples"]) for one in received] == [(sent, sent * 500)]
