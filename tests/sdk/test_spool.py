"""The spool: nothing in it is lost or sent twice, what does not fit is counted."""

from __future__ import annotations

import time
from pathlib import Path

import httpx
import pytest

from barwright_client import NotAllowed, NotReached, Refused, RetryPolicy, Spool
from barwright_client.blocks import BlockWriter, CutBy
from barwright_client.replay import replay
from sdk.scripted import Scripted, client_of, good, problem

ABOUT = {"lift": "press", "load_kg": 40, "athlete": "Imke", "device": "string"}
OPENED = {"id": "str_1", "set_id": "set_1"}
CLOSED = {"set_id": "set_1", "state": "analysing"}
ONCE = RetryPolicy(most_tries=1)


def receipt(next_seq: int) -> httpx.Response:
    return good({"stored": True, "next_seq": next_seq, "missing": [], "received_at": "2026-03-02T17:00:00Z"})


def filled(folder: Path, blocks: int = 3, **more: int) -> Spool:
    spool = Spool(folder, **more)
    one = spool.begin(dict(ABOUT))
    writer = BlockWriter(CutBy(samples=10))
    for block in writer.add({"t_us": list(range(0, 10_000 * blocks, 1000)), "position": [0.1] * 10 * blocks}):
        one.put(block)
    one.end()
    return spool


def paths(service: Scripted) -> list[str]:
    return [request.url.path.removeprefix("/v1/streams") for request in service.requests]


def test_a_set_goes_out_in_order_and_leaves_nothing(tmp_path: Path) -> None:
    client, service = client_of(good(OPENED, 201), *(receipt(n) for n in (1, 2, 3)), good(CLOSED))
    spool = filled(tmp_path)
    assert spool.bytes > 0
    done = client.replay(spool)
    assert (done.blocks, done.refused, done.sets) == (3, 0, ("set_1",))
    assert paths(service) == ["", "/str_1/blocks", "/str_1/blocks", "/str_1/blocks", "/str_1/close"]
    assert (spool.bytes, spool.sets(), spool.losses) == (0, [], {})


@pytest.mark.parametrize("good_calls", range(5))
def test_a_program_killed_anywhere_goes_on_where_it_was(tmp_path: Path, good_calls: int) -> None:
    """The answer of the last call is lost, then the program ends: blocks may come twice, and carry their identity."""
    answers = [good(OPENED, 201), receipt(1), receipt(2), receipt(3), good(CLOSED)]
    client, before = client_of(*answers[:good_calls], httpx.ReadError("cut"), retry=ONCE)
    with pytest.raises(NotReached):
        client.replay(filled(tmp_path))
    client, after = client_of(*answers[good_calls:])
    again = Spool(tmp_path)
    assert client.replay(again).sets == ("set_1",)
    assert (again.bytes, list(tmp_path.glob("*/*"))) == (0, [])
    asked = [*before.requests[:-1], *after.requests]
    bodies = [request.content for request in asked if request.url.path.endswith("/blocks")]
    assert len(bodies) == len(set(bodies)) == 3
    keys = {r.headers["idempotency-key"] for r in [*before.requests, *after.requests] if r.url.path == "/v1/streams"}
    assert len(keys) == 1
    assert paths(after)[0] == ["", "/str_1/blocks", "/str_1/blocks", "/str_1/blocks", "/str_1/close"][good_calls]


def test_what_does_not_fit_is_counted_and_the_rest_goes_out(tmp_path: Path) -> None:
    one_block = filled(tmp_path / "a", 1).bytes
    spool = filled(tmp_path / "b", 3, most_bytes=2 * one_block + 20)
    assert spool.bytes <= spool.most_bytes
    assert spool.losses == {"full": 10}
    assert Spool(tmp_path / "b").losses == {"full": 10}
    client, _ = client_of(good(OPENED, 201), receipt(1), receipt(2), good(CLOSED))
    assert client.replay(spool).blocks == 2


def test_a_refused_block_is_counted_by_its_code_and_does_not_stop_the_rest(tmp_path: Path) -> None:
    refused = problem(422, code="not-finite", detail="no")
    client, _ = client_of(good(OPENED, 201), receipt(1), refused, receipt(3), good(CLOSED))
    spool = filled(tmp_path)
    done = client.replay(spool)
    assert (done.blocks, done.refused, spool.losses) == (2, 10, {"not-finite": 10})


def test_a_key_that_may_not_send_loses_nothing(tmp_path: Path) -> None:
    client, _ = client_of(good(OPENED, 201), problem(403, code="scope-missing"))
    spool = filled(tmp_path)
    with pytest.raises(NotAllowed):
        client.replay(spool)
    assert sum(1 for one in spool.sets() for _ in one.blocks()) == 3
    assert spool.losses == {}


def test_a_stream_the_service_will_not_open_is_counted(tmp_path: Path) -> None:
    client, _ = client_of(problem(422, code="unknown-lift"))
    spool = filled(tmp_path)
    assert client.replay(spool).refused == 30
    assert (spool.losses, spool.sets(), spool.bytes) == ({"unknown-lift": 30}, [], 0)


