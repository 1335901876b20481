"""What every answer carries, what operators see of requests, and what the log never says."""

from __future__ import annotations

import gzip
import io
import json
import logging
import re

import pytest

from barwright.access.keys import new_key
from barwright.access.webhook_signature import new_secret
from barwright.api.metrics import Metrics
from barwright.log_lines import JsonLines, TextLines, without_secrets
from barwright.settings import Settings
from barwright.storage.sessions import StorageUnavailableError
from conftest import imu_block


@pytest.fixture
def lines():
    """Everything that is logged, as JSON lines."""
    sink = io.StringIO()
    handler = logging.StreamHandler(sink)
    handler.setFormatter(JsonLines())
    root = logging.getLogger()
    before = root.level
    root.addHandler(handler)
    root.setLevel(logging.DEBUG)
    yield lambda: [json.loads(line) for line in sink.getvalue().splitlines()]
    root.removeHandler(handler)
    root.setLevel(before)


def test_a_request_keeps_its_id_or_gets_one(service):
    given = service.client.get("/v1/sets/set_none", headers={"X-Request-Id": "abc-1"})
    assert given.headers["x-request-id"] == given.json()["request_id"] == "abc-1"
    made = service.client.get("/v1/sets/set_none", headers={"X-Request-Id": "no good\tid"})
    assert re.fullmatch(r"[0-9a-f]{16}", made.headers["x-request-id"])
    assert made.json()["request_id"] == made.headers["x-request-id"]


def test_answers_are_guarded(service):
    """OWASP's list for REST services: nosniff, no-store, frame-ancestors; no referrer with ids in it."""
    for answer in (service.client.get("/v1/sets"), service.client.get("/v1/nothing"), service.client.get("/metrics")):
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["cache-control"] == "no-store"
        assert answer.headers["content-security-policy"] == "default-src 'none'; frame-ancestors 'none'"
        assert answer.headers["referrer-policy"] == "no-referrer"
        assert "strict-transport-security" not in answer.headers


def test_blocks_by_the_short_way_have_the_same_header_fields(service):
    stream = service.stream()["id"]
    slow, quick = service.send(stream, imu_block(0)), service.send(stream, imu_block(1))
    assert quick.headers["ratelimit-policy"].startswith('"blocks"')
    assert set(quick.headers) == set(slow.headers)


def test_pages_keep_their_own_policy(service):
    page = service.client.get("/sign-in")
    assert "script-src 'self'" in page.headers["content-security-policy"]
    assert page.headers.get_list("content-security-policy") == [page.headers["content-security-policy"]]
    assert page.headers["x-content-type-options"] == "nosniff"
    style = re.search(r'href="(/static/[^"]+\.css)"', page.text)[1]
    assert "immutable" in service.client.get(style).headers["cache-control"]


def test_https_is_to_be_kept_to_where_it_is_used(service):
    answer = service.client.get("https://testserver/v1/limits")
    assert answer.headers["strict-transport-security"] == "max-age=31536000"


def figures(service):
    """Every figure of GET /metrics by its name and labels."""
    text = service.client.get("/metrics").text
    return {key: float(value) for key, value in re.findall(r"^(barwright_.+) (\S+)$", text, re.MULTILINE)}


def test_metrics_count_requests_by_template_and_hold_no_id(service):
    before = figures(service)
    lift_set = service.closed_set()
    service.client.get("/v1/sets/set_none")
    service.client.get(f"/v1/{new_key().shown}")
    after = figures(service)

    def more(route, status):
        name = f'barwright_http_requests_total{{method="GET",route="{route}",status="{status}"}}'
        return after[name] - before.get(name, 0.0)

    assert (more("/v1/sets/{set_id}", 200), more("/v1/sets/{set_id}", 404), more("none", 404)) == (1, 1, 1)
    assert any('route="/v1/streams/{stream_id}/blocks"' in name for name in after)
    text = service.client.get("/metrics").text
    for name in ("id", "stream_id", "athlete_id", "device_id"):
        assert lift_set[name] not in text
    assert "bw_" not in text


def test_metrics_are_named_as_prometheus_asks():
    """prometheus.io/docs/practices/naming: one prefix, base units as the last word, _total for counts."""
    metrics = Metrics()
    metrics.gauge("barwright_disk_free_bytes", "Room.", lambda: 1.0)
    metrics.request("GET", "/", 200, 0.1)
    metrics.analysed(0.1, "failed", "analysis-broken")
    kinds = dict(re.findall(r"^# TYPE (barwright_\S+) (\S+)$", metrics.text().decode(), re.MULTILINE))
    kinds = {name: kind for name, kind in kinds.items() if not name.endswith("_created")}
    assert len(kinds) >= 6
    for name, kind in kinds.items():
        assert re.fullmatch(r"barwright_[a-z_]+", name)
        assert name.endswith("_total") == (kind == "counter"), name
        assert kind != "histogram" or name.endswith(("_seconds", "_bytes"))
        assert not re.search(r"_(ms|milliseconds|kb|minutes)(_|$)", name)


def test_block_bytes_and_analyses_are_counted(service):
    before = figures(service)
    stream = service.stream()
    sent = [json.dumps(imu_block(seq)).encode() for seq in range(3)]
    for body in sent:
        service.client.post(f"/v1/streams/{stream['id']}/blocks", content=body, headers=JSON)
    service.client.post(f"/v1/streams/{stream['id']}/close?wait=20")
    after = figures(service)
    wanted = {
        "barwright_block_bytes_total": sum(map(len, sent)),
        'barwright_blocks_total{outcome="stored"}': 3,
        'barwright_analysis_duration_seconds_count{outcome="analysed"}': 1,
    }
    assert {name: after[name] - before.get(name, 0.0) for name in wanted} == wanted
    assert after["barwright_disk_free_bytes"] > 0
    assert after["barwright_live_listeners"] == after["barwright_sets_unfinished"] == 0


