"""Webhooks: where a club wants to be told of events."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Query, Request, Response
from pydantic import Field

from barwright.access.caller import Caller
from barwright.access.scopes import Scope
from barwright.api.dependencies import PartsOf, require
from barwright.api.idempotency import RetryOf
from barwright.api.openapi import JSON_BODY, RETRY, SIGNED_IN, problems
from barwright.api.paging import Cursor, Limit, page, time_and_id_in
from barwright.api.shapes.base import Answer, Told
from barwright.storage.webhooks import Message, Webhook
from barwright.workflows.webhooks import NewWebhook as NewlyMade
from barwright.workflows.webhooks import (
    drop_webhook,
    list_messages,
    list_webhooks,
    make_webhook,
    send_again,
)

router = APIRouter(prefix="/v1/webhooks", tags=["live"])
Admin = Annotated[Caller, Depends(require(Scope.CLUB_ADMIN))]
Kind = Literal["set_closed", "stop_advised", "readiness_changed"]


class NewWebhook(Told):
    """Where to tell, and of what.

    kinds: set_closed, a set is analysed; stop_advised, its velocity loss is reached; readiness_changed, the verdict on
    an athlete's lift today is another than the one told last.
    """

    url: Annotated[str, Field(min_length=1, max_length=2000, examples=["https://club.example/hooks/barwright"])]
    kinds: Annotated[list[Kind], Field(min_length=1, max_length=3, default_factory=lambda: ["set_closed"])]


class WebhookAnswer(Answer):
    """A webhook. ended_at: the receiver answered 410 then, and is told of nothing more."""

    id: str
    url: str
    kinds: list[str]
    created_at: datetime
    ended_at: datetime | None

    @classmethod
    def of(cls, one: Webhook) -> WebhookAnswer:
        """From the stored webhook."""
        return cls(id=one.id, url=one.url, kinds=list(one.kinds), created_at=one.created_at, ended_at=one.ended_at)


class MadeWebhook(WebhookAnswer):
    """With the secret that signatures are checked with; it is shown this once."""

    secret: str


class WebhookList(Answer):
    """Every webhook of the club at once."""

    items: list[WebhookAnswer]
    next: None


class MessageAnswer(Answer):
    """A message. state: due, delivered, or dead (given up; it can be sent again)."""

    id: str
    kind: str
    state: Literal["due", "delivered", "dead"]
    attempts: int
    created_at: datetime
    next_at: datetime
    status: int | None
    error: str | None

    @classmethod
    def of(cls, one: Message) -> MessageAnswer:
        """From the stored message."""
        return cls.model_validate({name: getattr(one, name) for name in cls.model_fields})


class MessagePage(Answer):
    """Messages, the newest first."""

    items: list[MessageAnswer]
    next: str | None


@router.post(
    "",
    status_code=201,
    response_model=MadeWebhook,
    responses=problems(*SIGNED_IN, *JSON_BODY, *RETRY),
    operation_id="make_webhook",
)
def post(caller: Admin, parts: PartsOf, told: NewWebhook, retry: RetryOf) -> Response:
    """Be told of events at an address of the club's own, signed as Standard Webhooks has it."""
    kinds = tuple(dict.fromkeys(told.kinds))
    return Response(make_webhook(parts, caller, told.url, kinds, retry, _made), 201, media_type="application/json")


def _made(made: NewlyMade) -> bytes:
    return MadeWebhook(**WebhookAnswer.of(made.webhook).model_dump(), secret=made.secret).model_dump_json().encode()


@router.get("", responses=problems(*SIGNED_IN), operation_id="list_webhooks")
def get_list(caller: Admin, parts: PartsOf) -> WebhookList:
    """Every webhook of the club."""
    return WebhookList(items=[WebhookAnswer.of(one) for one in list_webhooks(parts, caller)], next=None)


@router.delete(
    "/{webhook_id}",
    status_code=204,
    responses=problems(*SIGNED_IN, "not-found", "request-invalid"),
    operation_id="delete_webhook",
)
def delete(caller: Admin, parts: PartsOf, webhook_id: str) -> None:
    """Tell nothing more there; messages that were due are dropped."""
    drop_webhook(parts, caller, webhook_id)


@router.get(
    "/{webhook_id}/messages",
    response_model=MessagePage,
    responses=problems(*SIGNED_IN, "not-found", "bad-cursor", "request-invalid"),
    operation_id="list_webhook_messages",
)
def get_messages(
    request: Request,
    response: Response,
    caller: Admin,
    parts: PartsOf,
    webhook_id: str,
    state: Annotated[
        Literal["due", "delivered", "dead"] | None, Query(description="Only messages of this state.")
    ] = None,
    limit: Limit = 50,
    cursor: Cursor = None,
) -> Any:
    """Messages of a webhook, the newest first; those that were given up with state=dead."""
    found = list_messages(parts, caller, webhook_id, state, time_and_id_in(cursor), limit + 1)
    return page(request, response, found, limit, lambda m: (m.created_at.isoformat(), m.id), MessageAnswer.of)


@router.post(
    "/{webhook_id}/messages/{message_id}/send",
    status_code=204,
    responses=problems(*SIGNED_IN, "not-found", "request-invalid"),
    operation_id="send_webhook_message_again",
)
def post_again(caller: Admin, parts: PartsOf, webhook_id: str, message_id: str) -> None:
    """Send a message again, given up or not."""
    send_again(parts, caller, webhook_id, message_id)
