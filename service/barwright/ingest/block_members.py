"""The members of a block, already out of JSON or CBOR, to a checked Block."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Any

import numpy as np

from barwright.ingest.block import BESIDE_IMU, ENCODER_CHANNELS, IMU_CHANNELS, Block
from barwright.ingest.block_times import check_times_of, times_of
from barwright.ingest.columns import Path, kind_of, length_of, sensor_columns
from barwright.ingest.limits import LARGEST_EXACT_INTEGER, Limits
from barwright.ingest.refusals import Refusal, pointer_to

MEMBERS = {"boot", "seq", "t0_us", "dt_us", "t_us", "channels", "sent_at", "buffered"}
_BOOT = re.compile(r"[A-Za-z0-9._:-]{1,64}")
_RFC3339 = re.compile(r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d:\d\d(\.\d+)?([Zz]|[+-]\d\d:\d\d)")


def block_of_members(members: Any, kind: str, limits: Limits, path: Path = ()) -> Block:
    """The checked block. kind: imu or encoder. path: where the block is in the body, for pointers."""
    if not isinstance(members, dict):
        raise Refusal("bad-member", f"The block is {kind_of(members)}; it has to be an object.", pointer_to(*path))
    _check_names(members, path)
    channels_path = (*path, "channels")
    given = members["channels"]
    if not isinstance(given, dict):
        raise Refusal(
            "bad-member",
            f"`channels` is {kind_of(given)}; it has to be an object, channel name to array of numbers.",
            pointer_to(*channels_path),
        )
    check_channel_names(given, kind, channels_path)
    count = _equal_length(given, channels_path)
    _check_count(count, limits, channels_path)
    t_us = times_of(members, count, limits, path)
    channels = sensor_columns(given, _in_order(given), channels_path)
    check_times_of(members, t_us, limits, path)
    return Block(
        _boot(members["boot"], (*path, "boot")),
        _seq(members["seq"], (*path, "seq")),
        t_us,
        channels,
        _sent_at(members.get("sent_at"), (*path, "sent_at")),
        _buffered(members.get("buffered", False), (*path, "buffered")),
    )


def check_channel_names(given: dict[str, Any], kind: str, path: Path) -> None:
    """Refuses channels that are not the sensor's: all six of an imu, perhaps with a string's, or one of an encoder."""
    wanted = (*IMU_CHANNELS, *BESIDE_IMU) if kind == "imu" else ENCODER_CHANNELS
    for name in given:
        if name not in wanted:
            raise Refusal(
                "unknown-channel",
                f"`{name}` is not a channel of an {kind} stream; its channels are {', '.join(wanted)}.",
                pointer_to(*path, name),
            )
    if kind == "imu":
        missing = [name for name in IMU_CHANNELS if name not in given]
        if missing:
            raise Refusal(
                "missing-axis",
                f"`channels` lacks {', '.join(missing)}; an imu block has all of {', '.join(IMU_CHANNELS)}.",
                pointer_to(*path),
            )
    elif not given:
        raise Refusal(
            "missing-channel", "`channels` is empty; an encoder block has position or velocity.", pointer_to(*path)
        )
    elif len(given) > 1:
        raise Refusal(
            "channel-conflict",
            "`channels` has both position and velocity; send the one the encoder measures.",
            pointer_to(*path, "velocity"),
        )


def _in_order(given: dict[str, Any]) -> list[str]:
    return [name for name in (*IMU_CHANNELS, *ENCODER_CHANNELS) if name in given]


_NEEDED = "a block has `boot`, `seq`, `channels`, and `t0_us` with `dt_us`, or `t_us`"


def _check_names(members: dict[str, Any], path: Path) -> None:
    for name in ("boot", "seq", "channels"):
        if name not in members:
            raise Refusal("missing-member", f"The block has no `{name}`; {_NEEDED}.", pointer_to(*path, name))
    for name in members:
        if name not in MEMBERS:
            raise Refusal(
                "unknown-member",
                f"`{name}` is not a member of a block; its members are {', '.join(sorted(MEMBERS))}.",
                pointer_to(*path, name),
            )


def _equal_length(given: dict[str, Any], path: Path) -> int:
    lengths = {name: length_of(given[name], (*path, name)) for name in _in_order(given)}
    first, count = next(iter(lengths.items()))
    for name, length in lengths.items():
        if length != count:
            raise Refusal(
                "unequal-columns",
                f"`{name}` has {length} samples and `{first}` has {count}; all channels have to be equally long.",
                pointer_to(*path, name),
            )
    return count


def _check_count(count: int, limits: Limits, path: Path) -> None:
    if not count:
        raise Refusal("no-samples", "The channels are empty; a block has at least one sample.", pointer_to(*path))
    if count > limits.block_samples:
        raise Refusal(
            "too-many-samples",
            f"The block has {count} samples; the limit is {limits.block_samples}. Send it as several blocks.",
            pointer_to(*path),
        )


def _boot(value: Any, path: Path) -> str:
    if type(value) is int and abs(value) < 2**64:
        value = str(value)
    if isinstance(value, str) and _BOOT.fullmatch(value):
        return value
    raise Refusal(
        "bad-member",
        "`boot` has to be 1 to 64 characters out of A-Z a-z 0-9 . _ : - or a whole number, the same for all blocks of "
        "one device start.",
        pointer_to(*path),
    )


def _seq(value: Any, path: Path) -> int:
    if type(value) is float and value.is_integer():
        value = int(value)
    if type(value) is int and 0 <= value < LARGEST_EXACT_INTEGER:
        return value
    raise Refusal(
        "bad-member",
        f"`seq` is {kind_of(value)}; it has to be a whole number from 0, below 2^53, one more with every block.",
        pointer_to(*path),
    )


def _sent_at(value: Any, path: Path) -> datetime | None:
    if value is None:
        return None
    if isinstance(value, str) and _RFC3339.fullmatch(value):
        try:
            value = datetime.fromisoformat(value.upper().replace(" ", "T"))
        except ValueError:
            value = None
    if isinstance(value, datetime) and value.tzinfo is not None:
        return value
    raise Refusal(
        "bad-member",
        "`sent_at` has to be a date and time with its offset (RFC 3339), such as 2025-03-01T17:30:00Z.",
        pointer_to(*path),
    )


def _buffered(value: Any, path: Path) -> bool:
    if isinstance(value, bool | np.bool_):
        return bool(value)
    raise Refusal("bad-member", f"`buffered` is {kind_of(value)}; it has to be true or false.", pointer_to(*path))
