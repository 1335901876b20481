"""One call of the service as data: what to send and how to read the answer. No network here."""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable, Generator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Generic, TypeVar
from urllib.parse import quote

from barwright_client.answers import Json, read_page
from barwright_client.bodies import Body
from barwright_client.errors import Broken
from barwright_client.pages import Page
from barwright_client.replies import Reply

T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)


@dataclass(frozen=True, slots=True)
class Call(Generic[T_co]):
    """One logical call. key: its Idempotency-Key, the same on every try. wait_s: extra time the answer may take."""

    method: str
    path: str
    read: Callable[[Any], T_co]
    params: Mapping[str, str] = field(default_factory=dict)
    body: Body | None = None
    key: str | None = None
    wait_s: float = 0.0

    def headers(self) -> dict[str, str]:
        """Everything but who is calling."""
        keyed = {"Idempotency-Key": self.key} if self.key else {}
        return {"Accept": "application/json", **keyed, **(self.body.headers() if self.body else {})}

    def read_answer(self, reply: Reply) -> T_co:
        """The answer of a 2xx reply. Raises Broken when it is not what the contract says."""
        where = f"the answer to {self.method} {self.path}"
        request_id = reply.header("x-request-id")
        try:
            document = json.loads(reply.body) if reply.body else None
        except ValueError as error:
            raise Broken(f"{where} is not JSON: {error}", status=reply.status, request_id=request_id) from error
        try:
            return self.read(document)
        except KeyError as error:
            raise Broken(f"{where} lacks {error}", status=reply.status, request_id=request_id) from error
        except (TypeError, ValueError, AttributeError) as error:
            raise Broken(f"{where} cannot be read: {error}", status=reply.status, request_id=request_id) from error


@dataclass(frozen=True, slots=True)
class Pages(Generic[T]):
    """A list that comes in pages: the call for the page at a cursor, None for the first."""

    at: Callable[[str | None], Call[Page[T]]]


Steps = Generator[Call[Any], Any, T]
"""Several calls in a row: yields each, is sent its answer (or has its error thrown in), returns what came of it."""


def listing(path: str, read: Callable[[Json], T], **params: str | None) -> Pages[T]:
    """GET of a list, with the query parameters that are given."""
    return Pages(lambda cursor: Call("GET", path, read_page(read), query(**params, cursor=cursor)))


def new_key() -> str:
    """A fresh Idempotency-Key: a string in quotes, as draft-ietf-httpapi-idempotency-key-header has it."""
    return f'"{uuid.uuid4()}"'


def rfc3339(at: datetime | None) -> str | None:
    """A time for the wire. Raises ValueError for one without a time zone."""
    if at is None:
        return None
    if at.tzinfo is None:
        raise ValueError(f"{at.isoformat()} has no time zone; use for example datetime.now(timezone.utc)")
    return at.isoformat()


def without_none(**members: Any) -> Json:
    """The members that are given."""
    return {name: value for name, value in members.items() if value is not None}


def query(**params: str | None) -> dict[str, str]:
    """The parameters that are given."""
    return {name: value for name, value in params.items() if value is not None}


def part(name: str) -> str:
    """One part of a path."""
    return quote(name, safe="")


def nothing(document: Any) -> None:
    """Reads an answer without content."""


def document_of(document: Any) -> Json:
    """Reads an answer as it is. Raises TypeError when it is not an object."""
    if not isinstance(document, dict):
        raise TypeError(f"expected an object, found {type(document).__name__}")
    return document
