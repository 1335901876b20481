"""What is sent to check a sensor: a recording, with what is told beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from barwright.ingest.cbor_members import members_of_cbor
from barwright.ingest.columns import kind_of
from barwright.ingest.decode import CBOR, media_type_of
from barwright.ingest.json_members import members_of_json
from barwright.ingest.limits import Limits
from barwright.ingest.recording_file import RecordingFile, recording_of_members
from barwright.ingest.refusals import Refusal


@dataclass(frozen=True, slots=True)
class BenchBody:
    """recording; told: the other members as they came."""

    recording: RecordingFile
    told: dict[str, Any]


def read_bench_body(body: bytes, content_type: str, options: frozenset[str], limits: Limits) -> BenchBody:
    """A JSON or CBOR body: columns as in a recording or a block, `units`, and members of `options` beside them.

    Raises Refusal, and nothing else, for every body that is neither.
    """
    if media_type_of(content_type) == CBOR:
        members = members_of_cbor(body, limits.nesting, 4 * limits.recording_samples)
    else:
        members = members_of_json(body, limits.nesting)
    if not isinstance(members, dict):
        raise Refusal("bad-member", f"The body is {kind_of(members)}; it has to be an object.", "")
    told = {name: members[name] for name in members if name in options}
    rest = {name: value for name, value in members.items() if name not in options}
    return BenchBody(recording_of_members(rest, {}, limits), told)
