from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, timedelta
from xml.etree import ElementTree

import numpy as np
import pytest

from barwright.analysis.reps.results import Phase, RepPath
from barwright.coach.charts.bar_path import bar_path_chart
from barwright.coach.charts.drawing import Scale, round_ticks, thinned, tick_words
from barwright.coach.charts.over_days import (
    ChangeOn,
    ShareOn,
    StrengthOn,
    readiness_chart,
    response_chart,
    strength_chart,
)
from barwright.coach.charts.paths import paths_chart
from barwright.coach.charts.plates import plates_svg, plates_words
from barwright.coach.charts.profile import LineAt, PointSeen, profile_chart
from barwright.coach.charts.small_path import small_path
from barwright.coach.charts.velocity import velocity_chart
from barwright.coach.numbers import Display

SVG = "{http://www.w3.org/2000/svg}"
KG = Display("kg", UTC)
DAY = date(2026, 3, 2)


def curve(horizontal: bool = True, count: int = 400) -> RepPath:
    """Half a circle of 50 cm radius beside the plumb line, then straight up: both scales can be read from it."""
    t = np.linspace(10.0, 12.0, count)
    angle = np.linspace(0, np.pi, count)
    z, x = 0.5 - 0.5 * np.cos(angle), -0.5 * np.sin(angle)
    flat = np.zeros(count)
    return RepPath(
        t_s=t, z_m=z, vz=np.gradient(z, t), az=flat, u_z=flat + 0.005, u_vz=flat + 0.01,
        x_m=x if horizontal else None, vx=flat if horizontal else None, u_x=flat + 0.004 if horizontal else None,
    )  # fmt: skip


PHASES = (
    Phase("first_pull", 10.1, 10.8, 0.9),
    Phase("second_pull", 10.8, 11.2, 0.9),
    Phase("turnover", 11.2, 11.9, 0.8),
)
TRICKY = "<b>&\"'"


def charts():
    days = [StrengthOn(DAY + timedelta(days=n), 80 + n, 77 + n, 83 + n, 81.0, 2.0) for n in range(5)]
    line = [LineAt(kg, 2.4 - kg / 100, 2.3 - kg / 100, 2.5 - kg / 100) for kg in (40.0, 60.0, 80.0)]
    points = [PointSeen(60.0, 1.8, 0.02, "today", today=True), PointSeen(70.0, 1.7, 0.02, "earlier")]
    return [
        bar_path_chart(curve(), PHASES, True, curve(), TRICKY),
        velocity_chart(curve(), PHASES, curve(), TRICKY),
        strength_chart(days, [(DAY, 82.0)], TRICKY, KG, "a"),
        readiness_chart([ChangeOn(DAY, -4.0, 1.5, "down"), ChangeOn(DAY, 1.0, 1.5, "usual")], TRICKY, "b"),
        response_chart([ShareOn(DAY, 4.0, 0.5)], [ShareOn(DAY, 1.0, 0.5)], DAY, TRICKY, "cm", TRICKY, "c"),
        profile_chart(points, line, 80.0, 2.0, 1.6, TRICKY, KG, "d"),
        paths_chart(curve(), TRICKY, [(TRICKY, curve())], 11.5, "e"),
    ]


@pytest.mark.parametrize("place", range(7))
def test_every_chart_has_title_units_words_and_a_table(place):
    chart = charts()[place]
    assert chart is not None
    root = ElementTree.fromstring(str(chart.svg))
    title, words = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert title.text
    assert words is not None
    assert words.text == chart.words
    assert root.get("role") == "img"
    assert {title.get("id"), words.get("id")} == set(root.get("aria-labelledby", "").split())
    assert chart.units
    assert chart.table.rows
    assert all(len(row) == len(chart.table.head) for row in chart.table.rows)


@pytest.mark.parametrize("place", range(7))
def test_no_chart_needs_more_than_the_page_allows(place):
    svg = str(charts()[place].svg)
    assert " style=" not in svg
    assert "<script" not in svg
    assert "<b>" not in svg


