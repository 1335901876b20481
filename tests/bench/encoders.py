"""String encoders: rates, a slanting string, slipped counts, wild values."""

from __future__ import annotations

from barsim import EncoderKind
from bench.accuracy import path_row, velocity_row
from bench.cases import Case
from bench.summary import worst_seeds
from bench.tables import Table
from bench.work import Bench

PLUMB = EncoderKind(rate_hz=100, resolution_m=0.0003)
KINDS = {
    "50 Hz": EncoderKind(rate_hz=50, resolution_m=0.0003),
    "100 Hz": PLUMB,
    "200 Hz": EncoderKind(rate_hz=200, resolution_m=0.0003),
    "anchor 0.2 m forward": EncoderKind(rate_hz=100, resolution_m=0.0003, anchor_x_m=0.2),
    "anchor 0.2 m to the side": EncoderKind(rate_hz=100, resolution_m=0.0003, anchor_y_m=0.2),
    "2 slips of 10 mm": EncoderKind(rate_hz=100, resolution_m=0.0003, slips=2),
    "0.5 % wild values": EncoderKind(rate_hz=100, resolution_m=0.0003, outliers=0.005),
}
COLUMNS = (
    "lift", "sets", "reps right %", "peak v RMSE m/s", "p95", "in 2u %", "RMSE/u", "mean v RMSE m/s", "in 2u %",
    "RMSE/u", "CPU ms", "path z median mm", "p95", "in 2u %", "other measures in 2u %", "lowest of one measure",
)  # fmt: skip


def encoders(bench: Bench) -> list[Table]:
    """Every kind on a snatch and on sets of slow lifts. Truth is the bar's height; the string sees its own length."""
    cases = [
        Case(lift, None, reps, "off", f"{lift} x{reps}, {name}", encoder=kind)
        for name, kind in KINDS.items()
        for lift, reps in (("snatch", 1), ("back_squat", 5), ("bench_press", 5), ("deadlift", 3))
    ]
    scores = bench.scores("encoders", cases)
    rows = []
    for case, found in zip(cases, scores, strict=True):
        velocity, path = velocity_row(case, found), path_row(case, found)
        rows.append((*velocity[1:], *path[5:9], path[10]))
    notes = [
        "A string anchored off the bar's path lengthens when the bar swings fore and aft: with the anchor 0.2 m "
        "forward, 0.3 m/s of fore-aft speed at 1 m height reads as 0.06 m/s. One string cannot tell the two apart.",
        *(
            f"{case.title}, seeds: {worst_seeds(found)}"
            for case, found in zip(cases, scores, strict=True)
            if not all(one.right for one in found)
        ),
    ]
    return [Table("String encoders, 0.3 mm resolution", COLUMNS, tuple(rows), tuple(notes))]
