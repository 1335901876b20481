from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import Engine, MetaData, event, insert, inspect, text
from sqlalchemy.exc import IntegrityError, StatementError
from sqlmodel import select

from barwright.storage import (  # noqa: F401 - adds its tables
    bench_tables,
    coach_tables,
    keeping_tables,
    live_tables,
    queue_tables,
    record_tables,
    technique_tables,
    training_tables,
)
from barwright.storage.blocks import BlockStore, BootSpan
from barwright.storage.devices import DeviceFacts, facts_as_json
from barwright.storage.engine import make_engine
from barwright.storage.keys import NewKeyFacts, find_or_create_club, store_key
from barwright.storage.migrate import migrate
from barwright.storage.sessions import Database
from barwright.storage.sets import SetStore
from barwright.storage.streams import StreamStore
from barwright.storage.tables import METADATA, ClubRow

NOW = datetime(2026, 3, 1, 17, 30, tzinfo=UTC)


def not_of_the_queue(name, kind, _parents):
    return kind != "table" or not name.startswith(queue_tables.PREFIX)


def test_the_migrations_make_exactly_the_tables_of_the_code(settings):
    engine = make_engine(settings.database_url)
    with engine.connect() as connection:
        opts = {"compare_type": True, "render_as_batch": True, "include_name": not_of_the_queue}
        context = MigrationContext.configure(connection, opts=opts)
        assert compare_metadata(context, METADATA) == []
    engine.dispose()


def test_migrating_twice_changes_nothing(settings):
    migrate(settings.database_url)
    engine = make_engine(settings.database_url)
    tables = {name for name in inspect(engine).get_table_names() if not_of_the_queue(name, "table", {})}
    engine.dispose()
    assert tables == {*METADATA.tables, "alembic_version"}


@pytest.mark.sqlite
def test_commits_are_durable_and_keys_are_checked(settings):
    with make_engine(settings.database_url).connect() as connection:
        pragmas = {
            name: connection.execute(text(f"PRAGMA {name}")).scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout", "secure_delete")
        }
    assert pragmas["journal_mode"] == "wal"
    assert pragmas["synchronous"] == 2  # FULL
    assert pragmas["foreign_keys"] == 1
    assert pragmas["busy_timeout"] >= 5000
    assert pragmas["secure_delete"] == 1


def test_writing_keeps_all_or_nothing(database):
    def half_done():
        with database.writing() as session:
            find_or_create_club(session, "Quarry Lane Lifting Club", NOW)
            raise RuntimeError

    with pytest.raises(RuntimeError):
        half_done()
    with database.reading() as session:
        assert session.exec(select(ClubRow)).all() == []
    with database.writing() as session:
        find_or_create_club(session, "Quarry Lane Lifting Club", NOW)
    with database.reading() as session:
        assert [club.name for club in session.exec(select(ClubRow))] == ["Quarry Lane Lifting Club"]


def test_what_a_reading_session_does_is_not_kept(database):
    with database.reading() as session:
        session.add(ClubRow(id="clb_1", name="a", created_at=NOW))
        session.flush()
    with database.reading() as session:
        assert session.exec(select(ClubRow)).all() == []


def test_a_reader_keeps_its_view_while_another_writes(database):
    with database.reading() as before:
        assert before.exec(select(ClubRow)).all() == []
        with database.writing() as session:
            find_or_create_club(session, "a", NOW)
        assert before.exec(select(ClubRow)).all() == []


def test_a_club_of_the_same_name_is_the_same_club(database):
    with database.writing() as session:
        first = find_or_create_club(session, "a", NOW)
        assert find_or_create_club(session, "a", NOW) == first
        assert find_or_create_club(session, "b", NOW) != first


def test_a_key_needs_its_club(database):
    with pytest.raises(IntegrityError), database.writing() as session:
        store_key(session, "clb_none", "d", NewKeyFacts(frozenset()), NOW)


def test_a_time_comes_back_in_utc_and_one_without_zone_is_refused(database):
    east = datetime(2026, 3, 1, 19, 30, tzinfo=timezone(timedelta(hours=2)))
    with database.writing() as session:
        session.add(ClubRow(id="clb_1", name="a", created_at=east))
    with database.reading() as session:
        stored = session.exec(select(ClubRow)).one().created_at
    assert stored == NOW
    assert stored.utcoffset() == timedelta(0)
    with pytest.raises(StatementError, match="without zone"), database.writing() as session:
        session.add(ClubRow(id="clb_2", name="b", created_at=datetime(2026, 3, 1)))


