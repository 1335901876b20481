"""What is sent to calibrate a sensor: a recording that holds still poses, or the means of each pose."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from barwright.analysis.poses.found import ToldMeans
from barwright.analysis.quantities.units import factor_to_si
from barwright.ingest.cbor_members import members_of_cbor
from barwright.ingest.columns import Path, kind_of, sensor_values
from barwright.ingest.declared_units import QUANTITY_OF, SI, known_units, read_as_si
from barwright.ingest.decode import CBOR, media_type_of
from barwright.ingest.json_members import members_of_json
from barwright.ingest.limits import Limits
from barwright.ingest.recording_file import RecordingFile, read_recording_file, recording_of_members
from barwright.ingest.refusals import Refusal, pointer_to

GRAVITY = "gravity_m_s2"
LEAST_GRAVITY, MOST_GRAVITY = 9.76, 9.84  # m/s2, the surface of the Earth
MOST_POSES = 200
MOST_SAMPLES = 10_000_000
_POSE = ("accel", "gyro", "samples")


@dataclass(frozen=True, slots=True)
class CalibrationBody:
    """recording, or means of poses in SI units with the rate of their samples where it was told.

    gravity m/s2: None when it was not told. notes: plain sentences on what was taken for granted.
    """

    recording: RecordingFile | None = None
    means: tuple[ToldMeans, ...] = ()
    rate_hz: float | None = None
    gravity: float | None = None
    notes: tuple[str, ...] = ()


def read_calibration_body(body: bytes, content_type: str, limits: Limits) -> CalibrationBody:
    """A JSON or CBOR body: columns as in a recording or a block, or `poses`; `units`, and `gravity_m_s2` beside them.

    Raises Refusal, and nothing else, for every body that is neither.
    """
    members = _members(body, content_type, limits)
    if not isinstance(members, dict):
        raise Refusal("bad-member", f"The body is {kind_of(members)}; it has to be an object.", "")
    rest = {name: value for name, value in members.items() if name != GRAVITY}
    gravity = checked_gravity(members.get(GRAVITY), (GRAVITY,))
    if "poses" in rest:
        return _of_means(rest, gravity, limits)
    return CalibrationBody(recording_of_members(rest, {}, limits), gravity=gravity)


def read_calibration_file(
    body: bytes,
    filename: str | None,
    content_type: str | None,
    units: dict[str, str],
    gravity: float | None,
    limits: Limits,
) -> CalibrationBody:
    """A recording file. Raises Refusal, and nothing else, for every file that is not a good recording."""
    gravity = checked_gravity(gravity, ("meta", GRAVITY))
    return CalibrationBody(read_recording_file(body, filename, content_type, dict(units), limits), gravity=gravity)


def checked_gravity(value: Any, path: Path) -> float | None:
    """Local gravity, m/s2. Refuses what is not found on Earth."""
    if value is None:
        return None
    if type(value) not in (int, float) or not LEAST_GRAVITY <= value <= MOST_GRAVITY:
        raise Refusal(
            "bad-member",
            f"`{GRAVITY}` is {kind_of(value)}; local gravity lies between {LEAST_GRAVITY} and {MOST_GRAVITY} m/s2. "
            "Leave it out when you do not know it.",
            pointer_to(*path),
        )
    return float(value)


def _members(body: bytes, content_type: str, limits: Limits) -> Any:
    if media_type_of(content_type) == CBOR:
        return members_of_cbor(body, limits.nesting, 4 * limits.recording_samples)
    return members_of_json(body, limits.nesting)


def _of_means(members: dict[str, Any], gravity: float | None, limits: Limits) -> CalibrationBody:
    for name in members:
        if name not in ("units", "rate_hz", "poses"):
            raise Refusal(
                "unknown-member",
                f"`{name}` does not go with `poses`; send poses, units, rate_hz and {GRAVITY}, or a recording instead.",
                pointer_to(name),
            )
    units = known_units(members.get("units", {}))
    rate_hz = members.get("rate_hz")
    if rate_hz is not None and (
        type(rate_hz) not in (int, float) or not limits.lowest_rate_hz <= rate_hz <= limits.highest_rate_hz
    ):
        raise Refusal(
            "rate-out-of-limits",
            f"`rate_hz` is {kind_of(rate_hz)}; it has to be a number from {limits.lowest_rate_hz:g} to "
            f"{limits.highest_rate_hz:g} Hz.",
            "/rate_hz",
        )
    poses = members["poses"]
    if not isinstance(poses, list) or not 1 <= len(poses) <= MOST_POSES:
        raise Refusal("bad-member", f"`poses` has to be a list of 1 to {MOST_POSES} poses.", "/poses")
    means = tuple(_pose(pose, units, ("poses", place)) for place, pose in enumerate(poses))
    notes = read_as_si(group for group in ("accel", "gyro") if group not in units)
    return CalibrationBody(None, means, None if rate_hz is None else float(rate_hz), gravity, notes)


def _pose(pose: Any, units: dict[str, str], path: Path) -> ToldMeans:
    if not isinstance(pose, dict):
        raise Refusal("bad-member", f"The pose is {kind_of(pose)}; it has to be an object.", pointer_to(*path))
    for name in _POSE:
        if name not in pose:
            raise Refusal(
                "missing-member", f"The pose has no `{name}`; a pose has {', '.join(_POSE)}.", pointer_to(*path, name)
            )
    for name in pose:
        if name not in _POSE:
            raise Refusal(
                "unknown-member", f"`{name}` is not known here; a pose has {', '.join(_POSE)}.", pointer_to(*path, name)
            )
    samples = pose["samples"]
    if type(samples) is not int or not 1 <= samples <= MOST_SAMPLES:
        raise Refusal(
            "bad-member",
            f"`samples` is {kind_of(samples)}; it has to be how many samples the means are of, 1 to {MOST_SAMPLES}.",
            pointer_to(*path, "samples"),
        )
    return ToldMeans(
        _three(pose["accel"], "accel", units, (*path, "accel")),
        _three(pose["gyro"], "gyro", units, (*path, "gyro")),
        samples,
    )


def _three(value: Any, group: str, units: dict[str, str], path: Path) -> tuple[float, float, float]:
    numbers = sensor_values(value, path)
    if len(numbers) != 3:
        raise Refusal(
            "unequal-columns",
            f"`{group}` has {len(numbers)} values; a mean has three, of x, y and z.",
            pointer_to(*path),
        )
    factor = factor_to_si(units.get(group, SI[group]), QUANTITY_OF[group])
    x, y, z = (float(number) * factor for number in numbers)
    return x, y, z
