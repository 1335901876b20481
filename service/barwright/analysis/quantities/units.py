"""The only table of units: UCUM codes to SI.

Source of the codes: The Unified Code for Units of Measure (UCUM), case-sensitive form, tables of units and prefixes.
Source of the values: standard gravity 9.80665 m/s2 (3rd CGPM, 1901) and the pound 0.45359237 kg, both exact.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

STANDARD_GRAVITY_M_S2 = 9.80665
POUND_KG = 0.45359237

UNITS: dict[str, dict[str, float]] = {
    "acceleration": {"m/s2": 1.0, "[g]": STANDARD_GRAVITY_M_S2, "m[g]": STANDARD_GRAVITY_M_S2 * 1e-3},
    "rate": {"rad/s": 1.0, "deg/s": math.pi / 180.0},
    "length": {"m": 1.0, "cm": 1e-2, "mm": 1e-3},
    "velocity": {"m/s": 1.0, "cm/s": 1e-2, "mm/s": 1e-3},
    "mass": {"kg": 1.0, "[lb_av]": POUND_KG},
    "time": {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9},
}

# Spellings people write, and what they mean where they write them.
_MEANT: dict[str, dict[str, str]] = {
    "acceleration": {
        "g": "[g]",
        "G": "[g]",
        "mg": "m[g]",
        "mG": "m[g]",
        "m/s^2": "m/s2",
        "m/s²": "m/s2",
        "m/s/s": "m/s2",
    },
    "rate": {"dps": "deg/s", "°/s": "deg/s", "degrees/s": "deg/s", "rad": "rad/s", "deg": "deg/s", "rads/s": "rad/s"},
    "length": {"metre": "m", "meter": "m", "M": "m", "MM": "mm"},
    "velocity": {"mps": "m/s", "m/sec": "m/s"},
    "mass": {"lb": "[lb_av]", "lbs": "[lb_av]", "kgs": "kg", "KG": "kg"},
    "time": {"sec": "s", "µs": "us", "μs": "us", "msec": "ms", "usec": "us"},
}
_WHY = {"g": " (`g` alone is the gram)", "mg": " (`mg` is the milligram)"}
# The same in the headers of files, folded by `_folded`: a column of acceleration cannot be in grams.
_IN_HEADERS: dict[str, dict[str, str]] = {
    "acceleration": {
        "[g]": "g gs g's g0 gn gravity gforce gee standardgravity",
        "m[g]": "mg mgs millig milligs m[g]",
        "m/s2": "m/s2 ms-2 m/s/s mps2 ms2 mss m/ss m/(s2) metre/s2 meter/s2 metres/s2 meters/s2",
    },
    "rate": {
        "deg/s": "deg/s degs degree/s degrees/s °/s dps degs-1 °s-1 deg degrees °",
        "rad/s": "rad/s rads radian/s radians/s rads-1 rad radians",
    },
    "length": {
        "m": "m metre meter metres meters",
        "cm": "cm centimetre centimeter centimetres centimeters",
        "mm": "mm millimetre millimeter millimetres millimeters",
    },
    "velocity": {"m/s": "m/s mps ms-1 metre/s meter/s metres/s meters/s", "cm/s": "cm/s", "mm/s": "mm/s mms-1"},
    "mass": {},
    "time": {
        "s": "s",
        "ms": "ms msec msecs millis millisec millisecs millisecond milliseconds",
        "us": "us usec usecs µs μs micros microsec microsecs microsecond microseconds",
        "ns": "ns nsec nsecs nanos nanosec nanosecs nanosecond nanoseconds",
    },
}
_FOLDS = {
    quantity: {word: code for code, words in codes.items() for word in words.split()}
    for quantity, codes in _IN_HEADERS.items()
}
_SIGNS = str.maketrans({"²": "2", "⁻": "-", "¹": "1", "−": "-", "º": "°", "^": "", "*": "", "·": "", "⋅": "", "_": ""})


class UnknownUnit(ValueError):  # noqa: N818 - it reads as what happened
    """A unit this service does not take for that quantity; the text says which units it takes."""

    def __init__(self, code: str, detail: str) -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail


def factor_to_si(ucum_code: str, quantity: str) -> float:
    """What one unit is in the SI unit of its quantity.

    quantity: acceleration (m/s2), rate (rad/s), length (m), velocity (m/s), mass (kg) or time (s).
    Raises UnknownUnit for a code that is not listed for that quantity.
    """
    known = UNITS[quantity]
    if ucum_code in known:
        return known[ucum_code]
    choices = ", ".join(f"`{code}`" for code in known)
    meant = _MEANT[quantity].get(ucum_code)
    advice = f" Write `{meant}`{_WHY.get(ucum_code, '')}." if meant else ""
    raise UnknownUnit(
        "unknown-unit",
        f"`{ucum_code}` is not a unit of {quantity} that can be used here; the choices are {choices}.{advice}",
    )


def meant_by(written: str, quantity: str) -> str | None:
    """The UCUM code of a unit as people write it in the header of a file: `m/s^2`, `g`, `dps`; None when not known."""
    text = written.strip()
    if text in UNITS[quantity]:
        return text
    known = _FOLDS[quantity]
    folded = "".join(text.translate(_SIGNS).split()).lower()
    if folded in known:
        return known[folded]
    for long in ("seconds", "second", "secs", "sec"):
        folded = folded.removesuffix(long) + "s" if folded.endswith(long) else folded
    return known.get(folded.replace("per", "/").replace("/sec", "/s"))


def to_si(values: ArrayLike, ucum_code: str, quantity: str) -> NDArray[np.float64]:
    """The values in SI units, same shape, always a new array.

    See `factor_to_si` for the quantities and for what is refused.
    """
    factor = factor_to_si(ucum_code, quantity)
    return np.multiply(values, factor, dtype=np.float64)
