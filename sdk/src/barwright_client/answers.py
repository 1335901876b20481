"""What the service answers, as frozen dataclasses. Members this version does not know are left out, never an error."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, TypeVar

from barwright_client.figures import Figure, figure
from barwright_client.pages import Page

Json = dict[str, Any]
T = TypeVar("T")
Seconds = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Athlete:
    """One athlete of the club."""

    id: str
    name: str
    birth_year: int | None = None
    sex: str | None = None
    body_mass_kg: float | None = None
    stature_m: float | None = None
    level: str | None = None
    consent_on: date | None = None
    guardian_note: str | None = None

    @classmethod
    def read(cls, document: Json) -> Athlete:
        """From the service's JSON."""
        names = ("birth_year", "sex", "body_mass_kg", "stature_m", "level", "guardian_note")
        agreed = document.get("consent_on")
        rest = {name: document.get(name) for name in names}
        consent_on = None if agreed is None else date.fromisoformat(agreed)
        return cls(document["id"], document["name"], consent_on=consent_on, **rest)


@dataclass(frozen=True, slots=True)
class Device:
    """One sensor. kind: imu or encoder; mounting: bar_axis (sensor axis to the lifter's left) and place."""

    id: str
    name: str
    kind: str
    mounting: Json = field(default_factory=dict)
    device_class: str | None = None
    ranges: Json | None = None

    @classmethod
    def read(cls, document: Json) -> Device:
        """From the service's JSON."""
        mounting = document.get("mounting") or {}
        return cls(
            document["id"], document["name"], document["kind"], mounting, document.get("class"), document.get("ranges")
        )


@dataclass(frozen=True, slots=True)
class Stream:
    """A stream that takes blocks, and the set it becomes."""

    id: str
    set_id: str

    @classmethod
    def read(cls, document: Json) -> Stream:
        """From the service's JSON."""
        return cls(document["id"], document["set_id"])


@dataclass(frozen=True, slots=True)
class BlockReceipt:
    """stored is False when the block was known already; missing: (first, last) block numbers not yet received."""

    stored: bool
    next_seq: int
    missing: tuple[tuple[int, int], ...]
    received_at: datetime

    @classmethod
    def read(cls, document: Json) -> BlockReceipt:
        """From the service's JSON."""
        missing = _pairs(document.get("missing"))
        return cls(bool(document["stored"]), int(document["next_seq"]), missing, _time(document["received_at"]))


@dataclass(frozen=True, slots=True)
class Closed:
    """A closed stream: the set it became, how far its analysis is, and (first, last) blocks that never came."""

    set_id: str
    state: str
    missing: tuple[tuple[int, int], ...] = ()

    @classmethod
    def read(cls, document: Json) -> Closed:
        """From the service's JSON."""
        return cls(document["set_id"], document["state"], _pairs(document.get("missing")))


@dataclass(frozen=True, slots=True)
class Phase:
    """One phase of a rep, in seconds since the stream's first sample; sure is 0-1.

    start_u_s, stop_u_s: standard uncertainty of the boundaries, None where none was worked out.
    """

    phase: str
    start_s: float
    stop_s: float
    sure: float | None = None
    start_u_s: float | None = None
    stop_u_s: float | None = None

    @classmethod
    def read(cls, document: Json) -> Phase:
        """From the service's JSON."""
        bounds = (document.get("start_u_s"), document.get("stop_u_s"))
        return cls(document["phase"], document["start_s"], document["stop_s"], document.get("sure"), *bounds)


@dataclass(frozen=True, slots=True)
class Rep:
    """One rep. outcome: made, failed or partial; times in seconds since the stream's first sample.

    Where a person corrected it, `correction` says why, analysed_outcome what was found; excluded: not to count.
    """

    index: int
    outcome: str
    start_s: float
    stop_s: float
    measures: dict[str, Figure]
    phases: tuple[Phase, ...] = ()
    path_measures: dict[str, Figure] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    analysed_outcome: str | None = None
    excluded: bool = False
    correction: str | None = None

    @classmethod
    def read(cls, document: Json) -> Rep:
        """From the service's JSON."""
        return cls(
            index=int(document["index"]),
            outcome=document["outcome"],
            start_s=document["start_s"],
            stop_s=document["stop_s"],
            measures=_figures(document["measures"]),
            phases=tuple(Phase.read(each) for each in document.get("phases") or ()),
            path_measures=_figures(document.get("path_measures") or {}),
            notes=tuple(document.get("notes") or ()),
            analysed_outcome=document.get("analysed_outcome"),
            excluded=bool(document.get("excluded")),
            correction=document.get("correction"),
        )

    def __getitem__(self, measure: str) -> Figure:
        """A measure or path measure by name, such as rep["peak_velocity"]."""
        found = {**self.path_measures, **self.measures}
        if measure not in found:
            raise KeyError(f"this rep has no {measure!r}; it has {', '.join(found)}")
        return found[measure]


