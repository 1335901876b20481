"""Blocks that tell their own units: SenML packs and int16, as members in the units their stream declared."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from barwright.analysis.quantities.units import factor_to_si
from barwright.ingest import int16, senml
from barwright.ingest.declared_units import QUANTITY_OF, check_unit, group_of
from barwright.ingest.file_layout import layout_of
from barwright.ingest.limits import Limits
from barwright.ingest.refusals import Refusal
from barwright.ingest.tables.header_words import TIME, read_word

_BLOCK_MEMBERS = ("boot", "seq", "t0_us", "dt_us", "sent_at", "buffered")


def block_of_pack(pack: Any, declared: Mapping[str, str]) -> dict[str, Any]:
    """The members of a block in a SenML pack: records named `boot` and `seq` tell which block it is.

    declared: the stream's units. Raises Refusal.
    """
    records = senml.resolve(pack)
    told = {senml.tail_of(one.name): one.value for one in records if senml.tail_of(one.name) in ("boot", "seq")}
    columns = senml.columns_of([one for one in records if senml.tail_of(one.name) not in ("boot", "seq")])
    times = np.rint(np.array(columns.pop("t_s")) * 1e6)
    channels = {}
    for name, values in columns.items():
        word = read_word(name)
        if word.channel is not None and word.channel != TIME:
            channels[word.channel] = _converted(np.array(values), word.channel, word.unit, declared)
    return {**told, "t_us": times, "channels": channels}


def block_of_int16(body: bytes, declared: Mapping[str, str], limits: Limits) -> dict[str, Any]:
    """The members of a block in an int16 body; its head has to tell columns, scale and which block it is.

    declared: the stream's units, which the head's own go before. Raises Refusal.
    """
    head, raw = int16.split_head(body, limits)
    layout = layout_of({name: head[name] for name in ("columns", "scale", "units", "rate_hz") if name in head}, limits)
    table = int16.Int16Table(raw, layout.columns)
    channels = {}
    for name, counts in zip(table.headers, table.read(list(range(len(table.headers)))), strict=True):
        if not name:
            continue
        if name in channels:
            raise Refusal("repeated-column", f"`{name[:40]}` is named twice in `columns`; name each once.", "/columns")
        group = group_of(name)
        if group in QUANTITY_OF and group not in layout.scale:
            raise Refusal(
                "missing-member",
                f"The head of the int16 body has no `scale` for `{group}`: what one count is, in the unit of {group}.",
                "/scale",
            )
        values = counts * layout.scale.get(group, 1.0)
        channels[name] = _converted(values, name, layout.units.get(group), declared)
    members = {name: head[name] for name in _BLOCK_MEMBERS if name in head}
    if layout.rate_hz is not None and "dt_us" not in members:
        members["dt_us"] = 1e6 / layout.rate_hz
    return {**members, "channels": channels}


def _converted(values: np.ndarray, channel: str, unit: str | None, declared: Mapping[str, str]) -> np.ndarray:
    """Values in the stream's unit, given in `unit`; as they are where either of the two is not told."""
    group = group_of(channel)
    if unit is None or group not in QUANTITY_OF:
        return values
    check_unit(unit, group, None)
    wanted = declared.get(group)
    if wanted is None or wanted == unit:
        return values
    return np.asarray(values * (factor_to_si(unit, QUANTITY_OF[group]) / factor_to_si(wanted, QUANTITY_OF[group])))
