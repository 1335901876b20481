"""Templates to answers: one look, strict headers, compressed."""

from __future__ import annotations

import gzip
import hashlib
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import Response

HERE = Path(__file__).parent
STATIC = HERE / "static"
# Nothing from elsewhere, nothing written into the page itself: only this service's own files.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "Cache-Control": "no-store",
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "Vary": "Accept-Encoding, HX-Request",
}
_WORTH_COMPRESSING = 1000
SKIN = {"nav": "", "who": None, "token": "", "now_at": ""}  # what base.html asks for


@cache
def templates() -> Environment:
    """Every template, compiled once."""
    environment = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    environment.globals["static"] = static_url
    return environment


@cache
def static_url(name: str) -> str:
    """Where a static file is; the address changes with its content, so browsers may keep it for ever."""
    digest = hashlib.sha256((STATIC / name).read_bytes()).hexdigest()[:12]
    return f"/static/{digest}/{name}"


def html(request: Request, template: str, context: dict[str, Any], status: int = 200) -> Response:
    """A page as an answer."""
    body = templates().get_template(template).render({**SKIN, **context}).encode()
    headers = dict(HEADERS)
    if len(body) > _WORTH_COMPRESSING and "gzip" in request.headers.get("accept-encoding", ""):
        body = gzip.compress(body, 5, mtime=0)
        headers["Content-Encoding"] = "gzip"
    return Response(body, status, headers, "text/html; charset=utf-8")
