"""The id of the request that is being answered; what is noted on its behalf carries it."""

from __future__ import annotations

from contextvars import ContextVar

REQUEST_ID: ContextVar[str | None] = ContextVar("request_id", default=None)  # None: nobody asked, as in upkeep
