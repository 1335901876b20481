"""Client and AsyncClient do the same things: same names, same arguments, same answers."""

from __future__ import annotations

import asyncio
import inspect

import httpx
import pytest

from barwright_client import AsyncClient, Client, NotReached, RetryPolicy, SetResult
from sdk.scripted import KEY, URL, Scripted, good, problem
from sdk.test_client import ATHLETE, SET

SAMPLES = {"t_s": [0.0, 0.005, 0.01], "position": [0.0, 0.1, 0.2]}
ABOUT = {"lift": "press", "load_kg": 40, "athlete": "Imke", "device": "string"}
RECEIPT = {"stored": True, "next_seq": 1, "missing": [], "received_at": "2026-03-02T17:00:00Z"}


def names(kind: type) -> dict[str, inspect.Signature]:
    return {
        name: inspect.signature(member)
        for name, member in vars(kind).items()
        if callable(member) and not name.startswith("_")
    }


def test_the_methods_and_their_arguments_are_the_same() -> None:
    blocking, awaited = names(Client), names(AsyncClient)
    assert blocking.keys() == awaited.keys()
    for name, signature in blocking.items():
        assert signature.parameters == awaited[name].parameters, name
        assert getattr(Client, name).__doc__, name


def awaited_client(
    *answers: httpx.Response | Exception, retry: RetryPolicy | None = None
) -> tuple[AsyncClient, Scripted]:
    service = Scripted(list(answers))

    async def handle(request: httpx.Request) -> httpx.Response:
        await request.aread()
        return service.handle(request)

    client = AsyncClient(URL, KEY, http=httpx.AsyncClient(transport=httpx.MockTransport(handle)), retry=retry)

    async def note(seconds: float) -> None:
        service.slept.append(seconds)

    client._transport._sleep = note
    return client, service


def test_an_awaited_call_is_tried_again_with_one_key() -> None:
    client, service = awaited_client(httpx.ConnectError("down"), problem(503), good(ATHLETE, 201))
    athlete = asyncio.run(client.create_athlete("Imke"))
    assert athlete.id == "ath_1"
    assert len({request.headers["idempotency-key"] for request in service.requests}) == 1
    assert len(service.slept) == 2


def test_a_list_is_gone_through_page_by_page() -> None:
    client, service = awaited_client(good({"items": [SET], "next": "c2"}), good({"items": [SET], "next": None}))

    async def all_of_them() -> list[SetResult]:
        return [one async for one in client.sets(lift="snatch")]

    assert len(asyncio.run(all_of_them())) == 2
    assert [request.url.params.get("cursor") for request in service.requests] == [None, "c2"]


def test_an_awaited_stream_keeps_what_was_not_stored() -> None:
    opened, closed = {"id": "str_1", "set_id": "set_1"}, {"set_id": "set_1", "state": "analysed"}
    once = RetryPolicy(most_tries=1)
    client, service = awaited_client(
        good(opened, 201), httpx.ConnectError("down"), good(RECEIPT), good(closed), good(SET), retry=once
    )

    async def send() -> SetResult | None:
        async with await client.stream(**ABOUT) as stream:
            await stream.push(SAMPLES)
            with pytest.raises(NotReached):
                await stream.flush()
            assert stream.unsent == 3
        return stream.result

    result = asyncio.run(send())
    assert result is not None
    assert result.id == "set_1"
    assert [request.url.path for request in service.requests] == [
        "/v1/streams",
        "/v1/streams/str_1/blocks",
        "/v1/streams/str_1/blocks",
        "/v1/streams/str_1/close",
        "/v1/sets/set_1",
    ]


def test_an_upload_reaches_the_service_whole() -> None:
    client, service = awaited_client(good(SET, 201))
    told: list[tuple[int, int]] = []
    asyncio.run(
        client.record(b"t_s,position\n0,1\n", file_name="a.csv", **ABOUT, progress=lambda a, b: told.append((a, b)))
    )
    assert int(service.last.headers["content-length"]) == len(service.last.content)
    assert told == [(17, 17)]


def test_an_address_that_is_none() -> None:
    client = AsyncClient("nowhere", KEY)
    with pytest.raises(ValueError, match="http://"):
        asyncio.run(client.limits())
