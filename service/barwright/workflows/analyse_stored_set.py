"""Raw samples of a closed stream to a stored analysis; may be done again at any time."""

from __future__ import annotations

import logging
from dataclasses import dataclass, replace
from time import monotonic

from barwright.analysis.reps.results import Quality, SetAnalysis
from barwright.ingest.block import pack_many, unpack_many
from barwright.storage.blocks import BlockStore
from barwright.storage.calibrations import CalibrationStore, StoredCalibration
from barwright.storage.efforts import EffortStore
from barwright.storage.raw_objects import DamagedObjectError
from barwright.storage.rounds import Round, is_done, mark_done
from barwright.storage.sets import Failure, SetStore
from barwright.storage.streams import Stream, StreamStore
from barwright.storage.thinning import DROPPED, Thinned, ThinStore
from barwright.workflows.analysis_job import AnalysisJob, Outcome, Unusable
from barwright.workflows.final_events import final_events
from barwright.workflows.note_analysis import DAMAGED, note_analysis
from barwright.workflows.parts import Parts
from barwright.workflows.read_streams import ReceivedBoot, missing_words, received_of
from barwright.workflows.refresh_profile import refresh_profile
from barwright.workflows.tell_readiness import tell_readiness
from barwright.workflows.which_calibration import nearest_calibration

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class _Gathered:
    """stored: the raw object first, then what has not been packed into it yet (row numbers: `loose`).

    calibration: the one the set is to be analysed with; deleted_calibration: the id of one that is no longer there.
    asked, revision: of the set as it was found. thinned: what became of raw samples in the meantime, by policy.
    """

    stream: Stream
    asked: int
    revision: int
    calibration: StoredCalibration | None
    deleted_calibration: str | None
    stored: tuple[bytes, ...]
    loose: tuple[int, ...]
    received: tuple[ReceivedBoot, ...]
    thinned: Thinned | None


def analyse_stored_set(parts: Parts, club_id: str, set_id: str) -> None:
    """Packs what came since the last time, analyses all of it and puts the result in place, revision + 1.

    A set that was erased in the meantime is left alone.
    """
    try:
        gathered = _gather_twice(parts, club_id, set_id)
        if gathered is None:
            return
        if gathered.thinned is not None and gathered.thinned.form == DROPPED:
            _leave_as_it_is(parts, club_id, set_id)
            return
        if gathered.loose:
            gathered = _pack(parts, club_id, gathered)
            if gathered is None:
                return
    except DamagedObjectError as damage:
        log.error("set %s: %s", set_id, damage)
        with parts.database.writing(club_id) as session:
            damaged = Failure("raw-damaged", _DAMAGED, Quality("unusable", (_DAMAGED,), 0, 0.0, None, None), ())
            SetStore(session, club_id).save_failure(set_id, damaged, parts.now())
            touched = EffortStore(session, club_id).refresh(set_id)
            tell_readiness(parts, session, club_id, touched)
            note_analysis(parts, session, club_id, set_id, 0, Unusable(DAMAGED, _DAMAGED), 0.0)
        return
    began = monotonic()
    outcome = _outcome(parts, gathered)
    if _save(parts, club_id, set_id, gathered, outcome, monotonic() - began):
        refresh_profile(parts, club_id, [gathered.stream.told.athlete_id])


def analyse_in_round(parts: Parts, club_id: str, set_id: str, of_round: Round) -> str:
    """As when a person asks for the analysis again, once in a round, and without telling listeners or webhooks.

    Answers what came of it: analysed, unusable, broken; damaged when the samples cannot be read, and what was found
    before then stays; left when the set was erased, is done, or was changed by somebody else meanwhile. Profiles are
    the caller's to refresh.
    """
    try:
        gathered = _gather_twice(parts, club_id, set_id, of_round)
        if gathered is not None and gathered.loose:
            gathered = _pack(parts, club_id, gathered)
    except DamagedObjectError as damage:
        log.error("set %s: %s", set_id, damage)
        return "damaged"
    if gathered is None:
        return "left"
    began = monotonic()
    outcome = _outcome(parts, gathered)
    if not _save(parts, club_id, set_id, gathered, outcome, monotonic() - began, of_round):
        return "left"
    return {SetAnalysis: "analysed", Unusable: "unusable"}.get(type(outcome), "broken")


def _leave_as_it_is(parts: Parts, club_id: str, set_id: str) -> None:
    """A block came so late that the samples before it are dropped; it is kept, and what was found of the others too."""
    with parts.database.writing(club_id) as session:
        SetStore(session, club_id).leave_as_it_is(set_id)


def _outcome(parts: Parts, gathered: _Gathered) -> Outcome:
    if not gathered.stored:
        return Unusable("no-samples", "The stream was closed before any block arrived, so there is nothing to analyse.")
    constants = None if gathered.calibration is None else gathered.calibration.found.calibration
    return parts.analyse(AnalysisJob(gathered.stored, gathered.stream.told, constants))


_DAMAGED = "The stored samples of this set cannot be read any more. Restore the folder `raw` from a backup."
_BROKEN = (
    "The analysis stopped with an error of its own; the samples are safe. Ask for the analysis again after the next "
    "update, and tell the operator: the log has the details."
)

_KILLED = (
    "The process that analysed this set was ended from outside, twice; most often the machine has too little memory. "
    "The samples are safe: ask for the analysis again with POST /v1/sets/{id}/reanalyse, or send shorter sets."
)


