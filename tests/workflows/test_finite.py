from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import stand_in
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.reps.results import Phase
from barwright.workflows.analysis_job import Broken, run_job
from barwright.workflows.finite import check_finite
from workflows.test_analyst import job

GOOD = run_job(job(), stand_in.analyse_set)


def rep(**changes):
    return dataclasses.replace(GOOD, reps=(dataclasses.replace(GOOD.reps[0], **changes),))


def test_a_good_analysis_is_left_alone():
    assert check_finite(GOOD) is GOOD


@pytest.mark.parametrize(
    ("analysis", "where"),
    [
        (rep(start_s=float("nan")), "set.reps[0].start_s"),
        (rep(measures={"peak_velocity": Estimate(1.0, float("inf"), "m/s")}), "set.reps[0].measures[peak_velocity].u"),
        (rep(phases=(Phase("catch", 0.0, 1.0, float("nan")),)), "set.reps[0].phases[0].sure"),
        (rep(path=dataclasses.replace(GOOD.reps[0].path, u_z=np.array([0, np.inf]))), "set.reps[0].path.u_z"),
        (dataclasses.replace(GOOD, quality=dataclasses.replace(GOOD.quality, rests=((0, float("nan")),))), "rests"),
    ],
)
def test_a_number_json_cannot_hold_is_a_bug_of_the_analysis(analysis, where):
    outcome = run_job(job(), lambda _recording, _lift: analysis)
    assert isinstance(outcome, Broken)
    assert f"{where}" in outcome.log
    assert "is not finite" in outcome.log