@pytest.mark.parametrize("place", range(7))
def test_nothing_is_drawn_outside_of_the_picture(place):
    root = ElementTree.fromstring(str(charts()[place].svg))
    _, _, width, height = map(float, root.get("viewBox", "").split())
    for path in root.iter(f"{SVG}path"):
        numbers = [float(n) for n in re.findall(r"-?\d+\.?\d*", path.get("d", ""))]
        assert all(-1 <= x <= width + 1 for x in numbers[0::2]), path.get("class")
        assert all(-1 <= y <= height + 1 for y in numbers[1::2]), path.get("class")


def test_a_centimetre_is_as_long_across_as_it_is_up():
    chart = bar_path_chart(curve(), (), True)
    root = ElementTree.fromstring(str(chart.svg))
    (drawn,) = [path for path in root.iter(f"{SVG}path") if path.get("class") == "c-line"]
    numbers = np.array([float(n) for n in re.findall(r"-?\d+\.?\d*", drawn.get("d", ""))])
    wide, tall = np.ptp(numbers[0::2]), np.ptp(numbers[1::2])
    assert wide / tall == pytest.approx(0.5, abs=0.01)  # half a circle: its radius across, its diameter up


def test_phases_differ_by_more_than_colour():
    """Each has its own class, and in the style sheet its own dashes or width."""
    from barwright.coach.rendering import STATIC

    sheet = (STATIC / "charts.css").read_text()
    looks = re.findall(r"\.c-p(\d) \{ ([^}]*)\}", sheet)
    forms = [re.sub(r"stroke: var\([^)]*\);?", "", look).strip() for _, look in looks]
    assert len(forms) == 6
    assert len(set(forms)) == 6
    svg = str(bar_path_chart(curve(), PHASES, True).svg)
    for place, name in enumerate(("First pull", "Second pull", "Turnover")):
        assert f"c-p{place}" in svg
        assert f">{name}</text>" in svg


def test_labels_of_phases_do_not_lie_on_one_another():
    many = tuple(Phase("catch", 11.0 + 0.01 * n, 11.02 + 0.01 * n, 0.9) for n in range(6))
    root = ElementTree.fromstring(str(bar_path_chart(curve(), many, True).svg))
    heights = sorted(float(one.get("y", 0)) for one in root.iter(f"{SVG}text") if (one.text or "").startswith("Catch"))
    assert len(heights) == 6
    assert min(np.diff(heights)) >= 15


CLEAN_AND_JERK = tuple(
    Phase(code, start, stop, 0.9)
    for code, start, stop in (
        ("first_pull_and_transition_and_second_pull", 10.0, 10.8),
        ("turnover", 10.8, 11.0),
        ("catch", 11.0, 11.25),
        ("recovery", 11.25, 14.4),
        ("dip", 14.4, 14.85),
        ("drive", 14.85, 15.1),
        ("rise_to_apex", 15.1, 15.4),
        ("receive", 15.4, 15.55),
        ("recovery", 15.55, 17.9),
    )
)


def test_no_line_to_a_phase_goes_through_the_name_of_another():
    path = replace(curve(), t_s=np.linspace(9.8, 18.0, 400))
    root = ElementTree.fromstring(str(velocity_chart(path, CLEAN_AND_JERK).svg))
    names = [
        (float(one.get("x", 0)), float(one.get("y", 0)), one.text or "")
        for one in root.iter(f"{SVG}text")
        if one.get("class") == "c-label" and "m/s" not in (one.text or "")
    ]
    lines = [
        tuple(float(n) for n in re.findall(r"-?\d+\.?\d*", one.get("d", "")))
        for one in root.iter(f"{SVG}path")
        if one.get("class") == "c-leader"
    ]
    assert len(names) == 9
    assert lines
    for at, above, _, below in lines:
        for x, y, words in names:
            crossed = above < y - 4 < below and x < at < x + 6.0 * len(words)
            assert not crossed, words


