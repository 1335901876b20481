"""Charts with days along the bottom: strength over months, readiness day by day, a fault before and after a drill."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from barwright.coach.charts.drawing import (
    Chart,
    Scale,
    Table,
    area,
    diamond,
    dot,
    left_axis,
    line,
    padded,
    picture,
    segment,
    text,
)
from barwright.coach.numbers import Display, day_words, short_day, trimmed

_WIDTH, _HEIGHT = 400.0, 270.0
_LEFT, _RIGHT, _ABOVE, _BELOW = 44.0, 12.0, 30.0, 30.0
_MARK = {"up": "c-up", "down": "c-down", "usual": "c-dot"}


@dataclass(frozen=True, slots=True)
class StrengthOn:
    """One day: the usual maximum then with its 95 % interval, and that day's own maximum with u; all kg."""

    day: date
    usual: float
    low: float
    high: float
    day_max: float | None = None
    day_u: float | None = None


@dataclass(frozen=True, slots=True)
class ChangeOn:
    """One day against the usual: change and u in percent; verdict up, usual or down."""

    day: date
    change: float
    u: float
    verdict: str


@dataclass(frozen=True, slots=True)
class ShareOn:
    """One day's figure with u, in the unit of the chart."""

    day: date
    value: float
    u: float


def strength_chart(
    course: Sequence[StrengthOn], maxima: Sequence[tuple[date, float]], lift: str, display: Display, name: str
) -> Chart | None:
    """Strength over months; None when nothing was seen yet. maxima: tested, (day, kg)."""
    if not course:
        return None
    kg = [value for one in course for value in (one.low, one.high)] + [value for _, value in maxima]
    kg += [one.day_max for one in course if one.day_max is not None]
    convert = _converted(display)
    low, high = padded(convert(min(kg)), convert(max(kg)), 0.08, 2.0)
    shown = [one.day for one in course] + [day for day, _ in maxima]
    days = _days(shown)
    up = Scale(low, high, _HEIGHT - _BELOW, _ABOVE)
    parts = left_axis(up, _LEFT, _WIDTH - _RIGHT, f"maximum, {display.unit}") + _day_axis(days, _ends(shown))
    band = [(days(one.day.toordinal()), up(convert(one.high))) for one in course]
    under = [(days(one.day.toordinal()), up(convert(one.low))) for one in course]
    parts.append(area(band, under, "c-band"))
    parts.append(line([(days(one.day.toordinal()), up(convert(one.usual))) for one in course], "c-line"))
    for one in course:
        if one.day_max is not None:
            said = f"{day_words(one.day)}: {display.weight_with_u(one.day_max, one.day_u)}"
            parts.append(dot(days(one.day.toordinal()), up(convert(one.day_max)), 2.6, "c-dot hollow", said))
    for day, tested in maxima:
        said = f"tested {day_words(day)}: {display.weight(tested)}"
        parts.append(diamond(days(day.toordinal()), up(convert(tested)), 6, "c-max", said))
    first, last = course[0], course[-1]
    title = f"{lift}: strength over months"
    words = (
        f"Usual maximum {display.weight_number(first.usual, 0)} {display.unit} on {day_words(first.day)} and "
        f"{display.weight_number(last.usual, 0)} {display.unit} on {day_words(last.day)}, which lies between "
        f"{display.weight_range(last.low, last.high)} in 19 cases of 20."
    )
    tests = dict(maxima)
    rows = tuple(
        (
            day_words(one.day),
            f"{display.weight_number(one.usual, 0)} ({display.weight_range(one.low, one.high)})",
            display.weight_with_u(one.day_max, one.day_u),
            display.weight(tests.get(one.day)),
        )
        for one in reversed(course)
    )
    table = Table(("Day", "Usual maximum (19 in 20)", "That day's maximum", "Tested"), rows)
    svg = picture(_WIDTH, _HEIGHT, title, words, parts, name)
    key = (
        ("c-line", "usual maximum"),
        ("c-band-key", "19 in 20"),
        ("c-hollow", "of one day"),
        ("c-max", "tested"),
    )
    return Chart(title, display.unit, svg, words, table, key)


