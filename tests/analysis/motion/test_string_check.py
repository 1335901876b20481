"""A string and an inertial sensor on one bar: together better than either, and each a check on the other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from barsim import EncoderKind, SimulatedRecording, simulate
from barwright.analysis.motion.imu_motion import imu_motion
from barwright.analysis.motion.samples import EncoderSamples, ImuSamples, Recording
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.results import SetAnalysis
from barwright.analysis.reps.set_analysis import analyse_set


def both_on_one_bar(lift: str, seed: int, reps: int = 1, **kind: float) -> SimulatedRecording:
    string = EncoderKind(**{"rate_hz": 100, "resolution_m": 0.0003, **kind})  # type: ignore[arg-type]
    return simulate(lift, seed=seed, device="hobby", encoder=string, reps=reps)


def joined(one: SimulatedRecording, scale: float = 1.0, offset_m: float | None = None) -> Recording:
    """The recording with the string's values beside the inertial sensor's; scale: how wrong the string is."""
    (part,) = one.recording.parts
    assert isinstance(part, ImuSamples)
    assert one.encoder is not None
    position = scale * np.interp(part.t_s, one.encoder.t_s, one.encoder.position_m)
    setup = replace(one.recording.setup, anchor_offset_m=offset_m)
    return Recording((replace(part, position_m=position),), setup)


def peak_errors(answer: SetAnalysis, one: SimulatedRecording) -> list[tuple[float, float]]:
    out = []
    for rep, true in zip(answer.reps, one.truth.reps, strict=True):
        peak = rep.measures["peak_velocity"]
        assert peak.value is not None
        assert peak.u is not None
        out.append((peak.value - true.measures["peak_velocity"], peak.u))
    return out


@pytest.mark.parametrize(("lift", "reps", "least"), [("snatch", 1, 1.5), ("back_squat", 2, 2.5)])
def test_together_they_are_better_than_either_and_say_so(lift: str, reps: int, least: float) -> None:
    errors: dict[str, list[tuple[float, float]]] = {"imu": [], "both": [], "string": []}
    for seed in range(7):
        one = both_on_one_bar(lift, seed, reps)
        assert one.encoder is not None
        alone = EncoderSamples(one.encoder.t_s, one.encoder.position_m)
        errors["imu"] += peak_errors(analyse_set(one.recording, LIFTS[lift]), one)
        errors["both"] += peak_errors(analyse_set(joined(one), LIFTS[lift]), one)
        errors["string"] += peak_errors(analyse_set(Recording((alone,), one.recording.setup), LIFTS[lift]), one)
    off = {name: float(np.sqrt(np.mean([e**2 for e, _ in found]))) for name, found in errors.items()}
    assert off["imu"] > least * off["both"]
    assert off["string"] > off["both"]
    assert np.mean([abs(e) < 2 * u for e, u in errors["both"]]) >= 0.9
    assert np.mean([u for _, u in errors["both"]]) < np.mean([u for _, u in errors["imu"]])


def test_a_string_with_a_wrong_scale_is_told_and_left_out() -> None:
    for seed in range(4):
        one = both_on_one_bar("snatch", seed)
        right, wrong = (analyse_set(joined(one, scale), LIFTS["snatch"]) for scale in (1.0, 1.06))
        assert any("was joined" in word for word in right.quality.words)
        (told,) = (word for word in wrong.quality.words if "disagree" in word)
        assert "check its scale" in told
        alone = analyse_set(one.recording, LIFTS["snatch"])
        first, second = (answer.reps[0].measures["peak_velocity"] for answer in (alone, wrong))
        assert first.value == pytest.approx(second.value, abs=0.004)


def test_an_anchor_forward_of_the_bar_no_longer_costs_a_snatch_its_velocity() -> None:
    """One string alone reads fore-aft speed as vertical; the inertial sensor beside it knows the two apart."""
    errors, alone = [], []
    for seed in range(8):
        one = both_on_one_bar("snatch", seed, anchor_x_m=0.2)
        assert one.encoder is not None
        errors += [e for e, _ in peak_errors(analyse_set(joined(one, offset_m=0.2), LIFTS["snatch"]), one)]
        string = Recording(
            (EncoderSamples(one.encoder.t_s, one.encoder.position_m),),
            replace(one.recording.setup, anchor_offset_m=0.2),
        )
        alone += [e for e, _ in peak_errors(analyse_set(string, LIFTS["snatch"]), one)]
    assert np.sqrt(np.mean(np.square(errors))) < 0.02
    assert np.sqrt(np.mean(np.square(alone))) > 2 * np.sqrt(np.mean(np.square(errors)))


def test_where_the_inertial_sensor_tells_nothing_the_string_does() -> None:
    one = both_on_one_bar("back_squat", 3, 3)
    recording = joined(one)
    (part,) = recording.parts
    assert isinstance(part, ImuSamples)
    rng = np.random.default_rng(5)
    shaken = replace(
        part,
        accel_m_s2=part.accel_m_s2 + rng.normal(0, 6.0, part.accel_m_s2.shape),
        gyro_rad_s=part.gyro_rad_s + rng.normal(0, 4.0, part.gyro_rad_s.shape),
    )
    assert not imu_motion(shaken, recording.setup).motions
    answer = analyse_set(Recording((shaken,), recording.setup), LIFTS["back_squat"])
    assert len(answer.reps) == 3
    assert any("figures are the string's" in word for word in answer.quality.words)


def test_a_string_nobody_can_read_does_not_cost_what_the_inertial_sensor_saw() -> None:
    one = simulate("snatch", seed=5, device="good")
    (part,) = one.recording.parts
    wild = np.where(np.arange(len(part.t_s)) % 2 == 0, 0.0, 40.0)  # not one value a bar can reach from the last
    answer = analyse_set(replace(one.recording, parts=(replace(part, position_m=wild),)), LIFTS["snatch"])
    assert [rep.outcome for rep in answer.reps] == ["made"]
