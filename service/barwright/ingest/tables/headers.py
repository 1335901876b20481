"""What the headers of a recording file say: sensor, time, channels and units."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from barwright.analysis.quantities.units import UNITS
from barwright.ingest.block import BESIDE_IMU, ENCODER_CHANNELS, IMU_CHANNELS
from barwright.ingest.declared_units import SI, check_unit, group_of
from barwright.ingest.file_layout import FileLayout
from barwright.ingest.refusals import Refusal, pointer_to
from barwright.ingest.tables.header_words import COUNTS, TIME, Word, read_word, unit_of

NO_COLUMN = -1


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a file, as understood.

    position: in the file, NO_COLUMN for a clock that only a declared rate stands for. channel: time, a channel of a
    block, or None when it is left out, with `why`. unit: UCUM code, None while nobody told one. told_by: header,
    declared, or "" where nobody did. own: named as this project names columns. factor: what a value is multiplied by
    before it is in `unit`.
    """

    position: int
    header: str
    channel: str | None
    unit: str | None = None
    told_by: str = ""
    own: bool = False
    factor: float = 1.0
    why: str = ""


@dataclass(frozen=True, slots=True)
class Headers:
    """kind: imu or encoder. time: the clock. channels: name to column. all: every column, in the file's order.

    units: group to UCUM code, None while nobody told one. notes: plain sentences on what was left out.
    """

    kind: str
    time: Column
    channels: dict[str, Column]
    units: dict[str, str | None]
    all: tuple[Column, ...]
    notes: tuple[str, ...]


def columns_of(headers: list[str], layout: FileLayout) -> tuple[Column, ...]:
    """Every column as its header (or the name declared for it) says, before anything is chosen or refused."""
    names = list(headers)
    if layout.columns is not None:
        if len(layout.columns) != len(headers):
            raise Refusal(
                "bad-row",
                f"`columns` names {len(layout.columns)} columns and the file has {len(headers)}; name each, and "
                'leave out those of no use with "".',
                "/columns",
            )
        names = list(layout.columns)
    return tuple(_column(position, name, read_word(name), layout) for position, name in enumerate(names))


def read_headers(columns: tuple[Column, ...], layout: FileLayout) -> Headers:
    """The plan for reading a file. Raises Refusal for columns that are missing, there twice, or contradict."""
    found, left = _chosen(columns)
    kind, channels = _kind(found, columns)
    time = _time(columns, layout)
    used = {time.position, *(found[name].position for name in channels)}
    units, partly = _units(channels, found, layout)
    marked = tuple(
        one if one.position in used else replace(one, channel=None, why=one.why or left.get(one.position, ""))
        for one in columns
    )
    return Headers(
        kind, time, {name: found[name] for name in channels}, units, marked, (*_notes(marked, kind), *partly)
    )


def _column(position: int, name: str, word: Word, layout: FileLayout) -> Column:
    if word.channel is None:
        return Column(position, name, None, why=word.why)
    group = TIME if word.channel == TIME else group_of(word.channel)
    counts = word.unit is not None and word.unit.lower() in COUNTS
    unit, told_by = unit_of(word), "header"
    if unit is None and word.unit is not None and not counts:
        unit = word.unit  # not known: refused when the column is used
    if unit is None:
        unit = layout.time_unit if group == TIME else layout.units.get(group)
        told_by = "declared" if unit is not None else ""
    if counts and group not in layout.scale:
        unit, told_by = None, ""  # a unit says nothing of counts without what one of them is
    own = word.own and not counts
    return Column(position, name, word.channel, unit, told_by, own, layout.scale.get(group, 1.0))


def _chosen(columns: tuple[Column, ...]) -> tuple[dict[str, Column], dict[int, str]]:
    """The column of each channel, and why others were left: a header of our own goes before any other spelling."""
    found: dict[str, Column] = {}
    left: dict[int, str] = {}
    for one in sorted(columns, key=lambda c: not c.own):
        if one.channel is None or one.channel == TIME:
            continue
        known = found.get(one.channel)
        if known is None:
            found[one.channel] = one
        elif known.own == one.own:
            what = (
                f"`{one.channel}`"
                if one.own
                else f"{one.channel}, `{known.header.strip()}` and `{one.header.strip()}`,"
            )
            raise Refusal(
                "repeated-column",
                f"The column {what} is there twice; keep one of them, or say with `columns` which is meant.",
                pointer_to(one.header),
            )
        else:
            left[one.position] = f"{one.channel} is read from `{known.header.strip()}`"
    return found, left


def _kind(found: dict[str, Column], columns: tuple[Column, ...]) -> tuple[str, list[str]]:
    imu = [name for name in IMU_CHANNELS if name in found]
    encoder = [name for name in ENCODER_CHANNELS if name in found]
    missing = [name for name in IMU_CHANNELS if name not in found]
    if imu and not missing:
        return "imu", imu + [name for name in encoder if name in BESIDE_IMU]
    if imu and not (encoder and not any(found[name].own for name in imu)):
        because = next((f" `{one.header.strip()}` was not taken: {one.why}." for one in columns if _not_force(one)), "")
        raise Refusal(
            "missing-axis",
            f"The file has {', '.join(imu)} and lacks {', '.join(missing)}; an imu recording has all six.{because}",
            pointer_to(missing[0]),
        )
    if encoder:
        return "encoder", encoder[:1]
    because = next((f" `{one.header.strip()}` was not taken: {one.why}." for one in columns if _not_force(one)), "")
    shown = ", ".join(one.header.strip()[:40] for one in columns[:20]) or "no header"
    raise Refusal(
        "missing-column",
        f"No column can be used; the file has {shown}. Name them t_s, t_ms or t_us, and {', '.join(IMU_CHANNELS)}, "
        f"or position, or velocity; or declare `columns`.{because}",
    )


