"""Checks of a device on the wire: the whole of it, known motions, the setting up of a string."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field, model_validator

from barwright.analysis.devices.found import HOW_EXPECTED
from barwright.api.shapes.base import Answer, Number, Time, Told, Whole
from barwright.api.shapes.calibration import NoiseAnswer
from barwright.api.shapes.sets import Figure
from barwright.storage.bench import StoredBench

Length = Annotated[Number, Field(gt=0.0, le=100.0)]
Doubt = Annotated[Number, Field(ge=0.0, le=1.0)]


class Here(Told):
    """Where it was: gravity told, or reckoned from latitude and altitude (WGS 84)."""

    gravity_m_s2: Annotated[Number, Field(ge=9.76, le=9.84)] | None = Field(
        default=None, description="Local gravity, m/s2, where it is known."
    )
    latitude_deg: Annotated[Number, Field(ge=-90.0, le=90.0)] | None = Field(
        default=None, description="Geodetic latitude: gravity is then that of the WGS 84 ellipsoid (Somigliana)."
    )
    altitude_m: Annotated[Number, Field(ge=-500.0, le=9000.0)] | None = None
    units: dict[str, str] = Field(
        default_factory=dict, description="UCUM codes of accel and gyro; SI where none is told."
    )


class ClockPair(Told):
    """The device's clock and the server's at one moment, such as a block's last t_us and its `received_at`."""

    t_us: Whole
    at: Time


class CheckMeta(Here):
    """What goes with a recording of a minute on a table and six still poses and more."""

    model_config = ConfigDict(
        json_schema_extra={"examples": [{"units": {"accel": "[g]", "gyro": "deg/s"}, "latitude_deg": 52.5}]}
    )

    clock: Annotated[list[ClockPair], Field(max_length=10_000)] = Field(default_factory=list)


class MotionMeta(Here):
    """A motion of which the result is known beforehand. u_*: standard uncertainties of what was measured by hand.

    drop: height_m. pendulum: length_m from the pivot to the middle of the sensor. two_heights: height_m between them.
    spin: turns counted, radius_m from the axis to the sensor when it is to be checked too.
    """

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [{"motion": "pendulum", "length_m": 0.75, "units": {"accel": "[g]", "gyro": "deg/s"}}]
        }
    )

    motion: Literal["drop", "pendulum", "two_heights", "spin"]
    height_m: Length | None = None
    u_height_m: Doubt = 0.003
    length_m: Length | None = None
    u_length_m: Doubt = 0.003
    turns: Annotated[Number, Field(ge=2.0, le=1000.0)] | None = None
    u_turns: Doubt = 0.02
    radius_m: Length | None = None
    u_radius_m: Doubt = 0.002

    @model_validator(mode="after")
    def _measured(self) -> MotionMeta:
        need = {"drop": "height_m", "two_heights": "height_m", "pendulum": "length_m", "spin": "turns"}[self.motion]
        if getattr(self, need) is None:
            raise ValueError(f"the motion {self.motion} needs `{need}`.")
        return self


class Measured(Told):
    """A length, m, with its standard uncertainty."""

    value: Length
    u: Doubt = 0.002


class PullTold(Told):
    """One measured pull: counts at home, pulled out by `length`, and back home."""

    home: Number = 0.0
    out: Number
    back: Number | None = None
    length: Measured


class OffsetsTold(Told):
    """The string's length at a low and a high place of the bar, and how far apart in height the two are."""

    low: Measured
    high: Measured
    rise: Measured


class StringTold(Told):
    """What was measured of a string. apply: tell the device where its anchor sits."""

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {
                    "pulls": [{"home": 120, "out": 10125, "back": 120, "length": {"value": 2.0, "u": 0.002}}],
                    "apply": True,
                }
            ]
        }
    )

    pulls: Annotated[list[PullTold], Field(min_length=1, max_length=100)]
    offsets: OffsetsTold | None = None
    apply: bool = False


class StreamSeenAnswer(Answer):
    """How samples arrive. lost: share; accel_step (m/s2), gyro_step (rad/s): least step between values. bandwidth_hz:
    where the noise's power falls to half, null where it is flat up to half the rate. starts: of the device.
    """

    samples: int
    length_s: float
    rate_hz: Figure
    nominal_rate_hz: float | None
    jitter_s: float
    lost: float
    longest_hole_s: float
    repeated: int
    starts: int
    accel_step: float
    gyro_step: float
    bandwidth_hz: float | None


