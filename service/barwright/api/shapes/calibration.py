"""Calibrations on the wire."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from pydantic import ConfigDict, Field

from barwright.analysis.poses.found import HOW_GAINED, Figures, SensorFound
from barwright.api.shapes.base import Answer, Number, Told
from barwright.api.shapes.sets import Figure
from barwright.storage.calibrations import StoredCalibration

GRAVITY_WORDS = "Local gravity, m/s2; 9.80665 when it is left out, and the u of scale then allows for not knowing it."
Row = tuple[float, float, float]
Square = tuple[Row, Row, Row]


class CalibrationMeta(Told):
    """What goes with a recording file of still poses."""

    model_config = ConfigDict(
        json_schema_extra={"examples": [{"units": {"accel": "[g]", "gyro": "deg/s"}, "gravity_m_s2": 9.812}]}
    )

    units: dict[str, str] = Field(
        default_factory=dict, description="UCUM codes of accel and gyro; SI where none is told."
    )
    gravity_m_s2: Annotated[Number, Field(ge=9.76, le=9.84)] | None = Field(default=None, description=GRAVITY_WORDS)


class ConstantsAnswer(Answer):
    """Constants of one sensor: true = matrix (measured - bias). scale: the matrix's diagonal less one; cross_axis: its
    other elements, row then column (xy: how much of y goes into x).
    """

    bias: dict[str, Figure]
    scale: dict[str, Figure]
    cross_axis: dict[str, Figure]
    matrix: Square

    @classmethod
    def of(cls, figures: dict[str, Figures], matrix: Square) -> ConstantsAnswer:
        """From the analysis."""
        bias, scale, cross = (
            {name: Figure.of(one) for name, one in figures[member].items()}
            for member in ("bias", "scale", "cross_axis")
        )
        return cls(bias=bias, scale=scale, cross_axis=cross, matrix=matrix)


class PoseAnswer(Answer):
    """One still pose. up: the sensor-frame direction that pointed up. miss: corrected force less gravity, m/s2."""

    start_s: float | None
    stop_s: float | None
    samples: int
    up: Row
    miss: float
    used: bool


class PosesAnswer(Answer):
    """distinct: attitudes more than 20 degrees apart. more_for_*: poses still needed; missing: the most useful ones."""

    found: int
    used: int
    distinct: int
    more_for_bias_and_scale: int
    more_for_cross_axis: int
    missing: list[str]
    each: list[PoseAnswer]


class AgreementAnswer(Answer):
    """Whether the poses agree. probability: of a larger chi-square; widened: the factor put on every u for it."""

    chi_square: float
    degrees_of_freedom: float
    probability: float
    widened: float


class NoiseAnswer(Answer):
    """Of one still pose. density: one-sided white noise per root hertz. instability: flat bottom of the Allan deviation
    over 0.664.
    """

    accel_density: Figure
    accel_instability: Figure
    gyro_density: Figure
    gyro_instability: Figure
    start_s: float
    stop_s: float


class GainAnswer(Answer):
    """What it buys: the same peak velocity with its u before and after."""

    before: Figure
    after: Figure
    how: str


class CalibrationAnswer(Answer):
    """One calibration of a device. turns: between poses, which show the gyroscope's scale and cross-axis errors."""

    id: str
    device_id: str
    created_at: datetime
    gravity_m_s2: float
    gravity_told: bool
    accel: ConstantsAnswer
    gyro: ConstantsAnswer
    turns: int
    poses: PosesAnswer
    agreement: AgreementAnswer
    noise: NoiseAnswer | None
    peak_velocity: GainAnswer
    words: list[str]

    @classmethod
    def of(cls, stored: StoredCalibration) -> CalibrationAnswer:
        """From the stored calibration."""
        found = stored.found
        return cls(
            id=stored.id,
            device_id=stored.device_id,
            created_at=stored.created_at,
            gravity_m_s2=found.calibration.gravity,
            gravity_told=found.gravity_told,
            accel=ConstantsAnswer.of(found.accel, found.calibration.accel_matrix),
            gyro=ConstantsAnswer.of(found.gyro, found.calibration.gyro_matrix),
            turns=found.turns,
            poses=_poses(found),
            agreement=AgreementAnswer(
                chi_square=found.agreement.chi_square,
                degrees_of_freedom=found.agreement.freedom,
                probability=found.agreement.probability,
                widened=found.agreement.widened,
            ),
            noise=_noise(found),
            peak_velocity=GainAnswer(
                before=Figure.of(found.peak_before), after=Figure.of(found.peak_after), how=HOW_GAINED
            ),
            words=list(found.words),
        )


class CalibrationPage(Answer):
    """Calibrations of a device, the newest first."""

    items: list[CalibrationAnswer]
    next: str | None


def _poses(found: SensorFound) -> PosesAnswer:
    spread = found.spread
    return PosesAnswer(
        found=len(found.poses),
        used=sum(pose.used for pose in found.poses),
        distinct=spread.distinct,
        more_for_bias_and_scale=spread.more_for_scale,
        more_for_cross_axis=spread.more_for_cross,
        missing=list(spread.missing),
        each=[
            PoseAnswer(
                start_s=pose.start_s,
                stop_s=pose.stop_s,
                samples=pose.samples,
                up=pose.up,
                miss=pose.miss,
                used=pose.used,
            )
            for pose in found.poses
        ],
    )


def _noise(found: SensorFound) -> NoiseAnswer | None:
    noise = found.noise
    if noise is None:
        return None
    return NoiseAnswer(
        accel_density=Figure.of(noise.accel_density),
        accel_instability=Figure.of(noise.accel_instability),
        gyro_density=Figure.of(noise.gyro_density),
        gyro_instability=Figure.of(noise.gyro_instability),
        start_s=noise.start_s,
        stop_s=noise.stop_s,
    )
