"""Requests made from the OpenAPI document by schemathesis, good ones and spoiled ones, and what has to come back."""

from __future__ import annotations

from typing import Any

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from barwright.app import bare_app
from conftest import Service, still_poses

# What the others of schemathesis look for is tested by hand: who may what in tests/api/test_who_may.py, methods in
# test_problems.py. That every request the document allows is taken cannot hold: loads, days and ids have to exist.
LOOKED_FOR = (
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_headers_conformance",
    "response_schema_conformance",
)
BASE = "http://testserver"
CSV = b"date,lift,load\n2026-03-01,back_squat,100\n"


def labels() -> list[str]:
    """Method and path of every operation, without the cost of what schemathesis makes of them."""
    paths = bare_app().openapi()["paths"]
    return [f"{method.upper()} {path}" for path in paths for method in paths[path]]


def operations() -> dict[str, Any]:
    """Every operation of the document by method and path; its own copy of the document at every call."""
    import schemathesis  # takes seconds, and every process that collects tests reads this file

    schema = schemathesis.openapi.from_dict(_without_pairs(bare_app().openapi()))
    schema.config.update(base_url=BASE)
    return {found.ok().label: found.ok() for found in schema.get_all_operations()}


def _without_pairs(schema: Any) -> Any:
    """The document with arrays of equal members in the place of pairs: this version of schemathesis breaks on pairs."""
    if isinstance(schema, list):
        return [_without_pairs(one) for one in schema]
    if not isinstance(schema, dict):
        return schema
    out = {name: _without_pairs(one) for name, one in schema.items() if name != "prefixItems"}
    members = schema.get("prefixItems")
    if members is not None:
        out["items"] = _without_pairs(members[0]) if all(one == members[0] for one in members) else {}
    return out


class AnyRequests:
    """Sends requests to one service. ids are those of things that are there, until a request deletes them."""

    def __init__(self, service: Service, always_the_same: bool) -> None:
        from schemathesis.checks import CHECKS, load_all_checks

        self._service = service
        self._always_the_same = always_the_same
        self._operations = operations()
        load_all_checks()
        self._checks = [CHECKS.get_one(name) for name in LOOKED_FOR]
        self._ids: dict[str, str] = {}
        self.sent = 0
        service.parts.hub.close()  # event streams end by themselves

    def examples(self, label: str, how_many: int) -> None:
        """Sends so many requests to one operation. Raises what schemathesis raises for a wrong answer."""
        from schemathesis.generation import GenerationMode

        operation = self._operations[label]
        strategies = [operation.as_strategy(generation_mode=mode) for mode in GenerationMode]

        @settings(
            max_examples=how_many,
            deadline=None,
            database=None,
            derandomize=self._always_the_same,
            suppress_health_check=list(HealthCheck),
            phases=[Phase.generate],
        )
        @given(case=st.one_of(strategies), known=st.booleans())
        def send(case: Any, known: bool) -> None:
            self._send(case, known)

        send()

    def _send(self, case: Any, known: bool) -> None:
        if known and case.path_parameters:
            ids = self._known_ids()
            for name in case.path_parameters:
                case.path_parameters[name] = ids.get(name, case.path_parameters[name])
        import requests

        try:
            told = case.as_transport_kwargs(base_url=BASE)
            ready = requests.Request(**{name: told[name] for name in told if name in _TAKEN}).prepare()
        except (ValueError, requests.exceptions.RequestException):
            return  # no HTTP client can send this one
        headers = {name: value for name, value in ready.headers.items() if name.lower() != "authorization"}
        answer = self._service.client.request(
            ready.method or "GET", ready.url or BASE, content=ready.body, headers=headers, follow_redirects=False
        )
        self.sent += 1
        # It holds each event against the schema of the whole answer; events have their own tests in tests/live.
        checks = self._checks[:-1] if answer.headers.get("content-type", "").startswith("text/event") else self._checks
        case.validate_response(answer, checks=checks)
        if case.operation.method.upper() == "DELETE" and answer.status_code < 300:
            self._ids = {}

    def _known_ids(self) -> dict[str, str]:
        if not self._ids:
            client = self._service.client
            one = self._service.closed_set()
            url = f"/v1/athletes/{one['athlete_id']}"
            made = client.post(f"/v1/devices/{one['device_id']}/calibration", json=still_poses()).json()
            client.post(f"{url}/history", content=CSV, headers={"Content-Type": "text/csv"})
            maxima = client.get(f"{url}/maxima").json()["items"]
            plan = client.post(f"{url}/plans", json={"sets": [{"lift": "snatch", "percent": 80}]}).json()
            key = client.post("/v1/keys", json={"label": "a", "scopes": ["streams:write"]}).json()
            hook = client.post("/v1/webhooks", json={"url": "https://club.example/hooks"}).json()
            told = {"lift": "snatch", "fault": "S1", "drill": "deficit_snatch"}
            given_drill = client.post(f"{url}/prescriptions", json=told).json()
            self._ids = {
                "athlete_id": one["athlete_id"], "device_id": one["device_id"], "stream_id": one["stream_id"],
                "set_id": one["id"], "index": "1", "lift": "snatch", "calibration_id": made["id"],
                "plan_id": plan["id"], "key_id": key["id"], "webhook_id": hook.get("id", "whk_none"),
                "prescription_id": given_drill["id"], "code": "deficit_snatch",
                **({"maximum_id": maxima[0]["id"]} if maxima else {}),
            }  # fmt: skip
        return self._ids


_TAKEN = {"method", "url", "headers", "params", "data", "json", "files", "cookies"}
