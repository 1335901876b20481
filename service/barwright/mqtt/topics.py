"""What a topic says: where a message goes in the API, and where its answer goes. docs/mqtt.md has the layout."""

from __future__ import annotations

import re
from dataclasses import dataclass

ROOT = "barwright/v1"
_ID = r"[A-Za-z0-9_-]{1,64}"
_BLOCKS = re.compile(rf"(streams|devices)/({_ID})/blocks(?:/(.{{1,200}}))?")
_CLOSE = re.compile(rf"streams/({_ID})/close(?:/(.{{1,200}}))?")
_BEGIN = re.compile(r"streams(?:/begin/(.{1,200}))?")
_ROOT = re.compile(r"[^#+\s/$][^#+]{0,199}")

JSON, CBOR = "application/json", "application/cbor"


@dataclass(frozen=True, slots=True)
class Errand:
    """path: of the API. reply_topic: where the answer goes unless the message names another (MQTT 5).

    tag: what the sender put behind the topic to know the answer by; None without one.
    """

    path: str
    reply_topic: str
    tag: str | None
    holds_block: bool


def checked_root(root: str) -> str:
    """The first levels of all topics. Raises ValueError for what is no topic."""
    root = root.strip("/")
    if not _ROOT.fullmatch(root):
        raise ValueError(f"{root!r} is no topic; write for example {ROOT} or {ROOT}/quarry-lane")
    return root


def subscriptions(root: str) -> tuple[str, ...]:
    """What the bridge listens to."""
    own = ("streams", "streams/begin/#", "streams/+/blocks/#", "streams/+/close/#", "devices/+/blocks/#")
    return tuple(f"{root}/{one}" for one in own)


def errand_of(topic: str, root: str) -> Errand | None:
    """What a message under this topic asks for; None when it is nothing the bridge does."""
    if not topic.startswith(root + "/"):
        return None
    rest = topic[len(root) + 1 :]
    if match := _BLOCKS.fullmatch(rest):
        kind, one, tag = match.groups()
        return Errand(f"/v1/{kind}/{one}/blocks", f"{root}/{kind}/{one}/replies", tag, True)
    if match := _CLOSE.fullmatch(rest):
        one, tag = match.groups()
        return Errand(f"/v1/streams/{one}/close", f"{root}/streams/{one}/replies", tag, False)
    if match := _BEGIN.fullmatch(rest):
        return Errand("/v1/streams", f"{root}/replies", match.group(1), False)
    return None


def content_type_of(payload: bytes) -> str:
    """The media type of a block by its first bytes, where the message does not tell it."""
    head = payload[:16].lstrip()
    if payload.startswith(b"barwright-int16 "):
        return "application/vnd.barwright.int16"
    if head[:1] == b"{":
        return JSON
    if head[:1] == b"[":
        return "application/senml+json"
    return "application/senml+cbor" if payload[:1] and 0x80 <= payload[0] <= 0x9F else CBOR


def encoding_of(payload: bytes) -> str | None:
    """gzip or zstd by the first bytes."""
    if payload.startswith(b"\x1f\x8b"):
        return "gzip"
    return "zstd" if payload.startswith(b"\x28\xb5\x2f\xfd") else None
