"""Units: UCUM codes (unitsofmeasure.org, case-sensitive forms) and exact values."""

from __future__ import annotations

import math

import numpy as np
import pytest

from barwright.analysis.quantities.units import UNITS, UnknownUnit, to_si


@pytest.mark.parametrize(
    ("quantity", "code", "one"),
    [
        ("acceleration", "[g]", 9.80665),  # 3rd CGPM (1901), also UCUM `[g]`
        ("acceleration", "m[g]", 0.00980665),  # UCUM: `[g]` is metric, so it takes the prefix milli
        ("acceleration", "m/s2", 1.0),
        ("rate", "deg/s", math.radians(1.0)),
        ("rate", "rad/s", 1.0),
        ("length", "mm", 0.001),
        ("length", "cm", 0.01),
        ("velocity", "cm/s", 0.01),
        ("mass", "[lb_av]", 0.45359237),  # international yard and pound agreement (1959), exact
        ("time", "us", 1e-6),
    ],
)
def test_one_unit_in_si(quantity: str, code: str, one: float) -> None:
    answer = to_si([1.0, -2.0, 0.0], code, quantity)
    assert answer.dtype == np.float64
    np.testing.assert_allclose(answer, [one, -2 * one, 0.0], rtol=1e-15)


def test_the_answer_is_a_new_array() -> None:
    values = np.array([1.0, 2.0])
    to_si(values, "m/s2", "acceleration")[0] = 9.0
    assert values[0] == 1.0


@pytest.mark.parametrize(
    ("quantity", "code", "advice"),
    [
        ("acceleration", "g", "Write `[g]` (`g` alone is the gram)"),
        ("acceleration", "mg", "Write `m[g]` (`mg` is the milligram)"),
        ("acceleration", "m/s^2", "Write `m/s2`"),
        ("rate", "dps", "Write `deg/s`"),
        ("mass", "lb", "Write `[lb_av]`"),
    ],
)
def test_common_wrong_spellings_are_refused_with_the_right_one(quantity: str, code: str, advice: str) -> None:
    with pytest.raises(UnknownUnit) as refused:
        to_si([1.0], code, quantity)
    assert refused.value.code == "unknown-unit"
    assert advice in refused.value.detail
    assert f"`{code}`" in refused.value.detail


@pytest.mark.parametrize("quantity", UNITS)
def test_a_unit_of_another_quantity_is_refused_and_the_choices_named(quantity: str) -> None:
    other = "m" if quantity != "length" else "s"
    with pytest.raises(UnknownUnit) as refused:
        to_si([1.0], other, quantity)
    assert all(f"`{code}`" in refused.value.detail for code in UNITS[quantity])


def test_codes_are_case_sensitive() -> None:
    # UCUM, section 1.3: `M` is the prefix mega, `m` the metre.
    with pytest.raises(UnknownUnit):
        to_si([1.0], "M", "length")
