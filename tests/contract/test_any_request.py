"""Whatever is sent to any route of the OpenAPI document: never a 5xx, never an answer the document does not declare.

Cases are made from the document by schemathesis (MIT), good ones and spoiled ones; the bench sends many more.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

import stand_in
from barwright.app import create_app
from barwright.settings import Settings
from barwright.storage.migrate import migrate
from conftest import Service, TestClient
from contract.any_request import AnyRequests, labels

EXAMPLES = 3  # of each of about a hundred operations


@pytest.fixture(scope="module")
def any_requests(tmp_path_factory: pytest.TempPathFactory) -> Iterator[AnyRequests]:
    settings = Settings.from_env({}, str(tmp_path_factory.mktemp("any")))
    migrate(settings.database_url)
    app = create_app(settings, analyse=stand_in.outcome_of)
    with TestClient(app, raise_server_exceptions=False) as client:
        service = Service(client, settings, app.state.parts)
        client.headers.update(service.new_key())
        yield AnyRequests(service, always_the_same=True)


@pytest.mark.xdist_group("any request")
@pytest.mark.parametrize("label", labels())
def test_every_answer_is_declared_and_none_is_a_mistake_of_ours(any_requests: AnyRequests, label: str) -> None:
    before = any_requests.sent
    any_requests.examples(label, EXAMPLES)
    assert any_requests.sent > before
