"""The club's twelve weeks put into a data folder, by the workflows that the service itself uses."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from pathlib import Path

from barwright.access.caller import Caller
from barwright.access.scopes import ALL_SCOPES
from barwright.ingest.limits import Limits
from barwright.settings import Settings
from barwright.storage.athletes import AthleteFacts
from barwright.storage.plans import PlannedSet
from barwright.storage.raw_folder import RawFolder
from barwright.storage.sessions import Database
from barwright.workflows.analysis_job import AnalysisJob, Outcome, run_job
from barwright.workflows.analyst import Analyst
from barwright.workflows.athletes_and_devices import add_athlete
from barwright.workflows.change_club import read_club
from barwright.workflows.import_history import import_history
from barwright.workflows.parts import Parts
from barwright.workflows.plan_loads import make_plan
from barwright.workflows.sign_in import make_link, sign_in_with_link, who_is_signed_in
from quarry_lane.club import NAME
from quarry_lane.remote import AT_ONCE, SETS, send_home_days
from quarry_lane.season import KNOWN, Lifter, history_of, lifters, plan_of

COACH = "Marit"
_WARMING_UP = 18  # of thirty have done their first sets of the day


def prepare(data: Path, today: date, told: Callable[[int, int], None], quick: bool = False) -> None:
    """Athletes, twelve weeks of sets and maxima, plans, and the days at home. told(done, of all) as it goes.

    quick: only those whose recordings are sent along, and no days at home.
    """
    everybody = lifters()[:KNOWN] if quick else lifters()
    steps = len(everybody) + (0 if quick else SETS)
    analyst = Analyst(AT_ONCE)
    database, parts = _parts(data, analyst)
    caller = coach_of(parts)
    ids = {}
    for place, one in enumerate(everybody):
        ids[one.name] = take_in(parts, caller, one, today, warms_up=KNOWN <= place < KNOWN + _WARMING_UP)
        told(place + 1, steps)
    if not quick:
        analyst.warm()
        send_home_days(parts, caller, ids, today, lambda done, _: told(len(everybody) + done, steps))
    analyst.close()
    database.close()


def prepare_few(data: Path, today: date, names: Sequence[str]) -> None:
    """Only these, with their weeks and plans: enough to try pages with."""
    database, parts = _parts(data, run_job)
    caller = coach_of(parts)
    for one in lifters():
        if one.name in names:
            take_in(parts, caller, one, today, warms_up=one.name != "Imke")
    database.close()


def _parts(data: Path, analyse: Callable[[AnalysisJob], Outcome]) -> tuple[Database, Parts]:
    database = Database(Settings.from_env({}, str(data)).database_url)
    return database, Parts(database, RawFolder(data / "raw"), Limits(), analyse)


def coach_of(parts: Parts) -> Caller:
    """The club's coach, who is added when new."""
    token = sign_in_with_link(parts, make_link(parts.database, NAME, COACH, parts.now()))
    signed_in = None if token is None else who_is_signed_in(parts, token)
    assert signed_in is not None
    assert signed_in.caller.scopes == ALL_SCOPES
    assert read_club(parts, signed_in.caller).name == NAME
    return signed_in.caller


def take_in(parts: Parts, caller: Caller, one: Lifter, today: date, warms_up: bool) -> str:
    """One lifter with everything of theirs; the athlete's id."""
    facts = AthleteFacts(one.name, one.birth_year, one.sex, one.body_mass_kg, one.stature_m, one.level)
    athlete_id = add_athlete(parts, caller, facts, None, lambda athlete: athlete.id.encode()).decode()
    import_history(parts, caller, athlete_id, history_of(one, today, warms_up), False, None, lambda _: b"")
    monday = today - timedelta(days=today.weekday())
    for day in (monday + timedelta(days=n) for n in range(7)):
        planned = plan_of(one, day.weekday(), today.weekday())
        if planned:
            sets = tuple(PlannedSet(lift, percent=share, reps=reps, sets=count) for lift, share, reps, count in planned)
            make_plan(parts, caller, athlete_id, (day, sets, None), None, lambda plan: plan.id.encode())
    return athlete_id
