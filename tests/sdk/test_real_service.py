"""The client against the real service: what one writes the other reads, and the other way round."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest

from barwright.access.scopes import Scope
from barwright.analysis.motion.samples import EncoderSamples
from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps import results
from barwright.ingest.limits import Limits
from barwright.workflows.analysis_job import AnalysisJob, Outcome, Unusable, run_job
from barwright_client import (
    Client,
    Conflict,
    CutBy,
    NotAllowed,
    NotFound,
    NotSignedIn,
    Refused,
    RetryPolicy,
)
from sdk.conftest import RealService

pytestmark = pytest.mark.filterwarnings("ignore:You should not use the .timeout. argument")

AT = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)
SQUAT: dict[str, Any] = {
    "lift": "back_squat",
    "load_kg": 80,
    "athlete": "Rana",
    "device": "string",
    "device_kind": "encoder",
}
Start = Callable[[Callable[[AnalysisJob], Outcome]], RealService]


def one_rep(job: AnalysisJob) -> Outcome:
    """An analysis that answers with what it was given: one rep whose range is that of the samples."""
    return run_job(job, analyse=lambda recording, lift: _answer(recording.parts, lift.code))


def _answer(parts: tuple[object, ...], lift: str) -> results.SetAnalysis:
    (part,) = parts
    assert isinstance(part, EncoderSamples)
    z = part.position_m
    assert z is not None
    size = Estimate(float(np.ptp(z)), 0.001, "m")
    path = results.RepPath(part.t_s, z, z * 0, z * 0, z * 0 + 0.001, z * 0 + 0.01)
    rep = results.Rep(
        index=0,
        outcome="made",
        start_s=0.0,
        stop_s=float(part.t_s[-1]),
        measures={"range_of_motion": size, "peak_velocity": unknown("m/s", "not asked for")},
        phases=(results.Phase("lowering", 0.0, 0.5, 0.9),),
        path_measures={"rearmost": Estimate(-0.02, 0.01, "m")},
        path=path,
        notes=("a note",),
    )
    quality = results.Quality("good", ("words",), len(z), float(part.t_s[-1]), 100.0, 1e-5, gaps=((0.1, 0.2),))
    return results.SetAnalysis("test-1", lift, quality, (rep,), ("set note",))


@pytest.fixture
def service(start_service: Start) -> RealService:
    return start_service(one_rep)


@pytest.fixture
def client(service: RealService) -> Client:
    return service.client()


def samples(count: int = 250) -> dict[str, np.ndarray]:
    n = np.arange(count)
    return {"t_us": n * 10_000, "position": 1.2 - 0.6 * np.sin(np.pi * n / count)}


def test_athletes(client: Client) -> None:
    imke = client.create_athlete(
        "Imke", birth_year=1999, sex="female", body_mass_kg=63.4, stature_m=1.66, level="advanced"
    )
    assert (imke.birth_year, imke.sex, imke.body_mass_kg, imke.stature_m, imke.level) == (
        1999,
        "female",
        63.4,
        1.66,
        "advanced",
    )
    with pytest.raises(Conflict, match="Imke") as caught:
        client.create_athlete("Imke")
    assert caught.value.problem.code == "name-taken"
    assert caught.value.problem.errors[0].pointer == "/name"
    assert caught.value.request_id
    for n in range(60):
        client.create_athlete(f"Member {n:02}")
    names = [athlete.name for athlete in client.athletes()]
    assert names == ["Imke", *(f"Member {n:02}" for n in range(60))]
    client.delete_athlete(imke)
    assert "Imke" not in [athlete.name for athlete in client.athletes()]
    with pytest.raises(NotFound):
        client.delete_athlete(imke)


def test_devices(client: Client) -> None:
    bar = client.create_device(
        "bar 3",
        kind="imu",
        bar_axis="-z",
        place="sleeve",
        device_class="good",
        ranges={"accel": 16, "units": {"accel": "[g]"}},
    )
    assert bar.mounting["bar_axis"] == [0, 0, -1]
    assert (bar.mounting["place"], bar.device_class) == ("sleeve", "good")
    assert bar.ranges is not None
    assert bar.ranges["accel"] == pytest.approx(156.9064)  # standard gravity 9.80665 m/s2 (CGPM 1901), 16 times
    string = client.create_device("string", kind="encoder", anchor_offset_m=0.15, anchor_height_m=0.02)
    assert (string.mounting["anchor_offset_m"], string.mounting["anchor_height_m"]) == (0.15, 0.02)
    assert list(client.devices()) == [bar, string]
    with pytest.raises(Refused, match="bar_axis"):
        client.create_device("bar 4", kind="imu", bar_axis="up")


def test_a_stream_in_blocks_and_what_comes_of_it(client: Client) -> None:
    columns = samples()
    with client.stream(
        **SQUAT, units={"position": "m"}, rate_hz=100, started_at=AT, cut_by=CutBy(samples=60)
    ) as stream:
        for start in range(0, 250, 70):
            stream.push({name: column[start : start + 70] for name, column in columns.items()})
        assert stream.receipt is not None
        assert (stream.receipt.stored, stream.receipt.next_seq, stream.receipt.missing) == (True, 4, ())
    found = stream.result
    assert found is not None
    assert (found.state, found.lift, found.load_kg, found.athlete, found.started_at) == (
        "analysed",
        "back_squat",
        80,
        "Rana",
        AT,
    )
    assert found.stream_id == stream.id
    assert found.id == stream.set_id
    assert (found.revision, found.method, found.notes, found.reason) == (1, "test-1", ("set note",), None)
    assert found.quality is not None
    assert (found.quality.verdict, found.quality.samples, found.quality.gaps) == ("good", 250, ((0.1, 0.2),))
    (rep,) = found.reps
    assert rep["range_of_motion"].value == pytest.approx(np.ptp(columns["position"]), abs=1e-12)
    assert str(rep["peak_velocity"]) == "unknown (not asked for)"
    assert (rep.phases[0].phase, rep.phases[0].sure, rep.notes) == ("lowering", 0.9, ("a note",))
    path = client.path(found.id, rep.index)
    assert path.x_m is None
    assert list(path.z_m) == list(columns["position"])
    assert list(path.t_s) == pytest.approx([n / 100 for n in range(250)], abs=1e-12)


def test_a_block_sent_twice_is_stored_once(service: RealService, client: Client) -> None:
    from barwright_client.blocks import BlockWriter
    from barwright_client.stream_calls import send_block

    stream = client.stream(**SQUAT, units={"position": "m"})
    (block,) = BlockWriter(CutBy(samples=250)).add(samples())
    first, again = (client._transport.send(send_block(stream.id, block)) for _ in range(2))
    assert (first.stored, again.stored, again.next_seq) == (True, False, 1)


def test_missing_blocks_are_named(client: Client) -> None:
    stream = client.stream(**SQUAT, units={"position": "m"})
    stream._writer.seq = 3
    stream.push({"t_us": [0, 10_000], "position": [1.0, 1.0]})
    assert stream.flush() is not None
    assert stream.end().missing == ((0, 2),)


def test_a_bad_block_is_refused_with_its_place(client: Client) -> None:
    stream = client.stream(**SQUAT, units={"position": "m"}, cut_by=CutBy(samples=3))
    with pytest.raises(Refused) as caught:
        stream.push({"t_us": [0, 20_000, 10_000], "position": [1.0, 1.0, 1.0]})
    assert caught.value.problem.errors[0].pointer is not None
    assert stream.unsent == 0


@pytest.mark.parametrize("name", ["set.csv", "set.json"])
def test_record_text(client: Client, name: str) -> None:
    columns = samples()
    if name == "set.csv":
        rows = zip(columns["t_us"].tolist(), columns["position"].tolist(), strict=True)
        content = "t_us,position[m]\n" + "".join(f"{t},{z!r}\n" for t, z in rows)
    else:
        content = str({"t_us": columns["t_us"].tolist(), "position": columns["position"].tolist()}).replace("'", '"')
    found = client.record(content.encode(), file_name=name, **SQUAT, units={"position": "m"}, started_at=AT)
    assert found.state == "analysed"
    assert found.reps[0]["range_of_motion"].value == pytest.approx(np.ptp(columns["position"]), abs=1e-12)


def test_record_columns(client: Client) -> None:
    found = client.record(samples(), **SQUAT, units={"position": "m"})
    assert found.reps[0]["range_of_motion"].value == pytest.approx(np.ptp(samples()["position"]), abs=1e-12)


def test_a_retry_of_a_recording_makes_one_set(client: Client) -> None:
    from barwright_client.stream_calls import record

    call = record(samples(), **SQUAT, units={"position": "m"}, wait_s=10)
    first, again = client._transport.send(call), client._transport.send(call)
    assert first.id == again.id
    assert len(list(client.sets())) == 1


def test_sets_are_found_by_athlete_lift_and_time(client: Client) -> None:
    early = client.record(samples(), **SQUAT, units={"position": "m"}, started_at=datetime(2026, 1, 1, tzinfo=UTC))
    late = client.record(samples(), **SQUAT | {"lift": "front_squat"}, units={"position": "m"}, started_at=AT)
    assert [each.id for each in client.sets()] == [late.id, early.id]
    assert [each.id for each in client.sets(lift="back_squat")] == [early.id]
    assert [each.id for each in client.sets(since=AT)] == [late.id]
    assert [each.id for each in client.sets(until=AT)] == [early.id]
    assert [each.id for each in client.sets(athlete=early.athlete_id)] == [late.id, early.id]
    assert list(client.sets(athlete="ath_nobody")) == []
    assert client.set(early.id) == early


def test_reanalyse_and_export_and_erase(client: Client) -> None:
    found = client.record(samples(), **SQUAT, units={"position": "m"})
    assert client.reanalyse(found.id).revision == 2
    everything = client.export_athlete(found.athlete_id)
    assert everything["streams"][0]["set"]["id"] == found.id
    client.delete_athlete(found.athlete_id)
    with pytest.raises(NotFound):
        client.set(found.id)


def test_a_set_that_cannot_be_analysed_says_why(start_service: Start) -> None:
    client = start_service(lambda job: Unusable("no-rest", "The bar is never still.")).client()
    found = client.record(samples(), **SQUAT, units={"position": "m"})
    assert (found.state, found.reason_code, found.reason, found.reps) == (
        "failed",
        "no-rest",
        "The bar is never still.",
        (),
    )


def test_limits_and_lifts(client: Client) -> None:
    found = client.limits()
    assert Limits().published().items() <= found.items()
    assert found["requests_per_window"] > 0
    assert [(lift.code, lift.key_velocity) for lift in client.lifts()] == [
        (lift.code, lift.key_velocity) for lift in LIFTS.values()
    ]


def test_a_wrong_key_and_a_missing_scope(service: RealService) -> None:
    stranger = Client("http://testserver", "bw_nonsense", http=service.http, retry=RetryPolicy(most_tries=1))
    with pytest.raises(NotSignedIn):
        list(stranger.athletes())
    reader = service.client(Scope.RESULTS_READ)
    assert list(reader.athletes()) == []
    with pytest.raises(NotAllowed, match="streams:write"):
        reader.create_device("bar", kind="imu")


def test_a_device_key_sends_a_whole_set(service: RealService, client: Client) -> None:
    client.create_athlete("Rana")
    device = service.client(Scope.STREAMS_WRITE)
    with device.stream(**SQUAT, units={"position": "m"}) as stream:
        stream.push(samples())
    assert stream.result is None
    assert client.set(stream.set_id).state == "analysed"


def test_values_without_a_unit_are_si_and_the_set_says_so(client: Client) -> None:
    notes = client.record(samples(), **SQUAT).notes
    assert "No unit was given for position: read as m." in notes


def test_a_unit_that_is_not_known_says_what_to_write(client: Client) -> None:
    with pytest.raises(Refused, match="`mm`"):
        client.record(samples(), **SQUAT, units={"position": "inch"})