def _not_force(column: Column) -> bool:
    return column.channel is None and bool(column.why)


def _time(columns: tuple[Column, ...], layout: FileLayout) -> Column:
    clocks = [one for one in columns if one.channel == TIME]
    own = [one for one in clocks if one.own]
    if len(own) > 1:
        names = [one.header.strip().lower().partition("[")[0].strip() for one in own]
        if len(set(names)) < len(names):
            raise Refusal(
                "repeated-column", f"The column `{names[0]}` is there twice; keep one of them.", pointer_to(names[0])
            )
        raise Refusal(
            "time-unclear", f"The file has {' and '.join(names)}; keep one time column.", pointer_to(names[-1])
        )
    if own:
        _check_own_clock(own[0])
    if clocks:
        clock = (own or sorted(clocks, key=lambda one: one.unit is None))[0]
        if clock.unit is not None and clock.unit not in UNITS[TIME]:
            choices = ", ".join(f"`{code}`" for code in UNITS[TIME])
            raise Refusal(
                "unknown-unit",
                f"`{clock.header.strip()}`: `{clock.unit[:40]}` is no unit of time; the choices are {choices}.",
                pointer_to(clock.header),
            )
        return clock
    if layout.rate_hz is not None:
        return Column(NO_COLUMN, f"{layout.rate_hz:g} Hz", TIME, "us", "declared")
    raise Refusal(
        "missing-column",
        "The file has no time column; name it t_s, t_ms or t_us, or declare `rate_hz` when samples come evenly.",
        pointer_to("t_us"),
    )


def _check_own_clock(column: Column) -> None:
    name, has_unit, rest = column.header.strip().partition("[")
    said = read_word(f"time[{rest}") if has_unit else None
    if said is not None and unit_of(said) != column.unit:
        raise Refusal(
            "unit-conflict",
            f"`{column.header.strip()}` says two units; `{name.strip().lower()}` is in `{column.unit}`.",
            pointer_to(column.header),
        )


def _units(
    channels: list[str], found: dict[str, Column], layout: FileLayout
) -> tuple[dict[str, str | None], list[str]]:
    """Group to UCUM code as headers and declaration tell it, None where neither does; refuses what does not agree.

    With it notes on groups of which only some columns tell their unit.
    """
    units: dict[str, str | None] = {}
    notes: list[str] = []
    for group in dict.fromkeys(group_of(name) for name in channels):
        members = [found[name] for name in channels if group_of(name) == group]
        told = [one for one in members if one.told_by == "header"]
        for one in told:
            check_unit(one.unit, group, pointer_to(one.header))
        first = told[0] if told else members[0]
        for one in members:
            if told and one.told_by == "header" and one.unit != first.unit:
                raise _conflict(one.header, f"is in `{one.unit}`", f"`{first.header.strip()}` says `{first.unit}`")
            if told and one.told_by != "header" and one.own and first.unit != SI[group]:
                read_in = f"names no unit, so it is read in `{SI[group]}`,"
                raise _conflict(one.header, read_in, f"`{first.header.strip()}` says `{first.unit}`")
        declared = layout.units.get(group)
        if told and declared not in (None, first.unit):
            raise _conflict(first.header, f"is in `{first.unit}`", f"the declared units say `{declared}`")
        units[group] = first.unit
        if told and len(told) < len(members):
            notes.append(f"No unit was given for {group}: read as {first.unit}.")
    return units, notes


def _conflict(header: str, one: str, other: str) -> Refusal:
    return Refusal("unit-conflict", f"`{header.strip()}` {one} but {other}; make them the same.", pointer_to(header))


def _notes(columns: tuple[Column, ...], kind: str) -> Iterable[str]:
    left = [one for one in columns if one.channel is None and one.header.strip()]
    said = {one.position: read_word(one.header).channel for one in left}
    plain = [one.header.strip()[:40] for one in left if said[one.position] is None and not one.why]
    if plain:
        yield f"Columns left out: {', '.join(plain[:20])}."
    for one in left:
        channel = said[one.position]
        if one.why:
            yield f"The column {one.header.strip()[:40]} was left out: {one.why}."
        elif channel == "velocity" and kind == "imu":
            yield f"The column {one.header.strip()[:40]} was left out: the recording is that of the imu."
        elif channel == "velocity":
            yield f"The column {one.header.strip()[:40]} was left out: velocity is found from position."
        elif channel == TIME:
            yield f"The column {one.header.strip()[:40]} was left out: another column is read as the clock."
        elif channel is not None:
            yield f"The column {one.header.strip()[:40]} was left out."
