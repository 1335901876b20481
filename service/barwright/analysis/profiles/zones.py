"""Velocity zones: the published ranges for slow lifts, the athlete's own by % of maximum, or the club's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from barwright.analysis.profiles.bounds import NotPlausible, check_velocity
from barwright.analysis.profiles.fit import LoadVelocityProfile
from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.analysis.quantities.lifts import LIFTS

CONTINUUM_SOURCE = (
    "strength continuum, mean velocity (Mann, Ivey and Sayers 2015, Strength and Conditioning Journal 37(6):52-57; "
    "ranges from memory)"
)
OWN_SOURCE = "this athlete's own line"
_INF = float("inf")
CONTINUUM = (
    ("absolute strength", 0.0, 0.5),
    ("accelerative strength", 0.5, 0.75),
    ("strength-speed", 0.75, 1.0),
    ("speed-strength", 1.0, 1.3),
    ("starting strength", 1.3, _INF),
)
OWN_PERCENT = (
    ("maximal", 90.0, 100.0),
    ("heavy", 80.0, 90.0),
    ("medium", 70.0, 80.0),
    ("light", 50.0, 70.0),
    ("very light", 0.0, 50.0),
)


@dataclass(frozen=True, slots=True)
class VelocityZone:
    """A named range of velocity, from_m_s <= v < to_m_s (inf: open), and what it is in kg for an athlete when known.

    from_kg is the lightest, to_kg the heaviest load of the zone; None without a profile.
    """

    name: str
    from_m_s: float
    to_m_s: float
    source: str
    from_kg: float | None = None
    to_kg: float | None = None


@dataclass(frozen=True, slots=True)
class ZoneAnswer:
    """Which zone a velocity falls in (None: none of them), and the % of maximum and kg it stands for."""

    velocity_m_s: float
    zone: VelocityZone | None
    percent: Estimate | None
    load: Estimate | None


def published_zones(lift: str, profile: LoadVelocityProfile | None = None) -> tuple[VelocityZone, ...]:
    """The ranges of the strength continuum; none for lifts profiled by peak velocity, which they do not fit."""
    if LIFTS[lift].key_velocity != "mean_velocity":
        return ()
    return tuple(_in_kg(name, low, high, CONTINUUM_SOURCE, profile) for name, low, high in CONTINUUM)


def own_zones(
    profile: LoadVelocityProfile, by_percent: Sequence[tuple[str, float, float]] = OWN_PERCENT
) -> tuple[VelocityZone, ...]:
    """The athlete's own zones: (name, from %, to %) of the usual maximum through the profile's line."""
    out, usual = [], profile.belief.usual_max_kg
    for name, low, high in by_percent:
        if not 0 <= low < high <= 120:
            raise NotPlausible("percent", f"{low:g}-{high:g} % is no range; rising and within 0 to 120 % is right")
        slow = 0.0 if high >= 100 else profile.velocity_at(high / 100 * usual).value or 0.0
        fast = _INF if low <= 0 else profile.velocity_at(low / 100 * usual).value or 0.0
        out.append(_in_kg(name, slow, fast, OWN_SOURCE, profile))
    return tuple(out)


def club_zones(
    ranges: Sequence[tuple[str, float, float]], profile: LoadVelocityProfile | None = None
) -> tuple[VelocityZone, ...]:
    """Zones a club defines: (name, from m/s, to m/s), rising without overlap; NotPlausible names the member else."""
    last = 0.0
    for k, (name, low, high) in enumerate(ranges):
        if not name.strip():
            raise NotPlausible(f"zones/{k}/name", "a zone needs a name")
        if not (last <= low < high):
            raise NotPlausible(f"zones/{k}", f"{low:g}-{high:g} m/s; rising ranges that do not overlap are right")
        last = high
    return tuple(_in_kg(name, low, high, "the club's own", profile) for name, low, high in ranges)


def zone_of(
    velocity_m_s: float, zones: Sequence[VelocityZone], profile: LoadVelocityProfile | None = None
) -> ZoneAnswer:
    """The zone a velocity falls in, with % and kg through the profile when there is one. Raises NotPlausible."""
    check_velocity(velocity_m_s)
    zone = next((one for one in zones if one.from_m_s <= velocity_m_s < one.to_m_s), None)
    if profile is None:
        return ZoneAnswer(velocity_m_s, zone, None, None)
    percent, load = profile.percent_at(velocity_m_s), profile.load_at(velocity_m_s)
    if (load.value or 0.0) <= 0.0:
        why = f"faster than this line goes: {profile.intercept:.2f} m/s without any load"
        percent, load = unknown("%", why), unknown("kg", why)
    return ZoneAnswer(velocity_m_s, zone, percent, load)


def _in_kg(name: str, low: float, high: float, source: str, profile: LoadVelocityProfile | None) -> VelocityZone:
    if profile is None:
        return VelocityZone(name, low, high, source)
    heaviest = profile.predicted_max.value if low <= 0 else profile.load_at(low).value
    lightest = 0.0 if high == _INF else profile.load_at(high).value
    bounded = [max(kg, 0.0) if kg is not None else None for kg in (lightest, heaviest)]
    return VelocityZone(name, low, high, source, bounded[0], bounded[1])