def readiness_chart(days_seen: Sequence[ChangeOn], lift: str, name: str) -> Chart | None:
    """Each day against the usual, with the bars of two standard uncertainties; None when there is no day."""
    if not days_seen:
        return None
    reach = max(6.0, *(abs(one.change) + 2 * one.u for one in days_seen))
    up = Scale(-reach * 1.05, reach * 1.05, _HEIGHT - _BELOW, _ABOVE)
    shown = [one.day for one in days_seen]
    days = _days(shown)
    parts = left_axis(up, _LEFT, _WIDTH - _RIGHT, "against the usual, %") + _day_axis(days, _ends(shown))
    parts.append(segment(_LEFT, up(0), _WIDTH - _RIGHT, up(0), "c-zero"))
    for one in days_seen:
        x, y = days(one.day.toordinal()), up(one.change)
        parts.append(segment(x, up(one.change - 2 * one.u), x, up(one.change + 2 * one.u), "c-err"))
        parts.append(_verdict_mark(x, y, one.verdict, f"{day_words(one.day)}: {_signed(one.change)} %"))
    title = f"{lift}: readiness day by day"
    counts = [(sum(one.verdict == word for one in days_seen), said) for word, said in _VERDICT_WORDS]
    words = f"Of the last {len(days_seen)} days seen, " + ", ".join(f"{n} {said}" for n, said in counts) + "."
    rows = tuple(
        (
            day_words(one.day),
            f"{_signed(one.change)} ± {one.u:.1f} %",
            dict(_VERDICT_WORDS).get(one.verdict, one.verdict),
        )
        for one in reversed(days_seen)
    )
    svg = picture(_WIDTH, _HEIGHT, title, words, parts, name)
    key = (("c-up-key", "better"), ("c-dot", "as usual"), ("c-down-key", "below"), ("c-err", "± 2 u"))
    return Chart(
        title, "%, the dash-dotted line is the usual", svg, words, Table(("Day", "Change", "Verdict"), rows), key
    )


def response_chart(
    before: Sequence[ShareOn], after: Sequence[ShareOn], begun: date, what: str, unit: str, words: str, name: str
) -> Chart | None:
    """A fault's measure before a drill (hollow) and since (full); None when there is nothing."""
    every = [*before, *after]
    if not every:
        return None
    values = [value for one in every for value in (one.value - 2 * one.u, one.value + 2 * one.u)]
    low, high = padded(min(0.0, *values), max(0.0, *values), 0.08, 0.1)
    up = Scale(low, high, _HEIGHT - _BELOW, _ABOVE)
    shown = [one.day for one in every] + [begun]
    days = _days(shown)
    parts = left_axis(up, _LEFT, _WIDTH - _RIGHT, f"{what}, {unit}") + _day_axis(days, _ends(shown))
    x = days(begun.toordinal())
    parts += [segment(x, _ABOVE, x, _HEIGHT - _BELOW, "c-zero"), text(x + 5, _ABOVE + 10, "drill begun", "c-label")]
    for group, kind in ((before, "c-dot hollow"), (after, "c-dot")):
        for one in group:
            px = days(one.day.toordinal())
            parts.append(segment(px, up(one.value - 2 * one.u), px, up(one.value + 2 * one.u), "c-err"))
            parts.append(dot(px, up(one.value), 4.2, kind, f"{day_words(one.day)}: {one.value:.1f} {unit}"))
    title = f"{what}: before and since the drill"
    rows = tuple(
        (day_words(one.day), "since" if one in after else "before", f"{one.value:.1f} ± {one.u:.1f}".replace("-", "−"))
        for one in sorted(every, key=lambda one: one.day)
    )
    svg = picture(_WIDTH, _HEIGHT, title, words, parts, name)
    key = (("c-hollow", "before"), ("c-dot", "since"), ("c-err", "± 2 u"))
    return Chart(title, unit, svg, words, Table(("Day", "When", f"{what}, {unit}"), rows), key)


_VERDICT_WORDS = (("up", "better than usual"), ("usual", "as usual"), ("down", "below usual"))


def _verdict_mark(x: float, y: float, verdict: str, said: str) -> str:
    if verdict == "usual":
        return dot(x, y, 4, "c-dot", said)
    tip = -5.5 if verdict == "up" else 5.5
    kind = _MARK.get(verdict, "c-dot")
    return (
        f'<path class="{kind}" d="M{x:g} {y + tip:g}L{x + 5:g} {y - 0.7 * tip:g}L{x - 5:g} {y - 0.7 * tip:g}Z">'
        f"<title>{said}</title></path>"
    )


def _converted(display: Display) -> Callable[[float], float]:
    factor = display.to_kg(1.0)
    return lambda kg: kg / factor


def _days(days: Sequence[date]) -> Scale:
    first, last = min(days).toordinal(), max(days).toordinal()
    room = max(1.0, 0.03 * (last - first))
    return Scale(first - room, last + room, _LEFT, _WIDTH - _RIGHT)


def _ends(days: Sequence[date]) -> tuple[int, int]:
    return min(days).toordinal(), max(days).toordinal()


def _day_axis(days: Scale, first_and_last: tuple[int, int]) -> list[str]:
    """Five days at most along the bottom, evenly."""
    y = _HEIGHT - _BELOW
    first, last = first_and_last
    out = [segment(days.first_px, y, days.last_px, y, "c-axis")]
    wanted = min(5, last - first + 1)
    for n in range(wanted):
        day = date.fromordinal(first) + timedelta(days=round(n * (last - first) / max(1, wanted - 1)))
        x = days(day.toordinal())
        anchor = "start" if x < _LEFT + 20 else "end" if x > _WIDTH - _RIGHT - 22 else "middle"
        words = short_day(day) if last - first < 330 else f"{short_day(day)} {day.year % 100:02d}"
        out += [segment(x, y, x, y + 4, "c-axis"), text(x, y + 17, words, anchor=anchor)]
    return out


def _signed(value: float) -> str:
    return ("+" if value > 0 else "") + trimmed(value, 1)
