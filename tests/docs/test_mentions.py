"""The pages name everything there is to name."""

from __future__ import annotations

import dataclasses
import inspect
import re

import pytest

from barsim import simulate
from barwright import __main__ as commands
from barwright.analysis.motion.device_class import DEVICE_CLASSES
from barwright.analysis.motion.imu_motion import ImuParams
from barwright.analysis.motion.rest_fit import FitParams
from barwright.analysis.motion.rest_rows import HandParams
from barwright.analysis.motion.rests import RestParams
from barwright.analysis.motion.stretches import CutParams
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps import jerk_path, jerk_phases, pull_path, pull_phases, slow_phases
from barwright.analysis.reps.find_reps import RepParams
from barwright.analysis.reps.measures import measure_rep
from barwright.analysis.reps.pull_marks import MarkParams
from barwright.analysis.reps.set_analysis import analyse_set
from barwright.settings import Settings
from docs.pages import PROJECT, page

README, DEVELOPERS = page("README.md"), page("DEVELOPERS.md")
METHOD = page("docs/method.md") + page("docs/technique.md")


def variables_of_settings() -> list[str]:
    return sorted(set(re.findall(r"BARWRIGHT_[A-Z_]+", inspect.getsource(inspect.getmodule(Settings)))))


def make_targets() -> list[str]:
    return re.findall(r"^([a-z][a-z-]*):", (PROJECT / "Makefile").read_text(), re.MULTILINE)


def subcommands() -> dict[str, list[str]]:
    """Each command of the program and its options, from the parser itself."""
    (chosen,) = (a for a in commands._parser()._actions if a.dest != "help")
    return {
        name: [option for action in parser._actions for option in action.option_strings if option.startswith("--")]
        for name, parser in chosen.choices.items()
    }


def test_there_is_something_to_mention():
    assert len(variables_of_settings()) == len(dataclasses.fields(Settings))
    assert {"demo", "test", "check", "lock"} <= set(make_targets())
    assert {"serve", "analyse"} <= set(subcommands())


@pytest.mark.parametrize("name", variables_of_settings())
def test_every_setting_is_explained_on_the_front_page(name):
    assert re.search(rf"^\| `{name}` \| .+ \| .+ \|$", README, re.MULTILINE)
    assert f"`{name}`" in DEVELOPERS


def test_no_page_names_a_setting_that_is_not_there():
    told = set(re.findall(r"BARWRIGHT_[A-Z_]+", README + DEVELOPERS))
    assert told - {"BARWRIGHT_KEY"} == set(variables_of_settings())  # the examples keep the caller's key in this one


@pytest.mark.parametrize("target", make_targets())
def test_every_make_target_is_explained(target):
    assert re.search(rf"^\| `make {target}`", DEVELOPERS, re.MULTILINE)


def test_no_page_names_a_make_target_that_is_not_there():
    told = set(re.findall(r"\bmake ([a-z]+)(?=`|$|\s{2,}| [A-Z]+=)", README + DEVELOPERS, re.MULTILINE))
    assert {"demo", "test"} <= told <= set(make_targets())


@pytest.mark.parametrize(("command", "options"), subcommands().items())
def test_every_command_stands_on_the_front_page_with_its_options(command, options):
    (row,) = re.findall(rf"^\| `barwright {command}\b.*$", README, re.MULTILINE)
    assert set(re.findall(r"--[a-z-]+", row.partition("` |")[0])) == set(options) - {"--help"}


@pytest.mark.parametrize(
    "field",
    [
        field.name
        for params in (CutParams, RestParams, FitParams, HandParams, RepParams, MarkParams)
        for field in dataclasses.fields(params)
        if field.name != "hands"
    ],
)
def test_the_method_says_what_every_parameter_does(field):
    assert f"`{field}`" in METHOD


def test_the_method_names_every_class_of_parameters_and_of_devices():
    for params in (ImuParams, CutParams, RestParams, FitParams, HandParams, RepParams, MarkParams):
        assert f"`{params.__name__}`" in METHOD
    for name in DEVICE_CLASSES:
        assert re.search(rf"^\| `{name}` \|", METHOD, re.MULTILINE)


@pytest.mark.parametrize("lift", ["snatch", "clean_and_jerk", "jerk", "snatch_pull", "back_squat", "deadlift"])
def test_the_method_defines_every_figure_and_phase_that_is_answered(lift):
    (rep,) = analyse_set(simulate(lift, seed=11, device="good").recording, LIFTS[lift]).reps
    for name in (*rep.measures, *rep.path_measures, *(phase.phase for phase in rep.phases)):
        known = f"`{name}`" in METHOD or (name.startswith("jerk_") and f"`{name.removeprefix('jerk_')}`" in METHOD)
        assert known, name


def test_the_method_names_every_phase_the_code_can_answer():
    source = "".join(inspect.getsource(module) for module in (pull_phases, jerk_phases, slow_phases))
    said = re.findall(r"(?:Phase\(|\()\s*\"([a-z_]+)\",", source)
    assert len(said) > 12
    assert [name for name in said if f"`{name}`" not in METHOD] == []


def test_the_method_names_every_figure_the_code_can_answer():
    source = inspect.getsource(measure_rep) + inspect.getsource(pull_path) + inspect.getsource(jerk_path)
    said = re.findall(r"(?:out\[\"|^ +\")([a-z_]+)\"(?:\] =|: path)", source, re.MULTILINE)
    assert len(said) > 20
    known = [name.removeprefix("jerk_") for name in said]
    assert [name for name in known if f"`{name}`" not in METHOD] == []
