"""Whether the bar is still right now: a cheap look at the newest samples that decides when an analysis pays.

It decides nothing else: which rests are believed, and every figure, come from the analysis itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.quantities.units import STANDARD_GRAVITY_M_S2

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
_STEPS = 40  # a look is taken that often within its window at most: every 5 ms, however fast the sensor
_FEWEST_FOR_A_RATE = 5


@dataclass(frozen=True, slots=True)
class StillParams:
    """window_s: what the look takes in. force (m/s2), rate (rad/s): as the analysis has for a bar in living hands.

    turn (rad/s), weight (m/s2): how far a resting sensor may read from nought and from gravity, with its bias.
    speed (m/s), wander (m): for an encoder. moved_s: shorter motion is a twitch. impact (m/s2): a dropped bar, no lift.
    """

    window_s: float = 0.2
    force: float = 0.45
    rate: float = 0.35
    turn: float = 0.45
    weight: float = 2.0
    speed: float = 0.03
    wander: float = 0.006
    moved_s: float = 0.15
    impact: float = 10.0 * STANDARD_GRAVITY_M_S2


class Stillness:
    """Running state over the samples of one device start, in order of time. Times in us of the device's clock.

    still_since_us: None while the bar moves. motion_us: when the present motion, or the last one, began.
    moved: there was motion, longer than a twitch, since the flag was last taken down. impact_us: the last blow.
    """

    def __init__(self, params: StillParams | None = None) -> None:
        self._params = params or StillParams()
        self._hop = 0  # samples taken together; 0 until the rate is known
        self._width = 0  # steps of one look
        self._rest_t: Ints = np.empty(0, np.int64)  # samples that do not fill a hop yet
        self._rest: Floats = np.empty((0, 0))
        self._tail_t: Ints = np.empty(0, np.int64)
        self._tail: Floats = np.empty((0, 0))
        self._first: Floats = np.empty(0)
        self.newest_us: int | None = None
        self.still_since_us: int | None = None
        self.motion_us: int | None = None
        self.impact_us: int | None = None
        self.moved = False

    @property
    def still_s(self) -> float:
        """Seconds the newest samples have been still for."""
        if self.still_since_us is None or self.newest_us is None:
            return 0.0
        return (self.newest_us - self.still_since_us) * 1e-6

    def add(self, t_us: Ints, values: Floats) -> None:
        """The next samples: (n,) times; (n, 6) force m/s2 and rates rad/s, or (n, 1) height in m."""
        rows = np.ascontiguousarray(values.T)  # a row for each axis: numpy is quicker along long rows
        if len(rows) == 6:
            hard = _squared(rows[:3]) > self._params.impact**2
            if hard.any():
                self.impact_us = int(t_us[np.flatnonzero(hard)[-1]])
        self.newest_us = int(t_us[-1])
        if len(self._rest_t):
            t_us, rows = np.concatenate((self._rest_t, t_us)), np.hstack((self._rest, rows))
        if not self._hop:
            if len(t_us) < _FEWEST_FOR_A_RATE:
                self._rest_t, self._rest = t_us, rows
                return
            in_window = max(4, _samples_in(t_us, self._params.window_s))
            self._hop = max(1, in_window // _STEPS)
            self._width, self._first = in_window // self._hop, rows[:, :1].copy()
        full = len(t_us) // self._hop * self._hop
        self._rest_t, self._rest = t_us[full:].copy(), rows[:, full:].copy()
        if full:
            self._step(t_us[self._hop - 1 : full : self._hop], self._sums(rows[:, :full]))

    def _sums(self, x: Floats) -> Floats:
        """Of each hop the sums of every row and of the squared force and rate; of an encoder its last height."""
        if len(x) == 1:
            return x[:, self._hop - 1 :: self._hop]
        every = np.empty((8, x.shape[1]))
        np.subtract(x, self._first, out=every[:6])
        every[6], every[7] = _squared(every[:3]), _squared(every[3:6])
        return (every.reshape(-1, self._hop) @ np.ones(self._hop)).reshape(8, -1)

    def _step(self, t: Ints, steps: Floats) -> None:
        n, k = len(t), self._width
        if len(self._tail_t):
            t, steps = np.concatenate((self._tail_t, t)), np.hstack((self._tail, steps))
        if len(t) >= k + 1:
            calm = self._calm(steps, t, k)[-n:]
            self._note(t[-len(calm) :], calm)
        self._tail_t, self._tail = t[-k:].copy(), steps[:, -k:].copy()

    def _calm(self, x: Floats, t: Ints, k: int) -> NDArray[np.bool_]:
        """Flags for steps k, k + 1, ...: whether the k steps up to each were still."""
        p = self._params
        if len(x) == 1:
            views = np.lib.stride_tricks.sliding_window_view(x[0], k + 1)
            moved = np.abs(views[:, -1] - views[:, 0])
            span_s = np.maximum((t[k:] - t[:-k]) * 1e-6, 1e-6)
            return np.asarray((np.ptp(views, axis=1) < p.wander) & (moved / span_s < p.speed))
        total = np.cumsum(x, axis=1)
        mean = (total[:, k:] - total[:, :-k]) / (k * self._hop)
        calm = mean[6] - _squared(mean[:3]) < p.force**2  # sums of the variances of three axes
        calm &= mean[7] - _squared(mean[3:6]) < p.rate**2
        mean[:6] += self._first
        calm &= _squared(mean[3:6]) < p.turn**2
        weight = _squared(mean[:3])
        low, high = max(0.0, STANDARD_GRAVITY_M_S2 - p.weight), STANDARD_GRAVITY_M_S2 + p.weight
        return np.asarray(calm & (weight > low**2) & (weight < high**2))

    def _note(self, t: Ints, calm: NDArray[np.bool_]) -> None:
        if self.still_since_us is not None and calm.all():
            return
        edges = [0, *(np.flatnonzero(calm[1:] != calm[:-1]) + 1).tolist(), len(calm)]
        for start, stop in pairwise(edges):
            first, last, still = int(t[start]), int(t[stop - 1]), bool(calm[start])
            if still:
                if self.still_since_us is None:
                    self.still_since_us = first - round(self._params.window_s * 1e6)
                continue
            if self.still_since_us is not None or self.motion_us is None:
                self.motion_us = first
            self.still_since_us = None
            if last - self.motion_us >= self._params.moved_s * 1e6:
                self.moved = True


def _squared(x: Floats) -> Floats:
    squares = x * x
    return np.asarray(squares[0] + squares[1] + squares[2])


def _samples_in(t: Ints, seconds: float) -> int:
    if len(t) < 2:
        return 4
    step_us = max(1.0, float(np.median(np.diff(t[-64:]))))
    return round(seconds * 1e6 / step_us)
