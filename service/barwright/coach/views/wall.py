"""One platform for a wall tablet: read from two metres in a glance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from barwright.coach.numbers import Display, ago
from barwright.coach.words import Tag, lift_title, outcome_tag, state_tag
from barwright.storage.devices import Device
from barwright.storage.platforms import LatestSet
from barwright.workflows.watch_platform import PlatformNow, SeenRep

_FULL = 1000.0  # width of the fastest rep's bar
_HARDLY = 0.005  # less is not worth a word


@dataclass(frozen=True, slots=True)
class PlatformLine:
    """One platform to choose."""

    href: str
    name: str
    now: str
    when: str


@dataclass(frozen=True, slots=True)
class PlatformsView:
    """All platforms."""

    platforms: tuple[PlatformLine, ...]


@dataclass(frozen=True, slots=True)
class RepBar:
    """One rep as a bar. width: of 1000, against the fastest. loss: against the fastest, in words."""

    number: int
    tag: Tag
    velocity: str
    width: str
    loss: str
    last: bool
    over: bool


@dataclass(frozen=True, slots=True)
class WallView:
    """One platform now. limit_x: where the bars reach the agreed loss, of 1000; empty without a limit."""

    device_id: str
    device: str
    athlete: str
    lift: str
    load: str
    state: Tag | None
    rep: str
    outcome: Tag | None
    provisional: bool
    velocity: str
    u: str
    zone: str
    loss: str
    stop: str
    bars: tuple[RepBar, ...]
    limit_x: str
    limit: str


def platforms_view(found: Sequence[tuple[Device, LatestSet | None]], now: datetime, display: Display) -> PlatformsView:
    """Those with the latest news first."""
    lines = []
    for device, latest in found:
        words = "nothing recorded yet"
        if latest is not None:
            words = f"{latest.athlete_name}, {lift_title(latest.lift).lower()} {display.weight(latest.load_kg)}"
        when = "" if latest is None else ago(latest.began, now)
        lines.append(PlatformLine(f"/wall/{device.id}", device.facts.name, words, when))
    return PlatformsView(tuple(lines))


def wall_view(now: PlatformNow, display: Display) -> WallView:
    """What stands on the wall."""
    latest, reps = now.latest, now.reps
    best = max((_value(rep) for rep in reps if _counts(rep)), default=0.0)
    losses = _losses(reps)
    last = reps[-1] if reps else None
    velocity = None if last is None else last.velocity
    known = velocity is not None and velocity.value is not None and velocity.u is not None
    return WallView(
        device_id=now.device.id,
        device=now.device.facts.name,
        athlete="" if latest is None else latest.athlete_name,
        lift="" if latest is None else lift_title(latest.lift),
        load="" if latest is None else display.weight(latest.load_kg),
        state=None if latest is None else state_tag(latest.state),
        rep="" if last is None else f"Rep {len(reps)}",
        outcome=None if last is None else outcome_tag(last.outcome),
        provisional=last is not None and last.provisional,
        velocity=f"{velocity.value:.2f}" if known and velocity is not None else "",
        u=f"± {max(velocity.u or 0.0, 0.01):.2f} m/s" if known and velocity is not None else "",
        zone=now.zone,
        loss=_loss_words(losses[-1]) if losses else "",
        stop=now.stop,
        bars=tuple(
            _bar(n, reps[n - 1], best, losses[n - 1], now.limit, n == len(reps)) for n in range(1, len(reps) + 1)
        ),
        limit_x="" if now.limit is None else f"{_FULL * (1 - now.limit):.0f}",
        limit="" if now.limit is None else f"stop at {100 * now.limit:.0f} % loss",
    )


def _value(rep: SeenRep) -> float:
    return 0.0 if rep.velocity is None or rep.velocity.value is None else rep.velocity.value


def _counts(rep: SeenRep) -> bool:
    return rep.outcome == "made" and rep.counts


def _losses(reps: Sequence[SeenRep]) -> list[float | None]:
    """How much slower each rep was than the fastest up to it (0-1); None for what does not count."""
    fastest = 0.0
    out: list[float | None] = []
    for rep in reps:
        value = _value(rep)
        if not _counts(rep) or value <= 0:
            out.append(None)
            continue
        fastest = max(fastest, value)
        out.append(1 - value / fastest)
    return out


def _loss_words(loss: float | None) -> str:
    if loss is None:
        return ""
    return "the fastest so far" if loss < _HARDLY else f"{100 * loss:.0f} % slower than the fastest"


def _bar(number: int, rep: SeenRep, best: float, loss: float | None, limit: float | None, last: bool) -> RepBar:
    share = _value(rep) / best if best > 0 else 0.0
    return RepBar(
        number=number,
        tag=outcome_tag(rep.outcome),
        velocity=f"{_value(rep):.2f}" if _value(rep) else "–",
        width=f"{_FULL * min(max(share, 0.0), 1.0):.0f}",
        loss="" if loss is None or loss < _HARDLY else f"−{100 * loss:.0f} %",
        last=last,
        over=loss is not None and limit is not None and loss >= limit,
    )
