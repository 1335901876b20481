"""A whole set in one request: athlete, device, stream, samples and closing, all or nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.ingest.file_layout import FileLayout
from barwright.ingest.preview import FilePreview, preview_recording
from barwright.ingest.recording_file import read_recording_file
from barwright.storage.blocks import BlockStore, PackedBlock
from barwright.storage.sets import SetStore
from barwright.storage.streams import StreamStore
from barwright.workflows.begin_stream import StreamRequest, create_stream
from barwright.workflows.once import Retry, create_once
from barwright.workflows.parts import Parts
from barwright.workflows.receive_block import add_block


@dataclass(frozen=True, slots=True)
class SentFile:
    """One recording file as it was sent."""

    body: bytes
    filename: str | None
    content_type: str | None


def record_file(
    parts: Parts, caller: Caller, asked: StreamRequest, sent: SentFile, retry: Retry | None, layout: FileLayout
) -> str:
    """The id of the set the file became, closed and due for analysis. layout: what was told of the file.

    Raises Cannot and Refusal.
    """
    file = read_recording_file(sent.body, sent.filename, sent.content_type, None, parts.limits, layout)
    units = {**asked.units, **file.units}
    asked = replace(asked, units=units, device_kind="imu" if file.kind == "imu" else "encoder", notes=file.notes)
    packed = [PackedBlock.of(block) for block in file.blocks]
    return create_once(
        parts, caller, retry, lambda session: _keep(parts, session, caller, asked, packed), lambda one: one.encode()
    ).decode()


def preview_file(parts: Parts, sent: SentFile, layout: FileLayout) -> FilePreview:
    """How a file would be understood; nothing is kept. A refusal is part of the answer."""
    return preview_recording(sent.body, sent.filename, sent.content_type, layout, parts.limits)


def _keep(parts: Parts, session: Session, caller: Caller, asked: StreamRequest, blocks: list[PackedBlock]) -> str:
    stream = create_stream(parts, session, caller, asked)
    now, store = parts.now(), BlockStore(session, stream)
    for block in blocks:
        add_block(store, block, parts.limits, now)
    StreamStore(session, caller.club_id).close(stream.id, now)
    SetStore(session, caller.club_id).mark_analysing(stream.set_id)
    return stream.set_id
