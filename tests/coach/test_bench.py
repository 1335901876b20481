"""The page of one sensor: its view without HTML, and its two pictures."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from barwright.coach.charts.sensor import ErrorBar, FigureRow, expected_chart, likeness_chart
from barwright.coach.numbers import Display
from barwright.coach.views.bench import bench_view
from barwright.storage.bench import StoredBench
from barwright.storage.devices import Device, DeviceFacts

NOW = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)
SHOWN = Display("kg", ZoneInfo("UTC"))
CLASSES = {"good": 20.0, "fast": 20.0, "hobby": 50.0, "poor": 60.0}
FOUND = {
    "stream": {
        "rate_hz": {"value": 199.98, "u": 0.01, "unit": "Hz"}, "jitter_s": 0.0011, "lost": 0.004,
        "longest_hole_s": 0.01, "bandwidth_hz": None,
    },
    "clock": None,
    "ranges": [{"group": "accel", "full_scale": 39.2, "needed": 58.8, "enough": False}],
    "expected": [
        {"lift": "snatch", "as_is": {"u": 0.0121}, "calibrated": {"u": 0.0042}},
        {"lift": "back_squat", "as_is": {"u": 0.0101}, "calibrated": {"u": None}},
    ],
    "changes": [{"code": "calibrate", "before": 0.0121, "after": 0.0042, "words": "Calibrate it."}],
    "likeness": [{"figure": "accel_bias", "unit": "m[g]", "value": 33.1, "classes": CLASSES, "like": "hobby"}],
    "alike": "hobby",
    "no_constants": None,
    "words": ["With this sensor, mounted like this, expect ±0.012 m/s in the snatch.", "Change first: x", "None lost."],
}  # fmt: skip


def device(kind="imu"):
    return Device("dev_1", DeviceFacts("bar 3", kind), NOW)


def test_the_newest_check_is_told_with_what_to_change_first():
    view = bench_view(device(), [StoredBench("chk_1", "dev_1", "check", NOW, FOUND)], [], SHOWN)
    assert view.headline == ("With this sensor, mounted like this, expect ±0.012 m/s in the snatch.",)
    assert (view.steps[0].before, view.steps[0].after) == ("0.0121", "0.0042")
    facts = {one.name: one.value for one in view.facts}
    assert facts["Samples a second"] == "200.0"
    assert facts["Samples lost"] == "0.40 %"
    assert facts["Clock"] == "not checked"
    assert facts["Range, accelerometer"] == "±4 g; lifts need ±6 g"
    assert "Change first: x" not in view.said


def test_a_known_motion_shows_its_worst_verdict():
    figures = [{"verdict": "agrees"}, {"verdict": "differs"}]
    motion = StoredBench("mot_1", "dev_1", "motion", NOW, {"motion": "drop", "figures": figures, "words": ["so"]})
    view = bench_view(device(), [], [motion], SHOWN)
    assert view.checked is None
    assert view.tried[0].title == "Drop"
    assert view.tried[0].tag.words == "Differs"


def test_the_picture_of_errors_has_two_bars_a_lift_as_long_as_the_errors():
    chart = expected_chart([ErrorBar("Snatch", 0.012, 0.004), ErrorBar("Squat", 0.006, None)])
    root = ET.fromstring(str(chart.svg))
    bars = [(one.get("class"), float(one.get("width"))) for one in root.iter() if one.tag.endswith("rect")]
    assert [kind for kind, _ in bars] == ["c-before", "c-after", "c-before"]
    assert abs(bars[0][1] / bars[1][1] - 3.0) < 0.02
    assert abs(bars[0][1] / bars[2][1] - 2.0) < 0.02
    assert chart.table.rows[1][2] == "not known"


def test_the_picture_of_classes_merges_marks_that_would_lie_on_each_other():
    row = FigureRow("Zero", "m[g]", 33.0, "33 m[g]", tuple(CLASSES.items()), "hobby")
    chart = likeness_chart([row])
    letters = [one.text for one in ET.fromstring(str(chart.svg)).iter() if one.tag.endswith("text")]
    assert "gf" in letters
    assert chart.words == "Nearest to the class hobby: zero."
    unknown = likeness_chart([FigureRow("Zero", "m[g]", None, "not known", tuple(CLASSES.items()), "")])
    assert unknown.words == "None of the figures is known."


def test_what_was_understood_of_the_file_does_not_stand_where_the_answer_belongs():
    words = ["No unit was given for accel: read as `[g]`.", *FOUND["words"]]
    found = {**FOUND, "words": words}
    view = bench_view(device(), [StoredBench("chk_1", "dev_1", "check", NOW, found)], [], SHOWN)
    assert view.headline == ("With this sensor, mounted like this, expect ±0.012 m/s in the snatch.",)
    assert view.said[0] == "No unit was given for accel: read as [g]."
