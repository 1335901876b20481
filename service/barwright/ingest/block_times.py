"""The device times of a block: from t0_us and dt_us, or from t_us; checked against the limits."""

from __future__ import annotations

from typing import Any

import numpy as np

from barwright.ingest.block import Ints
from barwright.ingest.columns import Path, kind_of, length_of, whole_microseconds
from barwright.ingest.limits import LARGEST_EXACT_INTEGER, Limits
from barwright.ingest.refusals import Refusal, pointer_to

FEWEST_FOR_A_RATE = 10  # fewer samples say too little about the rate to refuse them for it
US = 1_000_000


def times_of(members: dict[str, Any], count: int, limits: Limits, path: Path) -> Ints:
    """The (count,) device times in microseconds. dt_us may be a fraction; each time is then rounded by itself."""
    if ("dt_us" in members) == ("t_us" in members):
        said = "both `dt_us` and `t_us`" if "dt_us" in members else "neither `dt_us` nor `t_us`"
        raise Refusal(
            "time-unclear",
            f"The block has {said}; send `t0_us` with `dt_us` for even steps, or `t_us` with one time per sample.",
            pointer_to(*path, "t_us") if "dt_us" in members else pointer_to(*path, "dt_us"),
        )
    if "dt_us" in members:
        return _even_times(members, count, limits, path)
    return _listed_times(members, count, path)


def check_times_of(members: dict[str, Any], t_us: Ints, limits: Limits, path: Path) -> None:
    """Checks the times that `times_of` made of these members."""
    if "t_us" in members:
        check_times(t_us, limits, (*path, "t_us"))
    elif float(members["dt_us"]).is_integer():
        _check_length(t_us, limits, path)  # their rate is that of dt_us, and is checked
    else:
        check_times(t_us, limits, path)


def check_times(t_us: Ints, limits: Limits, path: Path) -> None:
    """Refuses times that run backwards, last too long, or come at a rate out of limits. Equal times may stay."""
    steps = np.diff(t_us)
    if len(steps) and steps.min() < 0:
        index = int(np.argmax(steps < 0)) + 1
        raise Refusal(
            "time-runs-backwards",
            f"`t_us` goes from {t_us[index - 1]} back to {t_us[index]} at sample {index} (counted from 0); times in a "
            "block may repeat, never fall. Start a new `boot` when the device clock starts again.",
            pointer_to(*path, index),
        )
    _check_length(t_us, limits, path)
    if len(t_us) >= FEWEST_FOR_A_RATE:
        _check_listed_rate(steps, limits, path)


def _check_length(t_us: Ints, limits: Limits, path: Path) -> None:
    lasts_s = float(t_us[-1] - t_us[0]) / US
    if lasts_s > limits.block_seconds:
        raise Refusal(
            "too-long",
            f"The block lasts {lasts_s:.3f} s; the limit is {limits.block_seconds:g} s. Send it as several blocks.",
            pointer_to(*path),
        )


def check_stream_seconds(t_us: Ints, limits: Limits, pointer: str | None) -> None:
    """Refuses times of one device start that span more than a stream may."""
    lasts_s = float(t_us.max() - t_us.min()) / US
    if lasts_s > limits.stream_seconds:
        raise Refusal(
            "too-long",
            f"The samples last {lasts_s:.1f} s; the limit is {limits.stream_seconds:g} s in one recording. Send "
            "every set by itself.",
            pointer,
        )


def check_rate(rate_hz: float, limits: Limits, path: Path) -> None:
    """Refuses a sample rate out of limits."""
    if not limits.lowest_rate_hz <= rate_hz <= limits.highest_rate_hz:
        raise Refusal(
            "rate-out-of-limits",
            f"The samples come at {rate_hz:.6g} Hz (`{path[-1] if path else 't_us'}`); the limits are "
            f"{limits.lowest_rate_hz:g} to {limits.highest_rate_hz:g} Hz.",
            pointer_to(*path),
        )


def _check_listed_rate(steps: Ints, limits: Limits, path: Path) -> None:
    # Too fast by the mean, too slow by the median: neither bursts nor a gap in the block make a good rate look bad.
    total = int(steps.sum())
    fastest = len(steps) * US / total if total else float("inf")
    if fastest > limits.highest_rate_hz:
        check_rate(fastest, limits, path)
    if int(steps.max()) * limits.lowest_rate_hz > US:  # else the median cannot be too slow
        usual = float(np.median(steps))
        if usual * limits.lowest_rate_hz > US:
            check_rate(US / usual, limits, path)


def _even_times(members: dict[str, Any], count: int, limits: Limits, path: Path) -> Ints:
    if "t0_us" not in members:
        raise Refusal(
            "time-unclear",
            "The block has `dt_us` without `t0_us`; send the device time of its first sample as `t0_us`.",
            pointer_to(*path, "t0_us"),
        )
    dt_us = members["dt_us"]
    if type(dt_us) not in (int, float) or not 0 < dt_us < LARGEST_EXACT_INTEGER:
        raise Refusal(
            "bad-member",
            f"`dt_us` is {kind_of(dt_us)}; it has to be the microseconds from one sample to the next, above 0.",
            pointer_to(*path, "dt_us"),
        )
    check_rate(US / dt_us, limits, (*path, "dt_us"))
    start = _start(members["t0_us"], (*path, "t0_us"))
    if float(dt_us).is_integer():
        t_us: Ints = start + int(dt_us) * np.arange(count)
    else:
        t_us = start + np.rint(np.arange(count) * float(dt_us)).astype(np.int64)
    return t_us


def _listed_times(members: dict[str, Any], count: int, path: Path) -> Ints:
    t_path = (*path, "t_us")
    length = length_of(members["t_us"], t_path)
    if length != count:
        raise Refusal(
            "unequal-columns",
            f"`t_us` has {length} times and the channels have {count} samples; send one time per sample.",
            pointer_to(*t_path),
        )
    t_us = whole_microseconds(members["t_us"], t_path)
    if "t0_us" in members and _start(members["t0_us"], (*path, "t0_us")) != t_us[0]:
        raise Refusal(
            "time-unclear",
            f"`t0_us` is not the first of `t_us` ({t_us[0]}); `t_us` are device times, not times since `t0_us`. "
            "Leave `t0_us` out or make them equal.",
            pointer_to(*path, "t0_us"),
        )
    return t_us


def _start(value: Any, path: Path) -> int:
    if type(value) is float and value.is_integer():
        value = int(value)
    if type(value) is int and abs(value) < LARGEST_EXACT_INTEGER:
        return value
    raise Refusal(
        "bad-member",
        f"`{path[-1]}` is {kind_of(value)}; it has to be a device time in whole microseconds, between -2^53 and 2^53.",
        pointer_to(*path),
    )
