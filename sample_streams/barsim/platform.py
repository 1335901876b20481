"""Back to the platform: dropped and bouncing, or set down by hand."""

from __future__ import annotations

import math

from barsim.bar import GRAVITY, PLATE_RADIUS
from barsim.draft import Draft


def fall_to_platform(draft: Draft) -> None:
    """Free fall from the last knot (already at -g, hands off) onto the platform: bounces, a roll, rest."""
    z, x, spin = draft.bar.z.line, draft.bar.x.line, draft.bar.spin.line
    drift = x.velocity
    fall_v, fall_h = z.velocity, z.position - PLATE_RADIUS
    landing = math.sqrt(fall_v**2 + 2 * GRAVITY * fall_h)
    draft.go((landing + fall_v) / GRAVITY, -landing, -GRAVITY)
    first = draft.t
    draft.jolts.append((first, 1.0))
    contact, bounce = draft.draw(0.008, 0.014), draft.draw(0.3, 0.45)
    for _ in range(int(draft.rng.integers(2, 4))):
        up = bounce * landing
        _contact(draft, landing, up, contact)
        draft.go(2 * up / GRAVITY, -up, -GRAVITY)
        landing, bounce = up, bounce * draft.draw(0.6, 0.85)
    last = min(0.12, 0.3 * landing)
    _contact(draft, landing, last, contact)
    draft.go(5 * last / GRAVITY)
    z.snap(PLATE_RADIUS)
    rolling = draft.draw(0.15, 0.5) * float(draft.rng.choice([-1.0, 1.0]))
    for line, before, after in ((x, drift, rolling), (spin, spin.velocity, rolling / PLATE_RADIUS)):
        line.keep_until(first)
        line.add(0.03, 0.6 * before + 0.4 * after)
        line.add(max(draft.t - line.t, 0.05), after)
    stop = draft.draw(0.4, 0.9)
    for line in (x, spin):
        line.add(stop)
    z.keep_until(x.t)


def _contact(draft: Draft, v_in: float, v_out: float, squeeze: float) -> None:
    """Plates strike at v_in, are squeezed for `squeeze` seconds and throw the bar up at v_out from the same height."""
    sharp = 2.2 * v_out
    release = squeeze * v_in / v_out
    for _ in range(60):
        deep = v_in * squeeze / 2 + squeeze**2 * (GRAVITY + sharp / release) / 10
        release = deep / (v_out / 2 + sharp / 10 + release * GRAVITY / 10)
    draft.go(squeeze, 0.0, sharp / release)
    draft.go(release, v_out, -GRAVITY)


def lowering_time(draft: Draft, size: float) -> float:
    """Seconds for letting the bar down by `size` metres under control (acceleration stays below about 7 m/s2)."""
    return draft.draw(1.05, 1.4) * math.sqrt(1.07 * size)


def to_floor(draft: Draft, length: float | None = None) -> None:
    """Lower to the platform by hand: a slow way down, set down with a small bump."""
    bump = draft.draw(0.05, 0.12)
    sink = draft.height - PLATE_RADIUS
    stop = 0.03
    length = length or draft.draw(0.8, 1.3)
    first, second = 0.5 * length, 0.5 * length
    speed = (sink - (second + stop) * bump / 2) / (length / 2)
    draft.go(first, -speed)
    draft.go(second, -bump)
    draft.go(stop)
    draft.bar.z.line.snap(PLATE_RADIUS)
