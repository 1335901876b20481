"""Quotas: what is counted, and what is told of it."""

from __future__ import annotations

from barwright.access.rates import Quota, RateLimits


class Clock:
    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


def test_a_window_has_its_quota_and_then_nothing_until_it_is_over():
    clock = Clock()
    quota = Quota("requests", 3, 60, clock)
    taken = [quota.take("key_1") for _ in range(4)]
    assert [(one.allowed, one.left, one.reset_s) for one in taken] == [
        (True, 2, 60), (True, 1, 60), (True, 0, 60), (False, 0, 60),
    ]  # fmt: skip
    assert quota.take("key_2").allowed  # every key has its own
    clock.now += 59.5
    assert (quota.take("key_1").allowed, quota.take("key_1").reset_s) == (False, 1)
    clock.now += 0.5
    assert quota.take("key_1").left == 2


def test_the_fields_are_those_of_the_draft():
    """draft-ietf-httpapi-ratelimit-headers-10, sections 3 and 4: Lists of Items with parameters q, w and r, t."""
    quota = Quota("blocks", 500, 60, Clock())
    assert quota.told == b'"blocks";q=500;w=60'
    assert quota.left(quota.take("key_1")) == '"blocks";r=499;t=60'


def test_names_that_came_once_are_forgotten():
    clock = Clock()
    quota = Quota("wrong-keys", 3, 60, clock)
    for number in range(1000):
        quota.take(f"10.0.{number // 256}.{number % 256}")
    clock.now += 60
    quota.take("10.0.0.1")
    assert len(quota._windows) == 1


def test_without_a_limit_nothing_is_counted():
    assert Quota("blocks", 0, 60).take("key_1") is None


def test_a_hall_of_fifty_live_streams_with_one_key_is_far_from_the_limits():
    """50 streams at 4000 Hz in blocks of 50 samples, which is finer than the client's own writer cuts them."""
    blocks_per_window = 50 * 4000 / 50 * RateLimits().window_s
    assert RateLimits().blocks > 1.2 * blocks_per_window
    assert RateLimits().requests > 10 * 50 * RateLimits().window_s  # ten other requests a second of each
