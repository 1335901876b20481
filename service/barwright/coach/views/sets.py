"""The list of sets, and one set with one of its reps opened."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.results import RepPath
from barwright.coach.charts.bar_path import bar_path_chart
from barwright.coach.charts.drawing import Chart
from barwright.coach.charts.velocity import velocity_chart
from barwright.coach.numbers import Display, counted, figure, reason_for
from barwright.coach.words import Tag, lift_title, measure_title, outcome_tag, state_tag, verdict_tag
from barwright.storage.corrections import Correction
from barwright.storage.sets import StoredRep, StoredSet


@dataclass(frozen=True, slots=True)
class SetLine:
    """One set in a list."""

    href: str
    athlete: str
    lift: str
    load: str
    when: str
    reps: str
    velocity: str
    tag: Tag | None


@dataclass(frozen=True, slots=True)
class SetListView:
    """Sets of a club, the latest first, by day. more: where the next page is."""

    days: tuple[tuple[str, tuple[SetLine, ...]], ...]
    athletes: tuple[tuple[str, str], ...]
    lifts: tuple[tuple[str, str], ...]
    athlete_id: str
    lift: str
    filtered: bool
    more: str | None


@dataclass(frozen=True, slots=True)
class RepLine:
    """One rep in the table of a set."""

    href: str
    number: str
    tag: Tag
    cells: tuple[str, ...]
    chosen: bool
    excluded: bool = False


@dataclass(frozen=True, slots=True)
class Measured:
    """One figure with its name; why: the reason when it cannot be had."""

    name: str
    value: str
    why: str


@dataclass(frozen=True, slots=True)
class RepView:
    """The rep that is opened. index: as the service counts; number: as people do, from 1."""

    index: int
    number: int
    tag: Tag
    notes: tuple[str, ...]
    path: Chart | None
    no_path: str
    velocity: Chart
    measures: tuple[Measured, ...]
    path_measures: tuple[Measured, ...]
    previous: str | None
    next: str | None
    outcome: str
    excluded: bool
    was: str


@dataclass(frozen=True, slots=True)
class Overlay:
    """A rep that can be laid beneath the one that is opened."""

    value: str
    words: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class SetView:
    """One set."""

    id: str
    athlete: str
    athlete_href: str
    lift: str
    load: str
    load_number: str
    when: str
    device: str
    device_href: str
    verdict: Tag | None
    state: Tag | None
    reason: str
    words: tuple[str, ...]
    notes: tuple[str, ...]
    head: tuple[str, ...]
    reps: tuple[RepLine, ...]
    rep: RepView | None
    overlays: tuple[Overlay, ...]
    revision: str
    athletes: tuple[tuple[str, str], ...]
    athlete_id: str
    lifts: tuple[tuple[str, str], ...]
    lift_code: str
    unit: str
    corrections: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Opened:
    """A rep that was asked for, with its path; other: one to lay beneath it."""

    index: int
    path: RepPath
    forward_known: bool
    other: RepPath | None = None
    other_words: str = ""


def key_velocity(lift: str) -> str:
    """The measure that stands for a rep of this lift."""
    return LIFTS[lift].key_velocity if lift in LIFTS else "peak_velocity"


def set_line(one: StoredSet, display: Display, with_day: bool = False) -> SetLine:
    """One set in a list; with_day: outside a list by days."""
    made = [rep for rep in one.reps if rep.outcome == "made"]
    key = key_velocity(one.lift)
    fastest = max(
        (rep.measures[key] for rep in made if key in rep.measures and rep.measures[key].value is not None),
        key=lambda one: one.value or 0.0,
        default=None,
    )
    return SetLine(
        href=f"/sets/{one.id}",
        athlete=one.athlete_name,
        lift=lift_title(one.lift),
        load=display.weight(one.load_kg),
        when=display.when(one.started_at) if with_day else display.clock(one.started_at),
        reps=_reps_words(one),
        velocity=figure(fastest),
        tag=state_tag(one.state) or (None if one.quality is None else _worth_saying(one.quality.verdict)),
    )


def set_list_view(
    sets: Sequence[StoredSet],
    athletes: Sequence[tuple[str, str]],
    chosen: tuple[str, str],
    more: str | None,
    display: Display,
) -> SetListView:
    """Sets by day. athletes: (id, name); chosen: (athlete id, lift), empty for all."""
    days: dict[str, list[SetLine]] = {}
    for one in sets:
        days.setdefault(display.day(one.started_at), []).append(set_line(one, display))
    return SetListView(
        days=tuple((day, tuple(lines)) for day, lines in days.items()),
        athletes=tuple(athletes),
        lifts=tuple((lift.code, lift.title) for lift in LIFTS.values()),
        athlete_id=chosen[0],
        lift=chosen[1],
        filtered=any(chosen),
        more=more,
    )


def set_view(
    one: StoredSet,
    device: str,
    opened: Opened | None,
    overlays: tuple[Overlay, ...],
    display: Display,
    athletes: Sequence[tuple[str, str]],
    over: str = "",
) -> SetView:
    """One set with one of its reps opened. over: what is laid beneath, kept when stepping from rep to rep.

    athletes: (id, name) of those it may really have been.
    """
    head, figures = _columns(one)
    return SetView(
        id=one.id,
        athlete=one.athlete_name,
        athlete_href=f"/athletes/{one.athlete_id}",
        lift=lift_title(one.lift),
        load=display.weight(one.load_kg),
        load_number=display.weight_number(one.load_kg),
        when=display.when(one.started_at),
        device=device,
        device_href=f"/devices#{one.device_id}",
        verdict=None if one.quality is None else verdict_tag(one.quality.verdict),
        state=state_tag(one.state),
        reason=one.reason or "",
        words=() if one.quality is None else one.quality.words,
        notes=one.notes,
        head=head,
        reps=tuple(_rep_line(one, rep, figures, opened, over) for rep in one.reps),
        rep=None if opened is None else _rep_view(one, opened, over),
        overlays=overlays,
        revision=counted(one.revision, "analysis", "analyses"),
        athletes=tuple(athletes),
        athlete_id=one.athlete_id,
        lifts=tuple((lift.code, lift.title) for lift in LIFTS.values()),
        lift_code=one.lift,
        unit=display.unit,
        corrections=tuple(_correction(one, each, dict(athletes), display) for each in one.corrections),
    )


def rep_href(set_id: str, index: int, over: str) -> str:
    """Where one rep of a set is opened."""
    return f"/sets/{set_id}?rep={index}" + (f"&over={over}" if over else "")


def _reps_words(one: StoredSet) -> str:
    if one.state != "analysed":
        return ""
    others = {word: sum(rep.outcome == word for rep in one.reps) for word in ("failed", "partial")}
    return counted(len(one.reps), "rep") + "".join(f", {count} {word}" for word, count in others.items() if count)


def _worth_saying(verdict: str) -> Tag | None:
    return None if verdict in ("good", "usable") else verdict_tag(verdict)


def _columns(one: StoredSet) -> tuple[tuple[str, ...], tuple[str, ...]]:
    key = key_velocity(one.lift)
    other = "mean_velocity" if key == "peak_velocity" else "peak_velocity"
    names = {name for rep in one.reps for name in rep.measures}
    height = "peak_height" if "peak_height" in names else "range_of_motion"
    figures = [key, other, height]
    if "jerk_peak_velocity" in names:
        figures.append("jerk_peak_velocity")
    elif "drop_to_catch" in names:
        figures.append("drop_to_catch")
    units = {"peak_height": "cm", "range_of_motion": "cm", "drop_to_catch": "cm"}
    head = tuple(f"{measure_title(name)}, {units.get(name, 'm/s')}" for name in figures)
    return head, tuple(figures)


def _rep_line(one: StoredSet, rep: StoredRep, figures: tuple[str, ...], opened: Opened | None, over: str) -> RepLine:
    return RepLine(
        href=rep_href(one.id, rep.index, over),
        number=str(_number(one, rep.index)),
        tag=outcome_tag(rep.outcome),
        cells=tuple(figure(rep.measures.get(name), with_unit=False) for name in figures),
        chosen=opened is not None and opened.index == rep.index,
        excluded=rep.excluded,
    )


def _number(one: StoredSet, index: int) -> int:
    return [rep.index for rep in one.reps].index(index) + 1


def _rep_view(one: StoredSet, opened: Opened, over: str) -> RepView:
    indices = [rep.index for rep in one.reps]
    place = indices.index(opened.index)
    rep = one.reps[place]
    path = bar_path_chart(opened.path, rep.phases, opened.forward_known, opened.other, opened.other_words)
    return RepView(
        index=rep.index,
        number=place + 1,
        tag=outcome_tag(rep.outcome),
        notes=rep.notes,
        path=path,
        no_path="This sensor sees how high the bar is, not where it goes fore and aft: there is no path to draw.",
        velocity=velocity_chart(opened.path, rep.phases, opened.other, opened.other_words),
        measures=_measured(rep.measures),
        path_measures=_measured(rep.path_measures),
        previous=rep_href(one.id, indices[place - 1], over) if place else None,
        next=rep_href(one.id, indices[place + 1], over) if place + 1 < len(indices) else None,
        outcome=rep.outcome,
        excluded=rep.excluded,
        was="" if rep.outcome == rep.analysed_outcome else f"the analysis said {rep.analysed_outcome}",
    )


def _correction(one: StoredSet, each: Correction, names: dict[str, str], display: Display) -> str:
    """For example `Rep 2: outcome made → failed. Seen on video. Tue 3 Mar 2026, 17:30`."""
    told = []
    for name, (before, after) in each.changes.items():
        if name == "load_kg":
            told.append(f"load {display.weight(before)} → {display.weight(after)}")
        elif name == "excluded":
            told.append("does not count" if after else "counts again")
        elif name == "athlete_id":
            told.append(f"athlete {names.get(before, 'erased')} → {names.get(after, 'erased')}")
        elif name == "lift":
            told.append(f"lift {lift_title(before).lower()} → {lift_title(after).lower()}")
        else:
            told.append(f"{name} {before} → {after}")
    indices = [rep.index for rep in one.reps]
    which = "Set" if each.rep is None or each.rep not in indices else f"Rep {indices.index(each.rep) + 1}"
    return f"{which}: {', '.join(told)}. {each.reason.rstrip('.')}. {display.when(each.created_at)}"


def _measured(figures: dict[str, Estimate]) -> tuple[Measured, ...]:
    return tuple(Measured(measure_title(name), figure(one), reason_for(one)) for name, one in figures.items())
