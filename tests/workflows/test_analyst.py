"""Analysis in processes of its own: what comes back, and what happens when one dies."""

from __future__ import annotations

import ctypes
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

import numpy as np
import pytest

import stand_in
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.results import SetAnalysis
from barwright.ingest.block import Block, pack_many
from barwright.storage.devices import DeviceFacts, Mounting
from barwright.storage.streams import NewStream
from barwright.workflows.analysis_job import AnalysisJob, Broken, Unusable, run_job, sensor_setup
from barwright.workflows.analyst import Analyst

UNITS = {"accel": "[g]", "gyro": "deg/s"}


def job(count=100, lift="snatch", device=None):
    names = [f"{group}_{axis}" for group in UNITS for axis in "xyz"]
    blocks = [
        Block("b", seq, np.arange(count) * 5000 + seq * count * 5000, {name: np.full(count, 0.5) for name in names})
        for seq in range(2)
    ]
    device = device or DeviceFacts("bar 3", "imu", Mounting((1.0, 0.0, 0.0)))
    told = NewStream("ath_1", "dev_1", lift, 60.0, datetime(2026, 3, 1, tzinfo=UTC), UNITS, 200.0, device)
    # Out of order and with a repeat, as blocks may be stored.
    return AnalysisJob((pack_many(blocks[::-1]), pack_many(blocks[:1])), told)


def test_the_recording_is_whole_and_in_si_whatever_order_the_blocks_are_in():
    seen = []

    def look(recording, lift):
        seen.append((recording, lift))
        return stand_in.analyse_set(recording, lift)

    assert isinstance(run_job(job(), look), SetAnalysis)
    ((recording, lift),) = seen
    (part,) = recording.parts
    assert lift is LIFTS["snatch"]
    assert np.allclose(np.diff(part.t_s), 0.005)
    assert len(part.t_s) == 200
    assert part.accel_m_s2 == pytest.approx(0.5 * 9.80665)
    assert part.gyro_rad_s == pytest.approx(np.deg2rad(0.5))


def test_what_is_known_of_the_device_reaches_the_analysis():
    mounting = Mounting((0.0, 0.6, 0.8), "sleeve", 0.2, 0.1)
    device = DeviceFacts("bar", "imu", mounting, "hobby", {"accel": 156.9, "gyro": 34.9})
    setup = sensor_setup(device, 200.0)
    assert list(setup.bar_axis) == [0.0, 0.6, 0.8]
    assert (setup.place, setup.device_class, setup.nominal_rate_hz) == ("sleeve", "hobby", 200.0)
    assert (setup.accel_range_m_s2, setup.gyro_range_rad_s) == (156.9, 34.9)
    assert (setup.anchor_offset_m, setup.anchor_height_m) == (0.2, 0.1)
    assert sensor_setup(DeviceFacts("bar", "imu"), None).bar_axis is None


def test_unusable_samples_and_bugs_come_back_as_data():
    assert run_job(job(count=5), stand_in.analyse_set) == Unusable(
        "too-few-samples", "There are 10 samples; 20 are needed."
    )
    broken = run_job(job(lift=stand_in.BUGGY_LIFT), stand_in.analyse_set)
    assert isinstance(broken, Broken)
    assert "ZeroDivisionError" in broken.log


def worker_ids():
    return [child.pid for child in multiprocessing.active_children()]


def die(_job):
    os.kill(os.getpid(), signal.SIGKILL)


def test_a_worker_that_dies_is_replaced_and_its_job_done_again():
    analyst = Analyst(1, stand_in.outcome_of)
    try:
        for warm in analyst.warm():
            warm.result(timeout=60)
        (pid,) = worker_ids()
        os.kill(pid, signal.SIGKILL)
        assert isinstance(analyst(job()), SetAnalysis)
        assert pid not in worker_ids()
    finally:
        analyst.close()


def test_a_job_that_kills_every_worker_is_given_up():
    analyst = Analyst(1, die)
    try:
        outcome = analyst(job())
        assert isinstance(outcome, Broken)
        assert "died, twice" in outcome.log
    finally:
        analyst.close()


def die_of_jerks(job):
    time.sleep(0.3)  # long enough that both workers of a pool have a job in hand
    if job.told.lift == "jerk":
        os.kill(os.getpid(), signal.SIGKILL)
    return stand_in.outcome_of(job)


def test_a_job_that_kills_its_worker_costs_no_other_job_its_analysis():
    analyst = Analyst(2, die_of_jerks)
    try:
        with ThreadPoolExecutor(4) as at_once:
            told = list(at_once.map(analyst, [job(lift=lift) for lift in ("jerk", "snatch", "jerk", "clean")]))
        assert [isinstance(outcome, Broken) for outcome in told] == [True, False, True, False]
        assert all(isinstance(outcome, SetAnalysis) for outcome in told[1::2])
    finally:
        analyst.close()


def blas_threads(_job=None):
    """Threads of every OpenBLAS loaded here, by its own answer; numpy and scipy each bring one in their wheels."""
    import scipy.linalg  # noqa: F401 - loads the second

    with open("/proc/self/maps") as maps:
        paths = {line.split()[-1] for line in maps if "openblas" in line}
    libraries = [ctypes.CDLL(path) for path in paths]
    names = ("scipy_openblas_get_num_threads64_", "scipy_openblas_get_num_threads")
    return [getattr(one, name)() for one in libraries for name in names if hasattr(one, name)]


@pytest.mark.parametrize(("told", "threads"), [(None, 1), ("2", 2)])
def test_a_worker_computes_in_one_thread_unless_told_otherwise(monkeypatch, told, threads):
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        monkeypatch.delenv(name, raising=False)
    if told is not None:
        monkeypatch.setenv("OPENBLAS_NUM_THREADS", told)
    analyst = Analyst(1, blas_threads)
    try:
        # No more threads than cores, whatever is asked for.
        assert analyst(job()) == [min(threads, os.cpu_count())] * 2
    finally:
        analyst.close()


def test_the_command_line_computes_in_one_thread():
    told = (
        "from barwright.__main__ import main; main(['new-key', '--data', '/dev/null/x', '--club', 'A']);"
        "from workflows.test_analyst import blas_threads; print(blas_threads())"
    )
    env = {name: value for name, value in os.environ.items() if not name.endswith("_NUM_THREADS")}
    tests = os.path.dirname(os.path.dirname(__file__))
    done = subprocess.run([sys.executable, "-c", told], cwd=tests, env=env, capture_output=True, text=True)
    assert done.stdout.strip() == "[1, 1]", done.stderr
