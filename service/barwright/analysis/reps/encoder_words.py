"""How good an encoder recording was, in plain words with numbers."""

from __future__ import annotations

from barwright.analysis.motion.encoder_motion import EncoderMotion
from barwright.analysis.reps.results import Quality


def encoder_quality(found: EncoderMotion) -> Quality:
    """The verdict on an encoder recording and the reasons for it."""
    even, motion = found.even, found.motion
    t, dt = even.t_s, even.period_s
    lost = int(even.filled.sum())
    words = [
        f"{len(t) - lost} samples at {even.rate_hz:.0f} Hz over {t[-1]:.1f} s.",
        f"Noise {1000 * found.noise_sd_m:.2f} mm a sample.",
        "A string measures the vertical only: there is no fore-aft bar path in it.",
    ]
    poor = 0
    if even.rate_hz < 45:
        words.append("Below 50 Hz peak velocity is blunted; mean velocity is sound.")
        poor += 1
    if even.jitter_s > 0.1 * dt:
        words.append(f"Time stamps wobble by {1000 * even.jitter_s:.2f} ms.")
    if even.repeated:
        words.append(f"{even.repeated} repeated samples were dropped.")
    if lost:
        longest = max(len(g) for g in even.gaps) * dt
        words.append(f"{lost} samples are missing; the longest hole lasts {1000 * longest:.0f} ms.")
        poor += longest > 0.1
    if found.outliers:
        words.append(f"{found.outliers} wild values were replaced.")
        poor += found.outliers > 0.01 * len(t)
    if found.slips:
        words.append(
            f"{found.slips} jump{'s' if found.slips > 1 else ''} (slipped counts) taken out: check reel and clamp."
        )
        poor += 1
    if found.geometry == "corrected":
        words.append(
            "The slant of the string was taken out of the height; fore-aft bar motion still reads as a little height."
        )
    if found.geometry == "impossible":
        words.append("The string was shorter than the declared `anchor_offset_m`: its slant could not be taken out.")
        poor += 1
    return Quality(
        verdict=("good", "usable", "poor")[min(poor, 2)], words=tuple(words), samples=len(t) - lost,
        duration_s=float(t[-1]), rate_hz=even.rate_hz, jitter_s=even.jitter_s, repeated_samples=even.repeated,
        gaps=tuple((float(t[max(0, g.start - 1)]), float(t[min(len(t) - 1, g.stop)])) for g in even.gaps),
        rests=tuple((float(t[r.span.start]), float(t[r.span.stop - 1])) for r in motion.rests),
    )  # fmt: skip
