"""Every method of the client: what it sends and how it reads the answer."""

from __future__ import annotations

import io
import json
import struct
from datetime import UTC, datetime
from email import message_from_bytes
from email.message import Message
from pathlib import Path
from typing import Any

import cbor2
import httpx
import pytest

from barwright_client import Athlete, Client, Device, SetResult
from sdk.scripted import KEY, URL, client_of, good, problem

ATHLETE = {"id": "ath_1", "name": "Imke", "birth_year": 1999, "level": "advanced", "shoe_size": 39}
DEVICE = {
    "id": "dev_1",
    "name": "bar sensor",
    "kind": "imu",
    "mounting": {"bar_axis": [1, 0, 0], "place": "shaft"},
    "class": "good",
    "ranges": {"accel": 156.9},
}
FIGURE = {"value": 1.8234, "u": 0.0081, "unit": "m/s"}
SET = {
    "id": "set_1",
    "state": "analysed",
    "lift": "snatch",
    "load_kg": 60,
    "athlete_id": "ath_1",
    "athlete": "Imke",
    "device_id": "dev_1",
    "stream_id": "str_1",
    "started_at": "2026-03-02T17:00:00Z",
    "revision": 2,
    "method": "barwright-1",
    "quality": {
        "verdict": "good",
        "words": ["200 Hz, no gaps"],
        "samples": 2000,
        "duration_s": 10.0,
        "rate_hz": 200.0,
        "jitter_s": 1e-5,
        "gaps": [[1.0, 1.5]],
        "clipped_s": 0.0,
        "rests": [[0.0, 2.0]],
        "forward_known": True,
        "horizontal": True,
        "mood": "new member",
    },
    "reps": [
        {
            "index": 1,
            "outcome": "made",
            "start_s": 2.0,
            "stop_s": 5.0,
            "measures": {
                "peak_velocity": FIGURE,
                "drop_to_catch": {"value": None, "u": None, "unit": "m", "reason": "x"},
            },
            "phases": [{"phase": "first_pull", "start_s": 2.0, "stop_s": 2.5, "sure": 0.9}],
            "path_measures": {"rearmost": {"value": -0.061, "u": 0.011, "unit": "m"}},
            "notes": [],
        }
    ],
    "notes": [],
}
AT = datetime(2026, 3, 2, 17, tzinfo=UTC)


def parts_of(request: httpx.Request) -> dict[str, Message]:
    """The parts of a form by name, read by the standard library's MIME parser."""
    head = f"Content-Type: {request.headers['content-type']}\r\n\r\n".encode()
    whole = message_from_bytes(head + request.content)
    return {str(part.get_param("name", header="content-disposition")): part for part in whole.get_payload()}  # type: ignore[union-attr,misc]


def payload(part: Message) -> bytes:
    content = part.get_payload(decode=True)
    assert isinstance(content, bytes)
    return content


def test_every_request_says_who_calls_and_what_it_wants() -> None:
    client, service = client_of(good({"block_bytes": 8388608}))
    assert client.limits() == {"block_bytes": 8388608}
    assert str(service.last.url) == f"{URL}/v1/limits"
    assert service.last.headers["authorization"] == f"Bearer {KEY}"
    assert service.last.headers["accept"] == "application/json"
    assert "idempotency-key" not in service.last.headers


def test_create_athlete() -> None:
    client, service = client_of(good(ATHLETE, 201))
    athlete = client.create_athlete("Imke", birth_year=1999, level="advanced")
    assert athlete == Athlete("ath_1", "Imke", birth_year=1999, level="advanced")
    assert (service.last.method, service.last.url.path) == ("POST", "/v1/athletes")
    assert service.sent() == {"name": "Imke", "birth_year": 1999, "level": "advanced"}
    assert service.last.headers["idempotency-key"]


def test_lists_are_read_page_by_page_and_only_when_needed() -> None:
    pages = [
        {"items": [ATHLETE], "next": "c1"},
        {"items": [], "next": "c 2&"},
        {"items": [{**ATHLETE, "id": "ath_2"}], "next": None},
    ]
    client, service = client_of(*(good(page) for page in pages))
    found = client.athletes()
    assert service.requests == []
    assert next(found).id == "ath_1"
    assert len(service.requests) == 1
    assert [each.id for each in found] == ["ath_2"]
    assert [request.url.params.get("cursor") for request in service.requests] == [None, "c1", "c 2&"]


def test_a_cursor_that_does_not_move_ends_the_list() -> None:
    client, _ = client_of(*(good({"items": [ATHLETE], "next": "same"}) for _ in range(2)))
    assert len(list(client.athletes())) == 2


