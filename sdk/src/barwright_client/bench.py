"""What checks of a device answer, as frozen dataclasses."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from barwright_client.figures import Figure, figure

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class ExpectedError:
    """A modelled lift's peak velocity: u is the error to expect, as the sensor is and calibrated."""

    lift: str
    as_is: Figure
    calibrated: Figure


@dataclass(frozen=True, slots=True)
class SensorChange:
    """One thing to change, after those before it: the error falls from `before` to `after`, m/s."""

    code: str
    before: float
    after: float
    words: str


@dataclass(frozen=True, slots=True)
class DeviceCheck:
    """One check of a device. words: the most important first. alike: the class that fits its figures.

    rate: samples a second; lost: share of samples; clock_drift in parts in a million, None when no clock was sent.
    bias, scale of the accelerometer by axis; empty with the reason in no_constants. document: all of it.
    """

    id: str
    device_id: str
    created_at: datetime
    expected: tuple[ExpectedError, ...]
    changes: tuple[SensorChange, ...]
    words: tuple[str, ...]
    rate: Figure
    lost: float
    jitter_s: float
    alike: str
    clock_drift: Figure | None = None
    bias: dict[str, Figure] = field(default_factory=dict)
    scale: dict[str, Figure] = field(default_factory=dict)
    no_constants: str | None = None
    document: Mapping[str, Any] = field(default_factory=dict, repr=False)

    @classmethod
    def read(cls, document: Json) -> DeviceCheck:
        """From the service's JSON."""
        accel = (document.get("constants") or {}).get("accel") or {}
        clock = document.get("clock")
        return cls(
            id=document["id"],
            device_id=document["device_id"],
            created_at=datetime.fromisoformat(document["created_at"]),
            expected=tuple(
                ExpectedError(one["lift"], figure(one["as_is"]), figure(one["calibrated"]))
                for one in document["expected"]
            ),
            changes=tuple(
                SensorChange(one["code"], one["before"], one["after"], one["words"]) for one in document["changes"]
            ),
            words=tuple(document["words"]),
            rate=figure(document["stream"]["rate_hz"]),
            lost=document["stream"]["lost"],
            jitter_s=document["stream"]["jitter_s"],
            alike=document["alike"],
            clock_drift=figure(clock["drift"]) if clock else None,
            bias={name: figure(one) for name, one in accel.get("bias", {}).items()},
            scale={name: figure(one) for name, one in accel.get("scale", {}).items()},
            no_constants=document.get("no_constants"),
            document=document,
        )


@dataclass(frozen=True, slots=True)
class Compared:
    """What was expected beside what was measured. verdict: agrees, doubtful or differs."""

    name: str
    expected: Figure
    measured: Figure
    verdict: str
    words: str


@dataclass(frozen=True, slots=True)
class KnownMotion:
    """A motion of which the result is known beforehand, as it was measured."""

    id: str
    device_id: str
    motion: str
    figures: tuple[Compared, ...]
    words: tuple[str, ...]

    @classmethod
    def read(cls, document: Json) -> KnownMotion:
        """From the service's JSON."""
        figures = tuple(
            Compared(one["name"], figure(one["expected"]), figure(one["measured"]), one["verdict"], one["words"])
            for one in document["figures"]
        )
        return cls(document["id"], document["device_id"], document["motion"], figures, tuple(document["words"]))


@dataclass(frozen=True, slots=True)
class StringSetup:
    """A string set up. m_per_count: what to multiply counts with, sign and all; direction +1 or -1."""

    id: str
    device_id: str
    counts_per_m: Figure
    m_per_count: Figure
    direction: int
    slip: Figure
    anchor_offset: Figure
    slant: Figure
    words: tuple[str, ...]

    @classmethod
    def read(cls, document: Json) -> StringSetup:
        """From the service's JSON."""
        names = ("counts_per_m", "m_per_count", "slip", "anchor_offset", "slant")
        figures = {name: figure(document[name]) for name in names}
        return cls(
            id=document["id"],
            device_id=document["device_id"],
            direction=document["direction"],
            words=tuple(document["words"]),
            **figures,
        )
