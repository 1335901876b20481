"""Recordings scored on every core, with progress on stderr."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from types import TracebackType
from typing import Any, TypeVar

from bench.cases import Case
from bench.scoring import Score, score

T = TypeVar("T")


class Bench:
    """A pool of worker processes, one numerical thread each. `lifts`: recordings a row."""

    def __init__(self, lifts: int) -> None:
        self.lifts = lifts
        os.environ["OPENBLAS_NUM_THREADS"] = "1"  # spawned workers read it when they load numpy
        self._pool = ProcessPoolExecutor(os.cpu_count(), mp_context=get_context("spawn"))

    def __enter__(self) -> Bench:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._pool.shutdown(cancel_futures=True)

    def each(self, name: str, work: Callable[..., T], jobs: Sequence[tuple[Any, ...]]) -> list[T]:
        """What `work` answers for every job, in order."""
        begin = time.monotonic()
        found = list(self._pool.map(work, *zip(*jobs, strict=True), chunksize=2))
        print(f"{name}: {len(found)} done, {time.monotonic() - begin:.0f} s", file=sys.stderr, flush=True)
        return found

    def scores(self, name: str, cases: Sequence[Case]) -> list[list[Score]]:
        """For every case its scores, one a seed."""
        jobs = [(case, seed) for case in cases for seed in range(self.lifts)]
        out: list[Score] = []
        begin = time.monotonic()
        found = self._pool.map(score, *zip(*jobs, strict=True), chunksize=max(1, min(10, self.lifts // 4)))
        for done, one in enumerate(found, 1):
            out.append(one)
            if done % self.lifts == 0:
                case = jobs[done - 1][0]
                told = f"{name}: {case.device or 'encoder'} {case.title} ({done // self.lifts}/{len(cases)} rows"
                print(f"{told}, {time.monotonic() - begin:.0f} s)", file=sys.stderr, flush=True)
        return [out[k : k + self.lifts] for k in range(0, len(out), self.lifts)]
