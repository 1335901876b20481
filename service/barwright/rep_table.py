"""An analysed set as a table for people."""

from __future__ import annotations

from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.reps.results import Rep, SetAnalysis

_COLUMNS = (
    ("peak_velocity", "peak velocity"),
    ("mean_velocity", "mean velocity"),
    ("mean_propulsive_velocity", "mean propulsive"),
    ("range_of_motion", "range of motion"),
    ("peak_height", "peak height"),
)


def table_of(analysis: SetAnalysis) -> str:
    """One line per rep, figures with their standard uncertainty; below it what is known of the samples."""
    head = ["rep", "outcome", "start s", *(title for _, title in _COLUMNS)]
    rows = [head, *(_row(rep) for rep in analysis.reps)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(head))]
    lines = ["  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    if not analysis.reps:
        lines = ["No reps found."]
    quality = analysis.quality
    rate = "" if quality.rate_hz is None else f" at {quality.rate_hz:.0f} Hz"
    lines += ["", f"Samples: {quality.samples} in {quality.duration_s:.1f} s{rate}; {quality.verdict}."]
    lines += [f"- {words}" for words in (*quality.words, *analysis.notes)]
    lines += [f"- rep {rep.index}: {words}" for rep in analysis.reps for words in rep.notes]
    return "\n".join(lines)


def _row(rep: Rep) -> list[str]:
    return [
        str(rep.index),
        rep.outcome,
        f"{rep.start_s:.2f}",
        *(_figure(rep.measures.get(name)) for name, _ in _COLUMNS),
    ]


def _figure(figure: Estimate | None) -> str:
    if figure is None or figure.value is None or figure.u is None:
        return "-"
    return f"{figure.value:.3f} ± {figure.u:.3f} {figure.unit}"
