"""Waiting for an analysis without holding a thread."""

from __future__ import annotations

import asyncio
from concurrent.futures import Future
from typing import Annotated

from fastapi import Query

LONGEST_WAIT_S = 120.0

Wait = Annotated[
    float,
    Query(
        ge=0,
        le=LONGEST_WAIT_S,
        allow_inf_nan=False,
        description="Seconds to wait for the analysis; the answer comes sooner when it is done.",
    ),
]


async def wait_for(analysis: Future[None] | None, seconds: float) -> None:
    """Returns when the analysis is done, in whatever way, or after so many seconds."""
    if analysis is not None and seconds > 0:
        done, _ = await asyncio.wait([asyncio.wrap_future(analysis)], timeout=seconds)
        for future in done:
            future.exception()  # the set itself tells how it ended
