"""How a figure is written: u to one digit, two when it begins with 1 (common practice after the GUM, 7.2.6)."""

from __future__ import annotations

import pytest

from barwright_client import Figure


@pytest.mark.parametrize(
    ("figure", "text"),
    [
        (Figure(1.8234, 0.0081, "m/s"), "1.823 ± 0.008 m/s"),
        (Figure(1.8234, 0.0123, "m/s"), "1.823 ± 0.012 m/s"),
        (Figure(1.8234, 0.0096, "m/s"), "1.823 ± 0.010 m/s"),
        (Figure(1.8234, 0.0194, "m/s"), "1.823 ± 0.019 m/s"),
        (Figure(1.8234, 0.0197, "m/s"), "1.82 ± 0.02 m/s"),
        (Figure(-0.061, 0.2, "m"), "-0.1 ± 0.2 m"),
        (Figure(123.4, 31.0, "kg"), "120 ± 30 kg"),
        (Figure(123.4, 1.0, "kg"), "123.4 ± 1.0 kg"),
        (Figure(0.5, 0.1, "1"), "0.50 ± 0.10"),
        (Figure(1.5, 0.0, "s"), "1.5 s"),
        (Figure(1.5, None, "s"), "1.5 s"),
        (Figure(None, None, "m", "the string is plumb"), "unknown (the string is plumb)"),
        (Figure(None, None, "m"), "unknown"),
    ],
)
def test_figure_in_words(figure: Figure, text: str) -> None:
    assert str(figure) == text


def test_a_figure_without_value_is_false_and_zero_is_not() -> None:
    assert not Figure(None, None, "m", "x")
    assert Figure(0.0, 0.1, "m")
