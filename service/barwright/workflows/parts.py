"""What every workflow works with; built once, when the program starts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime

from barwright.access.key_uses import KeyUses
from barwright.access.rates import Rates
from barwright.access.recent_callers import RecentCallers
from barwright.ingest.limits import Limits
from barwright.live.follower import Follower, Nobody
from barwright.live.hub import Hub
from barwright.storage.raw_objects import RawObjects
from barwright.storage.sessions import Database
from barwright.storage.stream_forms import StreamForms
from barwright.workflows.analysis_job import AnalysisJob, Outcome
from barwright.workflows.bench_job import BenchJob, BenchOutcome, run_bench
from barwright.workflows.calibration_job import CalibrationJob, CalibrationOutcome, run_calibration
from barwright.workflows.commit_blocks import BlockWriter
from barwright.workflows.recent_days import RecentDays
from barwright.workflows.room import Room
from barwright.workflows.watch import Watch


def utc_now() -> datetime:
    """The time, aware, in UTC."""
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class Parts:
    """analyse, calibrate, bench: run one job and wait for its outcome; in the service they hand it to another process.

    hub: takes events to those who listen. live: is told of every block of an open stream. writer: keeps blocks that
    come at the same time together; without it each is kept by itself. forms, callers, days: what was asked lately.
    rates: how much a key may ask for. uses: of keys. watch: is told what happens, for metrics. room: on the disk.
    """

    database: Database
    raw: RawObjects
    limits: Limits
    analyse: Callable[[AnalysisJob], Outcome]
    now: Callable[[], datetime] = utc_now
    calibrate: Callable[[CalibrationJob], CalibrationOutcome] = run_calibration
    bench: Callable[[BenchJob], BenchOutcome] = run_bench
    hub: Hub = field(default_factory=Hub)
    live: Follower = field(default_factory=Nobody)
    writer: BlockWriter | None = None
    forms: StreamForms = field(default_factory=StreamForms)
    callers: RecentCallers = field(default_factory=RecentCallers)
    days: RecentDays = field(default_factory=RecentDays)
    rates: Rates = field(default_factory=Rates)
    uses: KeyUses = field(default_factory=KeyUses)
    watch: Watch = field(default_factory=Watch)
    room: Room = field(default_factory=Room)
