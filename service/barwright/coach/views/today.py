"""Today: one row for each athlete, those who need the coach first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.readiness.today import Readiness, Verdict
from barwright.coach.charts.plates import plates_svg, plates_words
from barwright.coach.numbers import Display, counted, day_words, odds, trimmed, weekday
from barwright.coach.words import Tag, lift_title
from barwright.workflows.check_readiness import AthleteToday, ClubToday, LiftToday

VERDICT_TAGS = {
    Verdict.UP: Tag("▲", "Better than usual", "is-good"),
    Verdict.USUAL: Tag("●", "As usual", "is-plain"),
    Verdict.DOWN: Tag("▼", "Below usual", "is-bad"),
    Verdict.NOT_ENOUGH_DATA: Tag("?", "Not known yet", "is-plain"),
}


@dataclass(frozen=True, slots=True)
class LoadToday:
    """One planned set with its load. number: 1 is the first of the plan. decided: the coach's own reason, if any."""

    number: int
    lift: str
    reps: int
    sets: int
    target: str
    load_kg: float | None
    each_side: tuple[tuple[float, int], ...]
    why: tuple[str, ...]
    decided: str = ""
    suggested_kg: float | None = None


@dataclass(frozen=True, slots=True)
class PlannedRow:
    """One planned set, ready to print."""

    number: int
    what: str
    load: str
    plates: Markup
    plates_said: str
    why: str
    decided: str
    instead_of: str
    change_href: str


@dataclass(frozen=True, slots=True)
class MaxRow:
    """The day's maximum of one lift."""

    lift: str
    value: str
    interval: str
    change: str
    done: str


@dataclass(frozen=True, slots=True)
class TodayRow:
    """One athlete."""

    id: str
    name: str
    href: str
    note: str
    tag: Tag
    odds: str
    reasons: tuple[str, ...]
    maxima: tuple[MaxRow, ...]
    planned: tuple[PlannedRow, ...]
    waiting: str


@dataclass(frozen=True, slots=True)
class TodayView:
    """The page. others: athletes with nothing planned or done today, (name, href)."""

    weekday: str
    day: str
    rows: tuple[TodayRow, ...]
    others: tuple[tuple[str, str], ...]
    summary: str
    caution: str
    any_athletes: bool
    plan_href: str


def today_view(
    club: ClubToday,
    loads: Mapping[str, Sequence[LoadToday]],
    waiting: Mapping[str, int],
    display: Display,
) -> TodayView:
    """loads, waiting: by athlete id; planned sets with kilograms, and remote lifts nobody has looked at."""
    expected = [one for one in club.items if _expected(one, waiting)]
    rows = tuple(
        _row(one, loads.get(one.athlete.id, ()), waiting.get(one.athlete.id, 0), display)
        for one in sorted(expected, key=lambda one: _need(one, waiting))
    )
    known = {row.id for row in rows}
    return TodayView(
        weekday=weekday(club.on),
        day=day_words(club.on).split(" ", 1)[1],
        rows=rows,
        others=tuple(
            (one.athlete.facts.name, f"/athletes/{one.athlete.id}") for one in club.items if one.athlete.id not in known
        ),
        summary=_summary(expected, waiting),
        caution=club.caution,
        any_athletes=bool(club.items),
        plan_href=f"/plan?week={club.on.isoformat()}",
    )


def change_words(change: Estimate) -> str:
    """For example `−4.1 ± 1.6 % against the usual`."""
    if change.value is None or change.u is None:
        return ""
    sign = "+" if change.value > 0 else ""
    return f"{sign}{trimmed(change.value, 1)} ± {change.u:.1f} % against the usual"


def odds_words(readiness: Readiness | None) -> str:
    """How sure the verdict is."""
    if readiness is None or readiness.probability is None:
        return ""
    if readiness.verdict is Verdict.USUAL:
        return ""
    return f"{odds(readiness.probability)} that it is real"


def _expected(one: AthleteToday, waiting: Mapping[str, int]) -> bool:
    done = any(lift.warm_ups.points or lift.warm_ups.attempts for lift in one.lifts)
    return (one.plan is not None and bool(one.plan.sets)) or done or bool(waiting.get(one.athlete.id))


