"""Paths and documents come back from the database as they went in."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from sqlalchemy.exc import StatementError

from barwright.analysis.reps.results import RepPath
from barwright.storage.path_columns import pack_path, unpack_path
from barwright.storage.tables import DeviceRow

COLUMN = arrays(np.float64, 7, elements=st.floats(allow_nan=False, allow_infinity=False))


@given(st.lists(COLUMN, min_size=9, max_size=9), st.booleans())
def test_every_bit_of_a_path_comes_back(columns, horizontal):
    path = RepPath(*columns[:6], *(columns[6:] if horizontal else (None, None, None)))
    back = unpack_path(pack_path(path))
    for field in dataclasses.fields(RepPath):
        before, after = getattr(path, field.name), getattr(back, field.name)
        assert (before is None) == (after is None)
        assert before is None or before.tobytes() == after.tobytes()


@pytest.mark.parametrize("number", [float("nan"), float("inf")])
def test_a_document_never_holds_what_json_cannot(database, number):
    # SQLAlchemy writes JSON for SQLite, the driver of PostgreSQL does so by itself
    with pytest.raises((StatementError, ValueError), match="not JSON compliant"), database.writing() as session:
        session.add(DeviceRow(id="d", club_id="c", name="bar", kind="imu", mounting={}, ranges={"accel": number}))
