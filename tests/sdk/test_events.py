"""Reading server-sent events, and connecting again."""

from __future__ import annotations

import json
from itertools import pairwise

import httpx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from barwright_client import Client, Event, NotFound
from barwright_client.events import EventReader, Resume
from sdk.scripted import KEY, URL, client_of, problem

REP = {
    "index": 0,
    "outcome": "made",
    "start_s": 1.0,
    "stop_s": 2.0,
    "measures": {"peak_velocity": {"value": 1.9, "u": 0.02, "unit": "m/s"}},
}
TEXT = (
    b"retry: 1500\n\n: a comment\n\n"
    b'id: 7\nevent: rep\ndata: {"at":"2026-03-01T17:30:00Z","stream_id":"str_1","set_id":"set_1","provisional":true,'
    b'"withdrawn":false,"rep":' + json.dumps(REP).encode() + b"}\n\n"
    b'event: gap\ndata: {"reason":"slow_listener","lost":3}\n\n'
    b'id: 11\r\nevent: set_closed\r\ndata: {"stream_id":"str_1",\r\ndata: "state":"analysed"}\r\n\r\n'
)


def test_events_are_read_as_the_standard_has_them() -> None:
    reader = EventReader()
    rep, gap, closed = reader.feed(TEXT)
    assert reader.retry_s == 1.5
    assert (rep.kind, rep.id, rep.stream_id, rep.set_id, rep.provisional) == ("rep", 7, "str_1", "set_1", True)
    assert rep.rep is not None
    assert rep.rep["peak_velocity"].value == 1.9
    assert rep.at is not None
    assert (gap.kind, gap.id, gap.data["lost"], gap.rep) == ("gap", None, 3, None)
    assert (closed.kind, closed.id, closed.data["state"]) == ("set_closed", 11, "analysed")


@given(cuts=st.lists(st.integers(0, len(TEXT)), max_size=12))
def test_any_cutting_into_pieces_gives_the_same_events(cuts: list[int]) -> None:
    edges = [0, *sorted(cuts), len(TEXT)]
    reader = EventReader()
    found = [event for a, b in pairwise(edges) for event in reader.feed(TEXT[a:b])]
    assert found == list(EventReader().feed(TEXT))


def test_a_withdrawn_rep_has_no_rep() -> None:
    assert Event("rep_corrected", 1, {"withdrawn": True, "rep": {"index": 0}}).rep is None


def test_pauses_grow_until_something_comes() -> None:
    resume = Resume(chance=lambda: 0.0)
    assert [resume.pause_s() for _ in range(7)] == [0.5, 1.0, 2.0, 4.0, 8.0, 15.0, 15.0]
    resume.came(Event("rep", 5))
    assert resume.pause_s() == 0.5
    assert resume.headers()["Last-Event-ID"] == "5"
    resume.came(Event("gap", None))
    assert resume.headers()["Last-Event-ID"] == "5"


def stream(text: bytes) -> httpx.Response:
    return httpx.Response(200, content=text, headers={"Content-Type": "text/event-stream"})


def test_a_lost_connection_goes_on_after_the_last_event() -> None:
    first, second = TEXT[: TEXT.index(b"event: gap")], TEXT[TEXT.index(b"event: gap") :]
    client, service = client_of(stream(first), httpx.ConnectError("down"), problem(503), stream(second))
    assert [event.kind for event in client.events("str_1")] == ["rep", "gap", "set_closed"]
    told = [request.headers.get("last-event-id") for request in service.requests]
    assert told == [None, "7", "7", "7"]
    assert len(service.slept) == 3
    assert service.last.url.path == "/v1/streams/str_1/events"


def test_the_whole_club_and_a_place_to_go_on_from() -> None:
    client, service = client_of(stream(TEXT))
    events = client.events(last_id=6)
    assert next(events).id == 7
    assert service.last.url.path == "/v1/events"
    assert service.last.headers["last-event-id"] == "6"


def test_a_stream_that_is_not_there_is_not_asked_for_again() -> None:
    client, service = client_of(problem(404, code="not-found", detail="none"))
    with pytest.raises(NotFound):
        next(iter(client.events("str_nobody")))
    assert len(service.requests) == 1


def test_an_address_that_is_none() -> None:
    with pytest.raises(ValueError, match="http"):
        next(iter(Client("nowhere", KEY).events()))
    assert URL
