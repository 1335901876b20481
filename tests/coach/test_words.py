from __future__ import annotations

import re
from pathlib import Path

import pytest

from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.technique.limits import limits_for
from barwright.coach.words import MEASURES, measure_title, phase_titles

TECHNIQUE = (Path(__file__).parents[2] / "docs/technique.md").read_text()
EXPLAINED = TECHNIQUE.partition("## Path measures")[2].partition("## Faults")[0]
NAMES = sorted(set(re.findall(r"^\| (`[a-z_`, ]+`) \|", EXPLAINED, re.MULTILINE)))


@pytest.mark.parametrize("name", [one.strip("` ") for row in NAMES for one in row.split(",")])
def test_every_path_measure_the_docs_explain_has_a_title_in_plain_words(name):
    assert name in MEASURES
    assert "X" not in measure_title(name)


def test_every_measure_a_fault_is_told_by_has_a_title():
    named = {limit.measure for lift in LIFTS.values() for limit in limits_for(lift)}
    assert named
    assert {one.removeprefix("jerk_") for one in named} <= set(MEASURES)


def test_titles_of_measures_differ():
    assert len(set(MEASURES.values())) == len(MEASURES)


def test_only_what_comes_twice_is_told_apart():
    assert phase_titles(["catch", "recovery", "dip", "recovery"]) == [
        "Catch",
        "Recovery",
        "Dip",
        "Recovery of the jerk",
    ]
