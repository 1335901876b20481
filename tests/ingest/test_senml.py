"""SenML: the examples of RFC 8428 parse to the values printed there; the rules of its section 4; blocks and files."""

from __future__ import annotations

import json
from typing import Any

import cbor2
import numpy as np
import pytest

from barwright.ingest.decode import decode_block
from barwright.ingest.recording_file import read_recording_file
from barwright.ingest.senml import VERSION, Record, resolve
from ingest.awkward import COUNT, senml, truth
from ingest.bodies import LIMITS, refusal_of

DEV = "urn:dev:ow:10e2073a01080063"

# RFC 8428, section 5.1.3.
MULTIPLE = """[
 {"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},
 {"u":"lon","v":24.30621},
 {"u":"lat","v":60.07965},
 {"t":60,"v":20.3},
 {"u":"lon","t":60,"v":24.30622},
 {"u":"lat","t":60,"v":60.07965},
 {"t":120,"v":20.7},
 {"u":"lon","t":120,"v":24.30623},
 {"u":"lat","t":120,"v":60.07966},
 {"u":"%EL","t":150,"v":98},
 {"t":180,"v":21.2},
 {"u":"lon","t":180,"v":24.30628},
 {"u":"lat","t":180,"v":60.07967}
]"""
# RFC 8428, section 5.1.4: the same in resolved form, as printed there.
RESOLVED = [
    ("%RH", 1.320067464e09, 20), ("lon", 1.320067464e09, 24.30621), ("lat", 1.320067464e09, 60.07965),
    ("%RH", 1.320067524e09, 20.3), ("lon", 1.320067524e09, 24.30622), ("lat", 1.320067524e09, 60.07965),
    ("%RH", 1.320067584e09, 20.7), ("lon", 1.320067584e09, 24.30623), ("lat", 1.320067584e09, 60.07966),
    ("%EL", 1.320067614e09, 98),
    ("%RH", 1.320067644e09, 21.2), ("lon", 1.320067644e09, 24.30628), ("lat", 1.320067644e09, 60.07967),
]  # fmt: skip
# RFC 8428, section 5.1.2, third example.
VOLTAGE = """[
 {"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},
 {"n":"current","t":-5,"v":1.2},
 {"n":"current","t":-4,"v":1.3},
 {"n":"current","t":-3,"v":1.4},
 {"n":"current","t":-2,"v":1.5},
 {"n":"current","t":-1,"v":1.6},
 {"n":"current","v":1.7}
]"""
# RFC 8428, section 6: the same pack in CBOR (the bytes from memory; what they hold is held against section 5.1.2).
VOLTAGE_CBOR = bytes.fromhex(
    "87a721781b75726e3a6465763a6f773a3130653230373361303130383030363a22fb41d303a15b00106223614120050067766f6c7461676501"
    "615602fb405e066666666666a3006763757272656e74062402fb3ff3333333333333a3006763757272656e74062302fb3ff4cccccccccccd"
    "a3006763757272656e74062202fb3ff6666666666666a3006763757272656e74062102f93e00a3006763757272656e74062002fb3ff99999"
    "9999999aa3006763757272656e74060002fb3ffb333333333333"
)
VOLTAGES = [
    Record("urn:dev:ow:10e2073a0108006:voltage", "V", 120.1, 1.276020076001e09),
    *(
        Record("urn:dev:ow:10e2073a0108006:current", "A", value, pytest.approx(1.276020076001e09 + at, abs=1e-6))
        for at, value in ((-5, 1.2), (-4, 1.3), (-3, 1.4), (-2, 1.5), (-1, 1.6), (0, 1.7))
    ),
]


def of(text: str) -> list[Record]:
    return resolve(json.loads(text))


def test_5_1_1_a_single_datapoint() -> None:
    assert of('[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]') == [Record(DEV, "Cel", 23.1, 0.0)]


def test_5_1_2_multiple_datapoints() -> None:
    two = '[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},{"n":"current","u":"A","v":1.2}]'
    assert of(two) == [Record(f"{DEV}:voltage", "V", 120.1, 0.0), Record(f"{DEV}:current", "A", 1.2, 0.0)]
    assert of(VOLTAGE) == VOLTAGES


