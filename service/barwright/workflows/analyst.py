"""Processes that do the arithmetic, so that the one that answers requests never waits for it."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing.process import BaseProcess
from threading import Lock
from typing import TypeVar

from barwright.live.run import Found
from barwright.workflows.analysis_job import AnalysisJob, Broken, Outcome, run_job
from barwright.workflows.bench_job import BenchJob, BenchOutcome, run_bench
from barwright.workflows.calibration_job import CalibrationJob, CalibrationOutcome, run_calibration
from barwright.workflows.live_job import LiveJob, run_live_job
from barwright.workflows.one_thread import one_thread_each

Job = TypeVar("Job")
Done = TypeVar("Done")


class Analyst:
    """Runs jobs in worker processes. One that dies is replaced, and jobs in hand are tried again, once, each alone:

    a pool whose worker dies drops all its jobs, and what kills one worker must not cost its neighbours theirs.

    nice: how far they stand back, on busy cores, behind the process that takes blocks (as of nice(2)).
    """

    def __init__(self, workers: int, run: Callable[[AnalysisJob], Outcome] = run_job, nice: int = 0) -> None:
        self._workers = workers
        self._nice = nice
        self._run = run
        self._lock = Lock()
        self._pool = self._new_pool(workers)

    def __call__(self, job: AnalysisJob) -> Outcome:
        """Runs one job in a worker and waits for it."""
        return self._twice(self._run, job)

    def calibrate(self, job: CalibrationJob) -> CalibrationOutcome:
        """Does one calibration in a worker and waits for it."""
        return self._twice(run_calibration, job)

    def bench(self, job: BenchJob) -> BenchOutcome:
        """Does one check of a sensor in a worker and waits for it."""
        return self._twice(run_bench, job)

    def look(self, job: LiveJob) -> Found | Broken | None:
        """Takes one look at an open set in a worker and waits for it."""
        return self._twice(run_live_job, job)

    def warm(self) -> list[Future[None]]:
        """Starts every worker and has it load what it needs; does not wait."""
        return [self._pool.submit(_load) for _ in range(self._workers)]

    def close(self) -> None:
        """Stops the workers once their present jobs are done; jobs not yet begun are dropped."""
        self._pool.shutdown(wait=True, cancel_futures=True)

    def _twice(self, run: Callable[[Job], Done], job: Job) -> Done | Broken:
        try:
            return self._once(run, job)
        except BrokenProcessPool:
            pass  # killed for want of memory, or with the whole group while the service ends in order
        with self._new_pool(1) as alone:
            try:
                return alone.submit(run, job).result()
            except BrokenProcessPool as error:
                return Broken(f"a worker process died, twice: {error}", killed=True)

    def _once(self, run: Callable[[Job], Done], job: Job) -> Done:
        with self._lock:
            pool = self._pool
        try:
            return pool.submit(run, job).result()
        except BrokenProcessPool:
            self._replace(pool)
            raise

    def _new_pool(self, workers: int) -> ProcessPoolExecutor:
        one_thread_each()  # a worker loads numpy while it finds its first function: too late to say it there
        context = multiprocessing.get_context("spawn")
        return ProcessPoolExecutor(workers, mp_context=context, initializer=_settle_in, initargs=(self._nice,))

    def _replace(self, broken: ProcessPoolExecutor) -> None:
        with self._lock:
            if self._pool is broken:
                broken.shutdown(wait=False)
                self._pool = self._new_pool(self._workers)


def _settle_in(nice: int) -> None:
    """Ends with the service, however that ends; Ctrl-C is the service's business."""
    os.nice(nice)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: BaseProcess) -> None:
    parent.join()
    os._exit(1)


def _load() -> None:
    import barwright.analysis.reps.set_analysis  # noqa: F401 - loads numpy and scipy once per worker
