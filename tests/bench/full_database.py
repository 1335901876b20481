"""A club with 100,000 sets, straight into the tables; and the same club many times over."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from sqlalchemy import Table, insert

from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.reps.results import Phase, Quality
from barwright.storage.devices import DeviceFacts, facts_as_json
from barwright.storage.engine import make_engine
from barwright.storage.keys import find_or_create_club
from barwright.storage.sessions import Database
from barwright.storage.tables import METADATA

ATHLETES, SETS_EACH, REPS_EACH = 100, 1000, 5
LIFTS_HELD = ("snatch", "clean_and_jerk", "back_squat", "front_squat", "bench_press")
FIGURES = ("peak_velocity", "mean_velocity", "mean_propulsive_velocity", "range_of_motion", "peak_height")
QUALITY = asdict(Quality("good", ("All is well.",), 4000, 20.0, 200.0, 0.0, rests=((0.0, 1.0), (19.0, 20.0))))
DEVICE = facts_as_json(DeviceFacts("bar", "imu"))
TABLES = ("club", "athlete", "device", "stream", "lift_set", "rep", "effort", "point")
_IDS = {"id", "club_id", "athlete_id", "device_id", "stream_id", "set_id", "name"}

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class OneSet:
    """What differs from set to set."""

    number: int
    athlete: int
    lift: str
    load_kg: float
    at: datetime
    velocity: float


def sets() -> Iterator[OneSet]:
    """Four sets a day at rising loads, one lift a day, the last of them yesterday: today nobody has lifted yet."""
    last = datetime.now(UTC).replace(hour=0, minute=40, second=0, microsecond=0) - timedelta(days=1)
    rng = np.random.default_rng(1)
    for athlete in range(ATHLETES):
        best = rng.uniform(60, 160)
        for n in range(SETS_EACH):
            day, place = divmod(n, 4)
            at = last - timedelta(days=SETS_EACH // 4 - 1 - day, minutes=10 * (3 - place), milliseconds=athlete)
            share = 0.6 + 0.1 * place
            velocity = float(0.3 + 1.5 * (1 - share) + rng.normal(0, 0.03))
            yield OneSet(
                athlete * SETS_EACH + n, athlete, LIFTS_HELD[day % 5], float(round(best * share)), at, velocity
            )


def fill(url: str, club: str) -> None:
    """The club of this name, with everything."""
    database = Database(url)
    with database.writing() as session:
        club_id = find_or_create_club(session, club, datetime.now(UTC)).id
    database.close()
    engine = make_engine(url)
    with engine.connect() as connection:
        for name, rows in _rows(club_id).items():
            _copy(connection, METADATA.tables[name], rows)
            connection.commit()
    engine.dispose()


def clone_statement(table: str, number: int) -> str:
    """The first club's rows of a table once more under other ids, within the server."""
    columns = [column.name for column in METADATA.tables[table].columns]
    picked = [f"\"{one}\" || '~{number}'" if one in _IDS else f'"{one}"' for one in columns]
    key = {"rep": "set_id", "point": "athlete_id"}.get(table, "id")
    into = ", ".join(f'"{one}"' for one in columns)
    return f"INSERT INTO {table} ({into}) SELECT {', '.join(picked)} FROM {table} WHERE {key} NOT LIKE '%~%'"


def _rows(club_id: str) -> dict[str, Iterable[Row]]:
    kept = {"club_id": club_id, "created_at": datetime.now(UTC)}

    def each(row: Callable[[OneSet], Row]) -> Iterator[Row]:
        return ({"club_id": club_id, **row(one)} for one in sets())

    return {
        "athlete": ({"id": f"ath_{n}", "name": f"Athlete {n:03d}", **kept} for n in range(ATHLETES)),
        "device": [{"id": "dev_0", **DEVICE, **kept}],
        "stream": each(_stream),
        "lift_set": each(_lift_set),
        "rep": (_rep(one, index) for one in sets() for index in range(REPS_EACH)),
        "effort": each(_effort),
        "point": each(_point),
    }


def _begun(one: OneSet) -> Row:
    return {
        "athlete_id": f"ath_{one.athlete}",
        "device_id": "dev_0",
        "lift": one.lift,
        "load_kg": one.load_kg,
        "started_at": one.at,
        "notes": [],
    }


def _stream(one: OneSet) -> Row:
    told = {"units": {}, "setup": DEVICE, "created_at": one.at, "closed_at": one.at}
    return {"id": f"str_{one.number}", **_begun(one), **told}


def _lift_set(one: OneSet) -> Row:
    state = {
        "state": "analysed",
        "asked": 1,
        "revision": 1,
        "method": "bench",
        "quality": QUALITY,
        "analysed_at": one.at,
    }
    return {"id": f"set_{one.number}", "stream_id": f"str_{one.number}", **_begun(one), **state}


def _rep(one: OneSet, index: int) -> Row:
    return {
        "set_id": f"set_{one.number}",
        "index": index,
        "outcome": "made",
        "start_s": 3.0 * index,
        "stop_s": 3.0 * index + 2.0,
        "measures": {name: asdict(Estimate(one.velocity, 0.01, "m/s")) for name in FIGURES},
        "phases": [asdict(Phase(name, 1.0, 1.5, 0.9)) for name in ("lowering", "lifting")],
        "path_measures": {},
        "notes": [],
        "path": bytes(64),
    }


def _lifted(one: OneSet) -> Row:
    return {
        "athlete_id": f"ath_{one.athlete}",
        "lift": one.lift,
        "day": one.at.date(),
        "load_kg": one.load_kg,
        "made": REPS_EACH,
        "missed": 0,
        "velocity": one.velocity,
        "u": 0.01,
    }


def _effort(one: OneSet) -> Row:
    reps = [["made", one.velocity, 0.01]] * REPS_EACH
    return {
        "id": f"eff_{one.number}",
        "at": one.at,
        "set_id": f"set_{one.number}",
        "rep": 0,
        "reps": reps,
        **_lifted(one),
    }


def _point(one: OneSet) -> Row:
    return {**_lifted(one), "among": REPS_EACH, "luck": 0.0}


def _copy(connection: Any, table: Table, rows: Iterable[Row]) -> None:
    if connection.dialect.name == "sqlite":
        connection.execute(insert(table), list(rows))
        return
    names = [column.name for column in table.columns]
    usual = {one.name: one.default.arg for one in table.columns if one.default is not None}  # type: ignore[attr-defined]
    quoted = ", ".join(f'"{name}"' for name in names)
    driver = connection.connection.dbapi_connection
    with driver.cursor() as cursor, cursor.copy(f"COPY {table.name} ({quoted}) FROM STDIN") as copy:
        for row in rows:
            copy.write_row([_plain(row.get(name, usual.get(name))) for name in names])
    driver.commit()


def _plain(value: Any) -> Any:
    if isinstance(value, dict | list):
        return json.dumps(value)
    return value.replace(tzinfo=None) if isinstance(value, datetime) else value