def test_5_1_2_a_stream_of_one_name() -> None:
    rest = ((10, 21.3), (20, 21.4), (30, 21.4), (40, 21.5), (50, 21.5), (60, 21.5), (70, 21.6), (80, 21.7))
    pack: list[dict[str, Any]] = [{"bn": DEV, "bt": 1.320067464e09, "bu": "%RH", "v": 21.2}]
    found = resolve(pack + [{"t": t, "v": v} for t, v in rest])
    assert found == [Record(DEV, "%RH", v, 1.320067464e09 + t) for t, v in ((0, 21.2), *rest)]


def test_5_1_3_and_5_1_4_multiple_measurements_resolve_as_printed() -> None:
    expected = [Record(DEV, unit, value, time) for unit, time, value in RESOLVED]
    assert of(MULTIPLE) == expected
    printed = [{"n": DEV, "u": unit, "t": time, "v": value} for unit, time, value in RESOLVED]
    assert resolve(printed) == expected


def test_5_1_5_different_data_types() -> None:
    found = of(
        '[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},{"n":"label","vs":"Machine Room"},'
        '{"n":"open","vb":false},{"n":"nfc-reader","vd":"aGkgCg"}]'
    )
    assert [one.value for one in found] == [23.1, "Machine Room", False, "aGkgCg"]
    assert [one.name for one in found] == [f"{DEV}:{name}" for name in ("temp", "label", "open", "nfc-reader")]
    assert [one.unit for one in found] == ["Cel", None, None, None]


def test_5_1_6_a_collection_of_resources() -> None:
    found = of(
        '[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},'
        '{"n":"humidity","u":"%RH","v":30},{"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},'
        '{"n":"humidity","u":"%RH","v":67}]'
    )
    assert found == [
        Record("2001:db8::2/temperature", "Cel", 25.2, 1.320078429e09),
        Record("2001:db8::2/humidity", "%RH", 30, 1.320078429e09),
        Record("2001:db8::1/temperature", "Cel", 12.3, 1.320078429e09),
        Record("2001:db8::1/humidity", "%RH", 67, 1.320078429e09),
    ]


def test_5_1_7_setting_an_actuator() -> None:
    found = of(
        '[{"bn":"urn:dev:ow:10e2073a01080063:"},{"n":"temp","u":"Cel","v":23.1},{"n":"heat","u":"/","v":1},'
        '{"n":"fan","u":"/","v":0}]'
    )
    assert [(one.name, one.unit, one.value) for one in found] == [
        (f"{DEV}:temp", "Cel", 23.1), (f"{DEV}:heat", "/", 1), (f"{DEV}:fan", "/", 0)
    ]  # fmt: skip
    lights = of(
        '[{"bt":1.320078429e+09,"bu":"/","n":"2001:db8::3","v":0.5},{"n":"2001:db8::4","v":0.5},'
        '{"n":"2001:db8::3","t":0.1,"v":0},{"n":"2001:db8::4","t":0.1,"v":0}]'
    )
    assert [(one.name, one.unit, one.time, one.value) for one in lights] == [
        ("2001:db8::3", "/", 1.320078429e09, 0.5), ("2001:db8::4", "/", 1.320078429e09, 0.5),
        ("2001:db8::3", "/", 1.320078429e09 + 0.1, 0), ("2001:db8::4", "/", 1.320078429e09 + 0.1, 0),
    ]  # fmt: skip


def test_6_the_same_pack_in_cbor() -> None:
    assert resolve(cbor2.loads(VOLTAGE_CBOR)) == VOLTAGES


def test_4_base_values_and_base_sums_are_added() -> None:
    """Section 4.1: base value and base sum are added to those of each record; section 4.2: a sum may stand alone."""
    found = resolve([{"bn": "m:", "bv": 100.0, "bs": 7.0, "n": "a", "v": 1.5, "s": 0.5}, {"n": "a", "s": 1.0}])
    assert [(one.value, one.sum) for one in found] == [(101.5, 7.5), (100.0, 8.0)]
    only = resolve([{"n": "energy", "u": "J", "s": 4.0, "ut": 60}])
    assert only == [Record("energy", "J", None, 0.0, 4.0, 60)]


