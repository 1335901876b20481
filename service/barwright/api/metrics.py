"""Figures for operators, in the names and base units that Prometheus asks for; no id is ever a label."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest
from prometheus_client.platform_collector import PlatformCollector
from prometheus_client.process_collector import ProcessCollector

from barwright.workflows.watch import Watch

CONTENT_TYPE = "text/plain; version=0.0.4; charset=utf-8"
NO_ROUTE = "none"  # addresses that lead nowhere are one: whoever tries many must not fill the memory
_REQUEST_S = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 15.0, 60.0)
_ANALYSIS_S = (0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0, 60.0, 300.0)


class Metrics(Watch):
    """What one service counted since its start. Safe to add to from any thread. also: another who wants to be told."""

    def __init__(self, also: Watch | None = None) -> None:
        self._also = also
        self._registry = CollectorRegistry()
        ProcessCollector(registry=self._registry)
        PlatformCollector(registry=self._registry)
        self._requests = self._counter(
            "barwright_http_requests", "Requests answered, by the template of their route.", "method", "route", "status"
        )
        self._request_s = Histogram(
            "barwright_http_request_duration_seconds",
            "From the head of a request to the end of its answer.",
            ("method", "route"),
            buckets=_REQUEST_S,
            registry=self._registry,
        )
        blocks = self._counter("barwright_blocks", "Blocks acknowledged, by whether they were new.", "outcome")
        self._stored, self._known = blocks.labels("stored"), blocks.labels("known")
        self._block_bytes = self._counter("barwright_block_bytes", "Bytes of acknowledged blocks as they were sent.")
        self._analysis_s = Histogram(
            "barwright_analysis_duration_seconds",
            "Analyses of sets in this process, by what came of them.",
            ("outcome",),
            buckets=_ANALYSIS_S,
            registry=self._registry,
        )
        self._not_analysed = self._counter(
            "barwright_sets_not_analysed", "Sets whose analysis failed or whose samples allow none.", "reason"
        )
        self._children: dict[tuple[str, str, int], tuple[Any, Any]] = {}

    def request(self, method: str, route: str, status: int, seconds: float) -> None:
        """A request was answered."""
        child = self._children.get((method, route, status))
        if child is None:
            child = self._requests.labels(method, route, status), self._request_s.labels(method, route)
            self._children[method, route, status] = child
        child[0].inc()
        child[1].observe(seconds)

    def block(self, stored: bool, body_bytes: int) -> None:
        """A block was acknowledged."""
        (self._stored if stored else self._known).inc()
        self._block_bytes.inc(body_bytes)

    def analysed(self, seconds: float, outcome: str, reason_code: str | None) -> None:
        """An analysis ended."""
        self._analysis_s.labels(outcome).observe(seconds)
        if reason_code is not None:
            self._not_analysed.labels(reason_code).inc()
        if self._also is not None:
            self._also.analysed(seconds, outcome, reason_code)

    def gauge(self, name: str, what: str, read: Callable[[], float]) -> None:
        """A figure that is read anew each time it is asked for."""
        Gauge(name, what, registry=self._registry).set_function(read)

    def text(self) -> bytes:
        """Everything, in the text format of Prometheus."""
        return generate_latest(self._registry)

    def _counter(self, name: str, what: str, *labels: str) -> Counter:
        return Counter(name, what, labels, registry=self._registry)
