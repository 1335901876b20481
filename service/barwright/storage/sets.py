"""Sets and reps of one club."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, delete, select, tuple_
from sqlmodel.sql.expression import Select

from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.reps.results import Phase, Quality, Rep, RepPath, SetAnalysis
from barwright.storage.corrections import Correction, RepCorrection, corrections_of, rep_corrections_of
from barwright.storage.jobs import ask_for_analysis
from barwright.storage.notices import SETS, give_notice
from barwright.storage.path_columns import pack_path, unpack_path
from barwright.storage.tables import AthleteRow, RepRow, SetRow, StreamRow

_QUALITY_PAIRS = ("gaps", "rests")


@dataclass(frozen=True, slots=True)
class StoredRep:
    """A rep without its path.

    outcome: as a person corrected it, else as the analysis found it; analysed_outcome is always the analysis's.
    excluded: a person said not to count it. correction: why, None where nothing was corrected.
    """

    index: int
    outcome: str
    start_s: float
    stop_s: float
    measures: dict[str, Estimate]
    phases: tuple[Phase, ...]
    path_measures: dict[str, Estimate]
    notes: tuple[str, ...]
    analysed_outcome: str = ""
    excluded: bool = False
    correction: str | None = None


@dataclass(frozen=True, slots=True)
class StoredSet:
    """One set. state: open, analysing, analysed or failed; reason and reason_code say why it failed.

    revision: how many analyses have been finished; asked: how many have been asked for. calibration_id: of the device,
    None without one.
    """

    id: str
    club_id: str
    stream_id: str
    athlete_id: str
    athlete_name: str
    device_id: str
    lift: str
    load_kg: float
    started_at: datetime
    state: str
    revision: int
    method: str | None
    quality: Quality | None
    notes: tuple[str, ...]
    reason: str | None
    reason_code: str | None
    analysed_at: datetime | None
    reps: tuple[StoredRep, ...]
    calibration_id: str | None = None
    corrections: tuple[Correction, ...] = ()
    asked: int = 0


@dataclass(frozen=True, slots=True)
class Failure:
    """Why a set could not be analysed, with what is known of its samples all the same."""

    code: str
    detail: str
    quality: Quality
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SetFilter:
    """Which sets are asked for; None asks for all. from_at is included, to_at is not."""

    athlete_id: str | None = None
    lift: str | None = None
    from_at: datetime | None = None
    to_at: datetime | None = None


class SetStore:
    """Reads and writes the sets of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def get(self, set_id: str) -> StoredSet | None:
        """The set with this id."""
        found = self._session.exec(self._all().where(SetRow.id == set_id)).first()
        return None if found is None else self._with_reps([found])[0]

    def page(self, asked: SetFilter, after: tuple[datetime, str] | None, limit: int) -> list[StoredSet]:
        """At most `limit` sets, the latest first, those behind (started_at, id) `after`."""
        query = self._all().order_by(col(SetRow.started_at).desc(), col(SetRow.id).desc())
        if asked.athlete_id is not None:
            query = query.where(SetRow.athlete_id == asked.athlete_id)
        if asked.lift is not None:
            query = query.where(SetRow.lift == asked.lift)
        if asked.from_at is not None:
            query = query.where(SetRow.started_at >= asked.from_at)
        if asked.to_at is not None:
            query = query.where(SetRow.started_at < asked.to_at)
        if after is not None:
            query = query.where(tuple_(col(SetRow.started_at), col(SetRow.id)) < after)
        return self._with_reps(self._session.exec(query.limit(limit)))

    def path(self, set_id: str, index: int) -> RepPath | None:
        """The path of one rep."""
        query = select(RepRow.path).join(SetRow, col(SetRow.id) == col(RepRow.set_id))
        query = query.where(SetRow.club_id == self._club_id).where(SetRow.id == set_id)
        stored = self._session.exec(query.where(RepRow.index == index)).first()
        return None if stored is None else unpack_path(stored)

    def state(self, set_id: str) -> str | None:
        """open, analysing, analysed or failed; None when the club has no such set."""
        query = select(SetRow.state).where(SetRow.club_id == self._club_id).where(SetRow.id == set_id)
        return self._session.exec(query).first()

    def mark_analysing(self, set_id: str) -> None:
        """The set waits for its analysis; a restart finds it by this."""
        row = self._row(set_id, lock=True)
        row.state, row.asked = "analysing", row.asked + 1
        ask_for_analysis(self._session, self._club_id, set_id)

    def take_turn(self, set_id: str) -> tuple[int, int] | None:
        """(asked, revision) of a set, which nobody else gets at until the session ends; None when it is gone."""
        query = select(SetRow).where(SetRow.club_id == self._club_id).where(SetRow.id == set_id).with_for_update()
        row = self._session.exec(query.execution_options(populate_existing=True)).first()
        return None if row is None else (row.asked, row.revision)

    def leave_as_it_is(self, set_id: str) -> None:
        """The set waits for no analysis any more; what was found before stays."""
        row = self._row(set_id, lock=True)
        if row.state == "analysing":
            row.state = "failed" if row.method is None else "analysed"

    def use_calibration(self, set_id: str, calibration_id: str | None) -> None:
        """Which calibration of its device the set is, or is going to be, analysed with."""
        self._row(set_id).calibration_id = calibration_id

    def calibrations_of(self, set_ids: Sequence[str]) -> dict[str, str | None]:
        """Set -> the calibration of its device that it uses."""
        query = select(SetRow.id, SetRow.calibration_id).where(SetRow.club_id == self._club_id)
        return dict(self._session.exec(query.where(col(SetRow.id).in_(set_ids))).all())

    def leave_calibration(self, set_id: str, calibration_id: str) -> None:
        """The set was analysed without this one, because it was deleted; another one asked for since stays."""
        row = self._row(set_id)
        if row.calibration_id == calibration_id:
            row.calibration_id = None

    def correct(self, set_id: str, changes: dict[str, Any]) -> None:
        """Sets lift, load_kg or athlete_id of a set and of the stream it came from."""
        row = self._row(set_id)
        row.sqlmodel_update(changes)
        stream = self._session.get(StreamRow, row.stream_id)
        if stream is not None:
            stream.sqlmodel_update(changes)

    def save_analysis(self, set_id: str, analysis: SetAnalysis, due_again: bool, now: datetime) -> None:
        """Puts a finished analysis in the place of the one before; due_again: another one was asked for meanwhile."""
        row = self._finished(set_id, "analysing" if due_again else "analysed", now)
        row.method, row.quality = analysis.method, asdict(analysis.quality)
        row.notes = list(analysis.notes)
        self._session.add_all(_rep_row(set_id, rep) for rep in analysis.reps)

    def save_failure(self, set_id: str, why: Failure, now: datetime, due_again: bool = False) -> None:
        """The set could not be analysed; due_again: another try was asked for meanwhile."""
        row = self._finished(set_id, "analysing" if due_again else "failed", now)
        row.method, row.quality, row.notes = None, asdict(why.quality), list(why.notes)
        row.reason_code, row.reason = why.code, why.detail

    def _finished(self, set_id: str, state: str, now: datetime) -> SetRow:
        row = self._row(set_id)
        row.state, row.analysed_at = state, now
        row.revision += 1
        row.reason = row.reason_code = None
        self._session.exec(delete(RepRow).where(col(RepRow.set_id) == set_id))
        if state == "analysing":
            ask_for_analysis(self._session, self._club_id, set_id)
        give_notice(self._session, SETS, set_id)
        return row

    def _row(self, set_id: str, lock: bool = False) -> SetRow:
        query = select(SetRow).where(SetRow.club_id == self._club_id).where(SetRow.id == set_id)
        if lock:
            query = query.with_for_update().execution_options(populate_existing=True)
        return self._session.exec(query).one()

    def _all(self) -> Select[SetRow, str]:
        return (
            select(SetRow, AthleteRow.name)
            .join(AthleteRow, col(AthleteRow.id) == col(SetRow.athlete_id), isouter=True)  # sets first, then names
            .where(SetRow.club_id == self._club_id)
        )

    def _with_reps(self, found: Iterable[tuple[SetRow, str]]) -> list[StoredSet]:
        sets = list(found)
        columns = [column for column in RepRow.__table__.columns if column.name != "path"]  # type: ignore[attr-defined]
        query = select(*columns).where(col(RepRow.set_id).in_([row.id for row, _ in sets])).order_by(col(RepRow.index))
        told = rep_corrections_of(self._session, [row.id for row, _ in sets])
        corrections = corrections_of(self._session, [row.id for row, _ in sets])
        reps: dict[str, list[StoredRep]] = {}
        for rep in self._session.exec(query):
            reps.setdefault(rep.set_id, []).append(_stored_rep(rep, told.get(rep.set_id, ())))
        return [
            replace(_stored_set(row, name, tuple(reps.get(row.id, ()))), corrections=corrections.get(row.id, ()))
            for row, name in sets
        ]


