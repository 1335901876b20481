"""`barwright analyse --plot`: one file, no scripts, and what it says of constraints is true."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from barsim import simulate
from barwright.__main__ import main
from barwright.analysis.devices.constraints import constraints_of
from barwright.analysis.motion.imu_motion import ImuErrors, imu_motion

SAMPLES = Path(__file__).parents[2] / "sample_streams"
SNATCH = str(SAMPLES / "imke_snatch_70.csv")


class Tags(HTMLParser):
    """Every tag and attribute of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.loaded: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.loaded += [value for name, value in attrs if name in ("src", "href") and value]


def test_the_page_needs_nothing_from_elsewhere_and_runs_nothing(tmp_path, capsys):
    out = tmp_path / "snatch.html"
    assert main(["analyse", SNATCH, "--bar-axis", "+x", "--plot", str(out)]) == 0
    assert "made" in capsys.readouterr().out
    page = Tags()
    page.feed(out.read_text())
    assert "script" not in page.tags
    assert page.loaded == []
    assert page.tags.count("svg") == 6
    text = out.read_text()
    for title in ("Force", "Rate", "Attitude", "Velocity", "Bar path", "What each constraint did", "Every constraint"):
        assert f"<h2>{title}</h2>" in text
    assert text.count("<td>held rest</td>") >= 2
    for svg in re.findall(r"<svg .*?</svg>", text, re.DOTALL):
        ET.fromstring(svg)


def test_one_svg_holds_all_pictures(tmp_path):
    out = tmp_path / "snatch.svg"
    assert main(["analyse", SNATCH, "--plot", str(out)]) == 0
    root = ET.fromstring(out.read_text())
    inner = [one for one in root if one.tag.endswith("svg")]
    assert len(inner) >= 5
    tops = [(float(one.get("y")), float(one.get("height"))) for one in inner]
    assert all(y + height <= after for (y, height), (after, _) in pairwise(tops))


def test_a_string_has_a_report_too(tmp_path):
    out = tmp_path / "bench.html"
    file = str(SAMPLES / "lucja_bench_press_35.csv")
    assert main(["analyse", file, "--lift", "bench_press", "--plot", str(out)]) == 0
    assert "<h2>String</h2>" in out.read_text()
    assert "Every constraint" not in out.read_text()


@pytest.mark.parametrize("name", ["out.pdf", "out"])
def test_another_ending_is_refused(tmp_path, capsys, name):
    assert main(["analyse", SNATCH, "--plot", str(tmp_path / name)]) == 2
    assert ".html or .svg" in capsys.readouterr().err


def test_what_moves_without_a_constraint_is_what_a_fit_without_it_says():
    """Against the posterior of the other rows alone, worked out by plain normal equations."""
    made = simulate("snatch", seed=3, device="good")
    motion = imu_motion(made.imu_samples, made.recording.setup).motions[0]
    assert isinstance(motion.errors, ImuErrors)
    solution = motion.errors.solution
    found = [one for one in constraints_of(solution, motion.errors.start_s, motion.dt) if one.kind == "rest"]
    assert len(found) == len(solution.believed) >= 2
    lower = np.tril(solution.factor[0])
    noise = np.sum(lower**2, axis=1) - np.sum(solution.rows**2, axis=1)
    for place, one in enumerate(found):
        kept = np.ones(len(noise), dtype=bool)
        kept[9 * place : 9 * place + 9] = False
        a, y, w = solution.rows[kept], solution.wanted[kept], 1 / noise[kept]
        latent = np.linalg.solve(a.T @ (a * w[:, None]) + np.eye(a.shape[1]), a.T @ (w * y))
        change = latent - solution.latent
        columns = np.concatenate((solution.prior.factor @ change[:30], change[30:]))
        row = solution.at.model.velocity_rows(np.array([one.at_s - motion.errors.start_s]))[0, 2]
        assert abs(row @ columns) == pytest.approx(one.moved_m_s, rel=1e-3, abs=1e-6)
        assert one.held_to > 0
        assert one.sigmas < 3
