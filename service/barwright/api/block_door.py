"""The short way in for blocks of a sender who was here a moment ago: thousands of them come while a hall is lifting.

Everything else takes the framework's way to the same workflow, which also says what is wrong: a block of a stream or
key not seen lately, one with parameters, or one without a good key.
"""

from __future__ import annotations

from dataclasses import dataclass

from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.types import Receive, Send
from starlette.types import Scope as Connection

from barwright.access.caller import Caller
from barwright.access.scopes import Scope
from barwright.api.metrics import Metrics
from barwright.api.problems import answer_to
from barwright.api.rate_limits import count
from barwright.ingest.refusals import Refusal
from barwright.storage.sessions import StorageUnavailableError
from barwright.storage.streams import StreamForm
from barwright.workflows.cannot import Cannot
from barwright.workflows.commit_blocks import BlockReceipt
from barwright.workflows.parts import Parts
from barwright.workflows.receive_block import SentBlock, receive_soon

_BEFORE, _BEHIND = "/v1/streams/", "/blocks"


@dataclass(frozen=True, slots=True)
class _Known:
    parts: Parts
    caller: Caller
    form: StreamForm
    content_type: str
    content_encoding: str | None


class BlockDoor:
    """An application of one route, which is asked first and takes only what it can."""

    path = "/v1/streams/{stream_id}/blocks"

    def opens(self, scope: Connection) -> bool:
        """Whether this is a block of a known stream with a known key; it may then be called."""
        if scope["method"] != "POST" or scope.get("query_string"):
            return False
        path: str = scope["path"]
        if not path.endswith(_BEHIND) or not path.startswith(_BEFORE):
            return False
        known = _known(scope, path[len(_BEFORE) : -len(_BEHIND)])
        if known is not None:
            scope["known"], scope["route"] = known, self
        return known is not None

    async def __call__(self, scope: Connection, receive: Receive, send: Send) -> None:
        """One block, or the problem with it."""
        try:
            await self._take(scope["known"], scope, receive, send)
        except (Refusal, Cannot, StorageUnavailableError, HTTPException) as error:
            answer = await answer_to(Request(scope), error)
            await answer(scope, receive, send)

    async def _take(self, known: _Known, scope: Connection, receive: Receive, send: Send) -> None:
        sent = SentBlock(await _body(receive), known.content_type, known.content_encoding)
        count(scope, known.parts.rates.blocks, known.caller.key_id)
        receipt = await receive_soon(known.parts, known.caller, known.form, sent)
        metrics: Metrics = scope["app"].state.metrics
        metrics.block(receipt.stored, len(sent.body))
        text = receipt_json(receipt).encode()
        headers = [(b"content-length", str(len(text)).encode()), (b"content-type", b"application/json")]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": text})


def receipt_json(receipt: BlockReceipt) -> str:
    """The answer to a stored block, as ReceiptAnswer has it."""
    at = receipt.received_at.isoformat().replace("+00:00", "Z")
    stored, missing = "true" if receipt.stored else "false", str(receipt.missing).replace(" ", "")
    return f'{{"stored":{stored},"next_seq":{receipt.next_seq},"missing":{missing},"received_at":"{at}"}}'


def _known(scope: Connection, stream_id: str) -> _Known | None:
    parts: Parts | None = getattr(scope["app"].state, "parts", None)
    if parts is None or parts.writer is None:
        return None
    signed, content_type, encoding = "", "", None
    for name, value in scope["headers"]:
        if name == b"authorization":
            signed = value.decode("latin-1")
        elif name == b"content-type":
            content_type = value.decode("latin-1")
        elif name == b"content-encoding":
            encoding = value.decode("latin-1")
    scheme, _, key = signed.partition(" ")
    caller = parts.callers.get(key) if scheme.lower() == "bearer" else None
    if caller is None or not caller.may(Scope.STREAMS_WRITE):
        return None
    form = parts.forms.get(caller.club_id, stream_id)
    if form is None or not caller.has_device(form.device_id):
        return None
    return _Known(parts, caller, form, content_type, encoding)


async def _body(receive: Receive) -> bytes:
    pieces, more = [], True
    while more:
        message = await receive()
        if message["type"] != "http.request":
            raise ClientDisconnect
        pieces.append(message.get("body", b""))
        more = message.get("more_body", False)
    return pieces[0] if len(pieces) == 1 else b"".join(pieces)