def test_a_lift_goes_on_while_the_service_refuses_its_stream(tmp_path: Path) -> None:
    """What is pushed then is counted as lost, and nothing raises; the set is gone once it has ended."""
    client, service = client_of(problem(422, code="unknown-lift"), retry=ONCE)
    spool = Spool(tmp_path)
    with client.live(spool, cut_by=CutBy(samples=10), lift="press", load_kg=40, athlete="I", device="s") as sender:
        give_up_at = time.monotonic() + 10
        while not spool.sets()[0].refused:
            assert time.monotonic() < give_up_at
            time.sleep(0.01)
        for start in range(0, 25, 5):
            sender.push({"t_us": [1000 * n for n in range(start, start + 5)], "position": [0.1] * 5})
    assert sender.set_id is None
    assert (spool.losses, spool.bytes, list(tmp_path.glob("*/*"))) == ({"unknown-lift": 25}, 0, [])
    assert len(service.requests) == 1
    with pytest.raises(ValueError, match="ended"):
        sender.push({"t_us": [26_000], "position": [0.1]})


@pytest.mark.parametrize("status", [408, 425, 429])
def test_a_block_that_is_to_come_later_stays(tmp_path: Path, status: int) -> None:
    client, _ = client_of(good(OPENED, 201), problem(status), retry=ONCE)
    spool = filled(tmp_path)
    with pytest.raises(Refused):
        client.replay(spool)
    assert (sum(1 for one in spool.sets() for _ in one.blocks()), spool.losses) == (3, {})


def test_an_erased_set_does_not_keep_the_others_from_being_sent(tmp_path: Path) -> None:
    filled(tmp_path, 1)
    spool = filled(tmp_path, 1)
    gone = problem(404, code="not-found")
    client, _ = client_of(
        good(OPENED, 201), receipt(1), gone, good({"id": "str_2", "set_id": "set_2"}, 201), receipt(1), good(CLOSED)
    )
    assert client.replay(spool).sets == ("set_1",)
    assert (spool.sets(), spool.bytes, spool.losses) == ([], 0, {})


def test_the_set_of_a_killed_program_is_ended_when_that_is_asked_for(tmp_path: Path) -> None:
    spool = Spool(tmp_path)
    (block,) = BlockWriter(CutBy(samples=2)).add({"t_us": [0, 1000], "position": [0.0, 0.1]})
    spool.begin(dict(ABOUT)).put(block)
    client, service = client_of(good(OPENED, 201), receipt(1), good(CLOSED))
    assert client.replay(Spool(tmp_path), end=True).sets == ("set_1",)
    assert paths(service) == ["", "/str_1/blocks", "/str_1/close"]


def test_a_set_half_dropped_is_no_set(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A program that is killed while it clears away does not leave a set behind that can never be sent."""
    client, _ = client_of(good(OPENED, 201), receipt(1), good(CLOSED))
    spool = filled(tmp_path, 1)

    def killed(folder: Path) -> None:
        next(folder.glob("*")).unlink()
        raise KeyboardInterrupt

    monkeypatch.setattr("shutil.rmtree", killed)
    with pytest.raises(KeyboardInterrupt):
        client.replay(spool)
    assert Spool(tmp_path).sets() == []


def test_a_half_written_block_is_not_sent(tmp_path: Path) -> None:
    filled(tmp_path)
    (set_folder,) = (path for path in tmp_path.iterdir() if path.is_dir())
    (set_folder / "000000000009-10-x.cbor.part").write_bytes(b"half")
    assert not list(Spool(tmp_path).folder.glob("*/*.part"))


def test_a_set_that_has_not_ended_stays_open(tmp_path: Path) -> None:
    spool = Spool(tmp_path)
    one = spool.begin(dict(ABOUT))
    (block,) = BlockWriter(CutBy(samples=2)).add({"t_us": [0, 1000], "position": [0.0, 0.1]})
    one.put(block)
    client, service = client_of(good(OPENED, 201), receipt(1))
    assert client.replay(spool).sets == ()
    assert paths(service) == ["", "/str_1/blocks"]
    assert spool.sets()[0].stream == OPENED


def test_steps_are_pure(tmp_path: Path) -> None:
    calls = [call.path for call in [next(replay(filled(tmp_path)))]]
    assert calls == ["/v1/streams"]


def test_what_is_put_in_and_ended_while_blocks_go_out_is_not_taken_for_sent(tmp_path: Path) -> None:
    """A slow network: the set ends during the first block's call, and its last blocks wait for the next round."""
    spool = Spool(tmp_path)
    one = spool.begin(dict(ABOUT))
    first, second, third = BlockWriter(CutBy(samples=10)).add(
        {"t_us": list(range(0, 30_000, 1000)), "position": [0.1] * 30}
    )
    one.put(first)

    def lift_goes_on(request: httpx.Request) -> httpx.Response:
        one.put(second)
        one.put(third)
        one.end()
        return receipt(1)

    client, service = client_of(good(OPENED, 201), lift_goes_on, receipt(2), receipt(3), good(CLOSED))
    assert client.replay(spool).sets == ()
    assert spool.bytes > 0
    assert client.replay(spool).sets == ("set_1",)
    assert paths(service) == ["", "/str_1/blocks", "/str_1/blocks", "/str_1/blocks", "/str_1/close"]
    assert (spool.bytes, spool.sets(), spool.losses) == (0, [], {})
