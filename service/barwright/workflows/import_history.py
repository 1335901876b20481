"""An athlete's history as a CSV file: taken in whole or not at all, and written out."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.ingest.history_csv import COLUMNS, HistoryRow, history_refusal, read_history, same_set
from barwright.storage.club_settings import ClubSettingsStore
from barwright.storage.efforts import EffortStore, SetEffort, ToldSet
from barwright.storage.maxima import Maximum, MaximumStore, ToldMaximum
from barwright.workflows.days import today_of
from barwright.workflows.once import Retry, create_once
from barwright.workflows.parts import Parts
from barwright.workflows.refresh_profile import refresh_profile
from barwright.workflows.tell_maxima import athlete_of


@dataclass(frozen=True, slots=True)
class Imported:
    """How many sets and maxima were kept, and how many rows were left out because they were there (`known`)."""

    athlete_id: str
    sets: int
    maxima: int
    known: int
    lifts: tuple[str, ...]
    first_day: str | None
    last_day: str | None


def import_history(
    parts: Parts,
    caller: Caller,
    athlete_id: str,
    body: bytes,
    skip_known: bool,
    retry: Retry | None,
    answer: Callable[[Imported], bytes],
) -> bytes:
    """Keeps every row of a file. A row that is there already refuses the file, or with skip_known is left out.

    Raises Cannot, and Refusal that points to each value that cannot be used.
    """

    def keep(session: Session) -> Imported:
        athlete_of(session, caller, athlete_id)
        rows = read_history(body, today_of(parts, ClubSettingsStore(session, caller.club_id).get()))
        efforts, maxima = EffortStore(session, caller.club_id), MaximumStore(session, caller.club_id)
        there = _by_place(
            [*map(_row_of_effort, efforts.of_athlete(athlete_id)), *map(_row_of_maximum, maxima.of_athlete(athlete_id))]
        )
        new, otherwise = [], []
        for row in rows:
            known = there.get((row.kind, row.day, row.lift), [])
            same = next((one for one in known if same_set(one, row)), None)
            if same is not None:
                known.remove(same)  # two equal sets that are there answer for two equal rows, not for more
            elif row.number is not None and any(one.number == row.number for one in known):
                said = f"Line {row.line} tells set {row.number} of that day and lift otherwise than was told before."
                otherwise.append((f"/rows/{row.row}/set", said))
            else:
                new.append(row)
        if otherwise:
            raise history_refusal(otherwise)
        if len(new) < len(rows) and not skip_known:
            raise history_refusal(_there_already(rows, new))
        efforts.add_told(athlete_id, [_told_set(row) for row in new if row.kind == "set"])
        maxima.add(athlete_id, [_told_maximum(row) for row in new if row.kind == "max"], "history", parts.now())
        days = sorted(row.day for row in new)
        return Imported(
            athlete_id=athlete_id,
            sets=sum(row.kind == "set" for row in new),
            maxima=sum(row.kind == "max" for row in new),
            known=len(rows) - len(new),
            lifts=tuple(sorted({row.lift for row in new})),
            first_day=days[0].isoformat() if days else None,
            last_day=days[-1].isoformat() if days else None,
        )

    made = create_once(parts, caller, retry, keep, answer)
    refresh_profile(parts, caller.club_id, [athlete_id])
    return made


def write_history(parts: Parts, caller: Caller, athlete_id: str, lift: str | None = None) -> str:
    """Every set and maximum of an athlete as a file that can be imported again."""
    with parts.database.reading() as session:
        athlete_of(session, caller, athlete_id)
        efforts = EffortStore(session, caller.club_id).of_athlete(athlete_id, lift)
        maxima = MaximumStore(session, caller.club_id).of_athlete(athlete_id, lift)
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    units = {"load": "load[kg]", "velocity": "velocity[m/s]", "velocity_u": "velocity_u[m/s]"}
    writer.writerow([units.get(name, name) for name in COLUMNS])
    rows: list[tuple[str, list[object]]] = [(one.day.isoformat(), line) for one, line in _numbered(efforts)]
    for one in maxima:
        told = one.told
        line = [told.day, told.lift, "max", None, _plain(told.load_kg), 1, None, None, None, told.note, one.source]
        rows.append((told.day.isoformat(), list(line)))
    for _, line in sorted(rows, key=lambda row: row[0]):
        writer.writerow(["" if value is None else value for value in line])
    return out.getvalue()


def _numbered(efforts: Iterable[SetEffort]) -> Iterable[tuple[SetEffort, list[object]]]:
    """Sets are numbered within day and lift, so that equal ones stay two."""
    counts: dict[tuple[object, str], int] = {}
    for one in efforts:
        if not one.made and not one.missed:
            continue
        place = (one.day, one.lift)
        counts[place] = max(counts.get(place, 0) + 1, one.number or 0)
        velocity = None if one.velocity is None else f"{one.velocity:.4f}"
        u = None if one.velocity is None or one.u is None else f"{one.u:.4f}"
        source = "history" if one.set_id is None else "recorded"
        yield (
            one,
            [
                one.day, one.lift, "set", one.number or counts[place], _plain(one.load_kg), one.made,
                one.missed or None, velocity, u, one.note, source,
            ],
        )  # fmt: skip


def _plain(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


def _by_place(rows: Sequence[HistoryRow]) -> dict[tuple[str, object, str], list[HistoryRow]]:
    out: dict[tuple[str, object, str], list[HistoryRow]] = {}
    for row in rows:
        out.setdefault((row.kind, row.day, row.lift), []).append(row)
    return out


def _there_already(rows: Sequence[HistoryRow], new: Sequence[HistoryRow]) -> list[tuple[str, str]]:
    kept = {row.row for row in new}
    return [
        (
            f"/rows/{row.row}",
            f"Line {row.line} is there already: {row.lift} on {row.day}, {row.load_kg:g} kg. Take it out, or send the "
            "file with ?known=skip.",
        )
        for row in rows
        if row.row not in kept
    ]


def _told_set(row: HistoryRow) -> ToldSet:
    return ToldSet(row.lift, row.day, row.number, row.load_kg, row.made, row.missed, row.velocity, row.u, row.note)


def _told_maximum(row: HistoryRow) -> ToldMaximum:
    return ToldMaximum(row.lift, row.day, row.load_kg, row.note)


def _row_of_effort(one: SetEffort) -> HistoryRow:
    return HistoryRow(
        -1, -1, "set", one.day, one.lift, one.load_kg, one.made, one.missed, one.velocity, one.u, one.number, one.note
    )


def _row_of_maximum(one: Maximum) -> HistoryRow:
    told = one.told
    return HistoryRow(-1, -1, "max", told.day, told.lift, told.load_kg, 1, 0, None, None, None, told.note)
