"""Bytes that never become a request, at a real server."""

from __future__ import annotations

import json
import socket
import time

import pytest

from contract.servers import Server, run


@pytest.fixture(scope="module")
def running(tmp_path_factory):
    data = tmp_path_factory.mktemp("data")
    key = run("new-key", "--data", data, "--club", "Quarry Lane Lifting Club").stdout.strip()
    server = Server(data)
    yield server, key
    assert server.stop() == 0


@pytest.fixture
def address(running):
    host, _, port = running[0].url.removeprefix("http://").partition(":")
    return host, int(port)


def talk(address, *pieces):
    """Status, headers and body of the first answer to these bytes."""
    with socket.create_connection(address, timeout=20) as connection:
        for piece in pieces:
            try:
                connection.sendall(piece)
            except (BrokenPipeError, ConnectionResetError):
                break
            time.sleep(0.02)
        answer = b""
        while b"\r\n\r\n" not in answer or len(answer.partition(b"\r\n\r\n")[2]) < _length(answer):
            more = connection.recv(65536)
            if not more:
                break
            answer += more
    head, _, body = answer.partition(b"\r\n\r\n")
    first, *lines = head.decode().split("\r\n")
    headers = {name.lower(): value for name, _, value in (line.partition(": ") for line in lines)}
    return int(first.split()[1]), headers, body


def _length(answer):
    for line in answer.partition(b"\r\n\r\n")[0].lower().split(b"\r\n"):
        if line.startswith(b"content-length:"):
            return int(line.partition(b":")[2])
    return 0


START = b"GET /v1/limits HTTP/1.1\r\nHost: x\r\n"


@pytest.mark.parametrize(
    "pieces",
    [
        (b"FLY /v1/limits HTTP/1.1\r\nHost: x\r\n\r\n",),
        (b"GET /v1/limits HTTP/1.1\r\nno colon\r\n\r\n",),
        (b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",),  # a client that speaks TLS to a plain port
        (b"{}\r\n\r\n",),
        (START + b"Content-Length: five\r\n\r\n",),
    ],
)
def test_what_is_no_request_is_a_problem_too(address, pieces):
    status, headers, body = talk(address, *pieces)
    assert (status, headers["content-type"]) == (400, "application/problem+json")
    assert json.loads(body)["code"] == "request-unreadable"
    assert headers["x-request-id"]


@pytest.mark.parametrize(
    "pieces",
    [
        (START, *[b"X-Big: " + b"a" * 9_000 + b"\r\n"] * 9),  # many headers that never end
        (START + b"X-Big: ", *[b"a" * 20_000] * 6),  # one that never ends
        (b"GET /v1/limits?", *[b"a" * 20_000] * 6),
    ],
)
def test_a_head_that_never_ends_is_refused_before_it_fills_the_memory(address, pieces):
    status, _, body = talk(address, *pieces)
    assert (status, json.loads(body)["code"]) == (431, "head-too-large")


def test_heads_and_bodies_up_to_the_limit_are_taken(address):
    status, _, body = talk(address, START + b"X-Big: " + b"a" * 50_000 + b"\r\n\r\n")
    assert (status, json.loads(body)["stream_seconds"]) == (200, 1800)
    body = b'{"name": "' + b"x" * 200_000 + b'"}'  # a body is counted apart from the head
    head = b"POST /v1/athletes HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: %d\r\n\r\n"
    status, _, answer = talk(address, head % len(body), body[:100_000], body[100_000:])
    assert (status, json.loads(answer)["code"]) == (401, "not-signed-in")


def test_the_next_request_on_a_connection_is_counted_from_nought(address):
    with socket.create_connection(address, timeout=20) as connection:
        for _ in range(5):
            connection.sendall(START + b"X-Big: " + b"a" * 30_000 + b"\r\n\r\n")
            answer = b""
            while len(answer.partition(b"\r\n\r\n")[2]) < max(1, _length(answer)):
                answer += connection.recv(65536)
            assert answer.startswith(b"HTTP/1.1 200")


@pytest.mark.parametrize("more", ["", "Content-Encoding: gzip\r\n"])
@pytest.mark.parametrize(
    ("path", "content_type"),
    [
        ("/v1/recordings", "multipart/form-data; boundary=x"),
        ("/v1/streams/str_1/blocks", "application/json"),
        ("/v1/athletes", "application/json"),
    ],
)
def test_a_sender_that_hangs_up_is_no_error_of_ours(running, address, path, content_type, more):
    server, key = running
    head = f"POST {path} HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {key}\r\nContent-Type: {content_type}\r\n"
    before = len(server.log)
    with socket.create_connection(address, timeout=20) as connection:
        connection.sendall(f"{head}{more}Content-Length: 5000\r\n\r\n--x\r\n".encode())
        time.sleep(0.2)
    status, _, _ = talk(address, START + b"\r\n")
    time.sleep(0.2)
    assert status == 200
    assert not [line for line in server.log[before:] if "ERROR" in line or "Traceback" in line]
