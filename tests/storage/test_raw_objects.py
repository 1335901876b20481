from __future__ import annotations

import errno
import hashlib
import os
from datetime import timedelta

import numpy as np
import pytest

from barwright.analysis.reps.results import RepPath
from barwright.storage.ids import new_id
from barwright.storage.path_columns import pack_path, unpack_path
from barwright.storage.raw_folder import RawFolder
from barwright.storage.raw_objects import DamagedObjectError, StoredObject, clear_left_overs, open_raw
from barwright.storage.sessions import StorageFullError, StorageUnavailableError
from barwright.workflows.parts import utc_now

pytestmark = pytest.mark.xdist_group("bucket")


@pytest.fixture(params=["folder", "bucket"])
def raw(request, tmp_path):
    """The same promises of both stores."""
    return open_raw(str(tmp_path / "raw") if request.param == "folder" else request.getfixturevalue("bucket"))


def test_an_object_comes_back_as_it_was_written(raw):
    content = os.urandom(300_000)
    stored = raw.put("str_1", content)
    assert stored.digest == hashlib.sha256(content).hexdigest()
    assert raw.get(stored) == content
    (listed,) = raw.all()
    assert (listed.name, listed.size) == (stored.name, len(content))
    assert abs(listed.written_at - utc_now()) < timedelta(minutes=1)


def test_writing_the_same_again_is_the_same_object(raw):
    assert raw.put("str_1", b"a") == raw.put("str_1", b"a")
    assert raw.put("str_1", b"b").name != raw.put("str_1", b"a").name
    assert raw.put("str_2", b"a").name != raw.put("str_1", b"a").name
    assert len(raw.all()) == 3


def test_other_content_under_the_name_is_noticed_on_reading(raw):
    stored = raw.put("str_1", b"samples")
    with pytest.raises(DamagedObjectError, match="not what was written"):
        raw.get(StoredObject(stored.name, hashlib.sha256(b"sampleZ").hexdigest()))
    raw.delete([stored.name])
    with pytest.raises(DamagedObjectError, match="gone"):
        raw.get(stored)
    raw.delete([stored.name])


def test_a_changed_file_is_noticed(tmp_path):
    raw = RawFolder(tmp_path)
    stored = raw.put("str_1", b"samples")
    (tmp_path / stored.name).write_bytes(b"sampleZ")
    with pytest.raises(DamagedObjectError, match="not what was written"):
        raw.get(stored)


@pytest.mark.parametrize(("number", "kind"), [(errno.ENOSPC, StorageFullError), (errno.EROFS, StorageUnavailableError)])
def test_a_failed_write_leaves_nothing_behind(tmp_path, monkeypatch, number, kind):
    raw = RawFolder(tmp_path)

    def fail(_):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr("os.fsync", fail)
    with pytest.raises(StorageUnavailableError) as raised:
        raw.put("str_1", b"samples")
    assert type(raised.value) is kind
    assert not list(tmp_path.iterdir())


def test_what_no_stream_knows_is_cleared_away(raw):
    known = raw.put("str_1", b"a")
    left = raw.put("str_2", b"b")
    assert clear_left_overs(raw, frozenset({known.name}), utc_now() - timedelta(hours=1)) == []
    assert clear_left_overs(raw, frozenset({known.name})) == [left.name]
    assert [one.name for one in raw.all()] == [known.name]
    assert raw.get(known) == b"a"


def test_half_written_files_are_cleared_away_too(tmp_path):
    raw = RawFolder(tmp_path)
    (tmp_path / "half.tmp").write_bytes(b"x")
    assert clear_left_overs(raw, frozenset()) == ["half.tmp"]


def test_many_are_deleted_at_once(raw):
    names = [raw.put(f"str_{n}", b"x").name for n in range(20)]
    raw.delete([*names[:15], "never_was.bwb"])
    assert [one.name for one in raw.all()] == sorted(names[15:])


def test_the_store_is_checked_and_the_check_leaves_no_object(raw):
    raw.check()
    assert raw.all() == []


def test_a_folder_that_is_gone_and_a_bucket_that_never_was_are_not_available(tmp_path, bucket):
    folder = open_raw(str(tmp_path / "raw"))
    (tmp_path / "raw").rmdir()
    for raw in (folder, open_raw("s3://never-was/x")):
        with pytest.raises(StorageUnavailableError):
            raw.check()
        with pytest.raises(StorageUnavailableError):
            raw.put("str_1", b"x")
    with pytest.raises(StorageUnavailableError, match="no such bucket"):  # and no object is said to be gone
        open_raw("s3://never-was/x").get(StoredObject("none", ""))


def test_an_unreachable_object_store_is_not_available(bucket, monkeypatch):
    monkeypatch.setenv("AWS_ENDPOINT_URL", "http://127.0.0.1:9")
    with pytest.raises(StorageUnavailableError, match=r"^the object store: .{10,300}$"):
        open_raw(bucket).get(StoredObject("none", ""))


def test_an_object_that_never_was(raw):
    with pytest.raises(DamagedObjectError):
        raw.get(StoredObject("none", ""))


@pytest.mark.parametrize("where", ["gs://bucket/x", "s3://", "https://bucket"])
def test_a_place_that_is_neither(where):
    with pytest.raises(ValueError, match=r"write a folder or s3://|write s3://"):
        open_raw(where)


def test_two_prefixes_of_one_bucket_do_not_meet(bucket):
    one, other = open_raw(bucket + "/one"), open_raw(bucket + "/other")
    one.put("str_1", b"x")
    assert other.all() == []
    assert len(open_raw(bucket).all()) == 1


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
