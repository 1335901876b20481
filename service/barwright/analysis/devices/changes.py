"""What to change first about a sensor, each thing with how much it buys by the error model."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from barwright.analysis.devices.expected import Mounted, SensorKnown, expected_error
from barwright.analysis.devices.found import Change
from barwright.analysis.motion.device_class import DEVICE_CLASSES

STEPS_HZ = (100.0, 200.0, 400.0, 1000.0)
BOTH = ("snatch", "back_squat")
WORTH = 0.07  # a change that takes less than this share off the error is not told
MOST = 4


@dataclass(frozen=True, slots=True)
class State:
    """A sensor, how it is mounted, and whether its constants are taken out."""

    sensor: SensorKnown
    mounted: Mounted
    calibrated: bool = False


Changed = tuple[str, str, State]


def what_to_change(state: State, calibrate: Callable[[SensorKnown], SensorKnown] | None) -> tuple[Change, ...]:
    """The best change, the best one after it, and so on while each is worth it. calibrate: None where nothing to
    calibrate with was found.
    """
    out: list[Change] = []
    error = joint(state)
    while len(out) < MOST:
        tried = [(joint(after), code, words, after) for code, words, after in _possible(state, calibrate)]
        if not tried:
            break
        best = min(tried, key=lambda one: one[0])
        if best[0] > (1.0 - WORTH) * error:
            break
        out.append(Change(best[1], error, best[0], best[2]))
        error, state = best[0], best[3]
    return tuple(out)


def joint(state: State) -> float:
    """Root mean square error of both lifts' peak velocities together, m/s, on fewer models than the full answer."""
    return float(
        np.sqrt(np.mean([expected_error(state.sensor, state.mounted, lift, quick=True) ** 2 for lift in BOTH]))
    )


def _possible(state: State, calibrate: Callable[[SensorKnown], SensorKnown] | None) -> list[Changed]:
    sensor, mounted = state.sensor, state.mounted
    out: list[Changed] = []
    if calibrate is not None and not state.calibrated:
        words = "Calibrate it: send the same recording to the device's calibration."
        out.append(("calibrate", words, replace(state, sensor=calibrate(sensor), calibrated=True)))
    faster = next((hz for hz in STEPS_HZ if hz >= 1.5 * sensor.rate_hz), None)
    if faster is not None:
        words = f"Sample faster: {faster:g} instead of {sensor.rate_hz:.0f} times a second."
        out.append(("rate", words, replace(state, sensor=replace(sensor, rate_hz=faster))))
    if sensor.lost > 0.0005:
        words = f"Lose no samples: {100 * sensor.lost:.1f} % were missing. A deeper buffer on the device mends it."
        out.append(("lost", words, replace(state, sensor=replace(sensor, lost=0.0))))
    if mounted.place == "sleeve":
        words = "Clamp it to the shaft: a sleeve spins by itself, and a rest then tells less of the gyroscope."
        out.append(("mounting", words, replace(state, mounted=replace(mounted, place="shaft"))))
    elif mounted.along_m is None:
        words = "Tell how far from the middle of the bar it sits (mounting.along_m), measured to a centimetre."
        out.append(("mounting", words, replace(state, mounted=replace(mounted, along_m=0.0))))
    if sensor.accel_range is not None and sensor.clips:
        words = f"Set a wider range: ±16 g, not ±{sensor.accel_range / 9.80665:.0f} g, so that lifts are not cut off."
        out.append(("range", words, replace(state, sensor=replace(sensor, accel_range=16 * 9.80665))))
    if sensor.bandwidth_hz is not None:
        words = f"Open its filter: it passes {sensor.bandwidth_hz:.0f} Hz; 80 Hz and more keep the peak of velocity."
        out.append(("filter", words, replace(state, sensor=replace(sensor, bandwidth_hz=None))))
    quiet = DEVICE_CLASSES["good"]
    if sensor.accel_noise > 1.5 * quiet.accel_noise or sensor.gyro_noise > 2.0 * quiet.gyro_noise:
        words = "A quieter sensor: noise of 80 µg/√Hz and 0.004 deg/s/√Hz, as parts of the class good have."
        better = replace(
            sensor,
            accel_noise=min(sensor.accel_noise, quiet.accel_noise),
            gyro_noise=min(sensor.gyro_noise, quiet.gyro_noise),
        )
        out.append(("noise", words, replace(state, sensor=better)))
    return out
