"""A coach who is signed in, on the app with the stand-in analysis."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import httpx
import pytest
from starlette.testclient import TestClient

from barwright.workflows.parts import utc_now
from barwright.workflows.sign_in import make_link
from conftest import CLUB, Service

SAME_ORIGIN = {"sec-fetch-site": "same-origin"}


@dataclass
class Desk:
    """A browser of sorts: keeps its cookie and fills in the tokens of forms."""

    service: Service
    client: TestClient

    def page(self, path: str) -> str:
        """A page that has to be there."""
        answer = self.client.get(path)
        assert answer.status_code == 200, (path, answer.status_code, answer.text[:300])
        return answer.text

    def token(self, path: str = "/club") -> str:
        """A form token, as it stands in a page."""
        found = re.search(r'name="token" value="([^"]+)"', self.page(path))
        assert found
        return found[1]

    def send(self, path: str, **fields: Any) -> httpx.Response:
        """A form, with its token; redirects are not followed."""
        return self.client.post(path, data={"token": self.token(), **fields}, follow_redirects=False)

    @property
    def session(self) -> str:
        """The token in the cookie."""
        return self.client.cookies["barwright_session"]


def sign_in(service: Service, club: str = CLUB, coach: str = "Marit") -> Desk:
    """A desk of its own, with its own cookies."""
    client = TestClient(service.client.app, raise_server_exceptions=False)
    token = make_link(service.parts.database, club, coach, utc_now())
    assert client.post(f"/sign-in/{token}", headers=SAME_ORIGIN, follow_redirects=False).status_code == 303
    return Desk(service, client)


@pytest.fixture(autouse=True)
def quick_hashes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Passphrases are hashed as ever, only with less work for each: tests/access has the real cost."""
    monkeypatch.setattr("barwright.access.sign_in._N", 2**8)
    monkeypatch.setattr("barwright.access.sign_in._P", 1)


@pytest.fixture
def desk(service: Service) -> Desk:
    """Marit of the club, signed in."""
    return sign_in(service)
