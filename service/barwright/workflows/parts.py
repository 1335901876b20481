"""What every workflow works with; built once, when the program starts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime

from barwright.ingest.limits import Limits
from barwright.live.follower import Follower, Nobody
from barwright.live.hub import Hub
from barwright.storage.raw_objects import RawObjects
from barwright.storage.sessions import Database
from barwright.workflows.analysis_job import AnalysisJob, Outcome
from barwright.workflows.calibration_job import CalibrationJob, CalibrationOutcome, run_calibration


def utc_now() -> datetime:
    """The time, aware, in UTC."""
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class Parts:
    """analyse, calibrate: run one job and wait for its outcome; in the service they hand it to another process.

    hub: takes events to those who listen. live: is told of every block of an open stream.
    """

    database: Database
    raw: RawObjects
    limits: Limits
    analyse: Callable[[AnalysisJob], Outcome]
    now: Callable[[], datetime] = utc_now
    calibrate: Callable[[CalibrationJob], CalibrationOutcome] = run_calibration
    hub: Hub = field(default_factory=Hub)
    live: Follower = field(default_factory=Nobody)
