"""What a device check answers."""

from __future__ import annotations

from dataclasses import dataclass

from barwright.analysis.poses.found import Noise, SensorFound
from barwright.analysis.quantities.estimate import Estimate

HOW_EXPECTED = (
    "u is the root mean square error to expect of a peak velocity: the covariance of the fit between rests on a "
    "modelled lift, with the noise, bias, scale and cross-axis errors measured here, over how the sensor may lie about "
    "the bar (docs/device_check.md). As it is: analysed without a new calibration. Calibrated: with the constants "
    "found in these poses and an allowance for drift until the day of the set."
)


@dataclass(frozen=True, slots=True)
class StreamSeen:
    """How samples arrive. jitter_s: rms of the stamps; lost: share; accel_step, gyro_step: least step between values,
    SI. bandwidth_hz: where the noise's power falls to half; None where it is flat up to half the rate.
    """

    samples: int
    length_s: float
    rate_hz: Estimate
    nominal_rate_hz: float | None
    jitter_s: float
    lost: float
    longest_hole_s: float
    repeated: int
    starts: int
    accel_step: float
    gyro_step: float
    bandwidth_hz: float | None


@dataclass(frozen=True, slots=True)
class ClockSeen:
    """The device's clock against the server's. drift: parts in a million, positive when the device's runs fast.

    scatter_s: rms of the pairs about the line, mostly the network.
    """

    drift: Estimate
    pairs: int
    span_s: float
    scatter_s: float


@dataclass(frozen=True, slots=True)
class RangeSeen:
    """One group's full scale against what lifts need, SI. full_scale None when it was not told."""

    group: str
    full_scale: float | None
    needed: float
    enough: bool | None


@dataclass(frozen=True, slots=True)
class ExpectedError:
    """A modelled lift's peak velocity with the u to expect, as it is and calibrated."""

    lift: str
    as_is: Estimate
    calibrated: Estimate


@dataclass(frozen=True, slots=True)
class Change:
    """One thing to change, after those listed before it: u of the snatch and the squat together falls from `before` to
    `after`, m/s.
    """

    code: str
    before: float
    after: float
    words: str


@dataclass(frozen=True, slots=True)
class Likeness:
    """One figure beside those of the device classes. like: the class whose figure is nearest by ratio."""

    figure: str
    unit: str
    value: float | None
    classes: dict[str, float]
    like: str | None


@dataclass(frozen=True, slots=True)
class DeviceFound:
    """One device check. sensor: constants from the poses, None with the reason in no_constants.

    alike: the class that fits all its figures; declared: what its owner told. classes: the u of a snatch's peak
    velocity that an average sensor of each class would have, uncalibrated, m/s.
    """

    stream: StreamSeen
    clock: ClockSeen | None
    ranges: tuple[RangeSeen, ...]
    noise: Noise | None
    sensor: SensorFound | None
    no_constants: str | None
    calibrated_before: bool
    expected: tuple[ExpectedError, ...]
    changes: tuple[Change, ...]
    likeness: tuple[Likeness, ...]
    alike: str
    declared: str | None
    classes: dict[str, float]
    words: tuple[str, ...]