class ClockSeenAnswer(Answer):
    """The device's clock against the server's; drift positive when the device's runs fast."""

    drift: Figure
    pairs: int
    span_s: float
    scatter_s: float


class RangeSeenAnswer(Answer):
    """Full scale of one group against what lifts need, SI; full_scale and enough null when it was not told."""

    group: str
    full_scale: float | None
    needed: float
    enough: bool | None


class ExpectedAnswer(Answer):
    """A modelled lift's peak velocity: u is the error to expect."""

    lift: str
    as_is: Figure
    calibrated: Figure


class ChangeAnswer(Answer):
    """What to change, in order: the u of snatch and squat together falls from before to after, m/s."""

    code: str
    before: float
    after: float
    words: str


class LikenessAnswer(Answer):
    """A measured figure beside those of the device classes."""

    figure: str
    unit: str
    value: float | None
    classes: dict[str, float]
    like: str | None


class ConstantsSeenAnswer(Answer):
    """Bias, scale and cross-axis errors of both sensors: true = matrix (measured - bias). turns: between poses."""

    accel: dict[str, dict[str, Figure]]
    gyro: dict[str, dict[str, Figure]]
    attitudes: int
    turns: int


class CheckAnswer(Answer):
    """One check of a device. alike: the class that fits all its figures; classes: the u of a snatch's peak velocity
    that an average sensor of each class would have, m/s. constants: null with the reason in no_constants.
    """

    id: str
    device_id: str
    created_at: datetime
    stream: StreamSeenAnswer
    clock: ClockSeenAnswer | None
    ranges: list[RangeSeenAnswer]
    noise: NoiseAnswer | None
    constants: ConstantsSeenAnswer | None
    no_constants: str | None
    calibrated_before: bool
    expected: list[ExpectedAnswer]
    how_expected: str = HOW_EXPECTED
    changes: list[ChangeAnswer]
    likeness: list[LikenessAnswer]
    alike: str
    declared: str | None
    classes: dict[str, float]
    words: list[str]

    @classmethod
    def of(cls, stored: StoredBench) -> CheckAnswer:
        """From what was stored."""
        found = dict(stored.found)
        sensor = found.pop("sensor")
        found["constants"] = sensor and {
            "accel": sensor["accel"],
            "gyro": sensor["gyro"],
            "attitudes": sensor["spread"]["distinct"],
            "turns": sensor["turns"],
        }
        return cls.model_validate({**_named(stored), **found})


class ComparedAnswer(Answer):
    """verdict: agrees (within 2 u of both together), doubtful (within 3) or differs. off: measured less expected."""

    name: str
    expected: Figure
    measured: Figure
    off: Figure
    verdict: Literal["agrees", "doubtful", "differs"]
    words: str


class MotionAnswer(Answer):
    """A known motion beside what was to be expected."""

    id: str
    device_id: str
    created_at: datetime
    motion: str
    figures: list[ComparedAnswer]
    gravity: Figure
    words: list[str]

    @classmethod
    def of(cls, stored: StoredBench) -> MotionAnswer:
        """From what was stored."""
        return cls.model_validate({**_named(stored), **stored.found})


class StringAnswer(Answer):
    """A string set up. m_per_count: what to multiply counts with in the device, sign and all. slip: lost from home to
    home. anchor_below: of the low bar. agreement: chi-square of the pulls over its freedom; null for one pull.
    """

    id: str
    device_id: str
    created_at: datetime
    counts_per_m: Figure
    m_per_count: Figure
    direction: int
    slip: Figure
    pulls: int
    agreement: float | None
    anchor_offset: Figure
    anchor_below: Figure
    slant: Figure
    words: list[str]

    @classmethod
    def of(cls, stored: StoredBench) -> StringAnswer:
        """From what was stored."""
        return cls.model_validate({**_named(stored), **stored.found})


class CheckPage(Answer):
    """Checks of a device, the newest first."""

    items: list[CheckAnswer]
    next: str | None


class MotionPage(Answer):
    """Known motions of a device, the newest first."""

    items: list[MotionAnswer]
    next: str | None


class StringPage(Answer):
    """How a string was set up, the newest first."""

    items: list[StringAnswer]
    next: str | None


def _named(stored: StoredBench) -> dict[str, Any]:
    return {"id": stored.id, "device_id": stored.device_id, "created_at": stored.created_at}
