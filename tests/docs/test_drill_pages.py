"""The pages of drills and limits are those the catalogue and the limits make, and technique.md explains its numbers."""

from __future__ import annotations

import dataclasses
import xml.etree.ElementTree as ET

import pytest

import make_drill_pages
from barwright.analysis.technique import limits
from barwright.analysis.technique.catalogue import CAUTIONS, published
from barwright.analysis.technique.faults import FaultParams
from barwright.analysis.technique.response import ResponseParams
from docs.pages import PROJECT, page

PAGES = make_drill_pages.pages(published())
DOCS = PROJECT / "docs"


def test_pages_and_drawings_are_current():
    wrong = [name for name, content in PAGES.items() if (DOCS / name).read_text("utf-8") != content]
    assert not wrong, "run: PYTHONPATH=sample_streams .venv/bin/python -m make_drill_pages"
    kept = {f"drills/{path.name}" for path in (DOCS / "drills").iterdir()}
    assert kept == {name for name in PAGES if name.startswith("drills/")}


@pytest.mark.parametrize("code", published().drills)
def test_every_drill_has_a_page_with_cautions_and_a_drawing(code):
    text = PAGES[f"drills/{code}.md"]
    assert all(words in text for words in CAUTIONS)
    drawing = ET.fromstring(PAGES[f"drills/{code}.svg"])
    assert drawing.tag.endswith("svg")
    assert any(child.tag.endswith("title") for child in drawing)
    assert any(child.tag.endswith("path") for child in drawing)


def test_every_limit_has_a_row():
    for limit in (*limits.SNATCH, *limits.CLEAN, *limits.JERK):
        assert f"| {limit.code} |" in PAGES["limits.md"]


@pytest.mark.parametrize("params", [FaultParams, ResponseParams])
def test_the_page_says_what_every_parameter_does(params):
    text = page("docs/technique.md")
    assert f"`{params.__name__}`" in text
    assert [f.name for f in dataclasses.fields(params) if f"`{f.name}`" not in text] == []
