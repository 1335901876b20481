"""A minute on a table and some still poses: how good a sensor is, and what to change first. The whole pure pipeline."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.devices.changes import State, what_to_change
from barwright.analysis.devices.check_words import check_words
from barwright.analysis.devices.expected import Mounted, SensorKnown, class_known, expected_error
from barwright.analysis.devices.found import DeviceFound, ExpectedError, RangeSeen
from barwright.analysis.devices.lift_models import MODELLED, greatest, lift_models
from barwright.analysis.devices.likeness import CLASSES, alike, likeness
from barwright.analysis.devices.sensor_known import as_it_is, calibrated, of_class, walks
from barwright.analysis.devices.stream_seen import clock_seen, stream_seen
from barwright.analysis.motion.device_class import DEVICE_CLASSES, STANDARD_GRAVITY, prior_for
from barwright.analysis.motion.samples import ImuSamples, SensorSetup
from barwright.analysis.motion.timeline import EvenSamples, even_samples
from barwright.analysis.poses.calibrate import calibrate_recording, noise_of
from barwright.analysis.poses.found import Noise, SensorFound
from barwright.analysis.poses.still_poses import Pose, find_poses
from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.analysis.quantities.unusable import UnusableSamples

Floats = NDArray[np.float64]
CLASS_HZ = {"good": 416.0, "fast": 1000.0, "hobby": 200.0, "poor": 100.0}
LEAST_RANGE = 6.0 * STANDARD_GRAVITY  # a pull peaks near 4 g, a hard catch above (common practice, no source)
MARGIN = 1.25  # lifts differ: full scale should leave so much room above a modelled one


def check_device(
    parts: Sequence[ImuSamples],
    setup: SensorSetup,
    gravity: float | None,
    clock: Sequence[tuple[float, float]] = (),
    lifts: Sequence[str] = tuple(MODELLED),
    advise: bool = True,
) -> DeviceFound:
    """parts: one per device start; a minute or so on a table and still poses held in hands, in any order.

    setup: mounting, class, ranges, and the calibration in force. gravity m/s2, None when not told. clock: pairs of the
    device's time and the server's, s. lifts: to tell the expected error of. advise: what to change too.

    Raises UnusableSamples: no-still-poses, no-gravity, too-few-samples, rate-too-low.
    """
    even = [even_samples(one.t_s, np.hstack((one.accel_m_s2, one.gyro_rad_s))) for one in parts]
    sensor, refused, noise, table = _constants(parts, even, setup, gravity)
    stream = stream_seen(parts, even, setup.nominal_rate_hz, table)
    prior = prior_for(setup.device_class)
    rows = likeness(noise, sensor)
    fits = alike(rows)
    known = SensorKnown(
        believed=prior,
        constants=np.zeros(0),
        spread=np.zeros(0),
        accel_noise=_or(noise.accel_density if noise else None, prior.accel_noise),
        gyro_noise=_or(noise.gyro_density if noise else None, prior.gyro_noise),
        rate_hz=1.0 / even[0].period_s,
        lost=stream.lost,
        accel_range=setup.accel_range_m_s2,
        gyro_range=setup.gyro_range_rad_s,
        bandwidth_hz=stream.bandwidth_hz,
    )
    if table is not None:
        accel_walk, tilt_walk = walks(table, 1.0 / even[0].period_s)
        known = replace(known, accel_walk=accel_walk, tilt_walk=tilt_walk)
    mounted = Mounted(
        np.array([1.0, 0.0, 0.0]) if setup.bar_axis is None else setup.bar_axis, setup.place, setup.along_m
    )
    now = of_class(known) if sensor is None else as_it_is(known, sensor.calibration, setup.calibration)
    later = None if sensor is None else calibrated(known, sensor.calibration)
    expected = tuple(_expected(lift, now, later, mounted, refused) for lift in lifts)
    after = None if sensor is None else partial(_calibrate, calibration=sensor, known=known)
    changes = what_to_change(State(now, mounted), after) if advise else ()
    ranges = _ranges(setup)
    clock_told = clock_seen(clock)
    classes = {
        name: expected_error(class_known(DEVICE_CLASSES[name], CLASS_HZ[name]), mounted, "snatch", quick=True)
        for name in CLASSES
    }
    found = DeviceFound(
        stream, clock_told, ranges, noise, sensor, refused, setup.calibration is not None, expected, changes, rows,
        fits, setup.device_class, classes, (),
    )  # fmt: skip
    return replace(found, words=check_words(found))


def _calibrate(sensor: SensorKnown, calibration: SensorFound, known: SensorKnown) -> SensorKnown:
    """The same sensor (rate, losses and all) with its constants taken out."""
    return calibrated(replace(sensor, believed=known.believed), calibration.calibration)


def _constants(
    parts: Sequence[ImuSamples], even: Sequence[EvenSamples], setup: SensorSetup, gravity: float | None
) -> tuple[SensorFound | None, str | None, Noise | None, Floats | None]:
    """The calibration, or why there is none; noise; the samples (n, 6) of the longest time on the table."""
    raw = replace(setup, calibration=None)
    sensor: SensorFound | None = None
    refused: str | None = None
    try:
        sensor = calibrate_recording(parts, raw, gravity)
    except UnusableSamples as unusable:
        if unusable.code != "poses-too-alike":
            raise
        refused = unusable.detail
    prior = prior_for(setup.device_class)
    poses = [pose for number, one in enumerate(even) for pose in find_poses(one, prior, number)]
    table = max((pose for pose in poses if pose.firm), key=_length, default=None)
    samples = None if table is None or table.span is None else even[table.part].values[table.span.as_slice()]
    return sensor, refused, noise_of(poses, even), samples


def _length(pose: Pose) -> int:
    return 0 if pose.span is None else len(pose.span)


def _or(figure: Estimate | None, otherwise: float) -> float:
    return otherwise if figure is None or figure.value is None else figure.value


def _expected(
    lift: str, now: SensorKnown, later: SensorKnown | None, mounted: Mounted, refused: str | None
) -> ExpectedError:
    peak = lift_models(lift)[0].peak_m_s
    as_is = Estimate(peak, expected_error(now, mounted, lift), "m/s")
    if later is None:
        return ExpectedError(lift, as_is, unknown("m/s", refused or "no constants were found"))
    return ExpectedError(lift, as_is, Estimate(peak, expected_error(later, mounted, lift), "m/s"))


def _ranges(setup: SensorSetup) -> tuple[RangeSeen, ...]:
    accel, gyro = greatest()
    needs = (
        ("accel", setup.accel_range_m_s2, max(MARGIN * accel, LEAST_RANGE)),
        ("gyro", setup.gyro_range_rad_s, MARGIN * gyro),
    )
    return tuple(RangeSeen(name, full, need, None if full is None else full >= need) for name, full, need in needs)
