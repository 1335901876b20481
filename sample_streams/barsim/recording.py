"""One call for one simulated set: the recording the analysis takes, and the truth it should find."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from barsim.bar import BarCurves, bar_state
from barsim.curves import Step
from barsim.devices import DEVICES, DeviceClass, Mounting, Unmodelled
from barsim.draft import Draft, RepMarks
from barsim.encoder import EncoderKind, EncoderOutput, encoder_output
from barsim.lifters import LIFTERS, Lifter
from barsim.options import Options
from barsim.sensors import ImuOutput, imu_output
from barsim.sets import build_set, known_lift
from barsim.truth import RepTruth, SetTruth, rep_truth, still_spans
from barwright.analysis.motion.samples import EncoderSamples, ImuSamples, Recording, SensorSetup

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SimulatedRecording:
    """recording: what the sensor gave (the encoder's own is `encoder_recording` when both run on one bar).

    truth: at the times of `recording`'s samples. bar: the motion itself, to evaluate anywhere.
    """

    lift: str
    load_kg: float
    lifter: Lifter
    recording: Recording
    truth: SetTruth
    bar: BarCurves
    duration_s: float
    mounting: Mounting
    device: DeviceClass | None = None
    imu: ImuOutput | None = None
    encoder: EncoderOutput | None = None
    encoder_recording: Recording | None = None

    @property
    def imu_samples(self) -> ImuSamples:
        """The inertial samples, in SI units, sensor frame."""
        part = self.recording.parts[0]
        if not isinstance(part, ImuSamples):
            raise ValueError("this recording holds no inertial sensor")
        return part

    @property
    def string_m(self) -> Floats:
        """The encoder's string length (n,), m."""
        if self.encoder is None:
            raise ValueError("this recording holds no encoder")
        return self.encoder.position_m


def simulate(
    lift: str, *, seed: int | None = None, rng: np.random.Generator | None = None,
    device: str | DeviceClass | None = "good", encoder: EncoderKind | None = None, reps: int = 1,
    load_kg: float | None = None, share: float | None = None, lifter: str | Lifter = "Imke",
    options: Options | None = None, mounting: Mounting | None = None, unmodelled: Unmodelled | None = None,
) -> SimulatedRecording:  # fmt: skip
    """Simulate one set. device None and an `encoder`: encoder alone; both given: both on one bar.

    load_kg or share of the lifter's one-rep maximum (0.8 when neither is given).
    """
    known_lift(lift)
    rng = rng if rng is not None else np.random.default_rng(seed)
    who = LIFTERS[lifter] if isinstance(lifter, str) else lifter
    if device is None and encoder is None:
        raise ValueError("a recording needs a device, an encoder or both")
    if load_kg is None:
        load_kg = round(who.max_kg(lift) * (0.8 if share is None else share), 1)
    mounting, unmodelled = mounting or Mounting(), unmodelled or Unmodelled.off()
    draft = build_set(lift, rng, who, load_kg / who.max_kg(lift), reps, options or Options())
    bar, duration = draft.bar, draft.t
    if unmodelled.tilt_deg:
        _tilt_every_rep(bar, draft.reps, math.radians(unmodelled.tilt_deg), rng)
    kind = DEVICES[device] if isinstance(device, str) else device
    imu = imu_output(bar, duration, kind, mounting, unmodelled, rng, draft.jolts) if kind else None
    string = encoder_output(bar, duration, encoder, rng) if encoder else None
    string_recording = _encoder_recording(string, encoder) if string and encoder else None
    main = _imu_recording(imu, kind, mounting, unmodelled) if imu and kind else string_recording
    times = imu or string
    if main is None or times is None:
        raise AssertionError("one of the two sensors is there")
    truth = _set_truth(lift, load_kg, draft, times, unmodelled.clock_rate if imu else 0.0)
    return SimulatedRecording(
        lift, load_kg, who, main, truth, bar, duration, mounting, kind, imu, string, string_recording if imu else None
    )


def _tilt_every_rep(bar: BarCurves, reps: list[RepMarks], size: float, rng: np.random.Generator) -> None:
    for rep in reps:
        way = float(rng.choice([-1.0, 1.0])) * size
        length = max(rep.stop - rep.start, 0.6)
        bar.tilt.steps.append(Step(rep.start, 0.5 * length, way))
        bar.tilt.steps.append(Step(rep.start + 0.55 * length, 0.45 * length, -way))


def _imu_recording(imu: ImuOutput, device: DeviceClass, mounting: Mounting, u: Unmodelled) -> Recording:
    accel_range = u.accel_range or device.accel_range
    setup = SensorSetup(
        bar_axis=mounting.axis(),
        place="sleeve" if u.free_sleeve else mounting.place,
        along_m=mounting.along_m + u.outboard_m if u.place_told else None,
        device_class=device.name if device.name in DEVICES else None,
        accel_range_m_s2=None if math.isinf(accel_range) else accel_range,
        gyro_range_rad_s=None if math.isinf(device.gyro_range) else device.gyro_range,
        nominal_rate_hz=device.rate_hz,
    )
    return Recording((ImuSamples(imu.t_s, imu.accel, imu.gyro),), setup)


def _encoder_recording(out: EncoderOutput, kind: EncoderKind) -> Recording:
    setup = SensorSetup(
        anchor_offset_m=kind.anchor_offset_m or None,
        anchor_height_m=kind.anchor_height_m,
        nominal_rate_hz=kind.rate_hz,
    )
    return Recording((EncoderSamples(out.t_s, position_m=out.position_m),), setup)


def _set_truth(lift: str, load_kg: float, draft: Draft, out: ImuOutput | EncoderOutput, clock_rate: float) -> SetTruth:
    origin, rate, bar = float(out.true_t_s[0]), 1 + clock_rate, draft.bar
    found = [rep_truth(bar, marks, index) for index, marks in enumerate(draft.reps)]
    told = tuple(_on_device_clock(rep, origin, rate) for rep in found)
    rests = tuple(((a - origin) * rate, (b - origin) * rate, at) for a, b, at in still_spans(bar, draft.rests))
    order = np.argsort(out.true_t_s, kind="stable")
    state = bar_state(bar, out.true_t_s[order])
    back = np.argsort(order, kind="stable")
    x, y, z = state.position[back].T
    return SetTruth(
        lift, load_kg, told, rests, out.t_s, x, y, z,
        state.velocity[back, 0], state.velocity[back, 2], state.acceleration[back, 2],
    )  # fmt: skip


def _on_device_clock(rep: RepTruth, origin: float, rate: float) -> RepTruth:
    """Times of a rep as the device's clock tells them; velocities stay true."""

    def told(t: float) -> float:
        return (t - origin) * rate

    return replace(
        rep,
        start_s=told(rep.start_s),
        stop_s=told(rep.stop_s),
        concentric=(told(rep.concentric[0]), told(rep.concentric[1])),
        edges={name: told(t) for name, t in rep.edges.items()},
        jerk=_on_device_clock(rep.jerk, origin, rate) if rep.jerk else None,
    )
