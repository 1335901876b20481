"""However a recording is cut, ordered, repeated and written, its set is the same, to the last byte."""

from __future__ import annotations

import json
from dataclasses import dataclass

import cbor2
import numpy as np
import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from barsim import EncoderKind, simulate
from barwright.app import create_app
from barwright.ingest.typed_arrays import tag_of_array
from barwright.settings import Settings
from barwright.storage.migrate import migrate
from barwright.workflows.analysis_job import run_job
from conftest import STREAM, Service, TestClient

PASSING = {"id", "stream_id", "analysed_at", "revision"}  # raised by late blocks
NAMES = [f"{group}_{axis}" for group in ("accel", "gyro") for axis in "xyz"]
FORMS = ("json", "cbor list", "float64", "float32", "big-endian")


@dataclass(frozen=True)
class Sent:
    """One recording in whole microseconds and float32 values, so that every form can carry it exactly."""

    t_us: np.ndarray
    channels: dict[str, np.ndarray]
    units: dict[str, str]
    device: str

    def block(self, seq: int, start: int, stop: int, form: str) -> tuple[bytes, str]:
        told = {"boot": "b", "seq": seq, "t_us": self.t_us[start:stop].tolist()}
        columns = {name: values[start:stop] for name, values in self.channels.items()}
        if form == "json":
            return json.dumps({**told, "channels": {n: v.tolist() for n, v in columns.items()}}).encode(), form
        if form == "cbor list":
            return cbor2.dumps({**told, "channels": {n: v.tolist() for n, v in columns.items()}}), "cbor"
        kind = {"float64": "<f8", "float32": "<f4", "big-endian": ">f8"}[form]
        told["t_us"] = tag_of_array(self.t_us[start:stop].astype("<i8"))
        return cbor2.dumps({**told, "channels": {n: tag_of_array(v.astype(kind)) for n, v in columns.items()}}), "cbor"


def imu() -> Sent:
    samples = simulate("snatch", seed=11, device="hobby").imu_samples
    values = np.hstack([samples.accel_m_s2, samples.gyro_rad_s]).astype(np.float32).astype(np.float64)
    t_us = np.round(samples.t_s * 1e6).astype(np.int64)
    return Sent(t_us, dict(zip(NAMES, values.T, strict=True)), {"accel": "m/s2", "gyro": "rad/s"}, "bar")


def string() -> Sent:
    part = simulate("snatch", seed=12, device=None, encoder=EncoderKind()).recording.parts[0]
    t_us = np.round(part.t_s * 1e6).astype(np.int64)
    position = part.position_m.astype(np.float32).astype(np.float64)
    return Sent(t_us, {"position": position}, {"position": "m"}, "string")


RECORDINGS = (imu(), string())


@pytest.fixture(scope="module")
def service(tmp_path_factory):
    settings = Settings.from_env({}, str(tmp_path_factory.mktemp("data")))
    migrate(settings.database_url)
    app = create_app(settings, analyse=run_job)
    with TestClient(app) as client:
        service = Service(client, settings, app.state.parts)
        client.headers.update(service.new_key())
        for sent in RECORDINGS:
            kind = "imu" if "accel" in sent.units else "encoder"
            told = {"name": sent.device, "kind": kind, "mounting": {"bar_axis": "+x"}}
            assert client.post("/v1/devices", json=told).status_code == 201
        yield service


def begin(service, sent):
    told = {**STREAM, "device": sent.device, "units": sent.units}
    answer = service.client.post("/v1/streams", json=told)
    assert answer.status_code == 201, answer.text
    return f"/v1/streams/{answer.json()['id']}"


def send(service, url, content, form):
    headers = {"Content-Type": f"application/{form}"}
    answer = service.client.post(f"{url}/blocks", content=content, headers=headers)
    assert answer.status_code == 200, answer.text
    return answer.json()


def close(service, url):
    """The set and its paths, without what passes."""
    closed = service.client.post(f"{url}/close?wait=60").json()
    whole = service.client.get(f"/v1/sets/{closed['set_id']}").json()
    assert whole["state"] == "analysed", whole["reason"]
    paths = []
    for rep in whole["reps"]:
        path = service.client.get(f"/v1/sets/{whole['id']}/reps/{rep['index']}/path").json()
        paths.append({name: value for name, value in path.items() if name != "set_id"})
    return json.dumps([{name: value for name, value in whole.items() if name not in PASSING}, paths])


@pytest.fixture(scope="module")
def in_one_block(service):
    """What each recording gives as one JSON block."""
    given_whole = []
    for sent in RECORDINGS:
        url = begin(service, sent)
        assert send(service, url, *sent.block(0, 0, len(sent.t_us), "json"))["stored"]
        given_whole.append(close(service, url))
    assert all('"peak_velocity"' in one for one in given_whole)
    return given_whole


@st.composite
def sendings(draw, length):
    """[(seq, start, stop, form)] in order of sending: any cuts, any order, any repeats."""
    cuts = sorted(draw(st.sets(st.integers(1, length - 1), max_size=12)))
    pieces = list(enumerate(zip([0, *cuts], [*cuts, length], strict=True)))
    order = draw(st.permutations(pieces))
    repeats = draw(st.lists(st.sampled_from(pieces), max_size=4))
    for piece in repeats:
        order.insert(draw(st.integers(0, len(order))), piece)
    return [(seq, *span, draw(st.sampled_from(FORMS))) for seq, span in order]


@pytest.mark.parametrize("which", [0, 1], ids=["imu", "string"])
@hypothesis_settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_cutting_order_repeat_and_form_give_the_same_set(service, in_one_block, which, data):
    sent = RECORDINGS[which]
    url, seen = begin(service, sent), set()
    pieces = data.draw(sendings(len(sent.t_us)))
    closed_before = data.draw(st.none() | st.integers(1, len(pieces) - 1 or 1))  # the rest then comes late
    for place, (seq, start, stop, form) in enumerate(pieces):
        if place == closed_before:
            assert service.client.post(f"{url}/close").status_code == 200
        receipt = send(service, url, *sent.block(seq, start, stop, form))
        assert receipt["stored"] is (seq not in seen)
        seen.add(seq)
    assert (receipt["next_seq"], receipt["missing"]) == (len(seen), [])
    assert close(service, url) == in_one_block[which]
