"""The examples of the OpenAPI document do what they say."""

from __future__ import annotations

import pytest

from barwright.app import bare_app

SCHEMA = bare_app().openapi()


def examples(name):
    return SCHEMA["components"]["schemas"][name]["examples"]


@pytest.mark.parametrize(
    ("route", "told"),
    [
        *(("/v1/athletes", told) for told in examples("NewAthlete")),
        *(("/v1/devices", told) for told in examples("NewDevice")),
        *(("/v1/streams", told) for told in examples("NewStream")),
    ],
)
def test_an_example_can_be_sent(service, route, told):
    answer = service.client.post(route, json=told)
    assert answer.status_code == 201, answer.text


def test_the_example_block_can_be_sent(service):
    body = SCHEMA["paths"]["/v1/streams/{stream_id}/blocks"]["post"]["requestBody"]
    answer = service.send(service.stream()["id"], body["content"]["application/json"]["example"])
    assert answer.status_code == 200, answer.text
    assert set(answer.json()) == set(examples("ReceiptAnswer")[0])
