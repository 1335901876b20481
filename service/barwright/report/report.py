"""A recording and its analysis as one HTML page or one SVG, without scripts."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import escape

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.devices.constraints import Constraint, constraints_of
from barwright.analysis.motion.bar_motion import Motion
from barwright.analysis.motion.encoder_motion import encoder_motion
from barwright.analysis.motion.imu_motion import ImuErrors, ImuMotion, imu_motion
from barwright.analysis.motion.samples import EncoderSamples, ImuSamples, Recording
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.results import SetAnalysis
from barwright.report.pictures_of import (
    WIDTH,
    Drawn,
    Shade,
    constraints_picture,
    curves_picture,
    paths_picture,
    samples_picture,
    title_of,
    velocity_picture,
)

Floats = NDArray[np.float64]
UP = np.array([0.0, 0.0, 1.0])
STYLE = """
svg { background: #fffef9; font-family: system-ui, sans-serif; }
.c-grid, .c-axis { fill: none; stroke: #d9d4c5; } .c-axis { stroke: #7b7667; }
.c-tick { fill: #5b574b; font-size: 12px; } .c-name { fill: #5b574b; font-size: 12.5px; font-weight: 600; }
.c-label { fill: #1c1b17; font-size: 12.5px; font-weight: 600; }
.r-x, .r-y, .r-z, .r-line { fill: none; stroke-width: 1.1; stroke-linejoin: round; }
.r-x { stroke: #1e4d63; } .r-y { stroke: #a8431b; } .r-z { stroke: #4d7031; }
.r-line { stroke: #1e4d63; stroke-width: 1.8; } .r-band { fill: #1e4d63; opacity: .2; }
.r-dot { fill: #a8431b; } .r-plumb { stroke: #7b7667; stroke-dasharray: 3 4; } .r-bar { fill: #1e4d63; }
.s-rest { fill: #4d7031; opacity: .22; } .s-held { fill: #c7962b; opacity: .25; }
.s-denied { fill: #a8431b; opacity: .16; }
"""
PAGE_STYLE = """
body { margin: 0 auto; max-width: 62rem; padding: 1.2rem; color: #1c1b17; background: #f6f2e7;
  font: 16px/1.45 system-ui, sans-serif; }
h1 { font-size: 1.6rem; margin: 0; } h2 { font-size: 1.15rem; margin: 1.4rem 0 .3rem; }
figure { margin: 0; } figcaption { color: #5b574b; }
svg { width: 100%; height: auto; border: 1px solid #d9d4c5; border-radius: 6px; }
table { border-collapse: collapse; background: #fffef9; } th, td { padding: .2rem .6rem; border: 1px solid #d9d4c5; }
td.n { text-align: right; font-variant-numeric: tabular-nums; } .wide { overflow-x: auto; }
@media print { body { background: none; } }
"""
MEASURES = ("peak_velocity", "mean_velocity", "mean_propulsive_velocity", "range_of_motion", "peak_height")


def report(recording: Recording, analysis: SetAnalysis, name: str, form: str) -> str:
    """form: html or svg. Only the first part of a recording whose device started anew is drawn."""
    part = recording.parts[0]
    drawn, constraints = (
        _imu(part, recording, analysis) if isinstance(part, ImuSamples) else _string(part, recording, analysis)
    )
    title = f"{name}: {LIFTS[analysis.lift].title}"
    if form == "svg":
        return _one_svg(title, drawn, (*analysis.quality.words, *analysis.notes))
    return _page(title, analysis, drawn, constraints, len(recording.parts))


def _imu(part: ImuSamples, recording: Recording, analysis: SetAnalysis) -> tuple[list[Drawn], list[Constraint]]:
    found = imu_motion(part, recording.setup)
    t_s = part.t_s - part.t_s[0]
    until = float(t_s.max())
    constraints = [one for motion in found.motions for one in _constraints(motion)]
    shades = [
        Shade(one.start_s, one.stop_s, "denied" if one.kind == "not_believed" else "rest" if one.firm else "held")
        for one in constraints
        if one.kind != "same_height"
    ]
    order = np.argsort(t_s, kind="stable")
    axes = ("x", "y", "z")
    drawn = [
        samples_picture("force", "Force", "m/s²", t_s[order], part.accel_m_s2[order], axes, shades, until),
        samples_picture("rate", "Rate", "deg/s", t_s[order], np.degrees(part.gyro_rad_s[order]), axes, shades, until),
    ]
    attitude = _attitude(found)
    if attitude:
        drawn.append(curves_picture("attitude", "Attitude", "degrees", attitude, shades, until))
    return [*drawn, *_rest_of(found.motions, analysis, shades, until, constraints)], constraints


def _string(part: EncoderSamples, recording: Recording, analysis: SetAnalysis) -> tuple[list[Drawn], list[Constraint]]:
    t_s = part.t_s - part.t_s[0]
    until = float(t_s.max())
    raw = part.position_m if part.position_m is not None else part.velocity_m_s
    assert raw is not None
    title, unit = ("String", "m") if part.position_m is not None else ("String speed", "m/s")
    drawn = [samples_picture("string", title, unit, t_s, raw[:, None], (title.lower(),), (), until)]
    motion = encoder_motion(part, recording.setup, LIFTS[analysis.lift].swing_m).motion
    return [*drawn, *_rest_of((motion,), analysis, (), until, [])], []


def _rest_of(
    motions: Sequence[Motion], analysis: SetAnalysis, shades: Sequence[Shade], until: float, seen: Sequence[Constraint]
) -> list[Drawn]:
    stretches = []
    for motion in motions:
        coarse = np.linspace(motion.t_s[0], motion.t_s[-1], min(len(motion.t_s), 400))
        u = np.interp(motion.t_s, coarse, motion.errors.velocity_sd(coarse, UP))
        stretches.append((motion.t_s, motion.velocity[:, 2], u))
    out = [velocity_picture(stretches, analysis.reps, shades, until)] if stretches else []
    more = (paths_picture(analysis.reps), constraints_picture(seen))
    return [*out, *(one for one in more if one is not None)]


def _constraints(motion: Motion) -> tuple[Constraint, ...]:
    if not isinstance(motion.errors, ImuErrors):
        return ()
    return constraints_of(motion.errors.solution, motion.errors.start_s, motion.dt)


def _attitude(found: ImuMotion) -> list[tuple[str, str, Floats, Floats]]:
    """How far the bar (or, without an axis, the sensor's z) leans from level or upright, and how far it has spun."""
    out: list[tuple[str, str, Floats, Floats]] = []
    for motion in found.motions:
        if not isinstance(motion.errors, ImuErrors):
            continue
        turn = motion.errors.solution.at.nominal.turn
        if found.bar_axis is None:
            lean = np.degrees(np.arccos(np.clip(turn[:, 2, 2], -1, 1)))
            out.append(("sensor's z from upright", "r-x", motion.t_s, lean))
            continue
        out.append(("bar out of level", "r-x", motion.t_s, np.degrees(np.arcsin((turn @ found.bar_axis)[:, 2]))))
        if motion.spin_rate is not None:
            spun = np.degrees(np.cumsum(motion.spin_rate) * motion.dt)
            out.append(("bar spun", "r-y", motion.t_s, spun))
    return out


def _one_svg(title: str, drawn: Sequence[Drawn], words: Sequence[str]) -> str:
    y, parts = 34.0, [f'<text x="12" y="24" class="c-label">{escape(title)}</text>']
    for one in drawn:
        inner = re.sub(r"^<svg ", f'<svg x="0" y="{y:g}" width="{WIDTH:g}" height="{one.height:g}" ', one.svg)
        parts.append(inner)
        y += one.height + 14
    for word in words:
        parts.append(f'<text x="12" y="{y + 12:g}" class="c-tick">{escape(word[:150])}</text>')
        y += 18
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {y + 10:g}" width="{WIDTH:g}" '
        f'height="{y + 10:g}"><style>{STYLE}</style>{"".join(parts)}</svg>\n'
    )


def _page(
    title: str, analysis: SetAnalysis, drawn: Sequence[Drawn], constraints: Sequence[Constraint], parts: int
) -> str:
    quality = analysis.quality
    said = "".join(f"<li>{escape(word)}</li>" for word in (*quality.words, *analysis.notes))
    if parts > 1:
        said += f"<li>The device started {parts} times; only what came before the second start is drawn.</li>"
    figures = "".join(
        f"<h2>{escape(one.title)}</h2><figure>{one.svg}<figcaption>{escape(one.words)}</figcaption></figure>"
        for one in drawn
    )
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        f'<meta name="viewport" content="width=device-width"><style>{STYLE}{PAGE_STYLE}</style></head><body>'
        f"<h1>{escape(title)}</h1><p>{quality.samples} samples in {quality.duration_s:.1f} s: "
        f"<strong>{escape(quality.verdict)}</strong>.</p><ul>{said}</ul>{_reps(analysis)}{figures}"
        f"{_constraint_table(constraints)}</body></html>\n"
    )


def _reps(analysis: SetAnalysis) -> str:
    if not analysis.reps:
        return "<p>No reps found.</p>"
    head = "".join(f"<th>{escape(name.replace('_', ' '))}</th>" for name in ("rep", "outcome", *MEASURES))
    rows = ""
    for rep in analysis.reps:
        cells = ""
        for name in MEASURES:
            one = rep.measures.get(name)
            told = "" if one is None or one.value is None else f"{one.value:.3f} ± {one.u:.3f} {one.unit}"
            cells += f'<td class="n">{escape(told)}</td>'
        rows += f"<tr><td>{rep.index + 1}</td><td>{escape(rep.outcome)}</td>{cells}</tr>"
    return f'<h2>Reps</h2><div class="wide"><table><tr>{head}</tr>{rows}</table></div>'


def _constraint_table(constraints: Sequence[Constraint]) -> str:
    if not constraints:
        return ""
    rows = ""
    for one in constraints:
        unit = "m" if one.kind == "same_height" else "m/s"
        moved = "–" if one.kind == "not_believed" else f"{one.moved_m_s:.4f} m/s at {one.at_s:.2f} s"
        rows += (
            f"<tr><td>{escape(title_of(one))}</td><td class='n'>{one.start_s:.2f}-{one.stop_s:.2f}</td>"
            f"<td class='n'>{one.missed:+.4f} {unit}</td><td class='n'>{one.held_to:.4f} {unit}</td>"
            f"<td class='n'>{one.sigmas:.2f}</td><td class='n'>{moved}</td></tr>"
        )
    head = "".join(
        f"<th>{name}</th>"
        for name in (
            "constraint",
            "s",
            "left over",
            "held to",
            "sigmas off, by the others",
            "velocity moved without it",
        )
    )
    return (
        f'<h2>Every constraint</h2><div class="wide"><table><tr>{head}</tr>{rows}</table></div><p>Left over: upward '
        "velocity at a rest, or difference of two heights, that the fit could not explain away. Sigmas: how far its "
        "rows miss what all the others expect of it. Moved: the greatest change of upward velocity anywhere when it is "
        "left out of the last linear solve; only for constraints that were believed.</p>"
    )
