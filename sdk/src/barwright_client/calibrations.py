"""What calibrating a sensor answers, as frozen dataclasses."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from barwright_client.figures import Figure, figure

Json = dict[str, Any]
Poses = list[dict[str, Any]] | tuple[Mapping[str, Any], ...]
"""Means of still poses: {"accel": [x, y, z], "gyro": [x, y, z], "samples": 600} each."""


@dataclass(frozen=True, slots=True)
class Constants:
    """Constants of one sensor by axis or pair of axes: true = matrix (measured - bias)."""

    bias: dict[str, Figure]
    scale: dict[str, Figure]
    cross_axis: dict[str, Figure]
    matrix: tuple[tuple[float, ...], ...]

    @classmethod
    def read(cls, document: Json) -> Constants:
        """From the service's JSON."""
        matrix = tuple(tuple(row) for row in document["matrix"])
        return cls(_figures(document["bias"]), _figures(document["scale"]), _figures(document["cross_axis"]), matrix)


@dataclass(frozen=True, slots=True)
class PosesFound:
    """The still poses. distinct: attitudes more than 20 degrees apart. missing: the most useful ones still to hold."""

    found: int
    used: int
    distinct: int
    more_for_bias_and_scale: int = 0
    more_for_cross_axis: int = 0
    missing: tuple[str, ...] = ()

    @classmethod
    def read(cls, document: Json) -> PosesFound:
        """From the service's JSON."""
        return cls(
            found=document["found"],
            used=document["used"],
            distinct=document["distinct"],
            more_for_bias_and_scale=document.get("more_for_bias_and_scale") or 0,
            more_for_cross_axis=document.get("more_for_cross_axis") or 0,
            missing=tuple(document.get("missing") or ()),
        )


@dataclass(frozen=True, slots=True)
class Calibration:
    """One calibration of a device. words: the same in plain sentences.

    velocity_before, velocity_after: a modelled snatch's peak velocity with the u it would have. noise: figures by name,
    empty when only means were sent. turns: between poses, which show the gyroscope's scale.
    """

    id: str
    device_id: str
    created_at: datetime
    accel: Constants
    gyro: Constants
    poses: PosesFound
    velocity_before: Figure
    velocity_after: Figure
    gravity_m_s2: float
    turns: int = 0
    noise: dict[str, Figure] = field(default_factory=dict)
    words: tuple[str, ...] = ()

    @classmethod
    def read(cls, document: Json) -> Calibration:
        """From the service's JSON."""
        noise = document.get("noise") or {}
        return cls(
            id=document["id"],
            device_id=document["device_id"],
            created_at=datetime.fromisoformat(document["created_at"]),
            accel=Constants.read(document["accel"]),
            gyro=Constants.read(document["gyro"]),
            poses=PosesFound.read(document["poses"]),
            velocity_before=figure(document["peak_velocity"]["before"]),
            velocity_after=figure(document["peak_velocity"]["after"]),
            gravity_m_s2=document["gravity_m_s2"],
            turns=document.get("turns") or 0,
            noise={name: figure(one) for name, one in noise.items() if isinstance(one, dict)},
            words=tuple(document.get("words") or ()),
        )


def _figures(document: Json) -> dict[str, Figure]:
    return {name: figure(one) for name, one in document.items()}
