"""Every status that is not 2xx, as the error it becomes."""

from __future__ import annotations

import httpx
import pytest

from barwright_client import (
    Broken,
    ClientError,
    Conflict,
    NotAllowed,
    NotFound,
    NotReached,
    NotSignedIn,
    Refused,
    RetryPolicy,
    TooFast,
)
from sdk.scripted import client_of, good, problem

ONCE = RetryPolicy(most_tries=1)


@pytest.mark.parametrize(
    ("status", "kind"),
    [
        (400, Refused),
        (401, NotSignedIn),
        (403, NotAllowed),
        (404, NotFound),
        (405, Refused),
        (408, Refused),
        (409, Conflict),
        (413, Refused),
        (415, Refused),
        (422, Refused),
        (429, TooFast),
        (500, Broken),
        (503, Broken),
        (302, Broken),
    ],
)
def test_status_becomes_error(status: int, kind: type[ClientError]) -> None:
    client, _ = client_of(problem(status), retry=ONCE)
    with pytest.raises(ClientError) as caught:
        client.limits()
    assert type(caught.value) is kind


def test_the_tree() -> None:
    assert all(issubclass(kind, Refused) for kind in (NotSignedIn, NotAllowed, NotFound, Conflict, TooFast))
    assert all(issubclass(kind, ClientError) for kind in (NotReached, Refused, Broken))


def test_a_refusal_carries_the_problem_document() -> None:
    told = problem(
        422,
        title="Unknown unit",
        code="unknown-unit",
        detail="'g' is gram",
        instance="/v1/streams",
        errors=[{"pointer": "/units/accel", "detail": "write [g] for standard gravity"}],
        allowed=["m/s2", "[g]"],
        headers={"X-Request-ID": "req-7"},
    )
    client, _ = client_of(told)
    with pytest.raises(Refused) as caught:
        client.limits()
    error = caught.value
    assert str(error) == "'g' is gram; /units/accel: write [g] for standard gravity"
    assert (error.status, error.request_id) == (422, "req-7")
    assert error.problem.type == "https://barwright.test/problems#422"
    assert error.problem.code == "unknown-unit"
    assert error.problem.title == "Unknown unit"
    assert error.problem.instance == "/v1/streams"
    assert error.problem.errors[0].pointer == "/units/accel"
    assert error.problem.more == {"allowed": ["m/s2", "[g]"]}


def test_the_place_is_told_once() -> None:
    client, _ = client_of(
        problem(422, detail="`sex` is unknown", errors=[{"pointer": "/sex", "detail": "`sex` is unknown"}])
    )
    with pytest.raises(Refused) as caught:
        client.limits()
    assert str(caught.value) == "`sex` is unknown (at /sex)"


@pytest.mark.parametrize("body", [b"", b"<html>Bad gateway</html>", b"[1, 2]", b"\xff\xfe", b'{"errors": "none"}'])
def test_a_refusal_without_a_problem_document_is_still_a_refusal(body: bytes) -> None:
    client, _ = client_of(httpx.Response(404, content=body))
    with pytest.raises(NotFound, match="status 404"):
        client.set("set_1")


def test_too_fast_says_how_long() -> None:
    client, _ = client_of(problem(429, headers={"Retry-After": "12"}), retry=ONCE)
    with pytest.raises(TooFast) as caught:
        client.limits()
    assert caught.value.retry_after_s == 12


def test_too_fast_without_a_time() -> None:
    client, _ = client_of(problem(429), retry=ONCE)
    with pytest.raises(TooFast) as caught:
        client.limits()
    assert caught.value.retry_after_s is None


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (httpx.Response(200, content=b"not json"), "is not JSON"),
        (good({"name": "Imke"}), "lacks 'id'"),
        (good([]), "cannot be read"),
        (httpx.Response(204), "cannot be read"),
    ],
)
def test_a_good_status_with_an_unreadable_answer_is_broken(answer: httpx.Response, words: str) -> None:
    client, _ = client_of(answer)
    with pytest.raises(Broken, match=words):
        client.create_athlete("Imke")


def test_a_wrong_address_is_said_plainly() -> None:
    from barwright_client import Client

    with Client("127.0.0.1:8400", "k") as client, pytest.raises(ValueError, match="http://"):
        client.limits()
