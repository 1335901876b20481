"""Sets and reps on the wire."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Literal

from pydantic import ConfigDict, Field

from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.reps.results import Rep, SetAnalysis
from barwright.api.shapes.base import Answer
from barwright.storage.sets import StoredRep, StoredSet


class Figure(Answer):
    """A measured figure: u is its standard uncertainty. Both are null when it cannot be had; reason then says why."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"value": 1.82, "u": 0.008, "unit": "m/s"}]})

    value: float | None
    u: float | None
    unit: str = Field(description="UCUM code.")
    reason: str | None = Field(default=None, exclude_if=lambda reason: reason is None)

    @classmethod
    def of(cls, figure: Estimate) -> Figure:
        """From an estimate."""
        return cls(value=figure.value, u=figure.u, unit=figure.unit, reason=figure.reason)


class PhaseAnswer(Answer):
    """One phase; sure (0-1) is how far the bar alone tells its boundaries, start_u_s and stop_u_s how exactly."""

    phase: str
    start_s: float
    stop_s: float
    sure: float
    start_u_s: float | None = Field(description="standard uncertainty of start_s; null where none was worked out")
    stop_u_s: float | None = Field(description="standard uncertainty of stop_s; null where none was worked out")


class RepAnswer(Answer):
    """One rep; times are seconds since the first sample of the stream."""

    index: int
    outcome: str = Field(description="made, failed or partial; as a person corrected it, else as it was analysed")
    analysed_outcome: str = Field(description="what the analysis found, whatever was corrected since")
    excluded: bool = Field(description="a person said not to count this rep")
    correction: str | None = Field(description="why a person corrected it; null when nobody did")
    start_s: float
    stop_s: float
    measures: dict[str, Figure]
    phases: list[PhaseAnswer]
    path_measures: dict[str, Figure]
    notes: list[str]


class QualityAnswer(Answer):
    """How good the samples were. verdict: good, usable, poor or unusable; words: plain sentences."""

    verdict: str
    words: list[str]
    samples: int
    duration_s: float
    rate_hz: float | None
    jitter_s: float | None
    gaps: list[tuple[float, float]] = Field(description="[start_s, stop_s] with no samples in between")
    repeated_samples: int
    clipped_s: float
    rests: list[tuple[float, float]] = Field(description="[start_s, stop_s] where the bar was still")
    accel_noise: float | None = Field(description="m/s2/sqrt(Hz)")
    gyro_noise: float | None = Field(description="rad/s/sqrt(Hz)")
    forward_known: bool
    horizontal: bool


class CorrectionAnswer(Answer):
    """One correction by a person. rep: index, null for the whole set. changes: member -> [before, after]."""

    rep: int | None
    changes: dict[str, list[Any]]
    reason: str
    created_at: datetime


class SetAnswer(Answer):
    """One set. revision counts finished analyses; reason and reason_code say why a set failed."""

    id: str | None
    stream_id: str | None
    athlete_id: str | None
    athlete: str | None
    device_id: str | None
    lift: str
    load_kg: float | None
    started_at: datetime | None
    state: Literal["open", "analysing", "analysed", "failed"]
    revision: int
    analysed_at: datetime | None
    method: str | None
    reason: str | None
    reason_code: str | None
    quality: QualityAnswer | None
    notes: list[str]
    calibration_id: str | None = Field(description="The calibration of the device it was analysed with.")
    reps: list[RepAnswer]
    corrections: list[CorrectionAnswer]

    @classmethod
    def of(cls, one: StoredSet) -> SetAnswer:
        """From the stored set."""
        return cls.model_validate(
            {
                "id": one.id,
                "stream_id": one.stream_id,
                "athlete_id": one.athlete_id,
                "athlete": one.athlete_name,
                "device_id": one.device_id,
                "lift": one.lift,
                "load_kg": one.load_kg,
                "started_at": one.started_at,
                "state": one.state,
                "revision": one.revision,
                "analysed_at": one.analysed_at,
                "method": one.method,
                "reason": one.reason,
                "reason_code": one.reason_code,
                "quality": one.quality,
                "notes": one.notes,
                "calibration_id": one.calibration_id,
                "reps": one.reps,
                "corrections": one.corrections,
            }
        )

    @classmethod
    def of_file(cls, analysis: SetAnalysis, load_kg: float | None) -> SetAnswer:
        """From the analysis of a file that belongs to no stream."""
        return cls(
            id=None,
            stream_id=None,
            athlete_id=None,
            athlete=None,
            device_id=None,
            lift=analysis.lift,
            load_kg=load_kg,
            started_at=None,
            state="analysed",
            revision=1,
            analysed_at=None,
            method=analysis.method,
            reason=None,
            reason_code=None,
            quality=QualityAnswer.model_validate(analysis.quality),
            notes=list(analysis.notes),
            calibration_id=None,
            reps=[RepAnswer.model_validate(_uncorrected(rep)) for rep in analysis.reps],
            corrections=[],
        )


class SetPage(Answer):
    """Sets, the latest first."""

    items: list[SetAnswer]
    next: str | None


def _uncorrected(rep: Rep) -> StoredRep:
    """One fresh from the analysis, as it is kept."""
    return StoredRep(
        index=rep.index,
        outcome=rep.outcome,
        start_s=rep.start_s,
        stop_s=rep.stop_s,
        measures=rep.measures,
        phases=rep.phases,
        path_measures=rep.path_measures,
        notes=rep.notes,
        analysed_outcome=rep.outcome,
    )