@dataclass(frozen=True, slots=True)
class Quality:
    """How good the samples were. verdict: good, usable, poor or unusable; words: the same in plain sentences."""

    verdict: str
    words: tuple[str, ...] = ()
    samples: int | None = None
    duration_s: float | None = None
    rate_hz: float | None = None
    jitter_s: float | None = None
    gaps: tuple[Seconds, ...] = ()
    repeated_samples: int = 0
    clipped_s: float = 0.0
    rests: tuple[Seconds, ...] = ()
    accel_noise: float | None = None
    gyro_noise: float | None = None
    forward_known: bool = False
    horizontal: bool = False

    @classmethod
    def read(cls, document: Json) -> Quality:
        """From the service's JSON."""
        plain = ("samples", "duration_s", "rate_hz", "jitter_s", "accel_noise", "gyro_noise")
        return cls(
            verdict=document["verdict"],
            words=tuple(document.get("words") or ()),
            gaps=_spans(document.get("gaps")),
            rests=_spans(document.get("rests")),
            repeated_samples=document.get("repeated_samples") or 0,
            clipped_s=document.get("clipped_s") or 0.0,
            forward_known=bool(document.get("forward_known")),
            horizontal=bool(document.get("horizontal")),
            **{name: document.get(name) for name in plain},
        )


@dataclass(frozen=True, slots=True)
class SetResult:
    """One set. state: open, analysing, analysed or failed; reason says why it failed.

    revision counts the analyses; reps and quality are those of the last one.
    """

    id: str
    state: str
    lift: str
    load_kg: float
    athlete_id: str
    device_id: str | None = None
    stream_id: str | None = None
    started_at: datetime | None = None
    athlete: str | None = None
    revision: int = 0
    method: str | None = None
    quality: Quality | None = None
    reps: tuple[Rep, ...] = ()
    notes: tuple[str, ...] = ()
    reason: str | None = None
    reason_code: str | None = None
    calibration_id: str | None = None

    @classmethod
    def read(cls, document: Json) -> SetResult:
        """From the service's JSON."""
        quality, started_at = document.get("quality"), document.get("started_at")
        return cls(
            id=document["id"],
            state=document["state"],
            lift=document["lift"],
            load_kg=document["load_kg"],
            athlete_id=document["athlete_id"],
            device_id=document.get("device_id"),
            stream_id=document.get("stream_id"),
            started_at=_time(started_at) if started_at else None,
            athlete=document.get("athlete"),
            revision=document.get("revision") or 0,
            method=document.get("method"),
            quality=Quality.read(quality) if quality else None,
            reps=tuple(Rep.read(each) for each in document.get("reps") or ()),
            notes=tuple(document.get("notes") or ()),
            reason=document.get("reason"),
            reason_code=document.get("reason_code"),
            calibration_id=document.get("calibration_id"),
        )


@dataclass(frozen=True, slots=True)
class RepPath:
    """The bar's path over one rep, SI units; x forward and z up from the rep's start, all columns equally long.

    x_m, vx, u_x are None when the sensor sees no horizontal motion.
    """

    t_s: tuple[float, ...]
    z_m: tuple[float, ...]
    vz: tuple[float, ...]
    az: tuple[float, ...]
    u_z: tuple[float, ...]
    u_vz: tuple[float, ...]
    x_m: tuple[float, ...] | None = None
    vx: tuple[float, ...] | None = None
    u_x: tuple[float, ...] | None = None

    @classmethod
    def read(cls, document: Json) -> RepPath:
        """From the service's JSON."""
        sure: dict[str, Any] = {name: tuple(document[name]) for name in ("t_s", "z_m", "vz", "az", "u_z", "u_vz")}
        horizontal = {name: tuple(document[name]) for name in ("x_m", "vx", "u_x") if document.get(name)}
        return cls(**sure, **horizontal)

    def to_frame(self) -> Any:
        """A pandas DataFrame, one row per sample. Needs the extra `barwright-client[pandas]`."""
        from barwright_client.frames import path_frame

        return path_frame(self)


@dataclass(frozen=True, slots=True)
class Lift:
    """One lift the service knows. key_velocity names the measure its profiles are drawn with."""

    code: str
    title: str
    pattern: str | None = None
    start: str | None = None
    key_velocity: str | None = None

    @classmethod
    def read(cls, document: Json) -> Lift:
        """From the service's JSON."""
        rest = {name: document.get(name) for name in ("pattern", "start", "key_velocity")}
        return cls(document["code"], document["title"], **rest)


def read_page(read: Callable[[Json], T]) -> Callable[[Json], Page[T]]:
    """A reader of one page of a list."""
    return lambda document: Page(tuple(read(each) for each in document["items"]), document.get("next"))


def _figures(document: Json) -> dict[str, Figure]:
    return {name: figure(each) for name, each in document.items()}


def _spans(pairs: Any) -> tuple[Seconds, ...]:
    return tuple((float(start), float(stop)) for start, stop in pairs or ())


def _pairs(pairs: Any) -> tuple[tuple[int, int], ...]:
    return tuple((int(first), int(last)) for first, last in pairs or ())


def _time(text: str) -> datetime:
    return datetime.fromisoformat(text)
