"""Idempotency-Key (draft-ietf-httpapi-idempotency-key-header): a creating request that may be sent again."""

from __future__ import annotations

import hashlib
import re
from typing import Annotated

from fastapi import Depends, Header, Request

from barwright.workflows.cannot import Cannot
from barwright.workflows.once import Retry

_KEY = re.compile(r'"([\x20-\x21\x23-\x5b\x5d-\x7e]{1,200})"|([\x21\x23-\x7e]{1,200})')

RetryKey = Annotated[
    str | None,
    Header(
        alias="Idempotency-Key",
        description="Any text of up to 200 characters, best a UUID in double quotes. Sending the same request again "
        "with the same key within 24 hours creates nothing and gets the first answer again.",
        examples=['"5f1c1f1e-8f6b-4a39-8a1e-0d6c5b7a9d10"'],
    ),
]


def retry_of(key: str | None, request: Request, *payload: bytes) -> Retry | None:
    """The retry a header tells of. Raises Cannot for a key that cannot be used."""
    if key is None:
        return None
    found = _KEY.fullmatch(key.strip())
    if found is None:
        raise Cannot(
            "retry-key-invalid", "Idempotency-Key has to be 1 to 200 printable characters, best a UUID in quotes."
        )
    told = hashlib.sha256(f"{request.method} {request.url.path}\n".encode())
    for part in payload:
        told.update(len(part).to_bytes(8, "big") + part)
    return Retry(found[1] or found[2], told.hexdigest())


async def _of_json(request: Request, key: RetryKey = None) -> Retry | None:
    return retry_of(key, request, await request.body())


RetryOf = Annotated[Retry | None, Depends(_of_json)]