@pytest.mark.parametrize(
    ("pack", "code", "words"),
    [
        ([{"n": "a", "v": 1, "bver": VERSION + 1}], "bad-member", "versions up to 10"),
        ([{"n": "a", "v": 1, "bver": 5}, {"n": "a", "v": 1, "bver": 10}], "bad-member", "`bver` changes"),
        ([{"n": "a", "v": 1, "thing_": 2}], "unknown-member", "has to be understood"),
        ([{"n": "a", "v": 1, "vs": "x"}], "bad-member", "one value"),
        ([{"n": "a"}], "missing-member", "neither a value nor a sum"),
        ([{"v": 1}], "bad-member", "The name ''"),
        ([{"n": "_a", "v": 1}], "bad-member", "The name '_a'"),
        ([{"n": "a b", "v": 1}], "bad-member", "letters, digits"),
        ([{"n": "a", "v": "1"}], "not-a-number", "`v` of record 0"),
        ([{"n": 3, "v": 1}], "bad-member", "`n` of record 0"),
        ([{"bn": "m:"}], "no-samples", "no record"),
        ([], "no-samples", "no record"),
        ({"n": "a"}, "bad-member", "array of records"),
        ([7], "bad-member", "Record 0"),
    ],
)
def test_what_is_no_senml(pack: Any, code: str, words: str) -> None:
    refusal = refusal_of(resolve, pack)
    assert refusal.code == code
    assert words in refusal.detail


def test_labels_that_are_not_known_are_passed_over() -> None:
    assert resolve([{"n": "a", "v": 1, "new": {"x": 1}}]) == [Record("a", None, 1, 0.0)]


@pytest.mark.parametrize("as_bytes", [lambda pack: json.dumps(pack).encode(), cbor2.dumps])
def test_a_pack_is_a_block(as_bytes: Any) -> None:
    pack = senml()
    pack[0] |= {"bt": 12.0}
    pack += [{"n": "boot", "vs": "7f3a"}, {"n": "seq", "v": 4}]
    kind = "application/senml+json" if as_bytes is not cbor2.dumps else "application/senml+cbor"
    units = {"accel": "m/s2", "gyro": "rad/s"}
    block = decode_block(as_bytes(pack), kind, None, "imu", LIMITS, units)
    assert (block.boot, block.seq, len(block.t_us)) == ("7f3a", 4, COUNT)
    assert block.t_us[0] == 12_000_000
    np.testing.assert_allclose(block.channels["accel_z"], truth("m/s2")[:, 3])
    in_g = decode_block(as_bytes(pack), kind, None, "imu", LIMITS, {"accel": "[g]", "gyro": "deg/s"})
    np.testing.assert_allclose(in_g.channels["accel_z"], truth("[g]")[:, 3])  # what the stream declared
    np.testing.assert_allclose(in_g.channels["gyro_x"], truth()[:, 4], atol=1e-9)


def test_a_pack_without_its_number_is_no_block() -> None:
    body = json.dumps([{"n": "accel_x", "u": "m/s2", "v": 1}]).encode()
    refusal = refusal_of(decode_block, body, "application/senml+json", None, "imu", LIMITS, {"accel": "m/s2"})
    assert refusal.code == "missing-member"


def test_millimetres_are_converted_like_everywhere() -> None:
    pack = [{"bn": "string:", "bt": 5.0}, *({"n": "position", "u": "mm", "t": i / 100, "v": i} for i in range(20))]
    recording = read_recording_file(json.dumps(pack).encode(), "set.senml", None, None, LIMITS)
    assert recording.units == {"position": "mm"}
    assert recording.blocks[0].t_us[1] == 5_010_000


def test_channels_need_the_same_times() -> None:
    pack = senml()[:-1]
    refusal = refusal_of(read_recording_file, json.dumps(pack).encode(), "set.senml", None, None, LIMITS)
    assert (refusal.code, "gyro_z" in refusal.detail) == ("unequal-columns", True)
