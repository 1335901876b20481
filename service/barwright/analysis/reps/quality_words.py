"""How good the samples were, in plain words with numbers."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.imu_motion import ImuMotion
from barwright.analysis.quantities.spans import Span, spans_of
from barwright.analysis.reps.results import Quality

Floats = NDArray[np.float64]
CLOCK_SHARE = 0.004  # crystals keep to 0.01 %, a sensor's own oscillator to 1-3 %


def quality_of(found: ImuMotion, nominal_rate_hz: float | None = None) -> Quality:
    """The verdict on an inertial recording and the reasons for it."""
    even, cut = found.even, found.cut
    t, dt = even.t_s, even.period_s
    rests = sorted(
        (float(m.t_s[r.span.start]), float(m.t_s[r.span.stop - 1]), r.firm) for m in found.motions for r in m.rests
    )
    lost = int(even.filled.sum())
    clipped_s = float(cut.clipped.sum() * dt)
    in_motion = [s for s in spans_of(cut.clipped) if not cut.impact[s.as_slice()].all()]
    words = [f"{len(t) - lost} samples at {even.rate_hz:.0f} Hz over {t[-1]:.1f} s."]
    poor = 0
    if even.jitter_s > 0.05 * dt:
        words.append(f"Time stamps wobble by {1000 * even.jitter_s:.2f} ms; the sensor's own clock was followed.")
        poor += even.jitter_s > 0.5 * dt
    if nominal_rate_hz and abs(even.rate_hz / nominal_rate_hz - 1.0) > CLOCK_SHARE:
        off = 100 * (even.rate_hz / nominal_rate_hz - 1.0)
        words.append(
            f"The stamps say {even.rate_hz:.1f} Hz, the device {nominal_rate_hz:.1f} Hz ({off:+.1f} %): one of the two "
            "clocks is off, and if it is the stamps', every velocity is off by as much."
        )
        poor += 1
    if even.repeated:
        words.append(f"{even.repeated} repeated samples were dropped.")
    if lost:
        longest = max(len(g) for g in even.gaps) * dt
        words.append(
            f"{lost} samples are missing ({100 * lost / len(t):.1f} %); the longest hole lasts {1000 * longest:.0f} ms."
        )
        poor += longest > 0.04
        poor += longest > 0.15
    if even.rate_hz < 90:
        words.append("Peaks are blunted below 100 Hz; 200 Hz or more shows a pull as it was.")
        poor += 1
    long = [s for s in spans_of(cut.clipped) if len(s) * dt > 0.03]  # no blow lasts this long
    if in_motion or long:
        words.append(f"The sensor was at full scale for {clipped_s:.2f} s; a wider range would keep the peaks.")
        poor += 1
    drops = len(spans_of(cut.impact))
    if drops:
        words.append(
            f"{drops} blow{'s' if drops > 1 else ''} (a dropped bar, or a plate struck): nothing is carried across one."
        )
    held = [r for r in rests if not r[2]]
    words.append(
        f"{len(rests)} rest{'s' if len(rests) != 1 else ''} found ({len(rests) - len(held)} on a floor or rack, "
        f"{len(held)} held); velocity is fixed to nought there."
        if rests
        else "No moment of rest was found, so velocity has nothing to be fixed to."
    )
    if not rests:
        poor += 2
    elif len(rests) == 1:
        words.append(
            "One rest alone cannot show drift, so figures are uncertain. Keep still for a second before and after."
        )
        poor += 1
    if found.axis_off_level_rad is not None and found.axis_off_level_rad > 0.35:
        degrees = np.degrees(found.axis_off_level_rad)
        words.append(
            f"The bar axis given lies {degrees:.0f} degrees off level at rest: check `bar_axis` in the mounting."
        )
        poor += 1
    if found.turn_missed is not None:
        turned, missed = np.degrees((found.turn_missed.turned_rad, found.turn_missed.missed_rad))
        words.append(
            f"Between two rests the sensor turned by {turned:.0f} degrees, by gravity; the gyroscope misses that by "
            f"{missed:.0f}. Check its unit (deg/s or rad/s), and that its axes and signs are the accelerometer's."
        )
        poor += 2
    rings = [m.ring_hz for m in found.motions if m.ring_hz is not None]
    if rings:
        words.append(
            f"The bar rang at about {np.mean(rings):.0f} Hz; the ring was taken out, and figures are less sure for it. "
            "A sensor nearer the middle of the bar feels less of it."
        )
    apart = [check for check in found.string if not check.agrees]
    if apart:
        worst = max(apart, key=lambda check: check.rms_m / check.expected_m)
        words.append(
            f"String and inertial sensor disagree: heights differ by {1000 * worst.rms_m:.0f} mm where "
            f"{1000 * worst.expected_m:.0f} mm is expected, velocities by up to {worst.speed_m_s:.2f} m/s. The string "
            "was left out; check its scale, its anchor, and that it runs free."
        )
        poor += 1
    elif found.string:
        surest = min(found.string, key=lambda check: check.expected_m)
        words.append(
            "A string on the same bar was joined with the inertial sensor: heights differ by "
            f"{1000 * surest.rms_m:.0f} mm, {1000 * surest.expected_m:.0f} mm expected."
        )
    if not found.axis_given:
        words.append("Forward sign not known: the mounting does not say which sensor axis points to the lifter's left.")
    noise = _noise(even.values, _firm_spans(found), dt)
    verdict = "unusable" if not found.motions else ("good", "usable", "poor")[min(poor, 2)]
    return Quality(
        verdict=verdict, words=tuple(words), samples=len(t) - lost, duration_s=float(t[-1]), rate_hz=even.rate_hz,
        jitter_s=even.jitter_s,
        gaps=tuple((float(t[max(0, g.start - 1)]), float(t[min(len(t) - 1, g.stop)])) for g in even.gaps),
        repeated_samples=even.repeated, clipped_s=clipped_s, rests=tuple((a, b) for a, b, _ in rests),
        accel_noise=noise[0], gyro_noise=noise[1],
        forward_known=found.axis_given and any(m.forward is not None for m in found.motions),
        horizontal=any(m.forward is not None for m in found.motions),
    )  # fmt: skip


def _firm_spans(found: ImuMotion) -> list[Span]:
    dt = found.even.period_s
    return [
        Span(round(float(m.t_s[r.span.start]) / dt), round(float(m.t_s[r.span.stop - 1]) / dt) + 1)
        for m in found.motions
        for r in m.rests
        if r.firm
    ]


def _noise(values: Floats, firm: list[Span], dt: float) -> tuple[float | None, float | None]:
    """Noise densities (m/s2/sqrt(Hz), rad/s/sqrt(Hz)) from neighbouring samples where the bar lay on the floor."""
    if not firm:
        return None, None
    longest = max(firm, key=len).as_slice()
    bend = np.diff(values[longest], n=2, axis=0)
    sd = np.sqrt(np.mean(bend**2, axis=0) / 6.0)
    density = sd * np.sqrt(2.0 * dt)
    return float(np.mean(density[:3])), float(np.mean(density[3:]))
