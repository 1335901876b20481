"""The analysis on real recordings with measured truth, where they are there."""

from __future__ import annotations

import numpy as np

import real_recordings as real
from bench.tables import Table, against
from bench.work import Bench

COLUMNS = ("recordings", "figure", "value", "limit")


def recordings_with_truth(bench: Bench) -> list[Table]:
    """Tilt, vertical velocity between moments of rest, stride length."""
    title = "Real recordings with measured truth"
    if not real.FOLDER.is_dir():
        return [
            Table(title, ("state",), (("not there, skipped",),), ("The recordings are kept beside the repository.",))
        ]
    rows = []
    arm = real.marker_arm()
    for name, files, limit, highest in (
        ("slow and medium translation", real.SLOW, 0.010, 0.02),
        ("fast translation", real.FAST, 0.022, 0.04),
        ("tapping", real.TAPPING, 0.016, 0.05),
    ):
        found = [real.window_errors(real.hand_moved(file), arm) for file in files]
        errors, by_filter = (np.concatenate([getattr(one, by) for one in found]) for by in ("here", "by_filter"))
        rows += [
            (
                name,
                f"vertical velocity RMSE, median of {len(errors)} windows",
                *_judged(np.median(errors), limit, "m/s"),
            ),
            (name, "the same, 95th percentile", *_judged(np.quantile(errors, 0.95), highest, "m/s")),
            (name, "an offline filter with linear zero-velocity correction", f"{np.median(by_filter):.4f} m/s", ""),
            (name, "the same, 95th percentile", f"{np.quantile(by_filter, 0.95):.4f} m/s", ""),
        ]
    tilts = [real.tilt_errors(real.hand_moved(file)) for file in (*real.SLOW, *real.FAST, *real.SLOW_ROTATION)]
    to_filter, to_truth, filter_to_truth = (
        _rms(np.concatenate([getattr(tilt, field) for tilt in tilts]))
        for field in ("to_filter", "to_truth", "filter_to_truth")
    )
    strides = real.stride_errors()
    rows += [
        ("translation and slow rotation", "tilt against the filter, RMS", *_judged(to_filter, 0.5, "deg")),
        ("translation and slow rotation", "tilt against optics, RMS", *_judged(to_truth, 1.3 * filter_to_truth, "deg")),
        ("translation and slow rotation", "the filter's own against optics, RMS", f"{filter_to_truth:.3f} deg", ""),
        ("foot, heel marker", f"stride length RMS, {len(strides)} strides", *_judged(_rms(strides), 0.045, "m")),
    ]
    return [Table(title, COLUMNS, tuple(rows))]


def _rms(x: np.ndarray) -> float:
    return float(np.sqrt(np.mean(x**2)))


def _judged(value: float, limit: float, unit: str) -> tuple[str, str]:
    shown, judged = against(float(value), round(limit, 4)).split(" ", 1)
    return f"{shown} {unit}", judged
