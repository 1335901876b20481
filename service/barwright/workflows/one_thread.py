"""One thread for the arithmetic of each process; the service has processes enough to fill the cores."""

from __future__ import annotations

import os

# Several threads on small matrices mostly wait for one another, and for each other's processes when cores are busy.
_COUNTS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def one_thread_each() -> None:
    """For numpy and scipy, when they are first loaded, here or in processes started later; leaves what is set."""
    for name in _COUNTS:
        os.environ.setdefault(name, "1")
