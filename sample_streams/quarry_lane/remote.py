"""Oskar lifts at home: his snatches of eight weeks, simulated, with a fault that comes and a drill that mends it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

import numpy as np

from barsim import Options, simulate
from barsim.technique import faulty, own_style
from barwright.access.caller import Caller
from barwright.workflows.analyse_stored_set import analyse_stored_set
from barwright.workflows.begin_stream import StreamRequest
from barwright.workflows.parts import Parts
from barwright.workflows.prescribe import ToldPrescription, prescribe
from barwright.workflows.record_file import SentFile, record_file
from barwright.workflows.review_list import look_at, set_remote
from sample_formats import as_cbor, columns_of

DEVICE = "Oskar's bar sensor"
_UNITS = {"accel": "[g]", "gyro": "deg/s"}
_LOADS = (85.0, 86.0, 87.0)


@dataclass(frozen=True, slots=True)
class HomeDay:
    """One session at home. ago: days before today. size: of the fault, in what a coach would call one; 0 is none."""

    ago: int
    size: float


DAYS = (
    HomeDay(54, 0.0), HomeDay(51, 0.0), HomeDay(47, 0.0), HomeDay(44, 0.0), HomeDay(40, 0.0),
    HomeDay(33, 2.6), HomeDay(29, 2.8),
    HomeDay(22, 2.2), HomeDay(17, 1.5), HomeDay(12, 0.9), HomeDay(7, 0.3), HomeDay(1, 0.0),
)  # fmt: skip
DRILL_GIVEN_AGO = 26
FAULT = "S1"
_LOOKED_AT_BEFORE = 5  # days; what is newer waits for the coach


def send_home_days(
    parts: Parts, caller: Caller, athlete_id: str, today: date, told: Callable[[int, int], None]
) -> None:
    """All of them, analysed; the earlier ones looked at, and the drill given when it was."""
    set_remote(parts, caller, athlete_id, True)
    rng = np.random.default_rng(54)
    style = own_style("snatch", rng)
    seen = []
    given = False
    for place, day in enumerate(DAYS):
        if day.ago < DRILL_GIVEN_AGO and not given:
            on = today - timedelta(days=DRILL_GIVEN_AGO)
            drill = ToldPrescription("snatch", FAULT, "pause_off_floor_snatch", on, reason="seen at home")
            prescribe(parts, caller, athlete_id, drill, None, lambda _: b"")
            given = True
        options = Options(style=style, faults=faulty({FAULT: day.size}) if day.size else faulty({}))
        made = simulate("snatch", rng=rng, reps=2, load_kg=_LOADS[place % 3], lifter="Oskar", options=options)
        at = datetime.combine(today - timedelta(days=day.ago), time(6, 40), UTC)
        request = StreamRequest(
            "snatch",
            _LOADS[place % 3],
            athlete_id=athlete_id,
            device=DEVICE,
            started_at=at,
            units=_UNITS,
            bar_axis="+x",
            device_kind="imu",
        )
        body = as_cbor(columns_of(made.recording, _UNITS), _UNITS)
        set_id = record_file(parts, caller, request, SentFile(body, "home.cbor", "application/cbor"), None)
        analyse_stored_set(parts, caller.club_id, set_id)
        if day.ago > _LOOKED_AT_BEFORE:
            seen.append(set_id)
        told(place + 1, len(DAYS))
    look_at(parts, caller, seen)
