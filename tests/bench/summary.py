"""Many scores to the figures of one row."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from bench.scoring import Figure, Score

VELOCITIES = {"peak_velocity", "mean_velocity"}
PATH_FIGURES = {
    "rearward_in_pull", "forward_swing", "x_at_peak_velocity", "x_at_apex", "loop_to_catch", "x_at_catch",
}  # fmt: skip


def figures(scores: Sequence[Score], *names: str) -> list[Figure]:
    """All figures of the named measures."""
    return [figure for one in scores for name in names for figure in one.figures.get(name, [])]


def rmse(found: Sequence[Figure]) -> float | None:
    """Root mean square error."""
    return float(np.sqrt(np.mean([f.error**2 for f in found]))) if found else None


def p95(found: Sequence[Figure]) -> float | None:
    """95th percentile of the size of the errors."""
    return float(np.quantile([abs(f.error) for f in found], 0.95)) if found else None


def covered(found: Sequence[Figure]) -> float | None:
    """Share of the truths within 2 u of the figure."""
    return float(np.mean([abs(f.error) <= 2 * f.u for f in found])) if found else None


def honesty(found: Sequence[Figure]) -> float | None:
    """RMSE over the root mean square of the stated u: 1 is honest, more is too sure, less is too shy."""
    size = float(np.sqrt(np.mean([f.u**2 for f in found]))) if found else 0.0
    error = rmse(found)
    return error / size if error is not None and size > 0 else None


def quantile(scores: Sequence[Score], of: Callable[[Score], list[float]], q: float) -> float | None:
    """A quantile over all reps."""
    values = [value for one in scores for value in of(one)]
    return float(np.quantile(values, q)) if values else None


def mean(scores: Sequence[Score], of: Callable[[Score], list[float]]) -> float | None:
    """The mean over all reps."""
    values = [value for one in scores for value in of(one)]
    return float(np.mean(values)) if values else None


def share(scores: Sequence[Score], of: Callable[[Score], bool]) -> float:
    """Share of the recordings for which something holds."""
    return float(np.mean([of(one) for one in scores]))


def worst_seeds(scores: Sequence[Score], count: int = 3) -> str:
    """The seeds worth a look: wrong reps, crashes, greatest errors."""

    def greatest(name: str) -> str:
        worst = sorted(
            ((max((abs(f.error) for f in one.figures.get(name, [])), default=0.0), one.seed) for one in scores),
            reverse=True,
        )
        return ", ".join(f"{seed} ({error:.3f})" for error, seed in worst[:count])

    parts = [f"{one.seed} {one.crash}" for one in scores if one.crash][:count]
    wrong = [one for one in scores if not one.right and not one.crash]
    parts += [
        f"{one.seed} found {'+'.join(one.found) or 'none'} for {'+'.join(one.true)}" for one in wrong[: 2 * count]
    ]
    if any(figures(scores, "peak_velocity")):
        paths = sorted(((max(one.x_error_m, default=0.0), one.seed) for one in scores), reverse=True)
        parts.append(f"peak velocity {greatest('peak_velocity')}; mean velocity {greatest('mean_velocity')}")
        if paths[0][0] > 0:
            parts.append("path x " + ", ".join(f"{seed} ({1000 * error:.0f} mm)" for error, seed in paths[:count]))
    return "; ".join(parts)
