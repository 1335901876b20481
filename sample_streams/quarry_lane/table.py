"""One table of all reps, each beside its truth."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rich import box
from rich.table import Table

from barwright_client import Figure, Rep, SetResult
from quarry_lane.sending import Sample

_NOT_THERE = "-"
Truth = dict[str, Any]

WIDTH = 140  # columns of text the table needs


def table_of(results: list[tuple[Sample, SetResult]]) -> Table:
    """A row per rep. The last column is what the simulator made the bar do; nothing else is taken from it."""
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False)
    for name in ("athlete", "lift", "kg", "rep", "outcome"):
        table.add_column(name, no_wrap=True, justify="right" if name == "kg" else "left")
    for name in ("peak\nm/s", "mean\nm/s", "height\nm", "rearmost\ncm", "foremost\ncm", "true peak\nm/s"):
        table.add_column(name, no_wrap=True, justify="right")
    for sample, result in results:
        for row in rows_of(sample, result):
            table.add_row(*row)
        table.add_section()
    return table


def rows_of(sample: Sample, result: SetResult) -> Iterator[list[str]]:
    """The rows of one set; a rep that was missed, or found where there is none, says so."""
    lift = result.lift + (" (string)" if "position" in sample.meta["units"] else "")
    about = [result.athlete or "", lift, f"{result.load_kg:g}"]
    left = list(sample.reps)
    for rep in result.reps:
        truth = max(left, key=lambda each: _shared_s(rep, each), default=None)
        if truth is not None and _shared_s(rep, truth) > 0:
            left.remove(truth)
        else:
            truth = None
        yield [*about, str(rep.index), rep.outcome, *_figures(rep, ""), *_ways(rep), _true_peak(truth)]
        if "jerk_peak_velocity" in rep.measures:
            jerk = truth and truth.get("jerk")
            yield [*about, f"{rep.index} jerk", rep.outcome, *_figures(rep, "jerk_"), "", "", _true_peak(jerk)]
    for truth in left:
        yield [*about, _NOT_THERE, "not found", *[_NOT_THERE] * 5, _true_peak(truth)]


def _shared_s(rep: Rep, truth: Truth) -> float:
    return min(rep.stop_s, float(truth["stop_s"])) - max(rep.start_s, float(truth["start_s"]))


def _true_peak(truth: Truth | None) -> str:
    return f"{truth['measures']['peak_velocity']:.3f}" if truth else "none"


def _figures(rep: Rep, part: str) -> list[str]:
    height = rep.measures.get(f"{part}peak_height") or rep.measures.get(f"{part}range_of_motion")
    speeds = (rep.measures.get(f"{part}peak_velocity"), rep.measures.get(f"{part}mean_velocity"))
    return [_shown(figure, decimals=3) for figure in (*speeds, height)]


def _ways(rep: Rep) -> list[str]:
    return [_shown(rep.path_measures.get(name), decimals=1, factor=100.0) for name in ("most_rearward", "most_forward")]


def _shown(figure: Figure | None, decimals: int, factor: float = 1.0) -> str:
    if figure is None or figure.value is None or figure.u is None:
        return _NOT_THERE
    u = max(factor * figure.u, 10.0**-decimals)  # never shown as nought
    return f"{factor * figure.value:.{decimals}f} ± {u:.{decimals}f}"