def _gather_twice(parts: Parts, club_id: str, set_id: str, of_round: Round | None = None) -> _Gathered | None:
    try:
        return _gather(parts, club_id, set_id, of_round)
    except DamagedObjectError:  # another worker may have put a larger object in its place meanwhile
        return _gather(parts, club_id, set_id, of_round)


def _gather(parts: Parts, club_id: str, set_id: str, of_round: Round | None) -> _Gathered | None:
    with parts.database.reading() as session:
        found = SetStore(session, club_id).get(set_id)
        stream = None if found is None else StreamStore(session, club_id).get(found.stream_id)
        if found is None or stream is None:
            return None
        if of_round is not None and (found.state not in ("analysed", "failed") or is_done(session, of_round, set_id)):
            return None  # one that waits for its analysis is the queue's
        rows = BlockStore(session, stream).unpacked()
        thinned = ThinStore(session, club_id).of(stream.id)
        received = received_of(session, stream)
        wanted = found.calibration_id if of_round is None else nearest_calibration(session, club_id, set_id)
        calibration = None if wanted is None else CalibrationStore(session, club_id).get(wanted)
        packed = () if stream.raw is None else (parts.raw.get(stream.raw),)
    return _Gathered(
        stream=stream,
        asked=found.asked,
        revision=found.revision,
        calibration=calibration,
        deleted_calibration=wanted if calibration is None else None,
        stored=(*packed, *(body for _, body in rows)),
        loose=tuple(number for number, _ in rows),
        received=received,
        thinned=thinned,
    )


def _pack(parts: Parts, club_id: str, gathered: _Gathered) -> _Gathered | None:
    """One object for the whole stream. It is on the disk before the rows it replaces are deleted."""
    order = {boot.boot: place for place, boot in enumerate(gathered.received)}
    blocks = [block for stored in gathered.stored for block in unpack_many(stored)]
    blocks.sort(key=lambda block: (order[block.boot], block.seq))
    content = pack_many(blocks)
    stored = parts.raw.put(gathered.stream.id, content)
    with parts.database.writing() as session:
        streams = StreamStore(session, club_id)
        streams.take_turn(gathered.stream.id)
        stream = streams.get(gathered.stream.id)
        now_there = None if stream is None else stream.raw
        packed = stream is not None and now_there == gathered.stream.raw
        if stream is not None and packed:
            streams.record_object(stream.id, stored)
            BlockStore(session, stream).drop_bodies(gathered.loose)
    if not packed:  # erased meanwhile, or packed by another worker that was thought to be dead
        if now_there != stored:
            parts.raw.delete([stored.name])
        return None
    if gathered.stream.raw is not None and gathered.stream.raw.name != stored.name:
        parts.raw.delete([gathered.stream.raw.name])
    return replace(gathered, stored=(content,), loose=())


def _save(
    parts: Parts,
    club_id: str,
    set_id: str,
    gathered: _Gathered,
    outcome: Outcome,
    seconds: float,
    of_round: Round | None = None,
) -> bool:
    """False when the set is gone, or another worker was here first."""
    words = missing_words(gathered.received)
    with parts.database.writing(club_id) as session:
        sets = SetStore(session, club_id)
        if StreamStore(session, club_id).take_turn(gathered.stream.id) is None:
            return False
        turn = sets.take_turn(set_id)
        if turn is None or turn[1] != gathered.revision:  # erased; or done by another worker meanwhile
            return False
        due_again = turn[0] != gathered.asked
        if of_round is not None:
            sets.use_calibration(set_id, None if gathered.calibration is None else gathered.calibration.id)
            mark_done(session, of_round, club_id, set_id, parts.now())
        elif gathered.deleted_calibration is not None:
            sets.leave_calibration(set_id, gathered.deleted_calibration)
        if isinstance(outcome, SetAnalysis):
            quality = replace(outcome.quality, words=outcome.quality.words + words)
            thinned = () if gathered.thinned is None or not gathered.thinned.note else (gathered.thinned.note,)
            analysis = replace(outcome, quality=quality, notes=gathered.stream.told.notes + outcome.notes + thinned)
            sets.save_analysis(set_id, analysis, due_again, parts.now())
        elif isinstance(outcome, Unusable):
            sets.save_failure(set_id, _failure(outcome, gathered), parts.now(), due_again)
        else:
            log.error("set %s: the analysis failed\n%s", set_id, outcome.log)
            why = Unusable("analysis-killed", _KILLED) if outcome.killed else Unusable("analysis-broken", _BROKEN)
            sets.save_failure(set_id, _failure(why, gathered), parts.now(), due_again)
        touched = EffortStore(session, club_id).refresh(set_id)
        samples = sum(boot.samples for boot in gathered.received)
        note_analysis(parts, session, club_id, set_id, samples, outcome, seconds)
        events = []
        if of_round is None:
            events = final_events(session, club_id, gathered.stream, parts.now())
            tell_readiness(parts, session, club_id, touched)
    parts.hub.publish(events)
    return True


def _failure(unusable: Unusable, gathered: _Gathered) -> Failure:
    samples = sum(boot.samples for boot in gathered.received)
    duration_s = sum(boot.duration_s for boot in gathered.received)
    words = (unusable.detail, *missing_words(gathered.received))
    quality = Quality("unusable", words, samples, duration_s, None, None)
    return Failure(unusable.code, unusable.detail, quality, gathered.stream.told.notes)
