"""Sensor Measurement Lists (SenML, RFC 8428) in JSON and CBOR: packs to resolved records, records to columns."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from barwright.ingest.columns import kind_of
from barwright.ingest.refusals import Refusal, pointer_to
from barwright.ingest.tables.header_words import read_word

JSON_TYPE, CBOR_TYPE = "application/senml+json", "application/senml+cbor"
VERSION = 10  # RFC 8428, section 4.4: the version in which nothing is said of it
MOST_RECORDS = 300_000
# RFC 8428, section 6, table 4: labels of CBOR.
_LABELS = {
    -1: "bver", -2: "bn", -3: "bt", -4: "bu", -5: "bv", -6: "bs",
    0: "n", 1: "u", 2: "v", 3: "vs", 4: "vb", 5: "s", 6: "t", 7: "ut", 8: "vd",
}  # fmt: skip
_KNOWN = frozenset(_LABELS.values())
_NUMBERS = ("bt", "bv", "bs", "v", "s", "t", "ut", "bver")
_TEXTS = ("bn", "bu", "n", "u", "vs")
_VALUES = ("v", "vs", "vb", "vd")
_NAME_LETTERS = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-:./_")


@dataclass(frozen=True, slots=True)
class Record:
    """One record as RFC 8428, section 4.6 resolves it: no base fields any more.

    value: number, text, truth or data (bytes in CBOR, base64url text in JSON), None when only a sum was sent. time: in
    seconds, absolute from 2**28 on, else relative to now. sum: None when none was sent. update: seconds, or None.
    """

    name: str
    unit: str | None
    value: float | str | bool | bytes | None
    time: float
    sum: float | None = None
    update: float | None = None


def is_pack(members: Any) -> bool:
    """Whether plain values look like a SenML pack and not like anything else that comes as a list."""
    if not isinstance(members, list) or not members or not isinstance(members[0], dict):
        return False
    first = members[0]
    if any(isinstance(name, int) for name in first):
        return True
    return bool({"n", "bn"} & first.keys()) and bool({"v", "vs", "vb", "vd", "s", "bv", "bt", "bu"} & first.keys())


def resolve(pack: Any) -> list[Record]:
    """The records of a pack, resolved. Raises Refusal, and nothing else, for what is no SenML.

    Base values and base sums are added, base units and names carried on, as sections 4.1 to 4.3 and 4.6 say. A label
    that ends in `_` and is not known refuses the pack (section 4.4); others not known are passed over.
    """
    if not isinstance(pack, list):
        raise Refusal("bad-member", f"A SenML pack is an array of records; this is {kind_of(pack)}.", "")
    if not pack:
        raise Refusal("no-samples", "The SenML pack has no record.", "")
    if len(pack) > MOST_RECORDS:
        raise Refusal("too-many-samples", f"The SenML pack has {len(pack)} records; the limit is {MOST_RECORDS}.", "")
    records: list[Record] = []
    base: dict[str, Any] = {"bn": "", "bt": 0.0, "bu": None, "bv": None, "bs": None, "bver": None}
    for place, given in enumerate(pack):
        one = _members(given, place)
        if one.get("bver", base["bver"] or VERSION) != (base["bver"] or one.get("bver", VERSION)):
            raise Refusal("bad-member", "`bver` changes within the pack; one pack has one version.", pointer_to(place))
        base.update({name: value for name, value in one.items() if name in base})
        if base["bver"] is not None and base["bver"] > VERSION:
            raise Refusal(
                "bad-member",
                f"The pack is SenML version {base['bver']:g}; versions up to {VERSION} are understood.",
                pointer_to(place, "bver"),
            )
        record = _record(one, base, place)
        if record is not None:
            records.append(record)
    if not records:
        raise Refusal("no-samples", "The SenML pack has base values and no record.", "")
    return records


def columns_of(records: list[Record]) -> dict[str, Any]:
    """Records as the columns of a table: `t_s`, and one `name[unit]` per channel, all at the same times.

    A record's channel is what stands behind the last `:` or `/` of its name; names that say no channel are left out.
    Raises Refusal when the channels do not have the same times.
    """
    found: dict[str, tuple[str | None, list[float], list[float]]] = {}
    for place, record in enumerate(records):
        tail = tail_of(record.name)
        if read_word(tail).channel is None or type(record.value) not in (int, float):
            continue
        if record.unit == "g":
            raise Refusal(
                "unknown-unit",
                f"`g` of `{tail[:40]}` is the gram in SenML; send m/s2, or `[g]` for standard gravity.",
                pointer_to(place, "u"),
            )
        unit, times, values = found.setdefault(tail, (record.unit, [], []))
        if unit != record.unit:
            raise Refusal(
                "unit-conflict", f"`{tail}` changes its unit from `{unit}` to `{record.unit}`.", f"/{place}/u"
            )
        times.append(record.time)
        values.append(float(record.value))  # type: ignore[arg-type]  # a number, as was just seen
    if not found:
        shown = ", ".join(dict.fromkeys(tail_of(one.name)[:40] for one in records[:20]))
        raise Refusal(
            "missing-column",
            f"No record can be used; their names end in {shown or 'nothing'}. Name them accel_x to gyro_z, position or "
            "velocity behind the base name, such as urn:dev:mac:0024befffe804ff1:accel_x.",
        )
    first, (_, times, _) = next(iter(found.items()))
    for name, (_, others, _) in found.items():
        if others != times:
            raise Refusal(
                "unequal-columns",
                f"`{name}` has {len(others)} records and `{first}` {len(times)}, or other times; every sample needs "
                "one record per channel with the same time.",
            )
    order = sorted(range(len(times)), key=times.__getitem__)
    columns: dict[str, Any] = {"t_s": [times[i] for i in order]}
    for name, (unit, _, values) in found.items():
        columns[name if unit is None else f"{name}[{unit}]"] = [values[i] for i in order]
    return columns


def tail_of(name: str) -> str:
    """The part of a name behind its last `:` or `/`."""
    return name.replace("/", ":").rpartition(":")[2]


def _members(given: Any, place: int) -> dict[str, Any]:
    if not isinstance(given, dict):
        raise Refusal("bad-member", f"Record {place} is {kind_of(given)}; it has to be an object.", pointer_to(place))
    one: dict[str, Any] = {}
    for label, value in given.items():
        name = _LABELS.get(label, str(label)) if type(label) is int else str(label)
        if name not in _KNOWN:
            if name.endswith("_"):
                raise Refusal(
                    "unknown-member",
                    f"Record {place} has `{name[:40]}`, which has to be understood (RFC 8428, section 4.4) and is not.",
                    pointer_to(place, name),
                )
            continue
        if name in _NUMBERS and (type(value) not in (int, float) or not math.isfinite(value)):
            raise Refusal(
                "not-a-number", f"`{name}` of record {place} is {kind_of(value)}; it has to be a number.",
                pointer_to(place, name),
            )  # fmt: skip
        if name in _TEXTS and not isinstance(value, str):
            raise Refusal(
                "bad-member", f"`{name}` of record {place} is {kind_of(value)}; it has to be text.",
                pointer_to(place, name),
            )  # fmt: skip
        one[name] = value
    return one


def _record(one: dict[str, Any], base: dict[str, Any], place: int) -> Record | None:
    sent = [name for name in _VALUES if name in one]
    if len(sent) > 1:
        raise Refusal(
            "bad-member", f"Record {place} has {' and '.join(sent)}; a record has one value.", pointer_to(place)
        )
    if not sent and "s" not in one and base["bs"] is None and base["bv"] is None:
        if one.keys() & base.keys():
            return None  # base values for the records that follow
        raise Refusal("missing-member", f"Record {place} has neither a value nor a sum.", pointer_to(place))
    if not sent and "s" not in one and not one.keys() - base.keys():
        return None
    name = base["bn"] + one.get("n", "")
    if not name or not name[0].isalnum() or not _NAME_LETTERS.issuperset(name):
        raise Refusal(
            "bad-member",
            f"The name {name[:60]!r} of record {place} is none of RFC 8428, section 4.5.1: letters, digits and -:./_ "
            "only, a letter or digit first.",
            pointer_to(place, "n"),
        )
    value = one.get(sent[0]) if sent else None
    if "v" in one or (not sent and base["bv"] is not None):
        value = float(one.get("v", 0.0)) + (base["bv"] or 0.0)
    total = None
    if "s" in one or base["bs"] is not None:
        total = float(one.get("s", 0.0)) + (base["bs"] or 0.0)
    return Record(name, one.get("u", base["bu"]), value, base["bt"] + one.get("t", 0.0), total, one.get("ut"))
