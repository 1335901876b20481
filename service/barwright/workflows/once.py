"""Creating something once, although the request may arrive twice."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.storage.answers import AnswerStore, KeptAnswer
from barwright.workflows.cannot import Cannot
from barwright.workflows.parts import Parts

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Retry:
    """key: what the sender put into Idempotency-Key. payload_digest: tells one payload from another."""

    key: str
    payload_digest: str


def create_once(
    parts: Parts,
    caller: Caller,
    retry: Retry | None,
    create: Callable[[Session], T],
    answer: Callable[[T], bytes],
) -> bytes:
    """The answer to a creating request; the same key with the same payload gets the answer of the first time.

    What is created and its answer are committed together. Raises Cannot when the key came with another payload.
    """
    with parts.database.writing(caller.club_id) as session:
        answers = AnswerStore(session, caller.club_id)
        if retry is not None and (kept := answers.find(retry.key, parts.now())) is not None:
            if kept.payload_digest != retry.payload_digest:
                raise Cannot(
                    "retry-mismatch",
                    "This Idempotency-Key was used before with another request. Use a new key for a new request, and "
                    "the old key only to send the very same request again.",
                )
            return kept.body
        body = answer(create(session))
        if retry is not None:
            answers.keep(retry.key, KeptAnswer(retry.payload_digest, body), parts.now())
        return body
