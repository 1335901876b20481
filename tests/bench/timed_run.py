"""Time and memory of the analysis in this process, as JSON: `-m bench.timed_run FILE CLASS RUNS [with-filter]`."""

from __future__ import annotations

import json
import resource
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from barwright.analysis.motion.samples import ImuSamples, Recording, SensorSetup
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.set_analysis import analyse_set


def measured(file: str, device: str, runs: int, with_filter: bool) -> dict[str, float]:
    """CPU and wall seconds (median of the runs after the first), peak memory in MB, reps found."""
    with np.load(file) as stored:
        samples = ImuSamples(stored["t_s"], stored["accel"], stored["gyro"])
    recording = Recording((samples,), SensorSetup(bar_axis=np.array([1.0, 0.0, 0.0]), device_class=device))
    before = _peak_mb()
    first = _timed(lambda: analyse_set(recording, LIFTS["snatch"]))[0]
    peak = _peak_mb()
    times = [_timed(lambda: analyse_set(recording, LIFTS["snatch"])) for _ in range(runs)]
    return {
        "first_s": first,
        "cpu_s": statistics.median(cpu for cpu, _ in times),
        "wall_s": statistics.median(wall for _, wall in times),
        "peak_mb": peak,
        "added_mb": peak - before,
        "reps": len(analyse_set(recording, LIFTS["snatch"]).reps),
        **({"filter_s": _timed(lambda: _filter(samples))[0]} if with_filter else {}),
    }


def _filter(samples: ImuSamples) -> None:
    """An orientation filter written sample by sample in plain Python, as a yardstick of the machine."""
    from vqf import PyVQF

    PyVQF(float(np.median(np.diff(samples.t_s)))).updateBatch(samples.gyro_rad_s, samples.accel_m_s2)


def _timed(call: Callable[[], object]) -> tuple[float, float]:
    cpu, wall = time.process_time(), time.perf_counter()
    call()
    return time.process_time() - cpu, time.perf_counter() - wall


def _peak_mb() -> float:
    """Greatest resident size of this program; ru_maxrss would also count what the parent held before it started us."""
    status = Path("/proc/self/status")
    if status.exists():
        return int(status.read_text().split("VmHWM:")[1].split()[0]) / 1024
    size = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return size / 1024 if sys.platform != "darwin" else size / 1024**2


if __name__ == "__main__":
    print(json.dumps(measured(sys.argv[1], sys.argv[2], int(sys.argv[3]), "with-filter" in sys.argv)))
