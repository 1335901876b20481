"""Published load-velocity equations of groups: what an average lifter does, never what this one does."""

from __future__ import annotations

import math
from dataclasses import dataclass

from barwright.analysis.profiles.bounds import NotPlausible, check_velocity

_SQUAT = "Sánchez-Medina, Pallarés, Pérez, Morán-Navarro and González-Badillo 2017, Sports Med Int Open 1(2):E80-E88"
_BENCH = "González-Badillo and Sánchez-Medina 2010, Int J Sports Med 31:347-352"
_ROW = "Sánchez-Medina, González-Badillo, Pérez and Pallarés 2014, Int J Sports Med 35:209-216"
_POWER_CLEAN = "J Hum Sport Exerc 2018 13(3), doi 10.14198/jhse.2018.133.14"


@dataclass(frozen=True, slots=True)
class GroupEquation:
    """load % = a v² + b v + c, v in m/s of the named measure, from a group's data down to lightest_percent.

    seen: how far the coefficients were checked against the paper. warning: why not to lean on it, or None.
    """

    lift: str
    measure: str
    a: float
    b: float
    c: float
    lightest_percent: float
    source: str
    seen: str
    warning: str | None = None

    def percent_at(self, velocity_m_s: float) -> float:
        """% of maximum at a velocity."""
        v = check_velocity(velocity_m_s)
        return self.a * v * v + self.b * v + self.c

    def velocity_at(self, percent: float) -> float:
        """Velocity in m/s at a % of maximum: the falling branch. NotPlausible where the equation has none."""
        if self.a == 0.0:
            return (percent - self.c) / self.b
        inside = self.b**2 - 4 * self.a * (self.c - percent)
        if inside < 0 or not 0 < percent <= 130:
            raise NotPlausible("percent", f"{percent:g} % has no velocity in this equation; 30 to 100 % is right")
        return (-self.b - math.sqrt(inside)) / (2 * self.a)

    def mean_slope(self, low: float = 40.0, high: float = 100.0) -> float:
        """Mean fall of velocity per 100 % between two loads, m/s: what the straight priors use."""
        return 100.0 * (self.velocity_at(low) - self.velocity_at(high)) / (high - low)


EQUATIONS: dict[tuple[str, str], GroupEquation] = {
    (one.lift, one.measure): one
    for one in (
        GroupEquation(
            "back_squat", "mean_propulsive_velocity", -5.961, -50.71, 117.0, 40.0, _SQUAT, "coefficients second-hand"
        ),
        GroupEquation("back_squat", "mean_velocity", -12.87, -46.31, 116.3, 40.0, _SQUAT, "coefficients second-hand"),
        GroupEquation(
            "back_squat", "peak_velocity", -10.85, -25.10, 130.3, 40.0, _SQUAT, "coefficients second-hand",
            "R² 0.79; peak velocity in the squat says little",
        ),
        GroupEquation("bench_press", "mean_propulsive_velocity", 8.4326, -73.501, 112.33, 30.0, _BENCH, "from memory"),
        GroupEquation(
            "bent_over_row", "mean_propulsive_velocity", 18.5797, -104.182, 147.94, 30.0, _ROW, "from memory"
        ),
        GroupEquation(
            "power_clean", "peak_velocity", 0.0, -25.86, 128.85, 50.0, _POWER_CLEAN, "seen",
            "R² 0.46, and 100 % at 1.12 m/s, far below measured ones: do not use it for loads",
        ),
    )
}  # fmt: skip
PROPULSIVE_SHARE_40, PROPULSIVE_SHARE_100 = 0.82, 1.0  # of concentric time in the squat; Sánchez-Medina et al. 2017


def propulsive_share(percent: float) -> float:
    """Share of the lifting time of a squat in which the bar is driven, at 40-100 % of maximum.

    The ends are published (Sánchez-Medina et al. 2017: about 0.82 at 40 %, 1 at the maximum); straight between is ours.
    """
    if not 40 <= percent <= 100:
        raise NotPlausible("percent", f"{percent:g} %; 40 to 100 % is published")
    return PROPULSIVE_SHARE_40 + (PROPULSIVE_SHARE_100 - PROPULSIVE_SHARE_40) * (percent - 40) / 60