JSON = {"Content-Type": "application/json"}


def test_figures_are_told_while_the_database_is_away(service, monkeypatch):
    def away(_queue):
        raise StorageUnavailableError("away")

    monkeypatch.setattr(type(service.client.app.state.queue), "length", away)
    answer = service.client.get("/metrics")
    assert answer.status_code == 200
    assert "barwright_sets_unfinished NaN" in answer.text.splitlines()


def test_with_a_token_metrics_are_for_who_has_it(service):
    service.client.app.state.metrics_token = "scrape-me"
    try:
        refused = service.client.get("/metrics")
        told = service.client.get("/metrics", headers={"Authorization": "Bearer scrape-me"})
    finally:
        service.client.app.state.metrics_token = ""
    assert (refused.status_code, refused.json()["code"]) == (401, "not-signed-in")
    assert told.status_code == 200


def test_the_settings_are_read_and_checked():
    settings = Settings.from_env(
        {"BARWRIGHT_RATES": "requests=60, blocks=0", "BARWRIGHT_LOG": "json", "BARWRIGHT_METRICS_TOKEN": "t"}
    )
    assert (settings.rates.requests, settings.rates.blocks, settings.rates.wrong_keys) == (60, 0, 300)
    assert (settings.log, settings.metrics_token) == ("json", "t")
    for wrong in ({"BARWRIGHT_RATES": "requests=-1"}, {"BARWRIGHT_RATES": "all=3"}, {"BARWRIGHT_LOG": "xml"}):
        with pytest.raises(ValueError, match=next(iter(wrong))):
            Settings.from_env(wrong)


def test_ready_says_when_there_is_too_little_room_or_the_queue_has_ended(service, monkeypatch):
    assert service.client.get("/healthz/ready").status_code == 200
    room = service.parts.room
    object.__setattr__(service.parts, "room", type(room)(room.folder, least=2**62))
    answer = service.client.get("/healthz/ready")
    assert (answer.status_code, answer.json()["code"]) == (507, "storage-full")
    assert "retry-after" in answer.headers
    object.__setattr__(service.parts, "room", room)
    monkeypatch.setattr(type(service.client.app.state.queue), "is_alive", lambda _self: False)
    answer = service.client.get("/healthz/ready")
    assert (answer.status_code, answer.json()["code"]) == (503, "not-ready")
    assert service.client.get("/healthz/live").status_code == 200


def test_a_line_of_the_log_has_the_id_of_its_request(service, lines, monkeypatch):
    def broken(*_):
        logging.getLogger("barwright.test").info("inside")
        raise ZeroDivisionError

    monkeypatch.setattr("barwright.api.dependencies.who_calls", broken)
    service.client.get("/v1/sets", headers={"X-Request-Id": "log-2"})
    found = [line for line in lines() if line["request_id"] == "log-2"]
    assert {"inside"} < {line["message"] for line in found}
    (failed,) = [line for line in found if line.get("status") == 500]
    assert (failed["route"], failed["method"], failed["level"]) == ("/v1/sets", "GET", "warning")
    assert any("ZeroDivisionError" in line.get("error", "") for line in found)


def test_no_secret_gets_into_the_log(service, lines, monkeypatch):
    """Every secret there is goes past, in good requests, refused ones and ones that break."""
    made = service.client.post("/v1/keys", json={"label": "a", "scopes": ["club:admin"]}).json()["key"]
    hook = service.client.post("/v1/webhooks", json={"url": "https://u.example/h"}).json()["secret"]
    link = "x8Jd93kfLkd93jfLs0-_29dkf"
    typo = made[:-1] + ("a" if made[-1] != "a" else "b")
    log = logging.getLogger("barwright.test")

    def broken(_parts, key, _now):
        raise RuntimeError(f"the database said: {key} {hook} postgresql://club:hunter22@db/barwright /sign-in/{link}")

    for key in (made, typo):
        service.client.get("/v1/sets", headers={"Authorization": f"Bearer {key}"})
        service.client.get(f"/v1/sets/{key}", headers={"Authorization": f"Bearer {made}"})
    service.client.post(f"/sign-in/{link}", data={"passphrase": "iron and chalk"})
    service.client.post("/sign-in", data={"name": "Marit", "passphrase": "iron and chalk"})
    service.client.post("/v1/athletes", content=gzip.compress(made.encode()), headers={"Content-Encoding": "gzip"})
    monkeypatch.setattr("barwright.api.dependencies.who_calls", broken)
    answer = service.client.get("/v1/sets", headers={"Authorization": f"Bearer {made}"})
    assert answer.status_code == 500
    log.warning("carried along: Bearer %s", made)
    text = json.dumps(lines())
    assert "RuntimeError" in text
    for secret in (made, typo, hook, link, "iron and chalk", "hunter22"):
        assert secret not in text
        assert secret not in answer.text


def test_secrets_are_struck_out_of_any_text():
    secrets = [new_key().shown, new_secret()]
    for secret in secrets:
        assert without_secrets(f"a {secret} b") == "a [secret] b"
    record = logging.LogRecord("x", logging.INFO, "f", 1, "key %s", (secrets[0],), None)
    assert secrets[0] not in TextLines().format(record)
    assert without_secrets("sets at /v1/sets/set_1, 3 of 4") == "sets at /v1/sets/set_1, 3 of 4"
