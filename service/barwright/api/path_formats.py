"""A rep's path as JSON, CBOR or CSV."""

from __future__ import annotations

import cbor2
import msgspec
import numpy as np
from fastapi import Response
from numpy.typing import NDArray

from barwright.api.accept import CBOR, CSV, JSON, best_format
from barwright.ingest.typed_arrays import tag_of_array
from barwright.workflows.read_results import KnownPath

UNITS = {
    "t_s": "s",
    "x_m": "m",
    "z_m": "m",
    "vx": "m/s",
    "vz": "m/s",
    "az": "m/s2",
    "u_x": "m",
    "u_z": "m",
    "u_vz": "m/s",
}
_NO_FORWARD = "The samples do not show how the bar moved forward and back."

Columns = dict[str, NDArray[np.float64] | None]


def path_answer(accept: str, set_id: str, index: int, known: KnownPath) -> Response:
    """The path in the best format the Accept header names. Raises Cannot when it names none that can be given."""
    columns: Columns = {name: getattr(known.path, name) for name in UNITS}
    media_type = best_format(accept, (JSON, CBOR, CSV))
    headers = {"Vary": "Accept"}
    if media_type == CSV:
        return Response(_csv(columns), headers=headers, media_type="text/csv; charset=utf-8; header=present")
    head: dict[str, object] = {"set_id": set_id, "index": index, "units": UNITS, "forward_known": known.forward_known}
    if any(column is None for column in columns.values()):
        head["reason"] = _NO_FORWARD
    if media_type == CBOR:
        typed = {n: None if c is None else tag_of_array(c.astype("<f8")) for n, c in columns.items()}
        return Response(cbor2.dumps({**head, **typed}), headers=headers, media_type=media_type)
    plain = {name: None if column is None else column.tolist() for name, column in columns.items()}
    return Response(msgspec.json.encode({**head, **plain}), headers=headers, media_type=media_type)


def _csv(columns: Columns) -> str:
    lines = [",".join(columns)]
    count = max(len(column) for column in columns.values() if column is not None)
    texts = [[""] * count if column is None else [repr(float(v)) for v in column] for column in columns.values()]
    lines += [",".join(row) for row in zip(*texts, strict=True)]
    return "\r\n".join(lines) + "\r\n"
