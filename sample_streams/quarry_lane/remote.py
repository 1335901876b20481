"""Two of the club lift at home: their snatches, simulated, with a fault that comes and, for one, a drill for it."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

import numpy as np

from barsim import Options, simulate
from barsim.technique import faulty, own_style
from barwright.access.caller import Caller
from barwright.ingest.file_layout import FileLayout
from barwright.workflows.analyse_stored_set import analyse_stored_set
from barwright.workflows.begin_stream import StreamRequest
from barwright.workflows.parts import Parts
from barwright.workflows.prescribe import ToldPrescription, prescribe
from barwright.workflows.record_file import SentFile, record_file
from barwright.workflows.review_list import look_at, set_remote
from quarry_lane.season import lifters
from sample_formats import as_cbor, columns_of

AT_ONCE = 2
_UNITS = {"accel": "[g]", "gyro": "deg/s"}
_LOOKED_AT_BEFORE = 5  # days; what is newer waits for the coach


@dataclass(frozen=True, slots=True)
class AtHome:
    """One lifter's sessions: (days ago, size of the fault in what a coach would call one); 0 is a sound lift.

    drill_ago: when the drill for the fault was given, None when it never was.
    """

    name: str
    load_kg: float
    fault: str
    sessions: tuple[tuple[int, float], ...]
    seed: int
    drill: str = ""
    drill_ago: int | None = None


AT_HOME = (
    AtHome(
        "Oskar", 86.0, "S1",
        ((109, 0.0), (105, 0.0), (102, 0.0), (98, 0.0), (42, 2.8), (36, 2.4), (29, 2.7), (21, 0.7), (15, 0.4), (8, 0.0),
         (1, 0.0)),
        54, "pause_off_floor_snatch", 26,
    ),
    AtHome("Dagny", 56.0, "S9", ((60, 0.0), (54, 0.0), (47, 0.0), (40, 0.0), (3, 2.4), (1, 2.6)), 55),
)  # fmt: skip
SETS = sum(len(one.sessions) for one in AT_HOME)


def send_home_days(
    parts: Parts, caller: Caller, ids: dict[str, str], today: date, told: Callable[[int, int], None]
) -> None:
    """All of them, analysed; the earlier ones looked at, and the drill given when it was. ids: by name."""
    kept = []
    for one in AT_HOME:
        set_remote(parts, caller, ids[one.name], True)
        kept += _record(parts, caller, one, ids[one.name], today)
    with ThreadPoolExecutor(AT_ONCE) as threads:
        done = threads.map(lambda pair: analyse_stored_set(parts, caller.club_id, pair[1]), kept)
        for place, _ in enumerate(done, 1):
            told(place, SETS)
    look_at(parts, caller, [set_id for ago, set_id in kept if ago > _LOOKED_AT_BEFORE])
    for one in AT_HOME:
        if one.drill_ago is not None:
            on = today - timedelta(days=one.drill_ago)
            drill = ToldPrescription("snatch", one.fault, one.drill, on, reason="seen in the hall")
            prescribe(parts, caller, ids[one.name], drill, None, lambda _: b"")


def _record(parts: Parts, caller: Caller, one: AtHome, athlete_id: str, today: date) -> list[tuple[int, str]]:
    rng = np.random.default_rng(one.seed)
    style = own_style("snatch", rng)
    line = next(each for each in lifters() if each.name == one.name).lines[0]
    out = []
    for place, (ago, size) in enumerate(one.sessions):
        load = one.load_kg + (-1.0, 0.0, 1.0)[place % 3]
        peak = line.at_max + line.per_kg * (line.max_kg - load) + float(rng.normal(0, 0.02))
        faults = faulty({one.fault: size} if size else {})
        options = Options(style=style, faults=faults, peak_velocity=peak)
        lifter = one.name if one.name == "Oskar" else "Imke"  # of like stature
        made = simulate("snatch", rng=rng, reps=2, load_kg=load, lifter=lifter, options=options)
        request = StreamRequest(
            "snatch",
            load,
            athlete_id=athlete_id,
            device=f"{one.name}'s bar sensor",
            started_at=datetime.combine(today - timedelta(days=ago), time(6, 40), UTC),
            units=_UNITS,
            bar_axis="+x",
            device_kind="imu",
        )
        sent = SentFile(as_cbor(columns_of(made.recording, _UNITS), _UNITS), "home.cbor", "application/cbor")
        out.append((ago, record_file(parts, caller, request, sent, None, FileLayout())))
    return out
