from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.coach.forms import Fields
from barwright.coach.numbers import Display, ago, counted, day_words, figure, odds, reason_for, trimmed
from barwright.workflows.cannot import Cannot

KG, LB = Display("kg", UTC), Display("lb", UTC)


@pytest.mark.parametrize(
    ("estimate", "said"),
    [
        (Estimate(1.8236, 0.0081, "m/s"), "1.82 ± 0.01 m/s"),
        (Estimate(1.8236, 0.0001, "m/s"), "1.82 ± 0.01 m/s"),  # never nought
        (Estimate(-0.1053, 0.0113, "m"), "−10.5 ± 1.1 cm"),
        (Estimate(-0.19, 0.01, "rad"), "−10.9 ± 0.6 °"),
        (unknown("m/s", "cut off"), "–"),
        (None, "–"),
    ],
)
def test_figures_carry_their_uncertainty_and_unit(estimate, said):
    assert figure(estimate) == said


def test_a_figure_that_cannot_be_had_says_why():
    assert reason_for(unknown("m", "the bar was not caught")) == "the bar was not caught"
    assert reason_for(Estimate(1.0, 0.1, "m")) == ""


def test_pounds_are_those_of_the_agreement():
    """1 lb = 0.45359237 kg exactly (international yard and pound agreement, 1959)."""
    assert LB.weight(100.0) == "220.5 lb"
    assert LB.to_kg(220.462262) == pytest.approx(100.0, abs=1e-6)
    assert KG.weight(82.5) == "82.5 kg"
    assert KG.weight(60.0) == "60 kg"
    assert KG.weight(None) == "–"


def test_maxima_are_shown_as_coarse_as_they_are_sure():
    assert KG.weight_with_u(84.23, 3.9) == "84 ± 4 kg"
    assert KG.weight_with_u(44.23, 0.62) == "44.2 ± 0.6 kg"
    assert LB.weight_with_u(84.0, 4.0) == "185 ± 9 lb"
    assert KG.weight_with_u(None, None) == "–"


def test_times_are_in_the_clubs_zone():
    vienna = Display("kg", ZoneInfo("Europe/Vienna"))
    late = datetime(2026, 3, 1, 23, 30, tzinfo=UTC)
    assert vienna.when(late) == "Mon 2 Mar 2026, 00:30"
    assert KG.when(late) == "Sun 1 Mar 2026, 23:30"
    assert day_words(date(2026, 11, 25)) == "Wed 25 Nov 2026"


@pytest.mark.parametrize(
    ("probability", "said"),
    [(0.999, "99 in 100"), (0.96, "19 in 20"), (0.9, "9 in 10"), (0.8, "4 in 5"), (0.75, "3 in 4"), (0.5, "even odds")],
)
def test_odds_are_words(probability, said):
    assert odds(probability) == said


def test_how_long_ago():
    now = datetime(2026, 3, 1, 12, tzinfo=UTC)
    assert ago(None, now) == "never"
    assert ago(now - timedelta(seconds=20), now) == "just now"
    assert ago(now - timedelta(hours=1), now) == "1 hour ago"
    assert ago(now - timedelta(days=3), now) == "3 days ago"


def test_small_words():
    assert counted(1, "rep") == "1 rep"
    assert counted(3, "analysis", "analyses") == "3 analyses"
    assert trimmed(-0.001, 1) == "0"
    assert trimmed(-2.50, 2) == "−2.5"


def test_a_comma_does_for_a_point_and_errors_name_the_field():
    fields = Fields((("load", "82,5"), ("empty", ""), ("word", "heavy")))
    assert fields.number("load", "The load", 1, 600) == 82.5
    assert fields.number_or_none("empty", "The load", 1, 600) is None
    for name in ("word", "empty", "absent"):
        with pytest.raises(Cannot) as told:
            fields.number(name, "The load", 1, 600)
        assert told.value.pointer == f"/{name}"
        assert "from 1 to 600" in told.value.detail


def test_a_number_out_of_its_limits_is_refused():
    with pytest.raises(Cannot, match="from 1 to 600"):
        Fields((("load", "601"),)).number("load", "The load", 1, 600)
    with pytest.raises(Cannot, match="2026-03-01"):
        Fields((("day", "1.3.2026"),)).day("day")
