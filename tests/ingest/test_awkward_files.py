"""Forty and more deliberately awkward files: each is read right, or refused with the right reason.

The layouts are common practice of loggers and spreadsheets, no source.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import Any

import cbor2
import numpy as np
import pytest

from barwright.analysis.motion.samples import ImuSamples, SensorSetup
from barwright.ingest.block import IMU_CHANNELS
from barwright.ingest.file_layout import FileLayout, layout_of
from barwright.ingest.preview import preview_recording
from barwright.ingest.recording_file import read_recording_file
from barwright.ingest.recording_of import recording_of
from ingest.awkward import (
    COUNT,
    NEWCOMER,
    counts,
    iso_times,
    nested_rows,
    parquet,
    resting_csv,
    rows,
    senml,
    text,
    truth,
    with_clock,
)
from ingest.bodies import LIMITS, refusal_of

TRUE_SI = truth("m/s2", "rad/s", "us")
OWN = "t_ms," + ",".join(IMU_CHANNELS)
SPACED = NEWCOMER.replace(",", ", ")
OF_DAY = "{hour:02d}:{minute:02d}:{second:06.3f}"
DAY = "2026-03-01T17:{minute:02d}:{second:06.3f}"
HEAD = b'barwright-int16 {"columns": ["accel_x", "accel_y", "accel_z", "gyro_x", "gyro_y", "gyro_z"], "scale": '


@dataclass(frozen=True)
class Read:
    """It is read right: the motion comes out. words: to be found in the notes."""

    words: tuple[str, ...] = ()
    start_us: float = 0.0
    within: float = 0.002  # of the values, in SI: what was rounded away in the file


@dataclass(frozen=True)
class Refused:
    """It is refused. words: to be found in what is said."""

    code: str
    words: tuple[str, ...]


@dataclass(frozen=True)
class Case:
    name: str
    body: bytes
    expected: Read | Refused
    file_name: str = "set.csv"
    told: dict[str, Any] = field(default_factory=dict)


def bytes_of(lines: str, encoding: str = "utf-8") -> bytes:
    return lines.encode(encoding)


def edited(find: str, put: str, body: str | None = None) -> bytes:
    found = text(truth()) if body is None else body
    assert find in found
    return found.replace(find, put, 1).encode()


def one_cell(row: int, column: int, content: str) -> bytes:
    lines = [line.split(",") for line in text(truth()).splitlines()]
    lines[row + 1][column] = content
    return bytes_of("\n".join(map(",".join, lines)))


def comma_decimals(between: str) -> str:
    return text(truth(), between="|").replace(".", ",").replace("|", between)


def units_row() -> str:
    head, *rest = text(truth("m/s2", "rad/s")).splitlines()
    return "\n".join([head, "ms,m/s²,m/s²,m/s²,rad/s,rad/s,rad/s", *rest])


def quoted() -> str:
    head, *rest = text(truth()).splitlines()
    return "\n".join([head, *(",".join(f'"{cell.replace(".", ",")}"' for cell in row.split(",")) for row in rest)])


def wrapped() -> np.ndarray:
    values = truth(time="us")
    values[:, 0] = (values[:, 0] + 2**32 - 700_000) % 2**32
    return values


def no_gravity() -> bytes:
    return bytes_of(text(truth(), "time_ms,LinAccX,LinAccY,LinAccZ,GyrX,GyrY,GyrZ"))


def slow_turns(unit: str) -> bytes:
    """A sensor that hardly turns: its rates could be in either unit."""
    values = truth("m/s2", unit)
    values[:, 1:4] = np.random.default_rng(1).normal((0.02, 0.03, 9.81), 0.02, (COUNT, 3))
    values[:, 4:] = np.random.default_rng(2).normal(0, 0.01, (COUNT, 3))
    return bytes_of(text(values))


IN_G = "read as [g], because at rest it reads"
IN_DEG = "read as deg/s"
CASES = [
    Case("a newcomer's names, no unit anywhere", bytes_of(text(truth())), Read((IN_G, IN_DEG))),
    Case("semicolons", bytes_of(text(truth(), between=";")), Read((IN_G, IN_DEG))),
    Case("semicolons and decimal commas", bytes_of(comma_decimals(";")), Read((IN_G,))),
    Case("tabs and decimal commas", bytes_of(comma_decimals("\t")), Read((IN_G,)), "set.tsv"),
    Case("blanks and decimal commas", bytes_of(comma_decimals(" ")), Read((IN_G,)), "set.txt"),
    Case("columns lined up with runs of blanks", bytes_of(text(truth(), between="   ")), Read((IN_G,)), "set.txt"),
    Case("bars between columns", bytes_of(text(truth(), between="|")), Read((IN_G,)), "set.txt"),
    Case("quoted cells with decimal commas between commas", bytes_of(quoted()), Read((IN_G,))),
    Case("Windows line ends and a byte order mark", bytes_of("\ufeff" + text(truth(), end="\r\n")), Read((IN_G,))),
    Case("UTF-16 of a spreadsheet", bytes_of(text(truth(), between="\t"), "utf-16"), Read((IN_G,)), "set.txt"),
    Case("UTF-16 without its mark", bytes_of(text(truth()), "utf-16-le"), Read((IN_G,))),
    Case("a degree sign in Windows-1252",
         bytes_of(text(truth(), "t (ms),ax (g),ay (g),az (g),gx (°/s),gy (°/s),gz (°/s)"), "cp1252"), Read()),
    Case("units in brackets behind the names",
         bytes_of(text(truth("m/s2", "rad/s", "s"),
                       "Time [s],acc_x [m/s^2],acc_y [m/s^2],acc_z [m/s^2],"
                       "gyro_x [rad/s],gyro_y [rad/s],gyro_z [rad/s]")), Read()),
    Case("units as words of the names",
         bytes_of(text(truth("m[g]", "deg/s", "us"),
                       "timestamp_us,acc_x_mg,acc_y_mg,acc_z_mg,gyr_x_dps,gyr_y_dps,gyr_z_dps")), Read()),
    Case("units in a row of their own", bytes_of(units_row()), Read()),
    Case("names of another taste", bytes_of(text(truth("m/s2", "rad/s", "ns"),
         "timestamp_ns,Accelerometer X (m/s²),Accelerometer Y (m/s²),Accelerometer Z (m/s²),"
         "angular_velocity.x [rad/s],angular_velocity.y [rad/s],angular_velocity.z [rad/s]")), Read()),
    Case("m/s2 without saying so", resting_csv(NEWCOMER, accel="m/s2"), Read(("read as m/s2, because",))),
    Case("thousandths of gravity without saying so", resting_csv(NEWCOMER, accel="m[g]"), Read(("read as m[g]",))),
    Case("radians without saying so, but gravity turns with them", resting_csv(NEWCOMER, gyro="rad/s"),
         Read(("read as rad/s, because only in this unit",))),
    Case("our own names without units, in gravities", bytes_of(text(truth(gyro="rad/s"), OWN)),
         Read((IN_G, "read as rad/s"))),
    Case("a clock without unit, in seconds", resting_csv(NEWCOMER.replace("time_ms", "time"), time="s"),
         Read(("only in s ",))),
    Case("a clock without unit, in microseconds", resting_csv(NEWCOMER.replace("time_ms", "Timestamp"), time="us"),
         Read(("only in us ",))),
    Case("a counter of microseconds that begins again after 32 bits",
         bytes_of(text(wrapped(), NEWCOMER.replace("time_ms", "micros"))),
         Read(("began again 1 times",), start_us=2**32 - 700_000)),
    Case("a clock of dates", bytes_of(with_clock(iso_times(DAY))), Read()),
    Case("a clock of dates with blanks, commas and an offset",
         bytes_of(with_clock([t.replace(".", ",") for t in iso_times(DAY.replace("T", " ") + "+01:00")], between=";")),
         Read()),
    Case("times of day over midnight",
         bytes_of(with_clock(iso_times(OF_DAY, 86_399.3))), Read(start_us=86_399.3e6)),
    Case("comment lines before and between", edited("\n5,", "\n# the bar moves now\n5,",
         "# bar sensor 3, 200 Hz\n% firmware 0.4\n" + text(truth())), Read((IN_G,))),
    Case("a header that is a comment", bytes_of("# " + text(truth())), Read((IN_G,)), "set.txt"),
    Case("lines of prose before the header", bytes_of("Quarry Lane\nsensor: bar 3\n\n" + text(truth())), Read((IN_G,))),
    Case("the separator told in the first line", bytes_of("sep=;\n" + text(truth(), between=";")), Read((IN_G,))),
    Case("a delimiter at the end of every line", bytes_of(text(truth()).replace("\n", ",\n")), Read((IN_G,))),
    Case("more columns than are needed", resting_csv(NEWCOMER + ",battery", more="3.7"),
         Read(("Columns left out: battery.",))),
    Case("no header, columns declared", bytes_of(text(truth(), None)), Read(), told={
        "columns": ["t_ms", *IMU_CHANNELS], "units": {"accel": "[g]", "gyro": "deg/s"}}),
    Case("a header that says nothing, columns declared", bytes_of(text(truth(), "a,b,c,d,e,f,g")), Read((IN_G,)),
         told={"columns": NEWCOMER.split(",")}),
    Case("no clock, a rate declared", bytes_of(text(truth()[:, 1:], NEWCOMER.partition(",")[2])), Read((IN_G,)),
         told={"rate_hz": 200}),
    Case("counts with a declared scale", resting_csv(NEWCOMER, accel="counts", gyro="counts"), Read(), told={
        "units": {"accel": "[g]", "gyro": "deg/s"}, "scale": {"accel": 1 / 2048, "gyro": 1 / 16.4}}),
    Case("int16 with all declared", counts(), Read(within=0.01), "set.i16", {
        "columns": list(IMU_CHANNELS), "rate_hz": 200, "units": {"accel": "[g]", "gyro": "deg/s"},
        "scale": {"accel": 1 / 2048, "gyro": 1 / 16.4}}),
    Case("int16 that tells its layout", HEAD + b'{"accel": 0.00048828125, "gyro": 0.06097560975609756}, "units": '
         b'{"accel": "[g]", "gyro": "deg/s"}, "rate_hz": 200}\n' + counts(), Read(within=0.01), "set.bin"),
    Case("NDJSON", bytes_of("\n".join(map(json.dumps, rows()))), Read((IN_G,)), "set.ndjson"),
    Case("NDJSON called JSON, force as an object and rates as a list",
         bytes_of("\n".join(map(json.dumps, nested_rows()))), Read((IN_G,)), "set.json"),
    Case("a JSON list of samples", bytes_of(json.dumps(rows())), Read((IN_G,)), "set.json"),
    Case("SenML in JSON", bytes_of(json.dumps(senml())), Read(start_us=1.7e15), "set.senml"),
    Case("SenML in CBOR under no name", cbor2.dumps(senml()), Read(start_us=1.7e15), ""),
    Case("Parquet of single floats under other names", parquet(), Read((IN_G,)), "set.parquet"),
    # refused, each for its own reason
    Case("gravity already taken out", no_gravity(), Refused("missing-axis", ("LinAccX", "gravity was taken out"))),
    Case("rates that could be either", slow_turns("deg/s"),
         Refused("unit-unclear", ("gyro", "deg/s or rad/s", "GyrX"))),
    Case("counts without a scale", resting_csv(NEWCOMER, accel="counts"),
         Refused("unit-unclear", ("accel", "counts need a `scale`"))),
    Case("a unit nobody knows", bytes_of(text(truth()).replace("AccX", "AccX (bananas)")),
         Refused("unknown-unit", ("bananas", "`m/s2`"))),
    Case("a clock in whole seconds", bytes_of(with_clock([str(i // 200) for i in range(COUNT)],
         NEWCOMER.replace("time_ms", "time"))), Refused("time-unclear", ("`time` names no unit", "time"))),
    Case("dates that can be read two ways", bytes_of(with_clock(iso_times("01/03/2026 " + OF_DAY))),
         Refused("time-unclear", ("01/03/2026", "line 2", "one way"))),
    Case("two sensors in one file",
         bytes_of(text(np.column_stack((truth(), truth()[:, 1:])),
                       "t_ms,acc1_x,acc1_y,acc1_z,gyr1_x,gyr1_y,gyr1_z,acc2_x,acc2_y,acc2_z,gyr2_x,gyr2_y,gyr2_z")),
         Refused("repeated-column", ("`acc1_x` and `acc2_x`", "`columns`"))),
    Case("only an accelerometer", bytes_of(text(truth()[:, :4], "time_ms,AccX,AccY,AccZ")),
         Refused("missing-axis", ("gyro_x", "all six"))),
    Case("no header and nothing declared", bytes_of(text(truth(), None)), Refused("missing-column", ("`columns`",))),
    Case("decimal commas between commas", bytes_of(comma_decimals(",")), Refused("bad-row", ("cells", "header has 7"))),
    Case("the device started again", bytes_of(text(truth()) + text(truth(), None)),
         Refused("time-runs-backwards", ("line 302", "started again"))),
    Case("the header again in the middle", bytes_of(text(truth()) + text(truth())),
         Refused("bad-row", ("Line 302", "repeats the header"))),
    Case("a line of the log in between", edited("\n100,", "\nwifi lost\n100,"),
         Refused("bad-row", ("Line 22", "1 cells"))),
    Case("a cell left empty", one_cell(3, 2, ""), Refused("not-a-number", ("`AccY`", "is empty in line 5"))),
    Case("an overflow in words", one_cell(3, 5, "ovf"), Refused("not-a-number", ("`GyrY`", "'ovf' in line 5"))),
    Case("a sample the sensor did not deliver", one_cell(3, 5, "NaN"), Refused("not-finite", ("`GyrY`", "line 5"))),
    Case("an error code of the sensor", one_cell(3, 5, "1e9"), Refused("value-too-large", ("`GyrY`", "line 5"))),
    Case("an empty file", b"", Refused("no-samples", ("The file is empty",))),
    Case("int16 cut short", counts()[:-3], Refused("truncated", ("whole samples",)), "set.i16", {
        "columns": list(IMU_CHANNELS), "scale": {"accel": 1, "gyro": 1}, "rate_hz": 200}),
    Case("int16 and nothing told", counts(), Refused("missing-column", ("declare `columns`",)), "set.i16"),
    Case("SenML of grams", bytes_of(json.dumps(senml()).replace('"m/s2"', '"g"')),
         Refused("unknown-unit", ("gram in SenML",)), "set.senml"),
    Case("a picture", b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + bytes(50),
         Refused("unknown-content-type", ("a picture", "CSV")), "set.png"),
    Case("a workbook under the name of a CSV", b"PK\x03\x04\x14\x00" + bytes(90),
         Refused("unknown-content-type", ("save the sheet as CSV",))),
    Case("a page of a web site", b"<!doctype html><html><body>Not found</body></html>",
         Refused("missing-column", ("No column can be used",))),
]  # fmt: skip


def layout(case: Case) -> FileLayout:
    return layout_of(case.told, LIMITS)


def test_there_are_forty_of_them_with_names_of_their_own() -> None:
    assert len({case.name for case in CASES}) == len(CASES) >= 40
    assert sum(isinstance(case.expected, Refused) for case in CASES) >= 15


@pytest.mark.parametrize("case", [c for c in CASES if isinstance(c.expected, Read)], ids=lambda c: c.name)
def test_read_right(case: Case) -> None:
    assert isinstance(case.expected, Read)
    recording = read_recording_file(case.body, case.file_name, None, None, LIMITS, layout(case))
    (part,) = recording_of(recording.blocks, recording.kind, recording.units, SensorSetup()).parts
    assert isinstance(part, ImuSamples)
    read = np.column_stack((part.accel_m_s2, part.gyro_rad_s))
    np.testing.assert_allclose(read, TRUE_SI[:, 1:], atol=case.expected.within)
    t_us = np.concatenate([block.t_us for block in recording.blocks])
    np.testing.assert_allclose(t_us - t_us[0], TRUE_SI[:, 0], atol=1.0)
    if case.expected.start_us:
        assert t_us[0] == pytest.approx(case.expected.start_us, abs=1.0)
    for word in case.expected.words:
        assert any(word in note for note in recording.notes), recording.notes
    foretold = preview_recording(case.body, case.file_name, None, layout(case), LIMITS)
    assert foretold.refusal is None
    assert (foretold.units, foretold.notes) == (recording.units, recording.notes)
    assert foretold.timing is not None
    assert foretold.timing.rate_hz == pytest.approx(200, rel=1e-3)


@pytest.mark.parametrize("case", [c for c in CASES if isinstance(c.expected, Refused)], ids=lambda c: c.name)
def test_refused_with_the_right_reason(case: Case) -> None:
    assert isinstance(case.expected, Refused)
    refusal = refusal_of(read_recording_file, case.body, case.file_name, None, None, LIMITS, layout(case))
    assert refusal.code == case.expected.code, refusal.detail
    assert all(word in refusal.detail for word in case.expected.words), refusal.detail
    assert len(refusal.detail) < 600
    foretold = preview_recording(case.body, case.file_name, None, layout(case), LIMITS)
    assert foretold.refusal is not None
    assert (foretold.refusal.code, foretold.refusal.detail) == (refusal.code, refusal.detail)
