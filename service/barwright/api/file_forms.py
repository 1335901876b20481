"""Multipart forms with one JSON part `meta` and one file part `file` (RFC 7578)."""

from __future__ import annotations

from fastapi import Request
from starlette.datastructures import FormData, UploadFile

from barwright.ingest.limits import Limits
from barwright.workflows.cannot import Cannot
from barwright.workflows.record_file import SentFile


async def sent_form(request: Request, limits: Limits) -> tuple[bytes, SentFile]:
    """(meta, file). Raises Cannot for a part that is missing, not known, or there twice."""
    async with request.form(max_files=2, max_fields=2, max_part_size=limits.recording_body_bytes) as form:
        meta = await _bytes_of(form, "meta")
        sent_file = await _file_of(form)
        _only_these(form)
    return meta, sent_file


async def sent_file_and_perhaps_meta(request: Request, limits: Limits) -> tuple[bytes, SentFile]:
    """(meta, file); an empty object where no `meta` was sent. Raises Cannot as sent_form does."""
    async with request.form(max_files=2, max_fields=2, max_part_size=limits.recording_body_bytes) as form:
        if "file" not in form:
            raise Cannot("request-invalid", "The part `file` is missing; send the file as `file`.", "/file")
        meta = await _bytes_of(form, "meta") if "meta" in form else b"{}"
        sent_file = await _file_of(form)
        _only_these(form)
    return meta, sent_file


async def sent_file_only(request: Request, limits: Limits) -> SentFile:
    """The part `file` of a form that has no other. Raises Cannot for a part that is missing, not known, or twice."""
    async with request.form(max_files=2, max_fields=2, max_part_size=limits.recording_body_bytes) as form:
        if "file" not in form:
            raise Cannot("request-invalid", "The part `file` is missing; send the file as `file`.", "/file")
        sent = await _file_of(form)
        _only_these(form, ("file",))
    return sent


async def _bytes_of(form: FormData, name: str) -> bytes:
    part = form.get(name)
    if part is None:
        raise Cannot("request-invalid", f"The part `{name}` is missing; send `meta` (JSON) and `file`.", f"/{name}")
    return await part.read() if isinstance(part, UploadFile) else part.encode()


async def _file_of(form: FormData) -> SentFile:
    body = await _bytes_of(form, "file")
    part = form["file"]
    if isinstance(part, UploadFile):
        return SentFile(body, part.filename, part.content_type)
    return SentFile(body, None, None)


def _only_these(form: FormData, known: tuple[str, ...] = ("meta", "file")) -> None:
    names = [name for name, _ in form.multi_items()]
    for name in names:
        if name not in known:
            these = " and ".join(f"`{one}`" for one in known)
            raise Cannot("request-invalid", f"The part `{name}` is not known; send {these}.", f"/{name}")
        if names.count(name) > 1:
            raise Cannot("request-invalid", f"The part `{name}` is there twice; send it once.", f"/{name}")