@pytest.mark.sqlite
def test_the_check_notices_a_database_that_cannot_be_written(database, settings):
    database.check(NOW)
    database.check(NOW)
    other = sqlite3.connect(settings.data / "barwright.db")
    other.execute("DROP TABLE heartbeat")
    other.commit()
    other.close()
    with pytest.raises(Exception, match="heartbeat"):
        database.check(NOW)


@pytest.mark.sqlite
def test_a_writer_waits_for_another_process(settings, database):
    other = sqlite3.connect(settings.data / "barwright.db", isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")
    import threading

    threading.Timer(0.3, lambda: other.execute("COMMIT")).start()
    with Database(settings.database_url).writing() as session:
        find_or_create_club(session, "a", NOW)


def test_blocks_of_an_older_database_are_counted_per_device_start(tmp_path):
    url = f"sqlite:///{tmp_path / 'old.db'}"
    migrate(url, "2026_11_25_first_tables")
    engine = make_engine(url)
    old = MetaData()
    old.reflect(engine)  # the tables of today's code are not those of then
    facts = facts_as_json(DeviceFacts("bar", "imu"))
    at = NOW.replace(tzinfo=None)
    told = {"lift": "snatch", "load_kg": 60.0, "started_at": at, "notes": []}
    owned = {"club_id": "clb_1", "athlete_id": "ath_1", "device_id": "dev_1"}
    with engine.begin() as connection:
        for table, row in (
            ("club", {"id": "clb_1", "name": "Quarry Lane Lifting Club", "created_at": at}),
            ("athlete", {"id": "ath_1", "club_id": "clb_1", "name": "Imke", "created_at": at}),
            ("device", {"id": "dev_1", "club_id": "clb_1", **facts, "created_at": at}),
            ("stream", {"id": "str_1", **owned, **told, "units": {}, "setup": facts, "created_at": at}),
            ("lift_set", {"id": "set_1", "stream_id": "str_1", **owned, **told, "state": "open", "revision": 0}),
        ):
            connection.execute(insert(old.tables[table]).values(row))
        for boot, seq, samples, first, last in (("b", 0, 5, 10, 20), ("a", 3, 7, 1, 2), ("b", 2, 5, 30, 40)):
            row = {"boot": boot, "seq": seq, "samples": samples, "first_us": first, "last_us": last}
            row |= {"stream_id": "str_1", "digest": "d", "received_at": at}
            connection.execute(insert(old.tables["block"]).values(row))
    engine.dispose()
    migrate(url)
    with Database(url).reading() as session:
        stream = StreamStore(session, "clb_1").get("str_1")
        spans = BlockStore(session, stream).spans()
        assert spans == [BootSpan("b", 2, 10, 10, 40, 2), BootSpan("a", 1, 7, 1, 2, 3)]
        assert BlockStore(session, stream).missing(spans[0]) == (3, [[1, 1]])
        assert SetStore(session, "clb_1").get("set_1").calibration_id is None


def test_a_new_database_is_made_in_one_commit(tmp_path):
    # several processes may start on an empty folder at once; none may find it half made
    commits = []

    def note(connection):
        commits.append(connection)

    event.listen(Engine, "commit", note)
    try:
        migrate(f"sqlite:///{tmp_path / 'new.db'}")
    finally:
        event.remove(Engine, "commit", note)
    assert len(commits) == 1


def test_documents_come_back_as_they_were_written(settings):
    """Every bit of every number, and whatever text JSON can hold."""
    random = np.random.default_rng(7)
    numbers = [float(one) for one in random.normal(size=500) * 10.0 ** random.integers(-300, 300, 500)]
    numbers += [5e-324, 1.7976931348623157e308, -0.0, 0.1 + 0.2, 2**63, -(2**70), 0, True, None]
    for told in (numbers, {"a": {"b": [[], {}]}, "": "\u00e4\U0001f3cb"}, {"half": "\ud800"}, "text", 1.5):
        engine = make_engine(settings.database_url)
        with engine.begin() as connection:
            club = {"id": "club_1", "name": "Quarry Lane Lifting Club", "created_at": NOW}
            connection.execute(insert(METADATA.tables["club"]), club)
            table = METADATA.tables["club_settings"]
            connection.execute(insert(table), {"club_id": "club_1", "settings": told, "changed_at": NOW})
            back = connection.execute(select(table.c.settings)).scalar_one()
            connection.rollback()
        engine.dispose()
        assert (back, str(back)) == (told, str(told))
