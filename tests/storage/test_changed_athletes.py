"""The mark of an athlete's changes: another with every change of what readiness is read from, and only then."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from sqlalchemy import text

from barwright.storage.athletes import AthleteFacts, AthleteStore
from barwright.storage.keys import find_or_create_club
from barwright.storage.maxima import MaximumStore, ToldMaximum

NOW = datetime(2026, 3, 1, 17, 30, tzinfo=UTC)
DAY = date(2026, 3, 1)
# A row of each table that readiness is read from, and one member to change.
ROWS = {
    "belief": (
        "athlete_id, lift, until, club_id, method, document", "'imke', 'snatch', '2026-03-01', 'clb', 'm', '{}'",
        "method = 'n'",
    ),
    "maximum": (
        "id, club_id, athlete_id, lift, day, load_kg, source, created_at",
        "'max', 'clb', 'imke', 'snatch', '2026-03-01', 100, 'told', '2026-03-01 17:30:00'", "load_kg = 101",
    ),
    "plan": (
        "id, club_id, athlete_id, day, sets, created_at",
        "'pln', 'clb', 'imke', '2026-03-01', '[]', '2026-03-01 17:30:00'", "note = 'easy'",
    ),
    "point": (
        "athlete_id, lift, day, load_kg, club_id, made, missed, among, luck",
        "'imke', 'snatch', '2026-03-01', 60, 'clb', 1, 0, 1, 0.0", "made = 2",
    ),
}  # fmt: skip


@pytest.fixture
def club(database):
    """A club with two athletes."""
    at = "'2026-03-01 17:30:00'"
    run(
        database,
        f"INSERT INTO club (id, name, created_at) VALUES ('clb', 'Quarry Lane Lifting Club', {at})",
        "INSERT INTO athlete (id, club_id, name, created_at) VALUES "
        f"('imke', 'clb', 'Imke', {at}), ('rana', 'clb', 'Rana', {at})",
    )
    return database


def run(database, *statements):
    with database.writing() as session:
        for one in statements:
            session.connection().execute(text(one))


def marks(database):
    with database.reading() as session:
        return [one.changed for one in AthleteStore(session, "clb").all()]


def test_an_athlete_of_whom_nothing_is_known_has_none(database):
    with database.writing() as session:
        club = find_or_create_club(session, "Quarry Lane Lifting Club", NOW)
        assert AthleteStore(session, club.id).create(AthleteFacts("Imke"), NOW).changed is None


@pytest.mark.parametrize("table", ROWS)
def test_every_row_that_comes_changes_or_goes_is_noticed(club, table):
    columns, values, change = ROWS[table]
    seen = [marks(club)]
    for statement in (
        f"INSERT INTO {table} ({columns}) VALUES ({values})",
        f"UPDATE {table} SET {change}",
        f"DELETE FROM {table}",
    ):
        run(club, statement)
        seen.append(marks(club))
    assert len({imke for imke, _ in seen}) == 4
    assert {rana for _, rana in seen} == {None}


def test_many_rows_at_once_mark_everybody_they_are_of(club):
    columns = ROWS["point"][0]
    rows = [
        f"('{who}', 'snatch', '2026-03-01', {kg}, 'clb', 1, 0, 1, 0.0)" for who in ("imke", "rana") for kg in (60, 70)
    ]
    run(club, f"INSERT INTO point ({columns}) VALUES {', '.join(rows)}")
    first = marks(club)
    run(club, "DELETE FROM point WHERE load_kg = 60")
    second = marks(club)
    assert None not in (*first, *second)
    assert all(before != after for before, after in zip(first, second, strict=True))


def test_what_readiness_is_not_read_from_leaves_the_marks(club):
    run(
        club,
        "INSERT INTO device (id, club_id, name, kind, mounting, ranges, created_at) "
        "VALUES ('dev', 'clb', 'bar 3', 'imu', '{}', '{}', '2026-03-01 17:30:00')",
        "UPDATE club SET name = 'c'",
        "DELETE FROM point",
    )
    assert marks(club) == [None, None]


def test_an_athlete_and_a_club_can_go_with_all_that_is_theirs(club):
    for table, (columns, values, _) in ROWS.items():
        run(club, f"INSERT INTO {table} ({columns}) VALUES ({values})")
    run(club, "DELETE FROM athlete WHERE id = 'imke'")
    assert marks(club) == [None]
    run(club, "DELETE FROM club")
    assert marks(club) == []


def test_the_mark_is_of_the_same_moment_as_the_rows(club):
    """Who began to read before a change sees neither its rows nor its mark."""
    with club.reading() as early:
        imke = AthleteStore(early, "clb").get("imke")
        with club.writing("clb") as session:
            MaximumStore(session, "clb").add("imke", [ToldMaximum("snatch", DAY, 101.0)], "told", NOW)
        early.expire_all()
        assert AthleteStore(early, "clb").get("imke") == imke
        assert MaximumStore(early, "clb").of_athlete("imke") == []
    with club.reading() as late:
        assert AthleteStore(late, "clb").get("imke").changed not in (None, imke.changed)
        assert len(MaximumStore(late, "clb").of_athlete("imke")) == 1


def test_what_was_taken_back_leaves_no_mark(club):
    def half_done():
        with club.writing("clb") as session:
            MaximumStore(session, "clb").add("imke", [ToldMaximum("snatch", DAY, 101.0)], "told", NOW)
            session.flush()
            assert AthleteStore(session, "clb").get("imke").changed is not None
            raise RuntimeError

    with pytest.raises(RuntimeError):
        half_done()
    assert marks(club) == [None, None]
