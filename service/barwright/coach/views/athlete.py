"""One athlete, and the list of all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.readiness.today import Readiness
from barwright.analysis.reps.results import RepPath
from barwright.coach.charts.drawing import Chart
from barwright.coach.charts.over_days import ChangeOn, StrengthOn, readiness_chart, strength_chart
from barwright.coach.charts.paths import paths_chart
from barwright.coach.charts.profile import LineAt, PointSeen, profile_chart
from barwright.coach.numbers import Display, counted, day_words, trimmed
from barwright.coach.views.sets import SetLine
from barwright.coach.views.today import VERDICT_TAGS, change_words, odds_words
from barwright.coach.words import Tag, lift_title
from barwright.storage.athletes import Athlete
from barwright.workflows.check_readiness import AthleteToday
from barwright.workflows.read_profile import ProfileOnDay, ZonesOnDay

_TODAY_SDS = 1.959963984540054  # of a normal law, for 19 in 20


@dataclass(frozen=True, slots=True)
class ListedAthlete:
    """One athlete in the list."""

    name: str
    href: str
    about: str


@dataclass(frozen=True, slots=True)
class AthletesView:
    """All athletes."""

    athletes: tuple[ListedAthlete, ...]
    levels: tuple[str, ...] = ("novice", "intermediate", "advanced")


@dataclass(frozen=True, slots=True)
class LiftChoice:
    """One lift to look at."""

    title: str
    href: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class ZoneRow:
    """One velocity zone in this athlete's kilograms."""

    name: str
    velocity: str
    load: str


@dataclass(frozen=True, slots=True)
class PathsSeen:
    """The latest path and earlier good ones: (words, path). stop_s: end of the catch, seconds of its stream."""

    latest_words: str
    latest: RepPath
    stop_s: float | None
    own: tuple[tuple[str, RepPath], ...]


@dataclass(frozen=True, slots=True)
class AthleteView:
    """One athlete and one lift."""

    id: str
    name: str
    about: str
    lifts: tuple[LiftChoice, ...]
    lift: str
    lift_code: str
    tag: Tag
    odds: str
    change: str
    reasons: tuple[str, ...]
    usual: str
    usual_interval: str
    rests_on: str
    notes: tuple[str, ...]
    day_max: str
    charts: tuple[Chart, ...]
    paths: Chart | None
    zones: tuple[ZoneRow, ...]
    sets: tuple[SetLine, ...]
    facts: dict[str, str]
    unit: str
    caution: str
    all_lifts: tuple[tuple[str, str], ...]


def athletes_view(athletes: Sequence[Athlete]) -> AthletesView:
    """In order of name."""
    return AthletesView(tuple(ListedAthlete(one.facts.name, f"/athletes/{one.id}", _about(one)) for one in athletes))


def athlete_view(
    today: AthleteToday,
    lifts: Sequence[str],
    lift: str,
    profile: ProfileOnDay | None,
    history: Sequence[tuple[date, Readiness]],
    zones: ZonesOnDay | None,
    paths: PathsSeen | None,
    sets: Sequence[SetLine],
    display: Display,
) -> AthleteView:
    """Everything on the page of one athlete."""
    one = today.athlete
    readiness = None if today.main is None else today.main.readiness
    known = profile.profile if profile is not None else None
    return AthleteView(
        id=one.id,
        name=one.facts.name,
        about=_about(one),
        lifts=tuple(LiftChoice(lift_title(code), f"/athletes/{one.id}?lift={code}", code == lift) for code in lifts),
        lift=lift_title(lift) if lift else "",
        lift_code=lift,
        tag=VERDICT_TAGS[today.verdict],
        odds=odds_words(readiness),
        change="" if readiness is None else change_words(readiness.change),
        reasons=() if readiness is None else readiness.reasons,
        usual="" if known is None else display.weight_with_u(known.predicted_max.value, known.predicted_max.u),
        usual_interval="" if known is None else display.weight_range(*known.interval_95),
        notes=() if known is None else known.notes,
        rests_on="" if known is None else f"{counted(known.days, 'day')}, {counted(known.loads, 'load')}",
        day_max=""
        if readiness is None or not readiness.sets
        else display.weight_with_u(readiness.day_max.estimate.value, readiness.day_max.estimate.u),
        charts=() if profile is None else _charts(profile, history, lift, display),
        paths=None
        if paths is None
        else paths_chart(paths.latest, paths.latest_words, paths.own, paths.stop_s, "own-paths"),
        zones=() if zones is None else _zones(zones, display),
        sets=tuple(sets),
        facts=_facts(one),
        unit=display.unit,
        caution=today.caution,
        all_lifts=tuple((each.code, each.title) for each in LIFTS.values()),
    )


