"""What the framework found wrong with a request, in plain words."""

from __future__ import annotations

from typing import Any

from barwright.ingest.refusals import pointer_to

_PLAIN = {
    "Input should be a valid string": "has to be text",
    "Input should be a valid number": "has to be a number",
    "Input should be a valid integer": "has to be a whole number",
    "Input should be a valid dictionary or object to extract fields from": "has to be an object",
    "Input should be a valid dictionary": "has to be an object",
    "Input should be a valid list": "has to be an array",
    "Input should be": "has to be",
    "String should": "has to",
}


def pointer_and_detail(error: Any) -> tuple[str, str]:
    """(JSON pointer into the body, or the parameter's name; a sentence that says what would be right)."""
    where, *path = error["loc"]
    parts = [part for part in path if part != "[key]"]
    pointer = pointer_to(*parts) if where == "body" else str(parts[0] if parts else where)
    if len(parts) < len(path):
        return pointer, f"`{parts[-1]}` is not known here; the choices are {error['ctx']['expected']}."
    return pointer, _sentence(error, f"`{'/'.join(map(str, parts))}`" if parts else "The body")


def _sentence(error: Any, place: str) -> str:
    kind, said = error["type"], str(error["msg"])
    if kind == "missing":
        return f"{place} is missing."
    if kind == "extra_forbidden":
        return f"{place} is not a member that is known here."
    if kind == "value_error":
        said = str(error["ctx"]["error"]).rstrip(".")
    said = said.partition(", unable to parse")[0]
    for framework, plain in _PLAIN.items():
        said = said.replace(framework, plain)
    return f"{place} {said}." if said.startswith(("has to", "is not")) else f"{place}: {said}."
