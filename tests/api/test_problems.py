"""One shape for every error, those of the framework and our own mistakes too."""

from __future__ import annotations

import gzip
from urllib.parse import unquote

import pytest
import zstandard

from barwright.api.problems import PROBLEMS

MEMBERS = {"type", "title", "status", "detail", "instance", "code", "request_id", "errors"}


@pytest.mark.parametrize(
    ("method", "url", "status", "code"),
    [
        ("GET", "/v1", 404, "no-such-route"),
        ("GET", "/v1/nothing", 404, "no-such-route"),
        ("GET", "/v1/sets/", 404, "no-such-route"),
        ("DELETE", "/v1/limits", 405, "method-not-allowed"),
        ("PUT", "/v1/athletes", 405, "method-not-allowed"),
        ("GET", "/v1/sets?limit=0", 422, "request-invalid"),
        ("GET", "/v1/sets?limit=x", 422, "request-invalid"),
        ("GET", "/v1/sets?from=never", 422, "request-invalid"),
        ("GET", "/v1/sets/set_none", 404, "not-found"),
        ("GET", "/v1/sets/%00", 404, "not-found"),
        ("GET", "/v1/sets/%ff", 404, "not-found"),
        ("POST", "/v1/streams/str_none/close", 404, "not-found"),
        ("POST", "/v1/streams/str_none/close?wait=-1", 422, "request-invalid"),
        ("POST", "/v1/streams/str_none/close?wait=nan", 422, "request-invalid"),
        ("POST", "/v1/streams/str_none/close?wait=1e9", 422, "request-invalid"),
    ],
)
def test_every_error_has_the_one_shape(service, method, url, status, code):
    answer = service.client.request(method, url, follow_redirects=False)
    problem = answer.json()
    assert answer.headers["content-type"] == "application/problem+json"
    assert set(problem) == MEMBERS
    assert (answer.status_code, problem["status"], problem["code"]) == (status, status, code)
    assert problem["type"] == f"/docs/problems.md#{code}"
    assert problem["title"] == PROBLEMS[code][1]
    assert unquote(problem["instance"]) == answer.request.url.path
    assert problem["detail"]


def test_the_page_a_problem_points_to_is_there(service):
    problem = service.client.get("/v1/sets/set_none").json()
    page, _, anchor = problem["type"].partition("#")
    assert f"\n## {anchor}\n" in service.client.get(page).text


@pytest.mark.parametrize(
    ("content", "content_type", "status", "code"),
    [
        (b"{", "application/json", 400, "unreadable"),
        (b"", "application/json", 422, "request-invalid"),
        (b"[]", "application/json", 422, "request-invalid"),
        (b'"x"', "application/json", 422, "request-invalid"),
        (b"\xff\xfe", "application/json", 400, None),
        (b"name=Imke", "application/x-www-form-urlencoded", 415, "unknown-content-type"),
        (b'{"name": "Imke"}', "text/plain", 415, "unknown-content-type"),
        (b"[" * 200_000, "application/json", 400, None),
        (b'{"name": "' + b"x" * 2_000_000 + b'"}', "application/json", 413, "request-too-large"),
    ],
)
def test_bodies_that_are_no_json(service, content, content_type, status, code):
    answer = service.client.post("/v1/athletes", content=content, headers={"Content-Type": content_type})
    assert answer.status_code == status, answer.text
    assert set(answer.json()) == MEMBERS
    assert answer.json()["code"] == (code or answer.json()["code"])


def test_a_detail_says_where_the_body_or_its_part_is_wrong(service):
    def detail(route, **sent):
        return service.client.post(route, **sent).json()["detail"]

    of_json = {"headers": {"content-type": "application/json"}}
    assert "character 13" in detail("/v1/athletes", content=b'{"name": "X" "level": "y"}', **of_json)
    meta = {"data": {"meta": '{"athlete": "Imke",}'}, "files": {"file": b"t_s"}}
    assert "line 1 column 20" in detail("/v1/recordings", **meta)
    club = {"plates": [{"kg": 20, "count": 2}, {"kg": -2, "count": 4}]}
    assert "`plates/1/kg` has to be" in service.client.patch("/v1/club", json=club).json()["detail"]
    athlete = service.client.post("/v1/athletes", json={"name": "Imke"}).json()["id"]
    without = {"sets": [{"lift": "snatch", "percent": 70}, {"lift": "snatch"}]}
    assert "`sets/1`: a line has one target" in detail(f"/v1/athletes/{athlete}/plans", json=without)


def test_our_own_mistake_is_a_problem_that_tells_no_secrets(service, monkeypatch):
    def broken(*_):
        raise ZeroDivisionError("secret")

    monkeypatch.setattr("barwright.api.routes.sets.read_set", broken)
    answer = service.client.get("/v1/sets/set_1", headers={"X-Request-Id": "abc-1"})
    assert (answer.status_code, answer.json()["code"]) == (500, "internal-error")
    assert set(answer.json()) == MEMBERS
    assert "secret" not in answer.text
    assert answer.headers["x-request-id"] == "abc-1"


