"""What is believed of athletes: worked out when something changed, kept, and asked for with few queries."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from sqlalchemy import event, text

from barwright.access.caller import Caller
from barwright.access.scopes import ALL_SCOPES
from barwright.ingest.limits import Limits
from barwright.storage.athletes import AthleteFacts, AthleteStore
from barwright.storage.beliefs import BeliefStore
from barwright.storage.keys import find_or_create_club
from barwright.storage.plans import PlannedSet, PlanStore
from barwright.storage.raw_folder import RawFolder
from barwright.storage.sessions import StorageUnavailableError
from barwright.workflows import refresh_profile as module
from barwright.workflows.check_readiness import catch_up, check_club, check_readiness
from barwright.workflows.import_history import import_history
from barwright.workflows.parts import Parts, utc_now
from barwright.workflows.plan_loads import loads_of_day
from barwright.workflows.refresh_profile import METHOD, METHODS, STEPPED, beliefs_before, fill_efforts, refresh_profile
from stand_in import outcome_of
from training_days import DAY, history


@pytest.fixture
def parts(database, settings):
    return Parts(database, RawFolder(settings.data / "raw"), Limits(), outcome_of)


@pytest.fixture
def caller(parts):
    with parts.database.writing() as session:
        club = find_or_create_club(session, "Quarry Lane Lifting Club", utc_now())
    return Caller(club.id, "key_1", ALL_SCOPES)


def athlete(parts, caller, name, sessions=5):
    with parts.database.writing() as session:
        made = AthleteStore(session, caller.club_id).create(AthleteFacts(name), utc_now()).id
    take(parts, caller, made, history(sessions))
    return made


def take(parts, caller, who, text_of_file):
    import_history(parts, caller, who, text_of_file.encode(), False, None, lambda _: b"{}")


def kept(parts, caller, who, before=date.max):
    with parts.database.reading() as session:
        return BeliefStore(session, caller.club_id, METHODS).before([(who, "snatch")], before)


def count_queries(parts, ask):
    statements = []
    engine = parts.database._engine

    def note(_connection, _cursor, statement, *_more):
        statements.append(statement)

    event.listen(engine, "before_cursor_execute", note)
    try:
        ask()
    finally:
        event.remove(engine, "before_cursor_execute", note)
    return len(statements)


def test_what_was_worked_out_is_kept_with_the_day_it_is_of(parts, caller):
    who = athlete(parts, caller, "Imke")
    last = DAY - timedelta(days=2)
    assert kept(parts, caller, who)[who, "snatch"].until == last
    with parts.database.reading() as session:
        found, new = beliefs_before(session, caller.club_id, [who], DAY)
    assert new == {}
    assert found[who, "snatch"].day == last.toordinal()
    assert found[who, "snatch"].days == 5


def test_what_is_kept_says_the_same_as_what_is_worked_out(parts, caller):
    who = athlete(parts, caller, "Imke")
    with parts.database.reading() as session:
        stored, _ = beliefs_before(session, caller.club_id, [who], DAY)
    with parts.database.writing() as session:
        session.connection().execute(text("DELETE FROM belief"))
    with parts.database.reading() as session:
        fresh, new = beliefs_before(session, caller.club_id, [who], DAY)
    assert fresh == {pair: beliefs[-1] for pair, beliefs in new.items()} == stored


def test_a_change_of_a_day_forgets_what_has_seen_that_day_and_nothing_else(parts, caller):
    who = athlete(parts, caller, "Imke")
    check_readiness(parts, caller, who, DAY - timedelta(days=4))  # keeps what the days before that one say
    earlier = [one.until for one in kept(parts, caller, who, DAY - timedelta(days=3)).values()]
    take(parts, caller, who, f"date,lift,load\n{DAY - timedelta(days=3)},snatch,91\n")
    assert [one.until for one in kept(parts, caller, who, DAY - timedelta(days=3)).values()] == earlier
    take(parts, caller, who, f"date,lift,load\n{DAY - timedelta(days=300)},snatch,91\n")
    with parts.database.reading() as session:
        found, new = beliefs_before(session, caller.club_id, [who], DAY)
    assert (found[who, "snatch"].days, new) == (7, {})


def test_another_method_works_everything_out_anew(parts, caller, monkeypatch):
    who = athlete(parts, caller, "Imke")
    monkeypatch.setattr(module, "METHOD", METHOD + "x")
    monkeypatch.setattr(module, "METHODS", (METHOD + "x",))
    with parts.database.reading() as session:
        _, new = beliefs_before(session, caller.club_id, [who], DAY)
    assert set(new) == {(who, "snatch")}
    refresh_profile(parts, caller.club_id, [who])
    with parts.database.reading() as session:
        methods = session.connection().execute(text("SELECT DISTINCT method FROM belief")).all()
    assert methods == [(METHOD + "x",)]


def test_only_the_newest_few_are_kept(parts, caller):
    """Anchors stay: after each of the first eight days and every eighth; of the others the newest three."""
    who = athlete(parts, caller, "Imke", 30)
    for back in (20, 15, 10, 5, 3):
        refresh_profile(parts, caller.club_id, [who], DAY - timedelta(days=back))
    with parts.database.reading() as session:
        rows = session.connection().execute(text("SELECT method FROM belief")).all()
    assert sorted(method for (method,) in rows) == [METHOD] * 10 + [STEPPED] * 3


def test_what_is_believed_does_not_depend_on_what_was_asked_before(parts, caller):
    who, other = athlete(parts, caller, "Imke", 30), athlete(parts, caller, "Rana", 5)
    days = [DAY - timedelta(days=back) for back in (55, 31, 30, 12, 4, 0)]
    with parts.database.reading() as session:
        kept_so_far = [beliefs_before(session, caller.club_id, [who], day)[0][who, "snatch"] for day in days]
    with parts.database.writing() as session:
        session.connection().execute(text("DELETE FROM belief"))
    with parts.database.reading() as session:
        anew = [beliefs_before(session, caller.club_id, [who, other], day)[0][who, "snatch"] for day in days]
    for one, earlier in zip(anew, kept_so_far, strict=True):
        assert one.mean == pytest.approx(earlier.mean, abs=1e-9)
        assert np.array(one.covariance) == pytest.approx(np.array(earlier.covariance), abs=1e-9)
    assert [one.days for one in anew] == [3, 15, 15, 24, 28, 30]


def test_the_whole_club_takes_as_many_queries_as_one_athlete(parts, caller):
    one = athlete(parts, caller, "Imke", 3)
    check_club(parts, caller, DAY)
    alone = count_queries(parts, lambda: check_club(parts, caller, DAY))
    for number in range(9):
        athlete(parts, caller, f"Lifter {number}", 3)
    check_club(parts, caller, DAY)
    assert count_queries(parts, lambda: check_club(parts, caller, DAY)) == alone <= 10
    assert count_queries(parts, lambda: check_readiness(parts, caller, one, DAY)) <= 10
    assert count_queries(parts, lambda: loads_of_day(parts, caller, one, DAY)) <= 11


def mixed_club(parts, caller):
    """Imke did one of her two lifts on the day; Rana nothing on it, and one of her two only long ago; Jo has a plan."""
    imke, rana, jo = (athlete(parts, caller, name, 6) for name in ("Imke", "Rana", "Jo"))
    for who in (imke, rana, jo):
        before = DAY - timedelta(days=100 if who == rana else 1)
        take(parts, caller, who, history(4, lift="back_squat", before=before))
    take(parts, caller, imke, f"date,lift,load,velocity[m/s],velocity_u[m/s]\n{DAY},back_squat,60,2.1,0.02\n")
    with parts.database.writing() as session:
        PlanStore(session, caller.club_id).add(jo, DAY, (PlannedSet("bench_press", percent=70),), None, utc_now())
    return imke, rana, jo


def test_only_what_is_asked_of_each_athlete_is_looked_up_and_says_the_same(parts, caller):
    imke, rana, jo = mixed_club(parts, caller)
    told = {one.athlete.id: one for one in check_club(parts, caller, DAY).items}
    assert {who: [each.lift for each in one.lifts] for who, one in told.items()} == {
        imke: ["back_squat"],
        rana: ["snatch"],
        jo: ["bench_press"],
    }
    assert told[jo].lifts[0].belief is None
    with parts.database.reading() as session:
        all_of_it, _ = beliefs_before(session, caller.club_id, [imke, rana, jo], DAY)
    assert set(all_of_it) == {(who, lift) for who in (imke, rana, jo) for lift in ("snatch", "back_squat")}
    for who in (imke, rana):
        (lift,) = told[who].lifts
        assert lift.belief == all_of_it[who, lift.lift]
        assert asdict(check_readiness(parts, caller, who, DAY)) == asdict(told[who])


def test_a_start_keeps_also_what_nobody_asks_for_today(parts, caller):
    imke, _, _ = mixed_club(parts, caller)
    with parts.database.writing() as session:
        session.connection().execute(text("DELETE FROM belief"))
    check_club(parts, caller, DAY)
    with parts.database.reading() as session:
        asked = BeliefStore(session, caller.club_id, METHODS).before([(imke, "back_squat"), (imke, "snatch")], DAY)
    assert set(asked) >= {(imke, "back_squat")}
    with parts.database.writing() as session:
        session.connection().execute(text("DELETE FROM belief"))
    catch_up(replace(parts, now=lambda: datetime(2026, 3, 1, 12, tzinfo=UTC)), caller)
    with parts.database.reading() as session:
        asked = BeliefStore(session, caller.club_id, METHODS).before([(imke, "back_squat"), (imke, "snatch")], DAY)
    assert set(asked) == {(imke, "back_squat"), (imke, "snatch")}


def test_a_full_disk_spoils_no_answer(parts, caller, monkeypatch):
    who = athlete(parts, caller, "Imke")
    with parts.database.writing() as session:
        session.connection().execute(text("DELETE FROM belief"))

    def full(*_arguments):
        raise StorageUnavailableError("database or disk is full")

    monkeypatch.setattr(module, "refresh_profile", full)
    assert check_readiness(parts, caller, who, DAY).main is not None
    assert kept(parts, caller, who) == {}


def test_sets_analysed_before_there_were_efforts_are_counted_at_the_next_start(service):
    lift_set = service.closed_set()
    with service.parts.database.writing() as session:
        for table in ("effort", "point", "belief"):
            session.connection().execute(text(f"DELETE FROM {table}"))
    url = f"/v1/athletes/{lift_set['athlete_id']}/profiles/snatch"
    assert service.client.get(url).json()["points"] == []
    assert (fill_efforts(service.parts), fill_efforts(service.parts)) == (1, 0)
    (point,) = service.client.get(url).json()["points"]
    assert (point["set_id"], point["load_kg"], point["on"]) == (lift_set["id"], 60, "2026-03-01")


def test_a_set_that_can_no_longer_be_analysed_is_no_longer_counted(service):
    lift_set = service.closed_set()
    url = f"/v1/athletes/{lift_set['athlete_id']}/profiles/snatch"
    assert len(service.client.get(url).json()["points"]) == 1
    for raw in (service.settings.data / "raw").rglob("*"):
        if raw.is_file():
            raw.write_bytes(b"damaged")
    again = service.client.post(f"/v1/sets/{lift_set['id']}/reanalyse?wait=20").json()
    assert again["state"] == "failed"
    assert service.client.get(url).json()["points"] == []
