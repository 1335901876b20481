"""What was found, and what would be right, in plain sentences."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from barwright.analysis.poses.found import Agreement, PoseSeen, Spread
from barwright.analysis.poses.spread import FOR_CROSS, FOR_SCALE

RIGHT = (
    f"At least {FOR_SCALE} well-spread attitudes show bias and scale, {FOR_CROSS} cross-axis errors too: each face of "
    "the sensor up once, then some of its edges"
)


def too_alike_words(found: int, spread: Spread) -> str:
    """Why poses are refused, and what to add."""
    opening = np.degrees(spread.opening_rad)
    return (
        f"{_poses(found)} found, {_attitudes(spread.distinct)} (more than 20 degrees apart), {opening:.0f} degrees "
        f"between the two furthest: too alike to tell bias from scale. {RIGHT}. Most useful next: "
        f"{'; '.join(spread.missing[: max(1, spread.more_for_scale)])}"
    )


def words_of(
    poses: Sequence[PoseSeen], spread: Spread, agreement: Agreement, turns: int, gravity_told: bool
) -> tuple[str, ...]:
    """Plain sentences on a calibration that is kept."""
    out = [f"{_poses(len(poses))} found, {_attitudes(spread.distinct)} (more than 20 degrees apart)."]
    if spread.more_for_scale:
        out.append(
            f"Bias and scale are not yet known to 2 m[g] and 0.2 %: {spread.more_for_scale} more "
            f"{'pose is' if spread.more_for_scale == 1 else 'poses are'} needed. {RIGHT}."
        )
    elif spread.more_for_cross:
        out.append(
            f"Enough for bias and scale. Cross-axis errors take {spread.more_for_cross} more "
            f"{'pose' if spread.more_for_cross == 1 else 'poses'}."
        )
    if spread.missing:
        out.append(f"Most useful next: {'; '.join(spread.missing)}.")
    for number, pose in enumerate(poses):
        if not pose.used:
            place = f"number {number + 1}" if pose.start_s is None else f"at {pose.start_s:.1f} s"
            out.append(
                f"The pose {place} was left out: its force misses gravity by {pose.miss:+.3f} m/s2 where the others "
                "agree; the sensor was moving or touched."
            )
    if agreement.widened > 1.0:
        out.append(
            f"The poses agree less than their own noise allows (chi-square {agreement.chi_square:.1f} with "
            f"{agreement.freedom:.1f} degrees of freedom): every u is widened by {agreement.widened:.1f}."
        )
    out.append(
        f"The gyroscope's scale and cross-axis errors come from {turns} turns between poses."
        if turns
        else "The gyroscope's scale and cross-axis errors are not known: no turn between two poses could be used."
    )
    if not gravity_told:
        out.append(
            "Gravity is taken as 9.80665 m/s2; it differs by up to 0.3 % from place to place, which the u of scale "
            "allows for. Tell the local value as gravity_m_s2."
        )
    return tuple(out)


def _poses(count: int) -> str:
    return "1 still pose" if count == 1 else f"{count} still poses"


def _attitudes(count: int) -> str:
    return "1 attitude" if count == 1 else f"{count} different attitudes"
