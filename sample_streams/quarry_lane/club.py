"""The invented club: who lifts, and what sits on their bars."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from barwright_client import Client

NAME = "Quarry Lane Lifting Club"


@dataclass(frozen=True, slots=True)
class Member:
    """One invented lifter."""

    name: str
    body_mass_kg: float
    stature_m: float
    level: str


MEMBERS = (
    Member("Imke", 64.0, 1.66, "advanced"),
    Member("Tomas", 88.0, 1.78, "advanced"),
    Member("Rana", 59.0, 1.62, "intermediate"),
    Member("Oskar", 95.0, 1.83, "advanced"),
    Member("Lucja", 67.0, 1.70, "novice"),
)


def register(client: Client, metas: list[dict[str, Any]]) -> None:
    """Add the members, and every device that the recordings name."""
    for member in MEMBERS:
        client.create_athlete(
            member.name, body_mass_kg=member.body_mass_kg, stature_m=member.stature_m, level=member.level
        )
    for meta in {meta["device"]: meta for meta in metas}.values():
        kind = "encoder" if "position" in meta["units"] else "imu"
        client.create_device(meta["device"], kind=kind, bar_axis=meta.get("bar_axis"))
