"""The charts of the guide to own devices are what the error model says today, and every drawing can be read aloud."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

import make_sensor_charts
from docs.pages import PROJECT, page

DOCS = PROJECT / "docs"
DRAWINGS = ("sensor_rate.svg", "sensor_range.svg", "mounting.svg")


def test_the_charts_are_current():
    wrong = [
        name for name, content in make_sensor_charts.charts().items() if (DOCS / name).read_text("utf-8") != content
    ]
    assert not wrong, "run: PYTHONPATH=sample_streams .venv/bin/python -m make_sensor_charts"


@pytest.mark.parametrize("name", DRAWINGS)
def test_a_drawing_has_a_title_and_a_description(name):
    root = ET.fromstring((DOCS / name).read_text("utf-8"))
    assert root.get("role") == "img"
    told = {child.tag.rpartition("}")[2]: child for child in root}
    assert {"title", "desc"} <= set(told)
    assert root.get("aria-labelledby").split() == [told["title"].get("id"), told["desc"].get("id")]
    assert len(told["desc"].text) > 100
    assert f"]({name})" in page("docs/bring_your_own_device.md")
