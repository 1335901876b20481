"""The invented club, and what sits on its bars."""

from __future__ import annotations

from typing import Any

from barwright_client import Client

NAME = "Quarry Lane Lifting Club"


def register(client: Client, metas: list[dict[str, Any]]) -> None:
    """Add every device that the recordings name and the club does not have yet."""
    known = {one.name for one in client.devices()}
    for meta in {meta["device"]: meta for meta in metas}.values():
        if meta["device"] not in known:
            kind = "encoder" if "position" in meta["units"] else "imu"
            client.create_device(meta["device"], kind=kind, bar_axis=meta.get("bar_axis"))