def _charts(
    profile: ProfileOnDay, history: Sequence[tuple[date, Readiness]], lift: str, display: Display
) -> tuple[Chart, ...]:
    title = lift_title(lift)
    made = [
        strength_chart(
            _course(profile), [(one.day, one.load_kg) for one in profile.maxima], title, display, "strength"
        ),
        _profile(profile, title, display),
        readiness_chart([_change(day, one) for day, one in history], title, "readiness"),
    ]
    return tuple(chart for chart in made if chart is not None)


def _course(profile: ProfileOnDay) -> list[StrengthOn]:
    out = []
    for one in profile.strength:
        usual, u = one.usual.value, one.usual.u
        if usual is None or u is None:
            continue
        low, high = usual - _TODAY_SDS * u, usual + _TODAY_SDS * u
        found = one.day_max.estimate
        out.append(StrengthOn(date.fromordinal(one.day), usual, low, high, found.value, found.u))
    return out


def _profile(profile: ProfileOnDay, title: str, display: Display) -> Chart | None:
    known = profile.profile
    if known is None or known.predicted_max.value is None or known.predicted_max.u is None:
        return None
    points = [
        PointSeen(
            one.point.load_kg,
            one.point.velocity,
            one.point.u or 0.0,
            day_words(one.point.day),
            one.point.day == profile.on,
        )
        for one in profile.points
        if one.point.velocity is not None
    ]
    top = known.predicted_max.value
    low = min([one.load_kg for one in points] + [0.5 * top])
    along = []
    for n in range(25):
        kg = low + (1.03 * top - low) * n / 24
        at = known.velocity_at(kg)
        if at.value is not None and at.u is not None:
            wide = _TODAY_SDS * (at.u**2 + known.spread**2) ** 0.5
            along.append(LineAt(kg, at.value, at.value - wide, at.value + wide))
    one_rep = known.one_rep_velocity.value or 0.0
    return profile_chart(points, along, top, known.predicted_max.u, one_rep, title, display, "profile")


def _change(day: date, one: Readiness) -> ChangeOn:
    return ChangeOn(day, one.change.value or 0.0, one.change.u or 0.0, one.verdict.value)


def _zones(zones: ZonesOnDay, display: Display) -> tuple[ZoneRow, ...]:
    out = []
    for one in zones.zones:
        low = f"{one.from_m_s:.2f}"
        velocity = f"from {low} m/s" if one.to_m_s == float("inf") else f"{low} to {one.to_m_s:.2f} m/s"
        load = "–" if one.from_kg is None or one.to_kg is None else display.weight_range(one.from_kg, one.to_kg)
        out.append(ZoneRow(one.name, velocity, load))
    return tuple(out)


def _about(one: Athlete) -> str:
    facts = one.facts
    told = [facts.level or ""]
    if facts.body_mass_kg is not None:
        told.append(f"{trimmed(facts.body_mass_kg, 1)} kg")
    if facts.stature_m is not None:
        told.append(f"{100 * facts.stature_m:.0f} cm")
    if facts.birth_year is not None:
        told.append(f"born {facts.birth_year}")
    return ", ".join(word for word in told if word)


def _facts(one: Athlete) -> dict[str, str]:
    facts = one.facts
    return {
        "name": facts.name,
        "birth_year": "" if facts.birth_year is None else str(facts.birth_year),
        "sex": facts.sex or "",
        "body_mass_kg": "" if facts.body_mass_kg is None else trimmed(facts.body_mass_kg, 1),
        "stature_m": "" if facts.stature_m is None else trimmed(facts.stature_m, 2),
        "level": facts.level or "",
        "consent_on": "" if facts.consent_on is None else facts.consent_on.isoformat(),
        "guardian_note": facts.guardian_note or "",
    }
