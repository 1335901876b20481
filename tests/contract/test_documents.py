"""The committed documents say what the program does."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from barwright.api.problem_advice import ADVICE
from barwright.api.problem_page import problem_page
from barwright.api.problems import PROBLEMS
from barwright.app import bare_app
from barwright.ingest.refusals import REFUSALS

ROOT = Path(__file__).parents[2]
SCHEMA = bare_app().openapi()
ROUTES = [(method, path) for path, methods in SCHEMA["paths"].items() for method in methods]


def test_the_openapi_document_is_current():
    committed = json.loads((ROOT / "docs/openapi.json").read_text())
    assert committed == json.loads(json.dumps(SCHEMA)), "run: make openapi"
    assert committed["openapi"].startswith("3.1")


def test_the_page_about_problems_is_current():
    assert (ROOT / "docs/problems.md").read_text() == problem_page()


def test_every_code_has_one_heading_and_every_heading_a_code():
    headings = re.findall(r"^## (.+)$", problem_page(), re.MULTILINE)
    assert sorted(headings) == sorted(PROBLEMS) == sorted(ADVICE)
    assert set(REFUSALS) <= set(PROBLEMS)


def test_codes_in_the_source_are_all_explained():
    said = set()
    for path in (ROOT / "service/barwright").rglob("*.py"):
        text = path.read_text()
        said |= set(re.findall(r"\b(?:Cannot|Refusal|problem)\(\s*\"([a-z-]+)\"", text))
    assert said
    assert said <= set(PROBLEMS)


@pytest.mark.parametrize("route", ROUTES)
def test_every_route_declares_its_problems_in_the_one_shape(route):
    method, path = route
    operation = SCHEMA["paths"][path][method]
    for status, answer in operation["responses"].items():
        if int(status) >= 400:
            assert list(answer["content"]) == ["application/problem+json"], status
            assert answer["content"]["application/problem+json"]["schema"]["$ref"].endswith("/Problem")
    if "security" in operation:
        assert {"401", "403"} <= set(operation["responses"])
    if "{" in path:
        assert "404" in operation["responses"]


def test_operations_have_stable_ids_and_bodies_have_examples():
    ids = [SCHEMA["paths"][path][method]["operationId"] for method, path in ROUTES]
    assert len(set(ids)) == len(ids)
    assert all(re.fullmatch(r"[a-z]+(_[a-z]+)+", one) for one in ids)
    for name in ("NewAthlete", "NewDevice", "NewStream", "AthleteChanges", "DeviceChanges", "Figure"):
        assert SCHEMA["components"]["schemas"][name]["examples"]


def test_every_reference_leads_somewhere():
    text = json.dumps(SCHEMA)
    for name in set(re.findall(r'"#/components/schemas/(\w+)"', text)):
        assert name in SCHEMA["components"]["schemas"]
    assert "$defs" not in text
