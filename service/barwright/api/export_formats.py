"""Everything of one athlete as one JSON or CBOR document, made piece by piece."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from typing import Any

import cbor2
import msgspec

from barwright.api.accept import CBOR, JSON, best_format
from barwright.api.shapes.athletes import AthleteAnswer
from barwright.api.shapes.base import Answer
from barwright.api.shapes.maxima import KeptMaximum, ToldSetAnswer
from barwright.api.shapes.plans import KeptDecision, PlanAnswer
from barwright.api.shapes.sets import SetAnswer
from barwright.api.shapes.streams import StreamAnswer
from barwright.ingest.block import Block, Floats, Ints
from barwright.ingest.typed_arrays import tag_of_array
from barwright.workflows.forget_athlete import EverythingOfStream, Training

ZIP = "application/zip"
Column = Callable[[Floats | Ints], Any]


def export_format(accept: str) -> str:
    """application/json, application/cbor or application/zip. Raises Cannot when Accept names none of them."""
    return best_format(accept, (JSON, CBOR, ZIP))


def export_document(
    media_type: str, athlete: AthleteAnswer, training: Training, streams: Iterator[EverythingOfStream]
) -> Iterator[bytes]:
    """The athlete's facts, what was told of the training, and every stream: blocks as they were sent, and its set."""
    told = _told(training)
    if media_type == CBOR:
        return _cbor(athlete, told, streams)
    return _json(athlete, told, streams)


def _json(athlete: AthleteAnswer, told: dict[str, Any], streams: Iterator[EverythingOfStream]) -> Iterator[bytes]:
    yield b'{"athlete":' + athlete.model_dump_json().encode()
    for name, items in told.items():
        yield b',"' + name.encode() + b'":' + msgspec.json.encode(items)
    yield b',"streams":['
    for number, one in enumerate(streams):
        yield (b"," if number else b"") + msgspec.json.encode(_members(one, lambda column: column.tolist()))
    yield b"]}"


def _cbor(athlete: AthleteAnswer, told: dict[str, Any], streams: Iterator[EverythingOfStream]) -> Iterator[bytes]:
    """A map of few members, the last an array of unknown length (RFC 8949, 3.2.2)."""
    facts = {"athlete": json.loads(athlete.model_dump_json()), **told}
    yield bytes([0xA0 + len(facts) + 1])
    for name, value in facts.items():
        yield cbor2.dumps(name) + cbor2.dumps(value)
    yield cbor2.dumps("streams") + b"\x9f"
    for one in streams:
        yield cbor2.dumps(_members(one, _typed))
    yield b"\xff"


def _told(training: Training) -> dict[str, Any]:
    """Members beside the streams, as plain JSON values."""
    lists: dict[str, list[Answer]] = {
        "maxima": [KeptMaximum.of(one) for one in training.maxima],
        "history": [ToldSetAnswer.of(one) for one in training.told_sets],
        "plans": [PlanAnswer.of(one) for one in training.plans],
        "decisions": [KeptDecision.of(one) for one in training.decisions],
    }
    return {name: [one.model_dump(mode="json") for one in items] for name, items in lists.items()}


def _typed(column: Floats | Ints) -> cbor2.CBORTag:
    return tag_of_array(column.astype("<i8" if column.dtype.kind == "i" else "<f8"))


def _members(one: EverythingOfStream, column: Column) -> dict[str, Any]:
    return {
        "stream": json.loads(StreamAnswer.of(one.stream).model_dump_json()),
        "set": json.loads(SetAnswer.of(one.lift_set).model_dump_json()),
        "blocks": [_block(block, column) for block in one.blocks],
        "raw_lost": one.lost,
    }


def _block(block: Block, column: Column) -> dict[str, Any]:
    return {
        "boot": block.boot,
        "seq": block.seq,
        "t_us": column(block.t_us),
        "channels": {name: column(values) for name, values in block.channels.items()},
    }
