"""What the framework found wrong with a request, in plain words."""

from __future__ import annotations

from typing import Any

from barwright.ingest.refusals import pointer_to

_UNIONS = ("str", "list[float]", "function", "constrained", "list[", "literal[")


def pointer_and_detail(error: Any) -> tuple[str, str]:
    """(JSON pointer into the body, or the parameter's name; a sentence that says what would be right)."""
    where, *path = error["loc"]
    parts = [part for part in path if not _is_branch(part)]
    name = str(parts[-1]) if parts else "the body"
    pointer = pointer_to(*parts) if where == "body" else str(parts[0] if parts else where)
    place = f"`{name}`" if parts else "The body"
    return pointer, _sentence(error, place)


def _is_branch(part: Any) -> bool:
    return isinstance(part, str) and any(part.startswith(prefix) for prefix in _UNIONS[1:])


def _sentence(error: Any, place: str) -> str:
    kind, context = error["type"], error.get("ctx", {})
    if kind == "missing":
        return f"{place} is missing."
    if kind == "extra_forbidden":
        return f"{place} is not a member that is known here."
    if kind == "value_error":
        return f"{place}: {context.get('error', error['msg'])}"
    said = str(error["msg"]).replace("Input should be", "has to be").replace("String should", "has to")
    return f"{place} {said}." if said.startswith("has to") else f"{place}: {said}."