def unfinished_sets(session: Session) -> list[tuple[str, str]]:
    """(club id, set id) of every set of any club whose analysis has not been finished."""
    query = select(SetRow.club_id, SetRow.id).where(SetRow.state == "analysing").order_by(col(SetRow.started_at))
    return [(club_id, set_id) for club_id, set_id in session.exec(query)]


def _rep_row(set_id: str, rep: Rep) -> RepRow:
    return RepRow(
        set_id=set_id,
        index=rep.index,
        outcome=rep.outcome,
        start_s=rep.start_s,
        stop_s=rep.stop_s,
        measures={name: asdict(figure) for name, figure in rep.measures.items()},
        phases=[asdict(phase) for phase in rep.phases],
        path_measures={name: asdict(figure) for name, figure in rep.path_measures.items()},
        notes=list(rep.notes),
        path=pack_path(rep.path),
    )


def _stored_rep(row: Any, corrections: tuple[RepCorrection, ...]) -> StoredRep:
    told = next((one for one in corrections if one.fits(row.start_s, row.stop_s)), None)
    return StoredRep(
        row.index,
        row.outcome if told is None or told.outcome is None else told.outcome,
        row.start_s,
        row.stop_s,
        {name: Estimate(**figure) for name, figure in row.measures.items()},
        tuple(Phase(**phase) for phase in row.phases),
        {name: Estimate(**figure) for name, figure in row.path_measures.items()},
        tuple(row.notes),
        row.outcome,
        told is not None and told.excluded,
        None if told is None else told.reason,
    )


def _stored_set(row: SetRow, athlete_name: str, reps: tuple[StoredRep, ...]) -> StoredSet:
    return StoredSet(
        id=row.id,
        club_id=row.club_id,
        stream_id=row.stream_id,
        athlete_id=row.athlete_id,
        athlete_name=athlete_name,
        device_id=row.device_id,
        lift=row.lift,
        load_kg=row.load_kg,
        started_at=row.started_at,
        state=row.state,
        revision=row.revision,
        method=row.method,
        quality=None if row.quality is None else _quality(row.quality),
        notes=tuple(row.notes),
        reason=row.reason,
        reason_code=row.reason_code,
        analysed_at=row.analysed_at,
        reps=reps,
        calibration_id=row.calibration_id,
        asked=row.asked,
    )


def _quality(document: dict[str, Any]) -> Quality:
    pairs = {name: tuple((start, stop) for start, stop in document[name]) for name in _QUALITY_PAIRS}
    return Quality(**{**document, **pairs, "words": tuple(document["words"])})