def test_every_answer_carries_a_request_id(service):
    first, second = (service.client.get("/v1/limits").headers["x-request-id"] for _ in range(2))
    assert first != second
    strange = service.client.get("/v1/limits", headers={"X-Request-Id": "a b\tc"})
    assert strange.headers["x-request-id"] != "a b\tc"
    refused = service.client.get("/v1/nothing", headers={"X-Request-Id": "mine"})
    assert refused.headers["x-request-id"] == "mine"


def test_not_ready_when_nothing_can_be_stored(service):
    assert service.client.get("/healthz/ready").json() == {"status": "ready"}
    (service.settings.data / "raw").rmdir()
    answer = service.client.get("/healthz/ready")
    assert (answer.status_code, answer.json()["code"]) == (503, "not-ready")
    assert service.client.get("/healthz/live").status_code == 200


def test_limits_and_lifts_are_published_without_a_key(service):
    nobody = {"Authorization": ""}
    limits = service.client.get("/v1/limits", headers=nobody).json()
    # docs/contract: 8 MiB a block, 120 s and 250,000 samples a block, 30 min a stream, 20-4000 Hz
    assert limits["block_bytes"] == 8 * 1024 * 1024
    assert (limits["block_seconds"], limits["block_samples"], limits["stream_seconds"]) == (120, 250_000, 1800)
    assert (limits["lowest_rate_hz"], limits["highest_rate_hz"]) == (20, 4000)
    lifts = {lift["code"]: lift for lift in service.client.get("/v1/lifts", headers=nobody).json()["items"]}
    assert lifts["snatch"]["key_velocity"] == "peak_velocity"
    assert lifts["back_squat"]["key_velocity"] == "mean_velocity"


def test_counts_for_operators(service):
    service.closed_set(2)
    text = service.client.get("/metrics").text
    assert 'barwright_blocks_total{outcome="stored"} 2' in text
    assert "barwright_sets_unfinished 0" in text


@pytest.mark.parametrize(
    ("url", "methods"),
    [
        ("/v1/limits", "GET, HEAD, OPTIONS"),
        ("/v1/athletes", "GET, HEAD, OPTIONS, POST"),
        ("/v1/athletes/ath_1", "DELETE, GET, HEAD, OPTIONS, PATCH"),
        ("/v1/recordings", "OPTIONS, POST"),
        ("/openapi.json", "GET, HEAD, OPTIONS"),
    ],
)
def test_the_methods_of_a_route_are_told_in_full(service, url, methods):
    told = service.client.options(url)
    assert (told.status_code, told.headers["allow"], told.content) == (204, methods, b"")
    refused = service.client.request("TRACE", url)
    assert (refused.status_code, refused.headers["allow"], refused.json()["code"]) == (
        405,
        methods,
        "method-not-allowed",
    )
    assert service.client.options("/v1/nothing").status_code == 404


def test_head_is_get_without_its_content(service):
    url = f"/v1/sets/{service.closed_set()['id']}"
    for one in (url, "/v1/limits", "/v1/sets/set_none", "/v1/nothing"):
        whole, head = service.client.get(one), service.client.head(one)
        assert (head.status_code, head.content) == (whole.status_code, b"")
        passing = {"x-request-id", "ratelimit"}
        assert {k: v for k, v in head.headers.items() if k not in passing} == {
            k: v for k, v in whole.headers.items() if k not in passing
        }
    assert service.client.head("/v1/recordings").status_code == 405


@pytest.mark.parametrize(
    ("url", "name", "words"),
    [
        ("/v1/sets?athlete=Imke", "athlete", "athlete_id, lift, from, to"),
        ("/v1/athletes?Limit=3", "Limit", "limit, cursor"),
        ("/v1/limits?x=", "x", "none"),
    ],
)
def test_a_parameter_that_is_not_known_is_never_overlooked(service, url, name, words):
    answer = service.client.get(url)
    assert (answer.status_code, answer.json()["code"]) == (422, "request-invalid")
    assert answer.json()["errors"][0]["pointer"] == name
    assert words in answer.json()["detail"]


@pytest.mark.parametrize("pack", [gzip.compress, zstandard.compress])
def test_any_body_may_be_compressed(service, pack):
    encoding = {"Content-Encoding": "gzip" if pack is gzip.compress else "zstd", "Content-Type": "application/json"}
    made = service.client.post("/v1/athletes", content=pack(b'{"name": "Imke"}'), headers=encoding)
    assert (made.status_code, made.json()["name"]) == (201, "Imke")
    for content, code in [
        (pack(b'{"name": "Rana"}')[:-3], "truncated"),
        (b'{"name": "Rana"}', "unreadable"),
        (pack(b'{"name": "' + b"x" * 2_000_000 + b'"}'), "decompressed-too-large"),
        (b"", "truncated"),
    ]:
        answer = service.client.post("/v1/athletes", content=content, headers=encoding)
        assert (answer.status_code // 100, answer.json()["code"]) == (4, code), answer.text
    unknown = service.client.post("/v1/athletes", content=b"{}", headers={**encoding, "Content-Encoding": "br"})
    assert (unknown.status_code, unknown.json()["code"]) == (415, "unknown-encoding")
