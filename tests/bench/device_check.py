"""What a device check expects of a sensor against what that sensor then does on simulated lifts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from barsim import DEVICES, LIFTERS, Mounting, simulate
from barsim.bar import GRAVITY
from barsim.devices import DeviceClass
from barsim.sensors import draw_constants
from barsim.still_log import still_log
from barwright.analysis.devices.device_check import check_device
from barwright.analysis.motion.calibration import DRIFT_BIAS, DRIFT_CROSS, DRIFT_GYRO_BIAS, DRIFT_SCALE
from barwright.analysis.motion.samples import SensorSetup
from barwright.analysis.poses.calibrate import calibrate_recording
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.quantities.unusable import UnusableSamples
from barwright.analysis.reps.set_analysis import analyse_set
from bench.scoring import matching
from bench.tables import Table
from bench.work import Bench

Floats = NDArray[np.float64]
CLASSES = ("good", "fast", "hobby", "poor")
CHECKED = (("snatch", 1), ("back_squat", 5))
LOW, HIGH = 0.8, 1.25
STATES = ("as it is", "calibrated")


@dataclass(frozen=True, slots=True)
class Made:
    """One lift or set with one sensor in one state: expected u, errors of every made rep, u the analysis gave them."""

    expected: float
    errors: tuple[float, ...]
    told: tuple[float, ...]


def one_device(name: str, seed: int, lifts: Sequence[tuple[str, int]] = CHECKED) -> dict[tuple[str, str], Made]:
    """Draw a sensor of a class, check it, and lift with it: as it is, and calibrated and drifted to another day."""
    rng = np.random.default_rng([seed, 31])
    base = DEVICES[name]
    sensor = replace(base, constants=draw_constants(base, rng))
    log = still_log(sensor, rng)
    mounting = Mounting()
    setup = SensorSetup(bar_axis=mounting.axis(), along_m=0.0, device_class=name, accel_range_m_s2=sensor.accel_range)
    found = check_device([log], setup, GRAVITY, lifts=[lift for lift, _ in lifts], advise=False)
    assert found.sensor is not None
    drifted = replace(sensor, constants=drift(sensor, rng))
    out = {}
    for place, (lift, reps) in enumerate(lifts):
        expected = (found.expected[place].as_is.u, found.expected[place].calibrated.u)
        for state, device, sd in zip(STATES, (sensor, drifted), expected, strict=True):
            assert sd is not None
            made = lifted(lift, reps, device, found.sensor.calibration if state == "calibrated" else None, seed)
            out[lift, state] = Made(sd, *made)
    return out


def drift(sensor: DeviceClass, rng: np.random.Generator) -> dict[str, Floats]:
    """Constants on another day: changed by what docs/method.md, section 14 allows for."""
    assert sensor.constants is not None
    known = sensor.constants
    square = np.where(np.eye(3) > 0, DRIFT_SCALE, DRIFT_CROSS)
    return {
        "accel_bias": known["accel_bias"] + rng.normal(0, DRIFT_BIAS, 3),
        "gyro_bias": known["gyro_bias"] + rng.normal(0, DRIFT_GYRO_BIAS, 3),
        "accel_matrix": known["accel_matrix"] + rng.normal(0, 1, (3, 3)) * square,
        "gyro_matrix": known["gyro_matrix"] + rng.normal(0, 1, (3, 3)) * square,
    }


def lifted(lift, reps, device, calibration, seed):  # type: ignore[no-untyped-def]
    """(errors, u) of the peak velocities of one simulated set; lifter and load are drawn too."""
    draw = np.random.default_rng([seed, 20])
    lifter = str(draw.choice(sorted(LIFTERS)))
    made = simulate(lift, seed=seed, device=device, reps=reps, lifter=lifter, share=float(draw.uniform(0.6, 0.98)))
    recording = replace(made.recording, setup=replace(made.recording.setup, calibration=calibration))
    try:
        answer = analyse_set(recording, LIFTS[lift])
    except UnusableSamples:
        return (), ()
    errors, told = [], []
    for true in made.truth.reps:
        rep = matching(answer.reps, true)
        figure = None if rep is None else rep.measures.get("peak_velocity")
        if figure is not None and figure.value is not None and figure.u is not None:
            errors.append(figure.value - true.measures["peak_velocity"])
            told.append(figure.u)
    return tuple(errors), tuple(told)


def rms(values: Sequence[float]) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(np.square(values))))


def device_check(bench: Bench) -> list[Table]:
    """Expected error over the error made, for every class, lift and state; one drawn sensor a recording."""
    jobs = [(name, seed) for name in CLASSES for seed in range(5000, 5000 + bench.lifts)]
    done = bench.each("device check", one_device, jobs)
    rows, off = [], []
    for place, name in enumerate(CLASSES):
        mine = done[place * bench.lifts : (place + 1) * bench.lifts]
        for lift, _ in CHECKED:
            for state in STATES:
                each = [one[lift, state] for one in mine]
                errors = [error for one in each for error in one.errors]
                expected, made = rms([one.expected for one in each for _ in one.errors]), rms(errors)
                ratio = expected / made
                met = "met" if LOW <= ratio <= HIGH else "NOT met"
                rows.append(
                    (name, lift, state, str(len(each)), str(len(errors)), f"{expected:.4f}", f"{made:.4f}",
                     f"{ratio:.2f} {LOW}-{HIGH} {met}", f"{rms([u for one in each for u in one.told]):.4f}")
                )  # fmt: skip
                if met != "met":
                    worst = sorted(errors, key=abs)[-3:]
                    off.append(f"{name} {lift} {state}: largest errors {', '.join(f'{e:+.4f}' for e in worst)}")
    columns = (
        "class", "lift", "sensor", "sensors", "lifts", "expected m/s", "made m/s", "expected / made", "u told m/s",
    )  # fmt: skip
    return [Table("Device check: error to expect against error made, peak velocity", columns, tuple(rows), tuple(off))]


def one_calibration(seed: int) -> tuple[Floats, Floats]:
    """(errors, u) of bias (m/s2, 3) and scale (3) of a good sensor from nine poses in hands."""
    rng = np.random.default_rng([seed, 32])
    base = DEVICES["good"]
    constants = draw_constants(base, rng)
    log = still_log(replace(base, constants=constants), rng, table_s=3.0)
    found = calibrate_recording([log], SensorSetup(device_class="good"), GRAVITY)
    square = np.linalg.inv(constants["accel_matrix"])
    triangle = np.linalg.qr(square, mode="r")  # true = C (measured - bias) up to a turn of all axes
    triangle = triangle * np.sign(np.diag(triangle))[:, None]
    told = [*found.accel["bias"].values(), *found.accel["scale"].values()]
    truth = np.concatenate((constants["accel_bias"], np.diag(triangle) - 1.0))
    return np.array([one.value for one in told]) - truth, np.array([one.u for one in told])


def calibration(bench: Bench) -> list[Table]:
    """Bias and scale from nine hand-held poses of sensors of the class good, against the drawn ones."""
    found = bench.each("calibration", one_calibration, [(seed,) for seed in range(7000, 7000 + bench.lifts)])
    errors, told = np.array([one[0] for one in found]), np.array([one[1] for one in found])
    rows = []
    for name, part, size, unit, limit in (
        ("bias", slice(0, 3), GRAVITY / 1000, "m[g]", 2.0), ("scale", slice(3, 6), 0.01, "%", 0.2),
    ):  # fmt: skip
        e, u = errors[:, part] / size, told[:, part] / size
        p95, most = float(np.quantile(np.abs(e), 0.95)), float(np.abs(e).max())
        inside = float(np.mean(np.abs(e) <= 2 * u))
        rows.append(
            (name, str(len(e)), f"{rms(e):.3f} {unit}", f"{p95:.3f} <{limit} {'met' if p95 < limit else 'NOT met'}",
             f"{most:.3f}", f"{rms(e) / rms(u):.2f}", f"{100 * inside:.1f}")
        )  # fmt: skip
    columns = ("constant", "sensors", "rms error", "95th percentile", "largest", "rms error / rms u", "in 2u %")
    return [Table("Calibration from nine hand-held poses, class good", columns, tuple(rows))]
