"""Keys of the club: made, listed, replaced, revoked."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Annotated

from fastapi import APIRouter
from pydantic import Field

from barwright.access.scopes import Scope
from barwright.api.dependencies import Admin, PartsOf
from barwright.api.openapi import JSON_BODY, SIGNED_IN, problems
from barwright.api.shapes.base import Answer, IdText, Name, Number, Time, Told
from barwright.storage.keys import KeyFacts, NewKeyFacts
from barwright.workflows.manage_keys import IssuedKey, end_key, issue_own_key, list_keys, replace_key

router = APIRouter(prefix="/v1/keys", tags=["keys"])


class NewKey(Told):
    """What a key is for. device_id: the one device whose blocks it sends; it then does nothing else."""

    label: Name
    scopes: Annotated[list[Scope], Field(min_length=1, max_length=4, examples=[["streams:write"]])]
    device_id: IdText | None = None
    expires_at: Time | None = None


class Replacement(Told):
    """How long the old key goes on beside the new one."""

    overlap_hours: Annotated[Number, Field(ge=0, le=2160)] = 24.0


class KeyAnswer(Answer):
    """A key that is in use. hint: its first letters. replaced_by: the key in its place, beside which it ends soon."""

    id: str
    label: str | None
    hint: str | None
    scopes: list[Scope]
    device_id: str | None
    created_at: datetime
    expires_at: datetime | None
    last_used_at: datetime | None
    replaced_by: str | None

    @classmethod
    def of(cls, key: KeyFacts) -> KeyAnswer:
        """From what is stored."""
        told = key.told
        return cls(
            id=key.id, label=told.label, hint=told.hint, scopes=sorted(told.scopes), device_id=told.device_id,
            created_at=key.created_at, expires_at=told.expires_at, last_used_at=key.last_used_at,
            replaced_by=key.replaced_by,
        )  # fmt: skip


class MadeKey(KeyAnswer):
    """With the key itself, which is shown this once."""

    key: str

    @classmethod
    def of_issued(cls, made: IssuedKey) -> MadeKey:
        """From a key that was just made."""
        return cls(**KeyAnswer.of(made.facts).model_dump(), key=made.shown)


class KeyList(Answer):
    """Every key of the club that is in use, the newest first."""

    items: list[KeyAnswer]
    next: None


@router.get("", responses=problems(*SIGNED_IN), operation_id="list_keys")
def get_list(caller: Admin, parts: PartsOf) -> KeyList:
    """Keys that are in use; the keys themselves are not kept."""
    return KeyList(items=[KeyAnswer.of(one) for one in list_keys(parts, caller)], next=None)


@router.post("", status_code=201, responses=problems(*SIGNED_IN, *JSON_BODY, "not-found"), operation_id="make_key")
def post(caller: Admin, parts: PartsOf, told: NewKey) -> MadeKey:
    """Make a key. It is shown this once, so a request that was lost on the way is not repeated but made anew."""
    facts = NewKeyFacts(frozenset(told.scopes), told.label, told.device_id, told.expires_at)
    return MadeKey.of_issued(issue_own_key(parts, caller, facts))


@router.post(
    "/{key_id}/replace",
    status_code=201,
    responses=problems(*SIGNED_IN, *JSON_BODY, "not-found", "already-there"),
    operation_id="replace_key",
)
def post_replace(caller: Admin, parts: PartsOf, key_id: str, told: Replacement) -> MadeKey:
    """Make a key that may the same; the old one goes on beside it for the overlap, and then ends."""
    return MadeKey.of_issued(replace_key(parts, caller, key_id, timedelta(hours=told.overlap_hours)))


@router.delete(
    "/{key_id}",
    status_code=204,
    responses=problems(*SIGNED_IN, "not-found", "request-invalid"),
    operation_id="revoke_key",
)
def delete(caller: Admin, parts: PartsOf, key_id: str) -> None:
    """Revoke a key: it opens nothing any more, at most seconds later in every process."""
    end_key(parts, caller, key_id)