def test_delete_and_export_athlete() -> None:
    client, service = client_of(good({"rows": {"athlete": 1}}), good({"athlete": ATHLETE}))
    assert client.delete_athlete("ath/1")["rows"] == {"athlete": 1}
    assert (service.last.method, service.last.url.raw_path) == ("DELETE", b"/v1/athletes/ath%2F1")
    assert client.export_athlete(Athlete("ath_1", "Imke"))["athlete"]["name"] == "Imke"
    assert service.last.url.path == "/v1/athletes/ath_1/export"
    client, service = client_of(httpx.Response(200, content=b"PK", headers={"Content-Type": "application/zip"}))
    assert client.export_athlete_zip("ath_1") == b"PK"
    assert service.last.headers["accept"] == "application/zip"


def test_devices() -> None:
    client, service = client_of(good(DEVICE, 201), good({"items": [DEVICE], "next": None}))
    device = client.create_device(
        "bar sensor", kind="imu", bar_axis=(1, 0, 0), device_class="good", ranges={"accel": 156.9}
    )
    assert service.sent() == {
        "name": "bar sensor",
        "kind": "imu",
        "mounting": {"bar_axis": [1.0, 0.0, 0.0], "place": "shaft"},
        "class": "good",
        "ranges": {"accel": 156.9},
    }
    assert device == Device(
        "dev_1", "bar sensor", "imu", {"bar_axis": [1, 0, 0], "place": "shaft"}, "good", {"accel": 156.9}
    )
    assert list(client.devices()) == [device]


def test_encoder_mounting() -> None:
    client, service = client_of(good({**DEVICE, "kind": "encoder"}, 201))
    client.create_device("string", kind="encoder", anchor_offset_m=0.3)
    assert service.sent()["mounting"] == {"place": "shaft", "anchor_offset_m": 0.3}


def test_record_a_file(tmp_path: Path) -> None:
    file = tmp_path / "set.csv"
    file.write_bytes(b"t_s,position[m]\r\n0,0\r\n" * 20000)
    told: list[tuple[int, int]] = []
    client, service = client_of(problem(503), good(SET, 201))
    result = client.record(
        file,
        lift="snatch",
        load_kg=60,
        athlete="Imke",
        device=Device("dev_1", "bar sensor", "imu"),
        bar_axis="+x",
        units={"accel": "[g]"},
        started_at=AT,
        progress=lambda sent, total: told.append((sent, total)),
    )
    assert result.id == "set_1"
    assert (service.last.method, service.last.url.path) == ("POST", "/v1/recordings")
    assert service.last.headers["content-length"] == str(len(service.last.content))
    assert "transfer-encoding" not in service.last.headers
    assert service.requests[0].headers["idempotency-key"] == service.last.headers["idempotency-key"]
    assert service.requests[0].content == service.last.content
    parts = parts_of(service.last)
    assert json.loads(payload(parts["meta"])) == {
        "lift": "snatch",
        "load_kg": 60,
        "athlete": "Imke",
        "device_id": "dev_1",
        "bar_axis": "+x",
        "units": {"accel": "[g]"},
        "started_at": "2026-03-02T17:00:00+00:00",
    }
    assert parts["file"].get_filename() == "set.csv"
    assert parts["file"].get_content_type() == "text/csv"
    assert payload(parts["file"]) == file.read_bytes()
    half = len(told) // 2
    assert told[:half] == told[half:], "the second try tells the same progress again"
    assert told[-1] == (file.stat().st_size, file.stat().st_size)
    assert len(told[:half]) > 2


@pytest.mark.parametrize(
    ("name", "media_type"),
    [
        ("a.csv", "text/csv"),
        ("a.PARQUET", "application/vnd.apache.parquet"),
        ("a.cbor", "application/cbor"),
        ("a.json", "application/json"),
        ("a.bin", "application/octet-stream"),
    ],
)
def test_the_media_type_comes_from_the_name(name: str, media_type: str) -> None:
    client, service = client_of(good(SET, 201))
    client.record(b"\x00\x01", lift="snatch", load_kg=60, athlete="Imke", device="d", file_name=name)
    part = parts_of(service.last)["file"]
    assert (part.get_content_type(), payload(part)) == (media_type, b"\x00\x01")


def test_record_an_open_file_and_names_that_need_care() -> None:
    client, service = client_of(good(SET, 201))
    client.record(io.BytesIO(b"x"), lift="snatch", load_kg=1, athlete="A", device="d", file_name='a"b\r\nc.csv')
    assert parts_of(service.last)["file"].get_filename() == "a%22b%0D%0Ac.csv"


def test_record_says_what_it_lacks(tmp_path: Path) -> None:
    client, service = client_of()
    about: dict[str, Any] = {"lift": "snatch", "load_kg": 60, "athlete": "Imke", "device": "d"}
    with pytest.raises(ValueError, match="file_name"):
        client.record(b"", **about)
    with pytest.raises(TypeError, match="'rb'"):
        client.record(io.StringIO("t_s"), **about, file_name="a.csv")  # type: ignore[arg-type]
    with pytest.raises(FileNotFoundError):
        client.record(tmp_path / "no.csv", **about)
    with pytest.raises(ValueError, match="time zone"):
        client.record(b"", **about, file_name="a.csv", started_at=datetime(2026, 1, 1))
    assert service.requests == []


