"""What is tried again, when, and for how long."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import httpx
import pytest

from barwright_client import Broken, NotReached, Refused, RetryPolicy
from barwright_client.attempts import Outcome, Send, Sleep, attempts
from barwright_client.replies import Reply
from sdk.scripted import client_of, good, problem, ticking

ATHLETE = {"id": "ath_1", "name": "Imke"}


def drive(policy: RetryPolicy, outcomes: list[Outcome], times: list[float], chance: float = 0.0) -> list[float]:
    """The pauses between the outcomes; the last outcome ends it."""
    steps = attempts(policy, ticking(*times), lambda: chance)
    pauses: list[float] = []
    left = list(outcomes)
    step: Send | Sleep = next(steps)
    try:
        while True:
            if isinstance(step, Sleep):
                pauses.append(step.seconds)
                step = steps.send(None)
            else:
                step = steps.send(left.pop(0))
    except (StopIteration, NotReached):
        assert not left, "it stopped before the last outcome"
    return pauses


@pytest.mark.parametrize("status", [408, 425, 429, 500, 502, 503, 504])
def test_statuses_that_may_pass_are_tried_again(status: int) -> None:
    client, service = client_of(problem(status), good(ATHLETE, 201))
    assert client.create_athlete("Imke").id == "ath_1"
    assert len(service.requests) == 2


@pytest.mark.parametrize("status", [400, 401, 403, 404, 405, 409, 413, 415, 422])
def test_other_refusals_are_never_tried_again(status: int) -> None:
    client, service = client_of(problem(status))
    with pytest.raises(Refused):
        client.create_athlete("Imke")
    assert len(service.requests) == 1
    assert service.slept == []


@pytest.mark.parametrize(
    "error", [httpx.ConnectError("refused"), httpx.ReadTimeout("slow"), httpx.RemoteProtocolError("broken off")]
)
def test_no_answer_is_tried_again(error: Exception) -> None:
    client, service = client_of(error, good(ATHLETE, 201))
    assert client.create_athlete("Imke").name == "Imke"
    assert len(service.requests) == 2


def test_the_idempotency_key_is_the_same_on_every_try_and_new_for_every_call() -> None:
    client, service = client_of(problem(503), httpx.ConnectError("x"), good(ATHLETE, 201), good(ATHLETE, 201))
    client.create_athlete("Imke")
    client.create_athlete("Imke")
    keys = [request.headers["idempotency-key"] for request in service.requests]
    assert keys[0] == keys[1] == keys[2]
    assert keys[3] != keys[0]


def test_the_body_is_whole_on_every_try() -> None:
    client, service = client_of(problem(503), good(ATHLETE, 201))
    client.create_athlete("Imke")
    assert service.requests[0].content == service.requests[1].content != b""


def test_pauses_double_up_to_the_longest() -> None:
    policy = RetryPolicy(most_tries=6, first_pause_s=1, longest_pause_s=5, total_s=100)
    assert drive(policy, [Reply(503)] * 6, [0.0] * 7) == [1, 2, 4, 5, 5]


def test_chance_shortens_a_pause_by_up_to_half() -> None:
    policy = RetryPolicy(most_tries=2, first_pause_s=4)
    assert drive(policy, [Reply(503)] * 2, [0.0] * 3, chance=1.0) == [2]
    assert drive(policy, [Reply(503)] * 2, [0.0] * 3, chance=0.5) == [3]


def test_retry_after_is_obeyed_when_longer_and_never_shortened() -> None:
    policy = RetryPolicy(most_tries=2, first_pause_s=1)
    assert drive(policy, [Reply(429, headers={"retry-after": "7"}), Reply(200)], [0.0] * 3, chance=1.0) == [7]
    assert drive(policy, [Reply(429, headers={"retry-after": "0"}), Reply(200)], [0.0] * 3, chance=0.0) == [1]


def test_a_retry_after_beyond_the_total_time_ends_it_at_once() -> None:
    assert drive(RetryPolicy(total_s=60), [Reply(429, headers={"retry-after": "3600"})], [0.0] * 3) == []


def test_total_time_ends_it() -> None:
    policy = RetryPolicy(most_tries=100, first_pause_s=10, longest_pause_s=10, total_s=25)
    assert drive(policy, [Reply(500)] * 3, [0.0, 0.0, 10.0, 20.0]) == [10, 10]


def test_one_try_means_one_try() -> None:
    client, service = client_of(httpx.ConnectError("refused"), retry=RetryPolicy(most_tries=1))
    with pytest.raises(NotReached, match=r"http://service\.test.*refused"):
        client.limits()
    assert service.slept == []


def test_the_last_failure_is_what_is_raised() -> None:
    client, service = client_of(httpx.ConnectError("x"), problem(503, detail="down"), retry=RetryPolicy(most_tries=2))
    with pytest.raises(Broken, match="down"):
        client.limits()
    assert len(service.slept) == 1


def test_retry_after_as_a_date() -> None:
    """RFC 9110 section 10.2.3 allows an HTTP date; this one is the RFC's own example plus 120 s."""
    reply = Reply(503, headers={"retry-after": "Fri, 31 Dec 1999 23:59:59 GMT"})
    then = datetime(1999, 12, 31, 23, 59, 59, tzinfo=UTC)
    assert reply.retry_after_s(then - timedelta(seconds=120)) == 120
    assert reply.retry_after_s(then + timedelta(seconds=5)) == 0


@pytest.mark.parametrize("text", ["", "soon", "-3"])
def test_unreadable_retry_after_counts_as_none(text: str) -> None:
    assert Reply(503, headers={"retry-after": text}).retry_after_s() is None
