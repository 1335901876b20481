"""How many requests a key or an address may make: counted in windows, in the memory of this process.

Told in the header fields of draft-ietf-httpapi-ratelimit-headers: a policy is a quota `q` for a window of `w` seconds,
what is left of it is `r`, and after `t` seconds all of it is there again.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock


@dataclass(frozen=True, slots=True)
class RateLimits:
    """Most of each in `window_s` seconds; 0 is no limit. Published at GET /v1/limits.

    requests: of one key, blocks aside. blocks: of one key: fifty live streams that send 100 blocks a second each.
    wrong_keys: of one address with a key that opens nothing.
    """

    requests: int = 60_000
    blocks: int = 300_000
    wrong_keys: int = 300
    window_s: int = 60

    def published(self) -> dict[str, int]:
        """As members of GET /v1/limits."""
        return {
            "requests_per_window": self.requests,
            "blocks_per_window": self.blocks,
            "wrong_keys_per_window": self.wrong_keys,
            "window_seconds": self.window_s,
        }


@dataclass(frozen=True, slots=True)
class Taken:
    """One request counted. left, reset_s: of the window it fell into; allowed: false when there was nothing left."""

    allowed: bool
    left: int
    reset_s: int


class Quota:
    """One policy: `most` requests a window. Each name has windows of its own, begun by its first request."""

    def __init__(self, policy: str, most: int, window_s: int, clock: Callable[[], float] = time.monotonic) -> None:
        self.policy = policy
        self.most = most
        self.window_s = window_s
        self.told = f'"{policy}";q={most};w={window_s}'.encode()  # as the field RateLimit-Policy has it
        self._clock = clock
        self._lock = Lock()
        self._windows: dict[str, tuple[float, int]] = {}  # name -> when it ends, requests in it
        self._cleared_at = clock()

    def take(self, name: str) -> Taken | None:
        """Counts one request of a key or an address; None where there is no limit."""
        if not self.most:
            return None
        now = self._clock()
        with self._lock:
            ends_at, used = self._windows.get(name, (0.0, 0))
            if now >= ends_at:
                ends_at, used = now + self.window_s, 0
                self._clear(now)
            used += 1
            self._windows[name] = (ends_at, used)
        return Taken(used <= self.most, max(0, self.most - used), math.ceil(ends_at - now))

    def left(self, taken: Taken) -> str:
        """What is left as the field RateLimit has it."""
        return f'"{self.policy}";r={taken.left};t={taken.reset_s}'

    def _clear(self, now: float) -> None:
        """Forgets names whose window is over, at most once a window."""
        if now - self._cleared_at >= self.window_s:
            self._cleared_at = now
            self._windows = {name: told for name, told in self._windows.items() if told[0] > now}


class Rates:
    """The quotas of a service."""

    def __init__(self, limits: RateLimits | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        self.limits = limits or RateLimits()
        window = self.limits.window_s
        self.requests = Quota("requests", self.limits.requests, window, clock)
        self.blocks = Quota("blocks", self.limits.blocks, window, clock)
        self.wrong_keys = Quota("wrong-keys", self.limits.wrong_keys, window, clock)
