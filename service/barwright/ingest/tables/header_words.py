"""What one column header says, in many spellings: quantity, axis and unit."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from barwright.analysis.quantities.units import meant_by
from barwright.ingest.block import ENCODER_CHANNELS, IMU_CHANNELS
from barwright.ingest.declared_units import QUANTITY_OF

TIME = "time"
OWN_TIMES = {"t_s": "s", "t_ms": "ms", "t_us": "us", "t_ns": "ns"}
LONGEST_HEADER = 120

_WITH_UNIT = re.compile(r"([^\[({<]*?)\s*[\[({<](.*)[\])}>]\s*", re.DOTALL)
_SAID_AFTER = re.compile(r"(.+?)\s*(?:\s/\s|\sin\s|,\s)\s*(.+)")
_PIECES = re.compile(r"[XYZ](?=(?:dps|degs?|rads?|m?g|ms)\b)|[A-Z]+(?=[A-Z][a-z])|[A-Z]?[a-z]+|[A-Z]+|\d+|[°µμ]")

_WORDS = {
    TIME: "t time timestamp timestamps ts stamp clock elapsed epoch unix datetime utc uptime millis micros nanos tick",
    "accel": "a acc accel acce accelero accelerometer acceleration accelerations",
    "gyro": "w gyr gyro gyroscope omega angvel rotation rot rotationrate turnrate angularvelocity angularrate",
    "position": "position pos height displacement disp distance length extension travel encoder",
    "velocity": "velocity vel speed v",
}
_GROUP_OF = {word: group for group, words in _WORDS.items() for word in words.split()}
_TURNING = {"angular", "ang", "rotation", "rotational", "rot", "turn"}
_FILL_WORDS = """
imu motion sensor raw data value val values axis body bar barbell string wire calibrated uncalibrated cal filtered filt
bmi mpu lsm icm bno device dev component of the sample since start boot system sys rate count counts total"""
_FILL = set(_FILL_WORDS.split())
_NOT_FORCE = {"linear", "lin", "user", "dynamic", "nogravity", "world", "earth", "global"}
COUNTS = {"lsb", "lsbs", "count", "counts", "adc", "pulses", "ticks"}


@dataclass(frozen=True, slots=True)
class Word:
    """What a header says.

    channel: time, one of a block's channels, or None when the column is none of ours; why: then in plain words, or "".
    unit: as written, or None. own: the header is written as this project writes it. sensor: digits that tell two
    sensors of one kind apart.
    """

    channel: str | None
    unit: str | None = None
    own: bool = False
    sensor: str = ""
    why: str = ""


@lru_cache(4096)
def read_word(header: str) -> Word:
    """What a header of a file says. Never refuses: a header that says nothing known is a column of no interest."""
    text = header.strip().strip('"').strip()
    if not text or len(text) > LONGEST_HEADER:
        return Word(None)
    base, unit = _split(text)
    name = base.lower()
    if name in OWN_TIMES or name in IMU_CHANNELS or name in ENCODER_CHANNELS:
        return Word(TIME if name in OWN_TIMES else name, OWN_TIMES.get(name, unit), True)
    pieces = _pieces_of(base)
    said = Word(None)
    for count in (0, 1, 2):  # how many pieces at the end are the unit: acc_x_g, time_ms, gyro_x_rad_s
        if unit is not None and count:
            break
        before, after = pieces[: len(pieces) - count], pieces[len(pieces) - count :]
        for tail in ("/".join(after), "".join(after)) if count else (unit,):
            said = _channel_of(before, tail, bool(count))
            if said.channel is not None or said.why:
                return said
    return said


def unit_of(word: Word) -> str | None:
    """The UCUM code a header tells; None when it tells none, or one that is not known for its quantity."""
    return None if word.unit is None or word.channel is None else meant_by(word.unit, quantity_of(word.channel))


def quantity_of(channel: str) -> str:
    """acceleration for accel_x, time for time."""
    return TIME if channel == TIME else QUANTITY_OF[channel.removesuffix("_x").removesuffix("_y").removesuffix("_z")]


def _split(text: str) -> tuple[str, str | None]:
    """`AccX (g)` -> AccX, g; `accel_x[[g]]` -> accel_x, [g]; `v in m/s` -> v, m/s."""
    match = _WITH_UNIT.fullmatch(text)
    if match is not None:
        return match.group(1).strip(), match.group(2).strip() or None
    match = _SAID_AFTER.fullmatch(text)
    return (match.group(1), match.group(2)) if match is not None else (text, None)


def _pieces_of(base: str) -> list[str]:
    pieces: list[str] = []
    for piece in _PIECES.findall(base):
        if piece == "2" and pieces and pieces[-1] in ("s", "ms", "mps"):
            pieces[-1] += piece  # m_s2 and ms2 are units
        else:
            pieces.append(piece.lower())
    return pieces


def _channel_of(pieces: list[str], unit: str | None, in_name: bool) -> Word:
    pieces, axis = _axis_of(pieces)
    words = [one for one in pieces if one not in _FILL and not one.isdigit()]
    sensor = "".join(one for one in pieces if one.isdigit())
    group = _group_of(words, axis, unit, pieces)
    if group is None:
        return Word(None)
    if group == "accel" and _NOT_FORCE & set(words):
        return Word(None, why="gravity was taken out of it; what the accelerometer itself reads is needed")
    if group in ("accel", "gyro") and axis is None:
        return Word(None)
    channel = f"{group}_{axis}" if axis else group
    if unit is None and group == TIME:
        unit = next((one for one in words if one in ("millis", "micros", "nanos")), None)
    if unit is None and COUNTS & set(pieces):
        unit = "counts"
    if in_name and (unit is None or (meant_by(unit, quantity_of(channel)) is None and unit not in COUNTS)):
        return Word(None)
    return Word(channel, unit, False, sensor)


def _group_of(words: list[str], axis: str | None, unit: str | None, pieces: list[str]) -> str | None:
    told = set(words) - _NOT_FORCE
    if _TURNING & told and told - _TURNING <= {"velocity", "vel", "speed"}:
        return "gyro" if told & {"velocity", "vel", "speed"} or "rate" in pieces or unit is not None else None
    groups = {_GROUP_OF.get(word) for word in told}
    if told == {"g"} and axis:
        return "accel" if unit is not None and meant_by(unit, "acceleration") else "gyro"
    if not told and axis and unit:
        return next((g for g in ("accel", "gyro") if meant_by(unit, QUANTITY_OF[g])), None)
    if not told and not axis and unit and "counts" not in pieces:
        return TIME if meant_by(unit, TIME) and not pieces else None
    if len(groups) != 1 or (axis is not None and groups & {TIME, "position", "velocity"}):
        return None
    return groups.pop()


def _axis_of(pieces: list[str]) -> tuple[list[str], str | None]:
    """The pieces without the axis, and the axis: `acc`, `x`; or attached, as in accx, ax, xdps is a unit's business."""
    axes = [one for one in pieces if one in ("x", "y", "z")]
    if len(axes) == 1:
        return [one for one in pieces if one not in ("x", "y", "z")], axes[0]
    if axes:
        return pieces, None
    for place, one in enumerate(pieces):
        if one[-1:] in ("x", "y", "z") and (one[:-1] in _GROUP_OF or one[:-1] == "g"):
            return [*pieces[:place], one[:-1], *pieces[place + 1 :]], one[-1]
    return pieces, None
