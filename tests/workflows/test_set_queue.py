from __future__ import annotations

import threading
import time
from collections import defaultdict

import pytest

from barwright.workflows.set_queue import SetQueue, ShuttingDownError


class Gate:
    """Runs that wait until they are let go, and a record of them."""

    def __init__(self):
        self.begun = threading.Semaphore(0)
        self.go = threading.Semaphore(0)
        self.runs = defaultdict(int)
        self.at_once = defaultdict(int)
        self.most_at_once = defaultdict(int)

    def __call__(self, club_id, set_id):
        self.at_once[set_id] += 1
        self.most_at_once[set_id] = max(self.most_at_once[set_id], self.at_once[set_id])
        self.begun.release()
        assert self.go.acquire(timeout=5)
        self.runs[set_id] += 1
        self.at_once[set_id] -= 1


def test_requests_that_wait_are_one_run_and_those_during_a_run_are_another():
    gate = Gate()
    queue = SetQueue(gate, threads=3)
    first = queue.request("c", "a")
    assert gate.begun.acquire(timeout=5)
    during = [queue.request("c", "a") for _ in range(5)]
    assert len({id(future) for future in during}) == 1
    assert during[0] is not first
    assert queue.length() == 2
    gate.go.release()
    first.result(timeout=5)
    assert not during[0].done()
    gate.go.release()
    during[0].result(timeout=5)
    assert gate.runs == {"a": 2}
    assert gate.most_at_once == {"a": 1}
    assert queue.length() == 0
    queue.close()


def test_other_sets_go_on_meanwhile():
    gate = Gate()
    queue = SetQueue(gate, threads=2)
    slow = queue.request("c", "slow")
    assert gate.begun.acquire(timeout=5)
    again = queue.request("c", "slow")
    other = queue.request("c", "other")
    assert gate.begun.acquire(timeout=5)
    assert gate.at_once == {"slow": 1, "other": 1}
    gate.go.release(3)
    slow.result(timeout=5)
    other.result(timeout=5)
    again.result(timeout=5)
    queue.close()


def test_joining_takes_the_run_that_is_there():
    gate = Gate()
    queue = SetQueue(gate, threads=1)
    running = queue.request("c", "a")
    assert gate.begun.acquire(timeout=5)
    assert queue.join("c", "a") is running
    waiting = queue.request("c", "a")
    assert queue.join("c", "a") is waiting
    gate.go.release(2)
    waiting.result(timeout=5)
    gate.go.release(1)
    queue.join("c", "a").result(timeout=5)
    assert gate.runs == {"a": 3}
    queue.close()


def test_one_failure_stops_nothing():
    def finish(_, set_id):
        if set_id == "bad":
            raise ZeroDivisionError

    queue = SetQueue(finish, threads=1)
    bad, good = queue.request("c", "bad"), queue.request("c", "good")
    with pytest.raises(ZeroDivisionError):
        bad.result(timeout=5)
    good.result(timeout=5)
    queue.close()


def test_closing_ends_the_present_run_and_tells_those_who_wait():
    gate = Gate()
    queue = SetQueue(gate, threads=1)
    running = queue.request("c", "a")
    assert gate.begun.acquire(timeout=5)
    waiting = queue.request("c", "b")
    closing = threading.Thread(target=queue.close)
    closing.start()
    with pytest.raises(ShuttingDownError):
        waiting.result(timeout=5)
    time.sleep(0.05)
    assert not running.done()
    gate.go.release()
    closing.join(timeout=5)
    assert running.result(timeout=0) is None
    with pytest.raises(ShuttingDownError):
        queue.request("c", "c").result(timeout=1)


def test_a_waiter_cannot_call_a_run_off():
    gate = Gate()
    queue = SetQueue(gate, threads=1)
    queue.request("c", "a")
    assert gate.begun.acquire(timeout=5)
    assert queue.request("c", "b").cancel() is False
    gate.go.release(2)
    queue.close()
