"""The units a stream or a file declares, one per group of channels."""

from __future__ import annotations

from typing import Any

from barwright.analysis.quantities.units import UNITS, UnknownUnit, factor_to_si
from barwright.ingest.block import Block
from barwright.ingest.columns import Path, kind_of
from barwright.ingest.refusals import Refusal, pointer_to

QUANTITY_OF = {"accel": "acceleration", "gyro": "rate", "position": "length", "velocity": "velocity"}
GROUPS = {"imu": ("accel", "gyro"), "encoder": ("position", "velocity")}


def group_of(channel: str) -> str:
    """accel for accel_x, position for position."""
    return channel.removesuffix("_x").removesuffix("_y").removesuffix("_z")


def choices_of(group: str) -> str:
    """The units a group of channels may have, for texts."""
    return ", ".join(f"`{code}`" for code in UNITS[QUANTITY_OF[group]])


def units_of(declared: Any, kind: str, path: Path = ("units",)) -> dict[str, str]:
    """The units of a stream registration, checked: {"accel": "[g]", "gyro": "deg/s"} or {"position": "mm"}.

    kind: imu or encoder. Raises Refusal for a missing group, a unit not known, or position and velocity together.
    """
    given = known_units(declared, path)
    groups = GROUPS[kind]
    for group in given:
        if group not in groups:
            raise Refusal(
                "unknown-member",
                f"`{group}` is not measured by an {kind}; declare units for {' and '.join(groups)}.",
                pointer_to(*path, group),
            )
    if kind == "encoder" and len(given) > 1:
        raise Refusal(
            "channel-conflict",
            "Units are declared for both position and velocity; declare the one the encoder sends.",
            pointer_to(*path, "velocity"),
        )
    missing = [group for group in groups if group not in given]
    if missing and (kind == "imu" or not given):
        raise missing_unit(missing[0], missing[0], pointer_to(*path, missing[0]))
    return given


def known_units(declared: Any, path: Path = ("units",)) -> dict[str, str]:
    """Declared units of any groups, each checked against the table of units."""
    if not isinstance(declared, dict):
        raise Refusal(
            "bad-member",
            f'`units` is {kind_of(declared)}; it has to be an object such as {{"accel": "[g]", "gyro": "deg/s"}}.',
            pointer_to(*path),
        )
    for group, code in declared.items():
        if group not in QUANTITY_OF:
            raise Refusal(
                "unknown-member",
                f"`{group}` is no group of channels; the groups are {', '.join(QUANTITY_OF)}.",
                pointer_to(*path, group),
            )
        check_unit(code, group, pointer_to(*path, group))
    return dict(declared)


def check_unit(code: Any, group: str, pointer: str | None) -> None:
    """Refuses a unit that is not in the table for that group."""
    if not isinstance(code, str):
        raise Refusal(
            "unknown-unit",
            f"The unit of `{group}` is {kind_of(code)}; it has to be one of {choices_of(group)} (UCUM).",
            pointer,
        )
    try:
        factor_to_si(code, QUANTITY_OF[group])
    except UnknownUnit as error:
        raise Refusal("unknown-unit", f"The unit of `{group}`: {error.detail}", pointer) from error


def missing_unit(name: str, group: str, pointer: str | None) -> Refusal:
    """The refusal for a column or group without a unit; SI is never assumed."""
    return Refusal(
        "missing-unit",
        f"`{name}` has no unit; declare one of {choices_of(group)} (UCUM) for `{group}`.",
        pointer,
    )


def check_declared(block: Block, units: dict[str, str]) -> None:
    """Refuses a block with a channel the stream declared no unit for, such as velocity on a position stream."""
    for name in block.channels:
        if group_of(name) not in units:
            raise Refusal(
                "unknown-channel",
                f"`{name}` has no unit in this stream, which declared {', '.join(sorted(units))}; send those "
                "channels or register another stream.",
                pointer_to("channels", name),
            )
