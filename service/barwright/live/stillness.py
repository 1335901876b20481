"""Whether the bar is still right now: a cheap look at the newest samples that decides when an analysis pays.

It decides nothing else: which rests are believed, and every figure, come from the analysis itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.quantities.spans import spans_of
from barwright.analysis.quantities.units import STANDARD_GRAVITY_M_S2

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


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
        self._tail_t: Ints = np.empty(0, np.int64)
        self._tail: Floats = np.empty((0, 0))
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
        n, width = values.shape
        t = np.concatenate((self._tail_t, t_us))
        x = np.vstack((self._tail, values)) if len(self._tail) else values
        k = max(4, _samples_in(t, self._params.window_s))
        if len(t) >= k + 1:
            calm = self._calm(x, t, k)[-n:]
            self._note(t[-len(calm) :], calm)
        if width == 6:
            hit = np.flatnonzero(np.einsum("ij,ij->i", values[:, :3], values[:, :3]) > self._params.impact**2)
            if len(hit):
                self.impact_us = int(t_us[hit[-1]])
        self._tail_t, self._tail = t[-k:].copy(), x[-k:].copy()
        self.newest_us = int(t_us[-1])

    def _calm(self, x: Floats, t: Ints, k: int) -> NDArray[np.bool_]:
        """Flags for samples k, k + 1, ...: whether the k samples up to each were still."""
        if x.shape[1] == 1:
            views = np.lib.stride_tricks.sliding_window_view(x[:, 0], k + 1)
            moved = np.abs(views[:, -1] - views[:, 0])
            span_s = np.maximum((t[k:] - t[:-k]) * 1e-6, 1e-6)
            return np.asarray((np.ptp(views, axis=1) < self._params.wander) & (moved / span_s < self._params.speed))
        centred = x - x[0]
        total = np.cumsum(centred, axis=0)
        square = np.cumsum(centred**2, axis=0)
        mean = (total[k:] - total[:-k]) / k
        variance = np.maximum((square[k:] - square[:-k]) / k - mean**2, 0.0)
        turn, force = mean[:, 3:] + x[0, 3:], mean[:, :3] + x[0, :3]
        p = self._params
        calm = (variance[:, :3].sum(axis=1) < p.force**2) & (variance[:, 3:].sum(axis=1) < p.rate**2)
        calm &= np.einsum("ij,ij->i", turn, turn) < p.turn**2
        weight = np.sqrt(np.einsum("ij,ij->i", force, force))
        return np.asarray(calm & (np.abs(weight - STANDARD_GRAVITY_M_S2) < p.weight))

    def _note(self, t: Ints, calm: NDArray[np.bool_]) -> None:
        edges = sorted([(span, True) for span in spans_of(calm)] + [(span, False) for span in spans_of(~calm)])
        for span, still in edges:
            first, last = int(t[span.start]), int(t[span.stop - 1])
            if still:
                if self.still_since_us is None:
                    self.still_since_us = first - round(self._params.window_s * 1e6)
                continue
            if self.still_since_us is not None or self.motion_us is None:
                self.motion_us = first
            self.still_since_us = None
            if last - self.motion_us >= self._params.moved_s * 1e6:
                self.moved = True


def _samples_in(t: Ints, seconds: float) -> int:
    if len(t) < 2:
        return 4
    step_us = max(1.0, float(np.median(np.diff(t[-64:]))))
    return round(seconds * 1e6 / step_us)
