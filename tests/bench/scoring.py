"""One recording analysed and held against its truth."""

from __future__ import annotations

import time
import warnings
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from barsim import RepTruth, SimulatedRecording
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.quantities.unusable import UnusableSamples
from barwright.analysis.reps.results import Rep
from barwright.analysis.reps.set_analysis import analyse_set
from bench.cases import Case, make

Floats = NDArray[np.float64]
JERK = ("mean_velocity", "range_of_motion", "peak_velocity", "time_to_peak", "mean_propulsive_velocity")


@dataclass(frozen=True, slots=True)
class Figure:
    """One measured figure: its error (measured minus true) and the uncertainty it came with."""

    error: float
    u: float


@dataclass(slots=True)
class Score:
    """One recording. figures: measure -> one Figure a rep; *_error_m: greatest error of a rep's path, one a rep.

    x_inside, z_inside: share of a rep's path within 2 u of the truth. missing: figures only the truth has.
    crash: what went wrong when the analysis raised something.
    """

    seed: int
    found: tuple[str, ...] = ()
    true: tuple[str, ...] = ()
    figures: dict[str, list[Figure]] = field(default_factory=dict)
    x_error_m: list[float] = field(default_factory=list)
    z_error_m: list[float] = field(default_factory=list)
    x_inside: list[float] = field(default_factory=list)
    z_inside: list[float] = field(default_factory=list)
    missing: int = 0
    unfound: int = 0
    cpu_s: float = 0.0
    crash: str = ""

    @property
    def right(self) -> bool:
        """Every rep found, none made up, every outcome right."""
        return self.found == self.true and not self.crash

    @property
    def counted(self) -> bool:
        """As many made reps as there were."""
        return self.found.count("made") == self.true.count("made") and not self.crash


def score(case: Case, seed: int) -> Score:
    """Simulate, analyse, compare."""
    simulated = make(case, seed)
    out = Score(seed, true=tuple(rep.outcome for rep in simulated.truth.reps))
    begin = time.process_time()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", RuntimeWarning)
            answer = analyse_set(simulated.recording, LIFTS[case.lift])
    except UnusableSamples as refused:
        out.crash = f"refused: {refused.detail}"
        return out
    except Exception as crash:  # a crash on one lift is a result of the benchmark, told with its seed
        out.crash = f"{type(crash).__name__}: {crash}"
        return out
    out.cpu_s = time.process_time() - begin
    out.found = tuple(rep.outcome for rep in answer.reps)
    for true in simulated.truth.reps:
        rep = matching(answer.reps, true)
        if rep is None:
            out.unfound += 1
        elif true.outcome == "made":
            _compare(out, rep, true, simulated)
    return out


def matching(reps: tuple[Rep, ...], true: RepTruth) -> Rep | None:
    """The rep that shares most time with a true one; None when none does."""

    def shared(rep: Rep) -> float:
        return min(rep.stop_s, true.stop_s) - max(rep.start_s, true.start_s)

    best = max(reps, key=shared, default=None)
    return best if best is not None and shared(best) > 0 else None


def _compare(out: Score, rep: Rep, true: RepTruth, simulated: SimulatedRecording) -> None:
    expected = {**true.measures, "concentric_time": true.concentric[1] - true.concentric[0]}
    if true.jerk is not None:
        expected |= {f"jerk_{name}": true.jerk.measures[name] for name in JERK}
    told = {**rep.measures, **rep.path_measures}
    for name, value in {**expected, **_path_figures(true, simulated)}.items():
        figure = told.get(name)
        if figure is None:  # a lift does not have every measure
            continue
        if figure.value is None or figure.u is None:
            out.missing += 1
            continue
        out.figures.setdefault(name, []).append(Figure(figure.value - value, figure.u))
    path = rep.path
    inside = (path.t_s >= rep.start_s) & (path.t_s <= rep.stop_s)
    t = path.t_s[inside]
    if len(t) < 2:
        return
    x, z = _bar_at(simulated, np.concatenate(([rep.start_s], t)))
    z_error = path.z_m[inside] - (z[1:] - z[0])
    out.z_error_m.append(float(np.abs(z_error).max()))
    out.z_inside.append(float(np.mean(np.abs(z_error) <= 2 * path.u_z[inside] + 1e-9)))
    if path.x_m is not None and path.u_x is not None:
        x_error = path.x_m[inside] - (x[1:] - x[0])
        out.x_error_m.append(float(np.abs(x_error).max()))
        out.x_inside.append(float(np.mean(np.abs(x_error) <= 2 * path.u_x[inside] + 1e-9)))


def _bar_at(simulated: SimulatedRecording, told_s: Floats) -> tuple[Floats, Floats]:
    """True x and z of the bar's middle at times of the device's clock."""
    times = simulated.imu or simulated.encoder
    assert times is not None
    span = float(times.true_t_s.max() - times.true_t_s[0])
    rate = float(times.t_s[-1]) / span if abs(float(times.t_s[-1]) / span - 1) > 2e-4 else 1.0
    t = told_s / rate + float(times.true_t_s[0])
    order = np.argsort(t, kind="stable")
    back = np.argsort(order, kind="stable")
    return simulated.bar.x.evaluate(t[order])[0][back], simulated.bar.z.evaluate(t[order])[0][back]


def _path_figures(true: RepTruth, simulated: SimulatedRecording) -> dict[str, float]:
    """Fore-aft figures of a pull by the definitions in docs/method.md, from the true path."""
    e = true.edges
    if "lift_off" not in e or "settled" not in e or "first_pull_end" not in e:
        return {}
    t = np.arange(e["lift_off"], e["settled"], 0.001)
    x, z = _bar_at(simulated, t)
    x = x - x[0]
    peak, apex = (int(np.searchsorted(t, e[name])) for name in ("peak_velocity", "apex"))
    rear = int(np.argmin(x[: peak + 1]))
    swing = rear + int(np.argmax(x[rear : apex + 1]))
    low = apex + int(np.argmin(z[apex:]))
    return {
        "rearward_in_pull": float(x[rear]),
        "forward_swing": float(x[swing] - x[rear]),
        "x_at_peak_velocity": float(x[peak]),
        "x_at_apex": float(x[apex]),
        "loop_to_catch": float(x[low] - x[swing]),
        "x_at_catch": float(x[low]),
    }
