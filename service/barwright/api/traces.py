"""Spans of requests and analyses for OpenTelemetry; loaded only where BARWRIGHT_TRACES names a collector."""

from __future__ import annotations

import time
from typing import Any

from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter
from opentelemetry.propagate import extract
from opentelemetry.sdk.resources import Resource
from opentelemetry.sdk.trace import TracerProvider
from opentelemetry.sdk.trace.export import BatchSpanProcessor
from opentelemetry.trace import Span, SpanKind, Status, StatusCode

from barwright import __version__
from barwright.workflows.watch import Watch

_CARRIES = (b"traceparent", b"tracestate")  # W3C Trace Context


class Traces(Watch):
    """Sends spans to a collector by OTLP over HTTP, a few seconds late and never in the way of a request.

    Names and attributes are those of OpenTelemetry's conventions for HTTP servers; ids of people are in none of them.
    """

    def __init__(self, endpoint: str) -> None:
        about = Resource.create({"service.name": "barwright", "service.version": __version__})
        self._provider = TracerProvider(resource=about)
        self._provider.add_span_processor(
            BatchSpanProcessor(OTLPSpanExporter(endpoint=endpoint.rstrip("/") + "/v1/traces"))
        )
        self._tracer = self._provider.get_tracer("barwright", __version__)

    def begin(self, scope: Any, request_id: str) -> Span:
        """A request came; its span belongs to the caller's trace where it tells of one."""
        carrier = {name.decode(): value.decode("latin-1") for name, value in scope["headers"] if name in _CARRIES}
        told = {"http.request.method": scope["method"], "barwright.request_id": request_id}
        return self._tracer.start_span(scope["method"], extract(carrier), SpanKind.SERVER, told)

    def end(self, span: Span, method: str, route: str, status: int) -> None:
        """It was answered."""
        span.update_name(f"{method} {route}")
        span.set_attributes({"http.route": route, "http.response.status_code": status})
        if status >= 500:
            span.set_status(Status(StatusCode.ERROR))
        span.end()

    def analysed(self, seconds: float, outcome: str, reason_code: str | None) -> None:
        """An analysis ended."""
        ended = time.time_ns()
        told = {"barwright.outcome": outcome} | ({} if reason_code is None else {"barwright.reason": reason_code})
        span = self._tracer.start_span("analyse set", attributes=told, start_time=ended - int(seconds * 1e9))
        if outcome == "failed":
            span.set_status(Status(StatusCode.ERROR))
        span.end(ended)

    def close(self) -> None:
        """Sends what is left."""
        self._provider.shutdown()
