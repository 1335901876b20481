"""Raw samples made smaller, and dropped in the end, as a club's settings say; what was found from them stays."""

from __future__ import annotations

import logging
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from barwright.analysis.reps.results import Rep, SetAnalysis
from barwright.ingest.block import Block, pack_many, unpack_many
from barwright.storage.calibrations import CalibrationStore
from barwright.storage.club_settings import ClubSettings, ClubSettingsStore
from barwright.storage.raw_objects import DamagedObjectError, StoredObject
from barwright.storage.sets import SetStore, StoredRep, StoredSet
from barwright.storage.streams import StreamStore
from barwright.storage.thinning import (
    AROUND_REPS,
    DROPPED,
    PACKED,
    DueStream,
    Thinned,
    ThinStore,
    clubs_with_settings,
)
from barwright.workflows.analysis_job import AnalysisJob
from barwright.workflows.forget_athlete import delete_doomed
from barwright.workflows.parts import Parts

log = logging.getLogger(__name__)

STRONGEST = 19  # of Zstandard's levels; 20 to 22 gain nothing on objects under 8 MiB
AROUND_S = 6.0  # kept before and after a rep: the rests on both sides are what its figures hang on
BEGINNING_S = 1.0  # kept in any case: times are told from the first sample
MOST_MOVED = 0.5  # of a figure's standard uncertainty; where one moves further all samples are kept
_AT_ONCE = 100
Spans = list[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class _Kept:
    """What is to be in the place of an object. moved: how far the farthest figure moved, in its u."""

    form: str
    content: bytes
    samples: int
    of_samples: int
    moved: float | None = None


def thin_what_is_due(parts: Parts, stopping: Callable[[], bool] = lambda: False) -> Counter[str]:
    """Every club's; how often what was done. What is stopped half-way goes on the next time.

    Raises StorageUnavailableError.
    """
    done: Counter[str] = Counter()
    with parts.database.reading() as session:
        clubs = [(club_id, ClubSettingsStore(session, club_id).get()) for club_id in clubs_with_settings(session)]
    for club_id, settings in clubs:
        for due, drop in _due(parts, club_id, settings):
            if stopping():
                return done
            what = _drop(parts, club_id, due) if drop else _thin(parts, club_id, due, settings)
            done[what] += 1
    delete_doomed(parts)
    return done


def _due(parts: Parts, club_id: str, settings: ClubSettings) -> Iterator[tuple[DueStream, bool]]:
    for days, drop in ((settings.raw_drop_days, True), (settings.raw_full_days, False)):
        if days is None:
            continue
        after, before = "", parts.now() - timedelta(days=days)
        while True:
            with parts.database.reading() as session:
                batch = ThinStore(session, club_id).due(before, drop, after, _AT_ONCE)
            if not batch:
                break
            yield from ((one, drop) for one in batch)
            after = batch[-1].stream_id


def _drop(parts: Parts, club_id: str, due: DueStream) -> str:
    note = (
        f"The raw samples were dropped on {parts.now():%Y-%m-%d}, as the club's settings say; what was found from them "
        "stays, and the set cannot be analysed again."
    )
    with parts.database.writing(club_id) as session:
        done = ThinStore(session, club_id).replace(due, None, Thinned(DROPPED, {}, note), parts.now())
    return DROPPED if done else "left"


def _thin(parts: Parts, club_id: str, due: DueStream, settings: ClubSettings) -> str:
    try:
        stored = parts.raw.get(due.raw)
        blocks = unpack_many(stored)
    except (DamagedObjectError, ValueError) as error:
        log.error("set %s: %s", due.set_id, error)
        return "damaged"
    kept = _around_reps(parts, club_id, due, blocks) if settings.raw_thinning == AROUND_REPS else None
    samples = sum(len(block.t_us) for block in blocks)
    kept = kept or _Kept(PACKED, pack_many(blocks, STRONGEST), samples, samples)
    same = kept.form == PACKED and len(kept.content) >= len(stored)
    now_kept = due.raw if same else parts.raw.put(due.stream_id, kept.content)
    facts = {
        "bytes_before": len(stored),
        "bytes": len(stored) if same else len(kept.content),
        "samples_before": kept.of_samples,
        "samples": kept.samples,
        "moved": kept.moved,
    }
    return _keep(parts, club_id, due, now_kept, Thinned(kept.form, facts, _note(parts, kept)))


def _keep(parts: Parts, club_id: str, due: DueStream, now_kept: StoredObject, thinned: Thinned) -> str:
    with parts.database.writing(club_id) as session:
        done = ThinStore(session, club_id).replace(due, now_kept, thinned, parts.now())
    if not done and now_kept != due.raw:
        parts.raw.delete([now_kept.name])
    return thinned.form if done else "left"


def _note(parts: Parts, kept: _Kept) -> str:
    if kept.form == PACKED:
        return ""
    return (
        f"Since {parts.now():%Y-%m-%d} only the raw samples around the reps are kept, {kept.samples} of "
        f"{kept.of_samples}, as the club's settings say; analysed from these, no figure moved by more than "
        f"{kept.moved:.2f} of its u."
    )


def _around_reps(parts: Parts, club_id: str, due: DueStream, blocks: list[Block]) -> _Kept | None:
    """None where nothing would be saved, there is no rep, or figures would move."""
    with parts.database.reading() as session:
        found = SetStore(session, club_id).get(due.set_id)
        stream = StreamStore(session, club_id).get(due.stream_id)
        if found is None or stream is None or found.state != "analysed" or not found.reps:
            return None
        wanted = None if found.calibration_id is None else CalibrationStore(session, club_id).get(found.calibration_id)
    fewer = cut_blocks(blocks, [(rep.start_s - AROUND_S, rep.stop_s + AROUND_S) for rep in found.reps])
    before, after = (sum(len(block.t_us) for block in some) for some in (blocks, fewer))
    if after > 0.95 * before:
        return None
    content = pack_many(fewer, STRONGEST)
    constants = None if wanted is None else wanted.found.calibration
    outcome = parts.analyse(AnalysisJob((content,), stream.told, constants))
    moved = _moved(found, outcome.reps) if isinstance(outcome, SetAnalysis) else None
    if moved is None or moved > MOST_MOVED:
        return None
    return _Kept(AROUND_REPS, content, after, before, moved)


def cut_blocks(blocks: Sequence[Block], spans: Spans) -> list[Block]:
    """The samples within spans (s since the first sample, of a recording of one device start) and at the beginning.

    Blocks of several device starts stay whole: how their clocks hang together is the analysis's to say.
    """
    if len({block.boot for block in blocks}) != 1:
        return list(blocks)
    first = min(int(block.t_us[0]) for block in blocks)
    out = []
    for block in blocks:
        t_s = (block.t_us - first) * 1e-6
        keep = t_s <= BEGINNING_S
        for start, stop in spans:
            keep |= (t_s >= start) & (t_s <= stop)
        if keep.any():
            channels = {name: values[keep] for name, values in block.channels.items()}
            out.append(replace(block, t_us=block.t_us[keep], channels=channels))
    return out


def _moved(found: StoredSet, reps: Sequence[Rep]) -> float | None:
    """The farthest any figure moved, in its own u; None when other reps were found, or a figure came or went."""
    if len(reps) != len(found.reps):
        return None
    farthest = 0.0
    for before, after in zip(found.reps, reps, strict=True):
        if before.analysed_outcome != after.outcome or abs(before.start_s - after.start_s) > 0.2:
            return None
        for moved in _figures_moved(before, after):
            if moved is None:
                return None
            farthest = max(farthest, moved)
    return farthest


def _figures_moved(before: StoredRep, after: Rep) -> Iterator[float | None]:
    for of, now in ((before.measures, after.measures), (before.path_measures, after.path_measures)):
        for name, was in of.items():
            figure = now.get(name)
            if figure is None or (was.value is None) != (figure.value is None):
                yield None
            elif was.value is not None and figure.value is not None and was.u is not None:
                far = abs(figure.value - was.value)
                yield far / was.u if was.u > 0 else (0.0 if np.isclose(far, 0.0) else None)
