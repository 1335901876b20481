"""Paths laid over each other, the band, the letter, and how lifts were lost."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from barsim import Options, simulate
from barsim.technique import faulty
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.set_analysis import analyse_set
from barwright.analysis.technique.compare import aligned, band_of, style_of
from barwright.analysis.technique.misses import how_lost
from barwright.analysis.technique.seen import SeenRep
from lifts_by_hand import path

AT = datetime(2026, 9, 1, tzinfo=UTC)


def test_paths_are_aligned_where_the_bar_leaves_the_floor():
    late = path()
    late = replace(late, t_s=late.t_s + 3.0)
    one, other = aligned(path()), aligned(late)
    assert one.t_s[0] == other.t_s[0] == 0.0
    n = min(len(one.t_s), len(other.t_s))
    assert np.abs(one.z_m[:n] - other.z_m[:n]).max() < 1e-9
    assert np.abs(one.x_m[:n] - other.x_m[:n]).max() < 1e-9


def test_the_band_is_the_spread_of_the_good_lifts():
    band = band_of([aligned(path(f)) for f in (-0.02, 0.0, 0.02)])
    assert band.count == 3
    assert band.x_sd[-1] == pytest.approx(0.02, abs=0.0015)  # some of it is gone by lift-off
    assert band.z_sd.max() < 1e-9
    assert band_of([aligned(path())]) is None
    no_x = replace(path(), x_m=None, vx=None, u_x=None)
    assert band_of([aligned(no_x), aligned(path())]).x_m is None


@pytest.mark.parametrize(
    ("knots", "letter", "crossings"),
    [
        ([(0, 0), (0.4, -0.06), (0.7, 0.04), (1, -0.05)], "A", ("rear", "front", "rear")),
        ([(0, 0), (0.4, -0.06), (0.7, -0.03), (1, -0.08)], "B", ("rear",)),
        ([(0, 0), (0.3, 0.05), (0.7, -0.04), (1, 0.03)], "C", ("front", "rear", "front")),
        ([(0, 0), (0.4, -0.06), (1, 0.06)], "other", ("rear", "front")),
        ([(0, 0), (1, 0.005)], "other", ()),
    ],
)
def test_the_letter_follows_the_crossings(knots, letter, crossings):
    """Crossing rules after Vorobyev's types, from memory: the letter never grades."""
    one = path()
    s = np.clip((one.t_s - 0.2) / 1.2, 0, 1)
    found = style_of(replace(one, x_m=np.interp(s, *zip(*knots, strict=True))))
    assert (found.letter, found.crossings) == (letter, crossings)


def test_without_fore_aft_motion_there_is_no_letter():
    assert style_of(replace(path(), x_m=None, vx=None, u_x=None)) is None


def lost(lift: str, how: str, seed: int, share: float = 0.8, **faults: float) -> SeenRep:
    options = Options(outcomes=(how,), faults=faulty(faults))
    (rep,) = analyse_set(simulate(lift, seed=seed, share=share, options=options).recording, LIFTS[lift]).reps
    return SeenRep("s", rep.index, AT, 80.0, rep.outcome, {**rep.measures, **rep.path_measures})


@pytest.mark.parametrize("lift", ["snatch", "clean"])
@pytest.mark.parametrize(
    ("how", "way"), [("forward_miss", "forward"), ("behind_miss", "behind"), ("no_height", "not_enough_height")]
)
def test_lost_lifts_are_told_apart_by_their_path(lift, how, way):
    ways = [how_lost(lost(lift, how, seed)).way for seed in range(4)]
    assert ways.count(way) >= 3
    assert set(ways) <= {way, "not_told"}


def test_forward_misses_differ_already_in_the_direction_of_the_first_pulls_push():
    """Gourgoulis et al. 2009 (abstract): only the direction of the bar's acceleration differs, from the first pull on.

    Rearward motion from turnover to catch is smaller, the greatest height is not (Nagao et al. 2020, abstract).
    """
    made, missed = [], []
    for seed in range(5):
        (rep,) = analyse_set(simulate("snatch", seed=seed, share=0.9).recording, LIFTS["snatch"]).reps
        made.append({**rep.measures, **rep.path_measures})
        missed.append(lost("snatch", "forward_miss", seed + 50, 0.9, S3=1.5).figures)

    def mean(found, name: str) -> float:
        return float(np.mean([one[name].value for one in found]))

    assert mean(missed, "push_direction") - mean(made, "push_direction") > np.radians(4)
    assert mean(missed, "peak_height") == pytest.approx(mean(made, "peak_height"), abs=0.08)
    assert mean(missed, "x_at_apex") - mean(made, "x_at_apex") > 0.02


def test_the_path_varies_more_at_the_catch_than_in_the_first_pull():
    """Variability grows from the first pull to the catch (Sandau, Langen & Nitzsche 2023, seen in the abstract)."""
    found = []
    for seed in range(8):
        (rep,) = analyse_set(simulate("snatch", seed=seed, share=0.85).recording, LIFTS["snatch"]).reps
        found.append(rep.path_measures)
    sd = {name: float(np.std([one[name].value for one in found])) for name in ("x_at_knee", "x_at_catch")}
    assert sd["x_at_catch"] > sd["x_at_knee"]
