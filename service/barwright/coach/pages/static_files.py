"""Styles, scripts, fonts: the service's own, kept by browsers for as long as they do not change."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import FileResponse, Response

from barwright.coach.at_the_door import PageRoute
from barwright.coach.rendering import STATIC
from barwright.workflows.cannot import Cannot

router = APIRouter(route_class=PageRoute, include_in_schema=False)
_TYPES = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml", ".woff2": "font/woff2"}


@router.get("/static/{digest}/{name:path}")
def static_file(digest: str, name: str) -> Response:
    """One file. The digest is only there to make a new address of a new content."""
    path = (STATIC / name).resolve()
    kind = _TYPES.get(path.suffix)
    if kind is None or not path.is_relative_to(STATIC.resolve()) or not path.is_file():
        raise Cannot("not-found", "There is no such file.")
    return FileResponse(
        path,
        media_type=kind,
        headers={"Cache-Control": "public, max-age=31536000, immutable", "X-Content-Type-Options": "nosniff"},
    )
