"""The answer to a request that created something."""

from __future__ import annotations

import json

from fastapi import Response


def created(collection: str, body: bytes) -> Response:
    """201 with the address of the new thing; `body` is its JSON, with an `id`."""
    location = f"{collection}/{json.loads(body)['id']}"
    return Response(body, 201, {"Location": location}, "application/json")
