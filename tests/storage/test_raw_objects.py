from __future__ import annotations

import hashlib

import numpy as np
import pytest

from barwright.analysis.reps.results import RepPath
from barwright.storage.ids import new_id
from barwright.storage.path_columns import pack_path, unpack_path
from barwright.storage.raw_objects import DamagedObjectError, RawObjects, StoredObject


def test_an_object_comes_back_as_it_was_written(tmp_path):
    raw = RawObjects(tmp_path / "raw")
    stored = raw.put("str_1", b"samples")
    assert stored.digest == hashlib.sha256(b"samples").hexdigest()
    assert raw.get(stored) == b"samples"
    assert [path.name for path in (tmp_path / "raw").iterdir()] == [stored.name]


def test_writing_the_same_again_is_the_same_object(tmp_path):
    raw = RawObjects(tmp_path)
    assert raw.put("str_1", b"a") == raw.put("str_1", b"a")
    assert raw.put("str_1", b"b").name != raw.put("str_1", b"a").name
    assert raw.put("str_2", b"a").name != raw.put("str_1", b"a").name


def test_damage_is_noticed(tmp_path):
    raw = RawObjects(tmp_path)
    stored = raw.put("str_1", b"samples")
    (tmp_path / stored.name).write_bytes(b"sampleZ")
    with pytest.raises(DamagedObjectError, match="not what was written"):
        raw.get(stored)
    raw.delete([stored.name])
    with pytest.raises(DamagedObjectError, match="gone"):
        raw.get(stored)
    raw.delete([stored.name])


def test_a_failed_write_leaves_no_object_under_its_name(tmp_path, monkeypatch):
    raw = RawObjects(tmp_path)
    monkeypatch.setattr("os.fsync", lambda _: (_ for _ in ()).throw(OSError("disk full")))
    with pytest.raises(OSError, match="disk full"):
        raw.put("str_1", b"samples")
    assert not list(tmp_path.glob("*.bwb"))


def test_what_no_stream_knows_is_cleared_away(tmp_path):
    raw = RawObjects(tmp_path)
    known = raw.put("str_1", b"a")
    left = raw.put("str_2", b"b")
    (tmp_path / "half.tmp").write_bytes(b"x")
    assert raw.keep_only(frozenset({known.name})) == sorted(["half.tmp", left.name])
    assert raw.get(known) == b"a"


def test_the_folder_is_checked(tmp_path):
    raw = RawObjects(tmp_path / "raw")
    raw.check()
    (tmp_path / "raw").rmdir()
    with pytest.raises(OSError, match="No such"):
        raw.check()


def test_an_object_that_never_was(tmp_path):
    with pytest.raises(DamagedObjectError):
        RawObjects(tmp_path).get(StoredObject("none", ""))


@pytest.mark.parametrize("horizontal", [True, False])
def test_a_path_comes_back_bit_by_bit(horizontal):
    columns = np.random.default_rng(3).normal(size=(9, 400))
    names = ["t_s", "z_m", "vz", "az", "u_z", "u_vz", *(["x_m", "vx", "u_x"] if horizontal else [])]
    path = RepPath(**dict(zip(names, columns, strict=False)))
    back = unpack_path(pack_path(path))
    for name in ("t_s", "z_m", "vz", "az", "u_z", "u_vz", "x_m", "vx", "u_x"):
        sent, got = getattr(path, name), getattr(back, name)
        assert (got is None) if sent is None else np.array_equal(got, sent)


def test_ids_are_short_and_never_the_same():
    ids = {new_id("ath") for _ in range(1000)}
    assert len(ids) == 1000
    assert all(len(one) <= 24 and one.startswith("ath_") for one in ids)
