"""Lists that come in pages, read as one."""

from __future__ import annotations

from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from dataclasses import dataclass
from typing import Generic, TypeVar

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Page(Generic[T]):
    """Some items, and the cursor of the next page (None on the last)."""

    items: tuple[T, ...]
    next: str | None = None


def all_items(fetch: Callable[[str | None], Page[T]]) -> Iterator[T]:
    """Every item of every page, one page asked for at a time and only when needed."""
    cursor: str | None = None
    while True:
        page = fetch(cursor)
        yield from page.items
        if page.next is None or page.next == cursor:
            return
        cursor = page.next


async def all_items_async(fetch: Callable[[str | None], Awaitable[Page[T]]]) -> AsyncIterator[T]:
    """The same, awaited."""
    cursor: str | None = None
    while True:
        page = await fetch(cursor)
        for item in page.items:
            yield item
        if page.next is None or page.next == cursor:
            return
        cursor = page.next
