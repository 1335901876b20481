"""The demo: what it sends, how it lines reps up with their truth, how it ends."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest

from barwright_client import Figure, Rep, SetResult
from quarry_lane.running import HOST, DemoFailed, free_port, new_key, service
from quarry_lane.season import lifters, plan_of
from quarry_lane.sending import Sample, samples_in
from quarry_lane.table import rows_of

STREAMS = Path(__file__).parents[2] / "sample_streams"
SAMPLES = samples_in(STREAMS)


@pytest.fixture
def demo(tmp_path: Path) -> Iterator[Callable[..., subprocess.Popen[str]]]:
    """Starts the demo in a folder of its own, on a port of its own; ended with the test, however that ends."""
    started: list[subprocess.Popen[str]] = []

    def start(*more: str) -> subprocess.Popen[str]:
        command = [
            sys.executable,
            "-u",
            str(STREAMS / "demo.py"),
            "--data",
            str(tmp_path / "demo"),
            "--port",
            "0",
            *more,
        ]
        started.append(subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True))
        return started[-1]

    yield start
    for running in started:
        if running.poll() is None:
            running.terminate()
            running.communicate(timeout=30)


@pytest.mark.parametrize("today", range(7))
def test_whatever_day_it_is_there_is_a_plan_for_today_and_one_day_of_rest(today: int) -> None:
    for one in lifters():
        assert plan_of(one, today, today)
        assert sum(not plan_of(one, weekday, today) for weekday in range(7)) == 1


def rep(index: int, start_s: float, stop_s: float, **measures: Figure) -> Rep:
    return Rep(index, "made", start_s, stop_s, measures)


def truth(start_s: float, stop_s: float, peak: float) -> dict[str, object]:
    return {"start_s": start_s, "stop_s": stop_s, "measures": {"peak_velocity": peak}}


def rows(reps: list[Rep], truths: list[dict[str, object]]) -> list[list[str]]:
    sample = Sample(Path("x.csv"), {"units": {"position": "m"}}, truths)
    return list(rows_of(sample, SetResult("s", "analysed", "jerk", 100, "a", athlete="Tomas", reps=tuple(reps))))


def test_reps_are_lined_up_with_their_truth_by_time() -> None:
    found = rows([rep(0, 1, 3), rep(1, 8, 9)], [truth(4, 6, 1.2), truth(1.2, 3.3, 1.1)])
    assert [(row[3], row[4], row[-1]) for row in found] == [
        ("0", "made", "1.100"),
        ("1", "made", "none"),
        ("-", "not found", "1.200"),
    ]
    assert found[0][:3] == ["Tomas", "jerk (string)", "100"]


def test_figures_are_shown_with_their_uncertainty_and_never_with_nought() -> None:
    measures = {"peak_velocity": Figure(1.5, 0.0001, "m/s"), "mean_velocity": Figure(None, None, "m/s", "why")}
    (row,) = rows([rep(0, 1, 3, **measures)], [truth(1, 3, 1.5)])
    assert row[5:8] == ["1.500 ± 0.001", "-", "-"]


def test_every_recording_has_its_truth_and_a_device() -> None:
    assert len(SAMPLES) >= 10
    assert sum(sample.live for sample in SAMPLES) == 2
    assert {sample.meta["athlete"] for sample in SAMPLES} == {"Imke", "Tomas", "Rana", "Oskar", "Lucja"}


def test_a_taken_port_is_left_alone() -> None:
    with socket.socket() as taken:
        taken.bind((HOST, 0))
        taken.listen()
        assert free_port(taken.getsockname()[1]) != taken.getsockname()[1]


def test_a_folder_of_someone_else_is_never_emptied(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("precious")
    with pytest.raises(DemoFailed, match="not made by the demo"):
        new_key(tmp_path, "Club")
    assert (tmp_path / "mine.txt").read_text() == "precious"


def test_a_service_that_cannot_start_is_told_with_its_last_words(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind((HOST, 0))
        taken.listen()
        with (
            pytest.raises(DemoFailed, match=r"(?s)ended at once.*cannot serve"),
            service(tmp_path, taken.getsockname()[1]),
        ):
            pass


def test_the_demo_shows_every_rep_and_ends(demo: Callable[..., subprocess.Popen[str]]) -> None:
    """The very demo of the README: every athlete and the days at home, which `--quick` leaves out."""
    running = demo("--once")
    shown, errors = running.communicate(timeout=300)
    assert running.returncode == 0, errors
    lines = [line.split() for line in shown.splitlines()]
    for sample in SAMPLES:
        for one in sample.reps:
            true_peak = f"{one['measures']['peak_velocity']:.3f}"
            assert [line for line in lines if line[:1] == [sample.meta["athlete"]] and line[-1] == true_peak], true_peak
    assert "±" in shown


def test_the_demo_serves_until_it_is_interrupted(demo: Callable[..., subprocess.Popen[str]]) -> None:
    running = demo("--quick")
    shown = ""
    assert running.stdout is not None
    until = time.monotonic() + 180
    while "Serving until" not in shown and running.poll() is None and time.monotonic() < until:
        shown += running.stdout.readline()
    found = re.search(r"curl -H 'Authorization: (.*?)' (\S+)", shown)
    assert found, shown
    answer = httpx.get(found[2], headers={"Authorization": found[1]})
    assert json.loads(answer.content)["reps"]
    link = re.search(r"http://\S+/sign-in/\S+", shown)
    assert link, shown
    browser = httpx.Client(follow_redirects=True)
    today = browser.post(link[0])
    assert today.status_code == 200
    assert all(name in today.text for name in ("Imke", "Tomas", "Rana", "Oskar", "Lucja"))
    os.kill(running.pid, signal.SIGINT)
    rest, errors = running.communicate(timeout=30)
    assert running.returncode == 0, errors
    assert "ended" in rest
    with pytest.raises(httpx.ConnectError):
        httpx.get(found[2])
