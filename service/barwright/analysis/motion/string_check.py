"""A string on the same bar: held against what the inertial sensor says of height, and joined with it where they agree.

The string's height, less its mean, is one more set of linear rows for the fit between rests: each sensor keeps what it
knows best, the string the slow part and the inertial sensor the fast one. Before that the fit says what heights it
expects and how surely; a string that misses them by more than both allow is told, and left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.encoder_motion import encoder_motion
from barwright.analysis.motion.rest_solve import Solution, more_rows
from barwright.analysis.motion.samples import EncoderSamples, ImuSamples, SensorSetup
from barwright.analysis.quantities.unusable import UnusableSamples

Floats = NDArray[np.float64]
UP = np.array([0.0, 0.0, 1.0])
ROW_S = 0.08  # between rows: the inertial sensor fills in what lies between
ALIKE_S = 0.5  # what fore-aft motion adds to a string's length lasts about as long: rows within it err alike
MISSES = 2.5  # mean square miss, in units of what is expected, and miss over it, from which the two disagree
LEAST_LENGTH_M, USUAL_LENGTH_M = 0.15, 0.3  # a string is no shorter; one that counts from nought is about as long there
OWN_M = 0.002  # a string's stretch, sag and whip
TRAVEL_U_M, MOVED_M = 0.03, 0.15  # how well it is known where the string hangs: at first, and after a dropped bar
SETTLED_S = 0.5


@dataclass(frozen=True, slots=True)
class StringCheck:
    """rms_m: by how much heights differ; expected_m: by how much they should; agrees: whether that is alike.

    speed_m_s: the greatest difference of velocity that goes with it.
    """

    rms_m: float
    expected_m: float
    speed_m_s: float
    agrees: bool


@dataclass(frozen=True, slots=True)
class StringRows:
    """A string's heights (m,) m at t_s (m,) seconds since the recording's first sample, with u_m (m,).

    plumb: heights are the lengths of a string that hangs plumb where the bar rests, and the bar's fore-aft travel is
    still to be taken out of them.
    """

    t_s: Floats
    height_m: Floats
    u_m: Floats
    plumb: bool


def string_rows(samples: ImuSamples, setup: SensorSetup) -> StringRows | None:
    """The heights of the string that was recorded beside the inertial sensor; None where it told nothing."""
    if samples.position_m is None:
        return None
    try:
        found = encoder_motion(EncoderSamples(samples.t_s, samples.position_m), setup)
    except UnusableSamples:  # a string nobody can read must not cost what the inertial sensor saw
        return None
    every = slice(None, None, max(1, round(ROW_S / found.motion.dt)))
    t, height = found.motion.t_s[every], found.height_m[every]
    if found.geometry != "plumb":
        return StringRows(t, height, found.motion.errors.displacement_sd(-1.0, t, UP), False)
    lowest = float(height.min())
    length = height if lowest > LEAST_LENGTH_M else height - lowest + USUAL_LENGTH_M
    return StringRows(t, length, np.full(len(t), float(np.hypot(found.noise_sd_m, OWN_M))), True)


def joined(solution: Solution, start_s: float, string: StringRows) -> tuple[Solution, StringCheck | None]:
    """The fit of a stretch that begins at start_s with the string's rows put in, and how the two agree.

    A string that disagrees changes nothing; None for a stretch with too few rows to tell.
    """
    model = solution.at.model
    inside = (string.t_s >= start_s) & (string.t_s <= start_s + model.t_s[-1])
    if inside.sum() < 10:
        return solution, None
    t, height, u = string.t_s[inside] - start_s, string.height_m[inside], string.u_m[inside]
    every = np.linspace(0.0, model.t_s[-1], len(solution.at.nominal.position))
    position = np.stack([np.interp(t, every, solution.at.nominal.position[:, k]) for k in range(3)], axis=1)
    all_rows = model.position_rows(t)
    if string.plumb:
        travel = _travel(solution, position + all_rows @ solution.correction, t, every[1])
        height = height - travel**2 / (2 * height)
        off = TRAVEL_U_M if start_s < SETTLED_S else MOVED_M
        u = np.hypot(u, (travel * off + 0.5 * off**2) / height)
    variance = u**2 * (ALIKE_S / ROW_S)
    rows, wanted = all_rows[:, 2], height - position[:, 2]
    share = (1.0 / variance) / np.sum(1.0 / variance)
    rows, wanted = rows - share @ rows, wanted - share @ wanted  # where the string's nought lies is not known
    miss = wanted - rows @ solution.correction
    spread = solution.covariance(rows)
    expected = float(np.sqrt(np.mean(np.diag(spread) + u**2)))
    spread[np.diag_indices_from(spread)] += variance
    square = float(miss @ np.linalg.solve(spread, miss)) / len(miss)
    rms = float(np.sqrt(np.mean(miss**2)))
    speed = float(np.max(np.abs(np.diff(miss)) / np.diff(t)))
    check = StringCheck(rms, expected, speed, square < MISSES and rms < MISSES * expected)
    return (more_rows(solution, rows, wanted, variance) if check.agrees else solution), check


def _travel(solution: Solution, position: Floats, t: Floats, dt: float) -> Floats:
    """(m,) m horizontally from where the bar first rested."""
    first = solution.candidates[solution.believed[0]].span
    resting = (t >= first.start * dt) & (t <= first.stop * dt)
    origin = position[resting].mean(axis=0) if resting.any() else position[0]
    return np.asarray(np.linalg.norm((position - origin)[:, :2], axis=1))
