"""Gravity where one is, from latitude and height."""

from __future__ import annotations

import math

# WGS 84 (NIMA TR8350.2, third edition, 2000, tables 3.1 to 3.4)
EQUATOR = 9.7803253359  # m/s2
SOMIGLIANA = 0.00193185265241
ECCENTRICITY_2 = 0.00669437999013
AXIS_M, FLATTENING = 6378137.0, 1.0 / 298.257223563
RATIO = 0.00344978650684  # of centrifugal to gravitational force at the equator
ANOMALY = 0.0005  # m/s2: mountains and rocks move gravity by some 50 mGal about the formula (from memory)


def normal_gravity(latitude_deg: float, height_m: float = 0.0) -> float:
    """m/s2 at a geodetic latitude and height above the ellipsoid: Somigliana's closed formula (TR8350.2, eq. 4-1), and
    its second-order decrease with height (eq. 4-3). The real one differs by about ANOMALY.
    """
    s2 = math.sin(math.radians(latitude_deg)) ** 2
    on_it = EQUATOR * (1.0 + SOMIGLIANA * s2) / math.sqrt(1.0 - ECCENTRICITY_2 * s2)
    up = height_m / AXIS_M
    return on_it * (1.0 - 2.0 * (1.0 + FLATTENING + RATIO - 2.0 * FLATTENING * s2) * up + 3.0 * up**2)