def test_the_two_recoveries_of_a_clean_and_jerk_are_told_apart():
    for chart in (velocity_chart(curve(), CLEAN_AND_JERK), bar_path_chart(curve(), CLEAN_AND_JERK, True)):
        assert chart is not None
        told = [row[0] for row in chart.table.rows if "ecovery" in row[0]]
        assert [one.lower().removeprefix("end: ") for one in told] == ["recovery", "recovery of the jerk"]


def test_a_lost_bar_is_drawn_on_to_where_it_fell():
    fallen = bar_path_chart(curve(), PHASES[:2], True)
    assert fallen is not None
    root = ElementTree.fromstring(str(fallen.svg))
    (after,) = [one for one in root.iter(f"{SVG}path") if one.get("class") == "c-after-line"]
    numbers = [float(n) for n in re.findall(r"-?\d+\.?\d*", after.get("d", ""))]
    (plumb,) = [one for one in root.iter(f"{SVG}path") if one.get("class") == "c-zero"]
    assert numbers[-2] == pytest.approx(float(plumb.get("d", "M0").split(" ")[0][1:]), abs=1)  # it ends above its start
    assert ("c-after-line", "after the last phase") in fallen.key
    whole = bar_path_chart(curve(), (*PHASES, Phase("recovery", 11.9, 12.0, 0.9)), True)
    assert whole is not None
    assert "c-after-line" not in str(whole.svg)


def test_own_paths_have_more_than_nought_on_the_level_axis():
    chart = paths_chart(curve(), "today", [], None, "p")
    narrow = replace(curve(), x_m=0.1 * curve().x_m)
    for one in (chart, paths_chart(narrow, "today", [], None, "p")):
        assert one is not None
        root = ElementTree.fromstring(str(one.svg))
        level = [text.text for text in root.iter(f"{SVG}text") if text.get("text-anchor") == "middle"]
        assert len(level) >= 4  # three ticks and the name


def test_what_a_sensor_does_not_see_is_not_drawn():
    assert bar_path_chart(curve(horizontal=False), PHASES, True) is None
    assert small_path(curve(horizontal=False), "x") is None
    assert paths_chart(curve(horizontal=False), "x", [], None, "p") is None


def test_a_path_whose_forward_is_not_known_says_that_it_may_be_mirrored():
    chart = bar_path_chart(curve(), PHASES, forward_known=False)
    assert "may be mirrored" in chart.words
    assert "away" not in str(chart.svg)


def test_the_words_of_a_path_are_its_numbers():
    chart = bar_path_chart(curve(), PHASES, True)
    assert "100 cm up" in chart.words
    assert "50 cm toward the lifter" in chart.words


def test_long_paths_are_thinned_and_keep_their_ends():
    places = thinned(5000, 100)
    assert len(places) == 100
    assert (places[0], places[-1]) == (0, 4999)
    assert len(str(bar_path_chart(curve(count=60_000), PHASES, True).svg)) < 20_000


@pytest.mark.parametrize(
    ("low", "high", "wanted"),
    [(0, 10, [0, 2, 4, 6, 8, 10]), (-0.3, 0.9, [-0.2, 0.0, 0.2, 0.4, 0.6, 0.8]), (61, 84, [65, 70, 75, 80])],
)
def test_ticks_are_round(low, high, wanted):
    assert round_ticks(low, high, 5) == pytest.approx(wanted)


def test_ticks_are_written_alike():
    assert tick_words([-0.2, 0.0, 0.2]) == ["−0.2", "0", "0.2"]
    assert Scale(0, 10, 100, 200)(5) == 150


def test_plates_are_drawn_for_one_side_and_told():
    side = ((25.0, 2), (2.5, 1))
    assert str(plates_svg(side)).count('class="disc') == 3
    assert plates_words(side) == "2 × 25 + 2.5 each side"
    assert plates_words(()) == "empty bar"
    assert str(plates_svg(())).count('class="disc') == 0


def test_empty_courses_have_no_chart():
    assert strength_chart([], [], "Snatch", KG, "s") is None
    assert readiness_chart([], "Snatch", "r") is None
    assert response_chart([], [], DAY, "x", "cm", "", "p") is None
