"""One column of numbers, checked: from JSON or CBOR values to a numpy array."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barwright.ingest.limits import LARGEST_EXACT_INTEGER
from barwright.ingest.refusals import Refusal, pointer_to

Path = tuple[str | int, ...]
LARGEST_VALUE = 1e6  # more than twice 400 times gravity in its thousandths, the largest full scale in the smallest unit


@dataclass(frozen=True, slots=True)
class NoArray:
    """Stands where an array was sent that cannot be read; `why` is plain words."""

    why: str


def at_sample(index: int) -> str:
    """Where a value is, in words."""
    return f"at sample {index} (counted from 0)"


def length_of(values: Any, path: Path) -> int:
    """How many values a column has. Refuses anything that is not an array."""
    if isinstance(values, list | np.ndarray):
        return len(values)
    if isinstance(values, NoArray):
        raise Refusal("bad-member", f"`{path[-1]}` cannot be read: {values.why}.", pointer_to(*path))
    raise Refusal(
        "bad-member",
        f"`{path[-1]}` is {kind_of(values)}; it has to be an array of numbers, one per sample.",
        pointer_to(*path),
    )


def finite_numbers(values: Any, path: Path, place: Callable[[int], str] = at_sample) -> NDArray[np.float64]:
    """A (n,) float64 column. Refuses text, true, false, null and values that are not finite, each with its place."""
    numbers = _numbers(values, path, place)
    finite = np.isfinite(numbers)
    if not finite.all():
        index = int(np.argmin(finite))
        raise Refusal(
            "not-finite",
            f"`{path[-1]}` is {numbers[index]} {place(index)}; every value has to be finite. "
            "Leave out samples the sensor did not deliver.",
            pointer_to(*path, index),
        )
    return numbers


def sensor_values(values: Any, path: Path, place: Callable[[int], str] = at_sample) -> NDArray[np.float64]:
    """A (n,) float64 column of what a sensor measured. Refuses what no sensor does, in any of the units."""
    numbers = finite_numbers(values, path, place)
    far = np.abs(numbers) > LARGEST_VALUE
    if far.any():
        index = int(np.argmax(far))
        raise Refusal(
            "value-too-large",
            f"`{path[-1]}` is {numbers[index]:g} {place(index)}; no value of a sensor is beyond {LARGEST_VALUE:g}. "
            "Leave out samples that were not measured.",
            pointer_to(*path, index),
        )
    return numbers


def sensor_columns(given: dict[str, Any], names: Sequence[str], path: Path) -> dict[str, NDArray[np.float64]]:
    """The equally long columns of these names, each (n,) float64. Refuses what `sensor_values` does."""
    columns = [given[name] for name in names]
    if all(isinstance(column, np.ndarray) for column in columns):
        with np.errstate(invalid="ignore"):
            together = np.array(columns, dtype=np.float64)
            good = together.size > 0 and together.min() >= -LARGEST_VALUE and together.max() <= LARGEST_VALUE
        if good:  # not so with a NaN anywhere; then the look at each column says where
            return dict(zip(names, together, strict=True))
    return {name: sensor_values(given[name], (*path, name)) for name in names}


def whole_microseconds(values: Any, path: Path, place: Callable[[int], str] = at_sample) -> NDArray[np.int64]:
    """A (n,) int64 column of device times. Refuses fractions and what is not exact in a float64."""
    if isinstance(values, np.ndarray) and values.dtype.kind == "i":
        whole = values.astype(np.int64)
        bad = (whole >= LARGEST_EXACT_INTEGER) | (whole <= -LARGEST_EXACT_INTEGER)
    else:
        numbers = finite_numbers(values, path, place)
        bad = (np.abs(numbers) >= LARGEST_EXACT_INTEGER) | (numbers != np.rint(numbers))
        whole = np.where(bad, 0, numbers).astype(np.int64)
    if bad.any():
        index = int(np.argmax(bad))
        raise Refusal(
            "bad-member",
            f"`{path[-1]}` is {values[index]} {place(index)}; device times are whole microseconds "
            "between -2^53 and 2^53.",
            pointer_to(*path, index),
        )
    return whole


def kind_of(value: Any) -> str:
    """What a value is, in the words of JSON."""
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return f"the number {value!r}"[:40]
    for kind, words in ((str, "text"), (list, "an array"), (np.ndarray, "an array"), (dict, "an object")):
        if isinstance(value, kind):
            return words
    return f"of type {type(value).__name__}"


def _numbers(values: Any, path: Path, place: Callable[[int], str]) -> NDArray[np.float64]:
    length_of(values, path)
    if isinstance(values, np.ndarray):
        with np.errstate(invalid="ignore"):  # a signalling NaN is refused by the caller, not warned of
            return values.astype(np.float64)
    if not set(map(type, values)) <= {int, float}:
        index = next(i for i, value in enumerate(values) if type(value) not in (int, float))
        raise Refusal(
            "not-a-number",
            f"`{path[-1]}` is {kind_of(values[index])} {place(index)}; every value has to be a number.",
            pointer_to(*path, index),
        )
    try:
        return np.array(values, dtype=np.float64)
    except OverflowError:  # a whole number beyond the range of float64
        return np.array([_as_float(value) for value in values], dtype=np.float64)


def _as_float(value: float) -> float:
    try:
        return float(value)
    except OverflowError:
        return float("inf") if value > 0 else float("-inf")
