"""Spans reach a collector by OTLP, and nothing that sends them is loaded where none is named."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from threading import Thread

import pytest
from opentelemetry.proto.collector.trace.v1.trace_service_pb2 import ExportTraceServiceRequest

import stand_in
from barwright.app import create_app
from barwright.settings import Settings
from conftest import Service, TestClient


@pytest.fixture
def collector() -> Iterator[tuple[str, list[ExportTraceServiceRequest]]]:
    """(address, what came): an OTLP collector that keeps everything."""
    came: list[ExportTraceServiceRequest] = []

    class Collector(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["content-length"]))
            if self.path == "/v1/traces":
                came.append(ExportTraceServiceRequest.FromString(body))
            self.send_response(200)
            self.end_headers()

        def log_message(self, *_: object) -> None: ...

    with HTTPServer(("127.0.0.1", 0), Collector) as server:
        Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}", came
        server.shutdown()


@pytest.mark.sqlite
def test_requests_and_analyses_are_spans_of_the_callers_trace(settings: Settings, collector) -> None:
    address, came = collector
    told = Settings.from_env({"BARWRIGHT_TRACES": address}, str(settings.data))
    with TestClient(create_app(told, analyse=stand_in.outcome_of)) as client:
        service = Service(client, told, client.app.state.parts)
        client.headers.update(service.new_key())
        lift_set = service.closed_set()
        # the example of W3C Trace Context, section 3.2
        parent = "00-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331-01"
        client.get("/v1/sets/set_none", headers={"traceparent": parent, "X-Request-Id": "traced-1"})
    spans = [span for one in came for of in one.resource_spans for in_it in of.scope_spans for span in in_it.spans]
    by_name = {span.name: span for span in spans}
    assert {"POST /v1/streams", "POST /v1/streams/{stream_id}/blocks", "analyse set"} <= set(by_name)
    (missed,) = [one for one in spans if one.trace_id.hex() == "0af7651916cd43dd8448eb211c80319c"]
    assert (missed.name, missed.parent_span_id.hex()) == ("GET /v1/sets/{set_id}", "b7ad6b7169203331")
    attributes = {one.key: one.value for one in missed.attributes}
    assert attributes["http.response.status_code"].int_value == 404
    assert attributes["barwright.request_id"].string_value == "traced-1"
    assert lift_set["id"] not in str(came)


@pytest.mark.sqlite
def test_without_a_collector_nothing_that_sends_is_loaded() -> None:
    """The framework itself loads the small package `opentelemetry.trace` where it is installed; not what sends."""
    parts = "('opentelemetry.sdk', 'opentelemetry.exporter', 'barwright.api.traces')"
    code = f"import sys, barwright.app; sys.exit(any(name.startswith({parts}) for name in sys.modules))"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_the_address_is_checked() -> None:
    with pytest.raises(ValueError, match="BARWRIGHT_TRACES"):
        Settings.from_env({"BARWRIGHT_TRACES": "collector:4317"})
