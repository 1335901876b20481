"""Remote lifts nobody has looked at, the most worrying first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from barwright.analysis.reps.results import RepPath
from barwright.coach.charts.small_path import small_path
from barwright.coach.numbers import Display, counted, figure
from barwright.coach.views.sets import key_velocity
from barwright.coach.words import Tag, lift_title, outcome_tag
from barwright.storage.sets import StoredSet
from barwright.workflows.review_list import Waiting


@dataclass(frozen=True, slots=True)
class RepGlance:
    """One rep: its outcome, its key velocity, and its path when it is drawn."""

    href: str
    number: int
    tag: Tag
    velocity: str
    path: Markup | None


@dataclass(frozen=True, slots=True)
class WaitingRow:
    """One set to look at."""

    id: str
    href: str
    athlete: str
    what: str
    when: str
    reasons: tuple[str, ...]
    reps: tuple[RepGlance, ...]


@dataclass(frozen=True, slots=True)
class ReviewView:
    """The list. everybody: not only of remote athletes. remote: whether any athlete is remote."""

    rows: tuple[WaitingRow, ...]
    everybody: bool
    summary: str
    all_ids: tuple[str, ...]
    remote_names: tuple[str, ...]


def review_view(
    waiting: Sequence[Waiting],
    paths: Mapping[tuple[str, int], RepPath],
    everybody: bool,
    remote_names: Sequence[str],
    display: Display,
) -> ReviewView:
    """paths: of the reps that are drawn, by set id and index."""
    rows = tuple(_row(one, paths, display) for one in waiting)
    return ReviewView(
        rows=rows,
        everybody=everybody,
        summary=f"{counted(len(rows), 'set')} to look at",
        all_ids=tuple(row.id for row in rows),
        remote_names=tuple(remote_names),
    )


def _row(one: Waiting, paths: Mapping[tuple[str, int], RepPath], display: Display) -> WaitingRow:
    found = one.lift_set
    return WaitingRow(
        id=found.id,
        href=f"/sets/{found.id}",
        athlete=found.athlete_name,
        what=f"{lift_title(found.lift)} {display.weight(found.load_kg)}",
        when=display.when(found.started_at),
        reasons=one.reasons,
        reps=tuple(_rep(found, place, paths) for place in range(len(found.reps))),
    )


def _rep(found: StoredSet, place: int, paths: Mapping[tuple[str, int], RepPath]) -> RepGlance:
    rep = found.reps[place]
    path = paths.get((found.id, rep.index))
    return RepGlance(
        href=f"/sets/{found.id}?rep={rep.index}",
        number=place + 1,
        tag=outcome_tag(rep.outcome),
        velocity=figure(rep.measures.get(key_velocity(found.lift))),
        path=None if path is None else small_path(path, f"Bar path of rep {place + 1}"),
    )
