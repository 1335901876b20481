"""A week of one athlete, and one day of it as a form."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from barwright.analysis.quantities.lifts import LIFTS
from barwright.coach.numbers import Display, day_words, short_day, trimmed, weekday
from barwright.coach.planned import load_today
from barwright.coach.views.today import PlannedRow, planned_row
from barwright.storage.plans import PlannedSet
from barwright.workflows.change_club import equipment_of
from barwright.workflows.club_loads import DayAhead, WeekAhead

KINDS = (("percent", "% of maximum"), ("velocity", "m/s"), ("zone", "zone"))
_BLANK_LINES = 3


@dataclass(frozen=True, slots=True)
class DayOfWeek:
    """One day of the grid."""

    name: str
    date: str
    href: str
    rows: tuple[PlannedRow, ...]
    note: str
    is_today: bool
    past: bool


@dataclass(frozen=True, slots=True)
class PlanView:
    """One athlete's week. others: athletes the week can be given to."""

    athlete_id: str
    name: str
    week: str
    title: str
    previous: str
    next: str
    days: tuple[DayOfWeek, ...]
    athletes: tuple[tuple[str, str], ...]
    others: tuple[tuple[str, str], ...]
    any_planned: bool
    caution: str


@dataclass(frozen=True, slots=True)
class LineForm:
    """One line of the form of a day."""

    lift: str
    kind: str
    value: str
    reps: str
    sets: str
    loss: str


@dataclass(frozen=True, slots=True)
class DayForm:
    """The form of one day."""

    action: str
    back: str
    name: str
    title: str
    lines: tuple[LineForm, ...]
    lifts: tuple[tuple[str, str], ...]
    kinds: tuple[tuple[str, str], ...]
    zones: tuple[str, ...]
    note: str


def monday_of(day: date) -> date:
    """The Monday of its week."""
    return day - timedelta(days=day.weekday())


def plan_view(week: WeekAhead, monday: date, athletes: Sequence[tuple[str, str]], display: Display) -> PlanView:
    """athletes: (id, name), all of the club."""
    mine = week.athlete.id
    days = tuple(_day(one, mine, week, display) for one in week.days)
    return PlanView(
        athlete_id=mine,
        name=week.athlete.facts.name,
        week=monday.isoformat(),
        title=f"{short_day(monday)} to {day_words(monday + timedelta(days=6)).split(' ', 1)[1]}",
        previous=f"/plan?athlete={mine}&week={(monday - timedelta(days=7)).isoformat()}",
        next=f"/plan?athlete={mine}&week={(monday + timedelta(days=7)).isoformat()}",
        days=days,
        athletes=tuple(athletes),
        others=tuple(one for one in athletes if one[0] != mine),
        any_planned=any(day.rows for day in days),
        caution=week.days[0].today.caution,
    )


def _day(one: DayAhead, athlete_id: str, week: WeekAhead, display: Display) -> DayOfWeek:
    on = one.today.on
    equipment = equipment_of(week.settings, week.athlete.facts.sex)
    rows = tuple(planned_row(athlete_id, load_today(each, equipment), display) for each in one.loads)
    return DayOfWeek(
        name=weekday(on),
        date=short_day(on),
        href=f"/plan/{athlete_id}/{on.isoformat()}",
        rows=rows,
        note=(one.today.plan.note or "") if one.today.plan is not None else "",
        is_today=on == week.now,
        past=on < week.now,
    )


def day_form(
    athlete_id: str, name: str, day: date, sets: Sequence[PlannedSet], note: str | None, zones: Sequence[str]
) -> DayForm:
    """What is planned, and a few blank lines."""
    lines = [_line(one) for one in sets]
    usual = sets[-1].lift if sets else "snatch"
    lines += [LineForm(usual, "percent", "", "", "", "")] * _BLANK_LINES
    return DayForm(
        action=f"/plan/{athlete_id}/{day.isoformat()}",
        back=f"/plan?athlete={athlete_id}&week={monday_of(day).isoformat()}",
        name=name,
        title=day_words(day),
        lines=tuple(lines),
        lifts=tuple((lift.code, lift.title) for lift in LIFTS.values()),
        kinds=KINDS,
        zones=tuple(zones),
        note=note or "",
    )


def _line(one: PlannedSet) -> LineForm:
    kind, value = "zone", one.zone or ""
    if one.percent is not None:
        kind, value = "percent", trimmed(one.percent, 1)
    elif one.velocity is not None:
        kind, value = "velocity", trimmed(one.velocity, 2)
    loss = "" if one.velocity_loss is None else trimmed(one.velocity_loss, 0)
    return LineForm(one.lift, kind, value, str(one.reps), str(one.sets), loss)
