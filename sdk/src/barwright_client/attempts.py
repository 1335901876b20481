"""When to try again, and after how long: decisions only, no network and no sleeping.

| outcome | tried again |
|---|---|
| no answer (connection, time-out, broken off) | yes |
| 408, 425, 429, 500 and above | yes, after Retry-After when given |
| anything else | no: the answer would be the same |
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Generator
from dataclasses import dataclass

from barwright_client.errors import NotReached
from barwright_client.replies import Reply

Outcome = Reply | NotReached


@dataclass(frozen=True, slots=True)
class Sleep:
    """The caller should wait this long and then send again."""

    seconds: float


@dataclass(frozen=True, slots=True)
class Send:
    """The caller should send the request and hand back what came of it."""


@dataclass(frozen=True, slots=True)
class RetryPolicy:
    """How stubborn to be. `most_tries=1` never tries again.

    Pauses double from first_pause_s to longest_pause_s, each shortened by up to half at random so that a hall full
    of devices does not post in step. A Retry-After longer than the pause wins; when it does not fit in total_s (seconds
    from the first try to the last) the answer is handed back at once.
    """

    most_tries: int = 5
    first_pause_s: float = 0.5
    longest_pause_s: float = 15.0
    total_s: float = 60.0

    def pause_s(self, outcome: Outcome, tries: int, elapsed_s: float, chance: float) -> float | None:
        """Seconds to wait before try number `tries + 1`; None to stop. chance is a random number in 0-1."""
        if tries >= self.most_tries or not worth_retrying(outcome):
            return None
        doubled = min(self.longest_pause_s, self.first_pause_s * 2.0 ** (tries - 1))
        asked = outcome.retry_after_s() if isinstance(outcome, Reply) else None
        pause = max(doubled * (1 - 0.5 * chance), asked or 0.0)
        return pause if elapsed_s + pause <= self.total_s else None


def worth_retrying(outcome: Outcome) -> bool:
    """True when the same request may well succeed later."""
    if isinstance(outcome, NotReached):
        return True
    return outcome.status in (408, 425, 429) or outcome.status >= 500


def attempts(
    policy: RetryPolicy,
    clock: Callable[[], float] = time.monotonic,
    chance: Callable[[], float] = random.random,
) -> Generator[Send | Sleep, Outcome | None, Reply]:
    """Tells its driver when to send and when to sleep; returns the last reply or raises the last NotReached."""
    started = clock()
    tries = 0
    while True:
        outcome = yield Send()
        if outcome is None:
            raise TypeError("after Send the driver hands back a Reply or a NotReached")
        tries += 1
        pause = policy.pause_s(outcome, tries, clock() - started, chance())
        if pause is not None:
            yield Sleep(pause)
        elif isinstance(outcome, NotReached):
            raise outcome
        else:
            return outcome
