"""A file of an athlete's history, CSV in our own layout (docs/coach.md), to sets and maxima; all of it or nothing."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from barwright.analysis.profiles.bounds import MOST_KG, MOST_M_S
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.quantities.units import UnknownUnit, factor_to_si
from barwright.ingest.refusals import Refusal, pointer_to

T = TypeVar("T")

COLUMNS = ("date", "lift", "kind", "set", "load", "reps", "missed", "velocity", "velocity_u", "note", "source")
NEEDED = ("date", "lift", "load")
MOST_ROWS = 20_000
UNTOLD_U_M_S = (
    0.05  # of a velocity without its own u: between good string encoders and sensors on the bar (docs/coach.md)
)
_MOST_ERRORS = 50
_MOST_REPS = 100
_FIRST_DAY = date(1950, 1, 1)
_HEADER = re.compile(r"([a-z_]+?)(?:\[(.+)\])?", re.IGNORECASE)
_QUANTITY = {"load": ("mass", "kg"), "velocity": ("velocity", "m/s"), "velocity_u": ("velocity", "m/s")}


@dataclass(frozen=True, slots=True)
class HistoryRow:
    """One row. row: from 0, the first below the header. kind: set or max. velocity, u: m/s, of the fastest made rep.

    made, missed: reps; of a maximum one and none. number: which set of the day and lift, where the file tells it.
    """

    row: int
    line: int
    kind: str
    day: date
    lift: str
    load_kg: float
    made: int
    missed: int
    velocity: float | None
    u: float | None
    number: int | None
    note: str | None


def read_history(body: bytes, today: date) -> tuple[HistoryRow, ...]:
    """Every row. Raises Refusal that points to each value that cannot be used: /rows/{n}/{column}."""
    try:
        text = body.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Refusal(
            "unreadable", f"The file is not UTF-8 text (byte {error.start}); save it as CSV UTF-8."
        ) from error
    lines = [(reader_line, row) for reader_line, row in _rows(text) if any(cell.strip() for cell in row)]
    if not lines:
        raise Refusal("bad-history", f"The file is empty; its first line names columns such as {', '.join(NEEDED)}.")
    columns, factors = _header(lines[0][1])
    if len(lines) < 2:
        raise Refusal("bad-history", "The file has a header and no rows.", "/rows")
    if len(lines) - 1 > MOST_ROWS:
        raise Refusal("bad-history", f"The file has {len(lines) - 1} rows; {MOST_ROWS} is the limit.", "/rows")
    comma = ";" in text.split("\n", 1)[0]
    errors: list[tuple[str, str]] = []
    out = []
    for number, (line, cells) in enumerate(lines[1:]):
        reader = _Reader(number, line, dict(zip(columns, cells, strict=False)), factors, comma, today, errors)
        if len(cells) > len(columns):
            errors.append((f"/rows/{number}", f"Line {line} has {len(cells)} values and the header {len(columns)}."))
            continue
        found = reader.read()
        if found is not None:
            out.append(found)
    _same_twice(out, errors)
    if errors:
        raise history_refusal(errors)
    return tuple(out)


def history_refusal(errors: list[tuple[str, str]]) -> Refusal:
    """What is wrong with the rows, the first of them in words; nothing of the file is kept."""
    count = "1 value" if len(errors) == 1 else f"{len(errors)} values"
    detail = f"{errors[0][1]} {count} of the file cannot be used, and nothing of it was kept."
    return Refusal("bad-history", detail, more=tuple(errors[:_MOST_ERRORS]))


def same_set(one: HistoryRow, other: HistoryRow) -> bool:
    """Whether two rows tell of the same set or maximum: the same figures, and no two different set numbers."""
    alike = (one.kind, one.day, one.lift) == (other.kind, other.day, other.lift)
    alike = alike and math.isclose(one.load_kg, other.load_kg, abs_tol=0.005)
    if not alike or one.kind == "max":
        return alike
    if None not in (one.number, other.number) and one.number != other.number:
        return False
    close = (one.velocity is None) == (other.velocity is None)
    if close and one.velocity is not None and other.velocity is not None:
        close = math.isclose(one.velocity, other.velocity, abs_tol=0.0005)
    return close and (one.made, one.missed) == (other.made, other.missed)


def _same_twice(rows: list[HistoryRow], errors: list[tuple[str, str]]) -> None:
    by_place: dict[tuple[str, date, str], list[HistoryRow]] = {}
    for row in rows:
        place = by_place.setdefault((row.kind, row.day, row.lift), [])
        for other in place:
            if same_set(other, row):
                hint = "" if row.kind == "max" else " If it was another set, number the sets in a column `set`."
                errors.append((f"/rows/{row.row}", f"Line {row.line} says the same as line {other.line}.{hint}"))
                break
            if row.number is not None and row.number == other.number:
                where = pointer_to("rows", row.row, "set")
                errors.append((where, f"Line {row.line} tells set {row.number} otherwise than line {other.line}."))
                break
        place.append(row)


def _rows(text: str) -> list[tuple[int, list[str]]]:
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    out = []
    try:
        for row in reader:
            out.append((reader.line_num, row))
    except csv.Error as error:
        raise Refusal("unreadable", f"Line {reader.line_num} is not CSV: {error}.") from error
    return out


def _header(cells: list[str]) -> tuple[list[str], dict[str, float]]:
    columns: list[str] = []
    factors = dict.fromkeys(_QUANTITY, 1.0)
    for place, cell in enumerate(cells):
        found = _HEADER.fullmatch(cell.strip().replace(" ", ""))
        name = found[1].lower() if found else cell.strip()
        unit = found[2] if found else None
        where = f"/columns/{place}"
        if name not in COLUMNS:
            said = f"{cell.strip()[:40]!r} is not a column that is known here; the choices are {', '.join(COLUMNS)}."
            raise Refusal("bad-history", said + " Units stand in brackets: load[kg], load[[lb_av]].", where)
        if name in columns:
            raise Refusal(
                "bad-history",
                f"`{name}` is there twice. One column holds it, in one unit; keep one of the two.",
                where,
            )
        if name in _QUANTITY:
            quantity, default = _QUANTITY[name]
            try:
                factors[name] = factor_to_si(unit or default, quantity)
            except UnknownUnit as unknown:
                raise Refusal("unknown-unit", unknown.detail, where) from unknown
        elif unit is not None:
            raise Refusal("bad-history", f"`{name}` has no unit.", where)
        columns.append(name)
    for name in NEEDED:
        if name not in columns:
            raise Refusal("bad-history", f"The column `{name}` is missing; {', '.join(NEEDED)} are needed.", "/columns")
    return columns, factors


@dataclass(frozen=True, slots=True)
class _Reader:
    """Reads one row, noting everything that is wrong with it."""

    row: int
    line: int
    cells: dict[str, str]
    factors: dict[str, float]
    comma: bool
    today: date
    errors: list[tuple[str, str]]

    def read(self) -> HistoryRow | None:
        """The row; None when something in it is wrong."""
        before = len(self.errors)
        kind = self._cell("kind", _kind, "set")
        day = self._cell("date", self._day, None)
        lift = self._cell("lift", _lift, None)
        load = self._cell("load", lambda text: self._number(text, "load", MOST_KG, "kg"), None)
        made = self._cell("reps", lambda text: _whole(text, 0, _MOST_REPS), 1)
        missed = self._cell("missed", lambda text: _whole(text, 0, _MOST_REPS), 0)
        velocity = self._cell("velocity", lambda text: self._number(text, "velocity", MOST_M_S, "m/s"), None)
        u = self._cell("velocity_u", lambda text: self._number(text, "velocity_u", MOST_M_S, "m/s"), None)
        number = self._cell("set", lambda text: _whole(text, 1, 1000), None)
        note = self._cell("note", _note, None)
        for name in NEEDED:
            if not self.cells.get(name, "").strip():
                self._wrong(name, f"`{name}` is empty.")
        if kind == "max" and (made != 1 or missed):
            self._wrong("reps", "A maximum is one made rep; leave `reps` and `missed` empty.")
        if kind == "max" and velocity is not None:
            self._wrong("velocity", "A maximum has no velocity here; tell the same lift as a set to give it one.")
        if velocity is not None and made == 0:
            self._wrong("velocity", "The velocity is that of the fastest made rep, and no rep was made.")
        if made == 0 and missed == 0:
            self._wrong("reps", "A set has at least one rep, made or missed.")
        if len(self.errors) > before or day is None or lift is None or load is None:
            return None
        u = UNTOLD_U_M_S if u is None and velocity is not None else u
        return HistoryRow(
            self.row, self.line, kind or "set", day, lift, load, made or 0, missed or 0, velocity,
            u if velocity is not None else None, number, note,
        )  # fmt: skip

    def _cell(self, name: str, read: Callable[[str], T], empty: T | None) -> T | None:
        text = self.cells.get(name, "").strip()
        if not text:
            return empty
        try:
            return read(text)
        except ValueError as error:
            self._wrong(name, f"`{name}` is {text[:40]!r}; {error}")
            return empty

    def _wrong(self, name: str, words: str) -> None:
        self.errors.append((pointer_to("rows", self.row, name), f"Line {self.line}: {words}"))

    def _day(self, text: str) -> date:
        try:
            day = date.fromisoformat(text)
        except ValueError as error:
            raise ValueError("a date looks like 2026-03-01.") from error
        if not re.fullmatch(r"\d{4}-\d\d-\d\d", text):
            raise ValueError("a date looks like 2026-03-01.")
        if day > self.today:
            raise ValueError(f"that day is yet to come; today is {self.today}.")
        if day < _FIRST_DAY:
            raise ValueError(f"a day from {_FIRST_DAY} on is right.")
        return day

    def _number(self, text: str, name: str, most: float, unit: str) -> float:
        plain = text.replace(",", ".") if self.comma else text
        if not re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)", plain):
            raise ValueError("a plain number such as 82.5 is right; its unit stands in the header, load[kg].")
        value = float(plain) * self.factors[name]
        if not 0 < value <= most:
            raise ValueError(f"above 0 and at most {most:g} {unit} is right.")
        return value


def _kind(text: str) -> str:
    if text.lower() not in ("set", "max"):
        raise ValueError("`set` or `max` is right.")
    return text.lower()


def _lift(text: str) -> str:
    code = text.lower().replace(" ", "_").replace("-", "_")
    if code not in LIFTS:
        raise ValueError("no lift has this code; GET /v1/lifts lists them all.")
    return code


def _whole(text: str, low: int, high: int) -> int:
    if not text.isdecimal() or not low <= int(text[:9]) <= high:
        raise ValueError(f"a whole number from {low} to {high} is right.")
    return int(text)


def _note(text: str) -> str:
    if len(text) > 500:
        raise ValueError("a note has at most 500 characters.")
    return text