def test_the_text_bar(capsys: pytest.CaptureFixture[str]) -> None:
    client, _ = client_of(good(SET, 201))
    client.record(b"x" * 2048, lift="snatch", load_kg=1, athlete="A", device="d", file_name="a.csv", progress=True)
    shown = capsys.readouterr()
    assert shown.out == ""
    assert "a.csv" in shown.err
    assert "100% of 2 KiB\n" in shown.err


def test_a_set_is_read_whole() -> None:
    client, service = client_of(good(SET))
    found = client.set("set_1")
    assert service.last.url.path == "/v1/sets/set_1"
    assert (found.state, found.revision, found.started_at, found.load_kg) == ("analysed", 2, AT, 60)
    assert found.quality is not None
    assert (found.quality.verdict, found.quality.gaps, found.quality.rests) == ("good", ((1.0, 1.5),), ((0.0, 2.0),))
    (rep,) = found.reps
    assert (rep.index, rep.outcome, rep.phases[0].phase, rep.phases[0].sure) == (1, "made", "first_pull", 0.9)
    assert str(rep["peak_velocity"]) == "1.823 ± 0.008 m/s"
    assert str(rep["rearmost"]) == "-0.061 ± 0.011 m"
    assert str(rep["drop_to_catch"]) == "unknown (x)"
    with pytest.raises(KeyError, match=r"no 'speed'.*peak_velocity"):
        rep["speed"]


def test_a_set_not_yet_analysed() -> None:
    client, _ = client_of(good({**SET, "state": "waiting", "quality": None, "reps": [], "method": None}))
    found = client.set("set_1")
    assert (found.state, found.quality, found.reps) == ("waiting", None, ())


def test_sets_are_narrowed_down() -> None:
    client, service = client_of(good({"items": [SET], "next": None}))
    assert [each.id for each in client.sets(athlete="ath_1", lift="snatch", since=AT, until=AT)] == ["set_1"]
    at = "2026-03-02T17:00:00+00:00"
    assert dict(service.last.url.params) == {"athlete_id": "ath_1", "lift": "snatch", "from": at, "to": at}


def test_path() -> None:
    columns = {name: [0.0, 1.0] for name in ("t_s", "x_m", "z_m", "vx", "vz", "az", "u_x", "u_z", "u_vz")}
    client, service = client_of(good(columns), good({**columns, "x_m": None, "vx": None, "u_x": None}))
    path = client.path("set_1", 2)
    assert service.last.url.path == "/v1/sets/set_1/reps/2/path"
    assert path.x_m == path.z_m == (0.0, 1.0)
    assert list(path.to_frame().columns) == ["t_s", "z_m", "vz", "az", "u_z", "u_vz", "x_m", "vx", "u_x"]
    upright = client.path("set_1", 2)
    assert upright.x_m is None
    assert "x_m" not in upright.to_frame()


def test_lifts() -> None:
    client, _ = client_of(good({"items": [{"code": "snatch", "title": "Snatch", "key_velocity": "peak_velocity"}]}))
    (lift,) = client.lifts()
    assert (lift.code, lift.title, lift.key_velocity, lift.pattern) == ("snatch", "Snatch", "peak_velocity", None)


def test_reanalyse() -> None:
    client, service = client_of(good({**SET, "revision": 3}))
    assert client.reanalyse("set_1").revision == 3
    assert (service.last.method, service.last.url.path) == ("POST", "/v1/sets/set_1/reanalyse")
    assert service.last.url.params["wait"] == "60"


def test_an_http_handed_in_stays_open() -> None:
    http = httpx.Client(transport=httpx.MockTransport(lambda request: good({})))
    with Client(URL + "/", KEY, http=http) as client:
        assert client.limits() == {}
    assert not http.is_closed


def test_reps_as_a_frame() -> None:
    from barwright_client import reps_frame

    frame = reps_frame([SetResult.read(SET)])
    assert frame.loc[0, "peak_velocity"] == 1.8234
    assert frame.loc[0, "peak_velocity_u"] == 0.0081
    assert list(frame[["lift", "load_kg", "rep", "outcome"]].iloc[0]) == ["snatch", 60, 1, "made"]


def test_record_columns() -> None:
    client, service = client_of(good(SET, 201))
    client.record({"t_s": [0.0, 0.005], "position": [0.0, 0.1]}, lift="press", load_kg=40, athlete="A", device="d")
    part = parts_of(service.last)["file"]
    assert (part.get_filename(), part.get_content_type()) == ("samples.cbor", "application/cbor")
    columns = cbor2.loads(payload(part))
    assert columns["t_us"].value == struct.pack("<2q", 0, 5000)
    assert columns["position"].value == struct.pack("<2d", 0.0, 0.1)