def _need(one: AthleteToday, waiting: Mapping[str, int]) -> tuple[int, int, str]:
    """Below usual first, then better, then lifts to look at, then those who warm up, then the rest by name."""
    order = {Verdict.DOWN: 0, Verdict.UP: 1, Verdict.USUAL: 3, Verdict.NOT_ENOUGH_DATA: 4}[one.verdict]
    if order > 1 and waiting.get(one.athlete.id):
        order = 2
    return order, -waiting.get(one.athlete.id, 0), one.athlete.facts.name


def _row(one: AthleteToday, loads: Sequence[LoadToday], waiting: int, display: Display) -> TodayRow:
    readiness = None if one.main is None else one.main.readiness
    facts = one.athlete.facts
    return TodayRow(
        id=one.athlete.id,
        name=facts.name,
        href=f"/athletes/{one.athlete.id}",
        note=_note(one),
        tag=VERDICT_TAGS[one.verdict],
        odds=odds_words(readiness),
        reasons=() if readiness is None else readiness.reasons,
        maxima=tuple(_max_row(lift, display) for lift in _by_need(one) if lift.readiness is not None),
        planned=_said_once(planned_row(one.athlete.id, load, display) for load in loads),
        waiting=f"{counted(waiting, 'remote lift')} to look at" if waiting else "",
    )


def _said_once(rows: Iterable[PlannedRow]) -> tuple[PlannedRow, ...]:
    """A reason that is the same as that of the set above is not said again."""
    out: list[PlannedRow] = []
    last = ""
    for row in rows:
        out.append(replace(row, why="") if row.why == last else row)
        last = row.why
    return tuple(out)


def _by_need(one: AthleteToday) -> list[LiftToday]:
    return sorted(one.lifts, key=lambda lift: (lift is not one.main, lift.lift))


def _note(one: AthleteToday) -> str:
    facts = one.athlete.facts
    words = [facts.level or ""]
    if facts.birth_year is not None and one.on.year - facts.birth_year < 18:
        words.append("under 18")
    return ", ".join(word for word in words if word)


def _max_row(lift: LiftToday, display: Display) -> MaxRow:
    assert lift.readiness is not None
    found = lift.readiness.day_max
    return MaxRow(
        lift=lift_title(lift.lift),
        value=display.weight_with_u(found.estimate.value, found.estimate.u),
        interval=display.weight_range(*found.interval_95),
        change=change_words(lift.readiness.change),
        done=_warm_ups(lift, display) if lift.warm_ups.points else "",
    )


def _warm_ups(lift: LiftToday, display: Display) -> str:
    loads = sorted(point.load_kg for point in lift.warm_ups.points)
    return " · ".join(display.weight_number(kg) for kg in loads) + f" {display.unit}"


def planned_row(athlete_id: str, one: LoadToday, display: Display) -> PlannedRow:
    """One planned set."""
    times = f"{one.sets} × {one.reps}" if one.sets > 1 else counted(one.reps, "rep")
    kept_together = f"{times} at {one.target}".replace(" ", "\u00a0")
    instead = one.decided and one.suggested_kg is not None and one.suggested_kg != one.load_kg
    return PlannedRow(
        number=one.number,
        what=f"{lift_title(one.lift)}, {kept_together}",
        load=display.weight(one.load_kg),
        plates=plates_svg(one.each_side),
        plates_said="" if one.load_kg is None else plates_words(one.each_side),
        why="; ".join(one.why),
        decided=one.decided,
        instead_of=f"instead of {display.weight(one.suggested_kg)}" if instead else "",
        change_href=f"/today/{athlete_id}/sets/{one.number}",
    )


def _summary(expected: Sequence[AthleteToday], waiting: Mapping[str, int]) -> str:
    counts = [
        (sum(one.verdict is Verdict.DOWN for one in expected), "below usual"),
        (sum(one.verdict is Verdict.UP for one in expected), "better than usual"),
        (sum(waiting.values()), "remote to look at"),
    ]
    told = [f"{number} {words}" for number, words in counts if number]
    return f"{counted(len(expected), 'athlete')} expected" + (f": {', '.join(told)}" if told else "")
