"""Writes docs/drills (a page and a drawing per drill) and docs/limits.md: `python -m make_drill_pages [FOLDER]`.

Pages come from the catalogue and the limits of the service, drawings from simulated lifts: the same bytes every time.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from barsim import LIFTERS, Faults, Options
from barsim.sets import build_set
from barsim.technique import faulty, own_style
from barwright.analysis.technique.catalogue import CAUTIONS, Catalogue, Drill, published
from barwright.analysis.technique.limits import CLEAN, JERK, SNATCH, PathLimit

Floats = NDArray[np.float64]
LIMITS = {limit.code: limit for limit in (*SNATCH, *CLEAN, *JERK)}
WHERE = {"lift_off": "off the floor", "jerk_recovery": "recovery of the jerk"}
SCALE, WIDTH, HEIGHT, LEFT, BOTTOM = 260.0, 260, 380, 150.0, 360.0  # pixels a metre, and the drawing's frame
STARTS = {
    "hang_snatch": 0.30, "hang_clean": 0.28, "block_snatch": 0.30, "block_clean": 0.28, "tall_snatch": 0.60,
    "tall_clean": 0.50,
}  # fmt: skip
PROVENANCE = "by `sample_streams/make_drill_pages.py`"
INDEX = f"""\
# Drills

Made from `service/barwright/analysis/technique/drills.toml` {PROVENANCE}. Loads, sets and
reps are common practice of coaches: no controlled study comparing these drills is known.
"""
LIMITS_HEAD = f"""\
# Limits of technique

Made from `service/barwright/analysis/technique/limits.py` {PROVENANCE};
[technique.md](technique.md) says how they are used. *Own* is by how much a lift may differ from the athlete's own good
lifts at a like load; *wide* holds for anyone; a dash: not used. *Way*: `>` a greater value strays, `<` a lesser one.
*Spread* is the usual sd from rep to rep.
"""


def main(docs: Path) -> dict[str, str]:
    """Write every page and drawing under `docs`; answers path below docs -> content."""
    written = pages(published())
    for name, content in written.items():
        target = docs / name
        target.parent.mkdir(exist_ok=True)
        target.write_text(content, "utf-8")
    return written


def pages(catalogue: Catalogue) -> dict[str, str]:
    """Path below docs -> content of everything this makes."""
    out = {"drills/README.md": index(catalogue), "limits.md": limits_page()}
    for drill in catalogue.drills.values():
        out[f"drills/{drill.code}.md"] = page_of(catalogue, drill)
        out[f"drills/{drill.code}.svg"] = drawing_of(catalogue, drill)
    return out


def index(catalogue: Catalogue) -> str:
    """The list of all drills."""
    rows = [
        f"| [{d.title}]({d.code}.md) | `{d.code}` | {_range(d.percent)} % of the {d.of} | {d.beginner:.0f} % |"
        for d in catalogue.drills.values()
    ]
    table = ["| drill | code | customary load | ceiling for novices and minors |", "|---|---|---|---|", *rows, ""]
    return "\n".join([INDEX, *(f"> {words}" for words in CAUTIONS), "", *table])


def page_of(catalogue: Catalogue, drill: Drill) -> str:
    """One drill's page."""
    tried = [(code, t) for code, tries in catalogue.tries.items() for t in tries if t.drill == drill.code]
    for_faults = [
        f"| {code} | {LIMITS[code].title} | {_range(t.percent)} % | {t.sets} x {t.reps} |" for code, t in tried
    ]
    primes = [code for code, primer in catalogue.primers.items() if primer == drill.code]
    lines = [
        f"# {drill.title}", "", f"![Bar path, side view]({drill.code}.svg)", "",
        drill.form, "", f"**What for:** it {drill.why}.", "",
        f"**Load:** {_range(drill.percent)} % of the maximum of the {drill.of}; novices and minors never above "
        f"{drill.beginner:.0f} %. {_own_max(drill)}**Sets x reps:** {_range(drill.sets)} x {_range(drill.reps)}. "
        f"Recorded as `{drill.record_as}`.", "",
    ]  # fmt: skip
    if drill.caution:
        lines += [f"**Mind:** {drill.caution}", ""]
    if for_faults:
        lines += ["| tried for | fault | load | sets x reps |", "|---|---|---|---|", *for_faults, ""]
    if primes:
        lines += [f"Light primer before the main drill for {', '.join(primes)}.", ""]
    lines += [f"Source: {drill.source}.", "", *(f"> {words}" for words in CAUTIONS), "", "[All drills](README.md)", ""]
    return "\n".join(lines)


def limits_page() -> str:
    """Every limit with its source."""
    lines = [LIMITS_HEAD]
    for title, limits in (("Snatch", SNATCH), ("Clean", CLEAN), ("Jerk", JERK)):
        lines += [f"## {title}", "", "| code | phase | what | measure | way | own | wide | spread | source |",
                  "|---|---|---|---|---|---|---|---|---|", *map(_limit_row, limits), ""]  # fmt: skip
    return "\n".join(lines)


def _limit_row(limit: PathLimit) -> str:
    share = " of stature" if limit.of_stature else f" {limit.unit}"
    wide = "-" if limit.wide is None else f"{limit.wide:.3f}{share}"
    own = "-" if limit.own is None else f"{limit.own:.3f} {limit.unit}"
    where = WHERE.get(limit.phase, limit.phase.replace("_", " "))
    return (
        f"| {limit.code} | {where} | {limit.title} | `{limit.measure}` | `{'>' if limit.way > 0 else '<'}` | {own} | "
        f"{wide} | {limit.spread:.3f} {limit.unit} | {limit.source} |"
    )


def drawing_of(catalogue: Catalogue, drill: Drill) -> str:
    """Side view of the bar: the path wanted, and dashed the one with the first fault the drill is tried for."""
    lift = drill.of
    code = next((code for code, tries in catalogue.tries.items() if any(t.drill == drill.code for t in tries)), None)
    x, z = simulated_path(lift, Faults())
    start = STARTS.get(drill.record_as or "", 0.0)
    kept = z >= (start or z.min())
    parts = [_line(x[kept], z[kept], "wanted")]
    words = [("wanted", "bar path wanted")]
    if code is not None:
        fault_x, fault_z = simulated_path(lift, faulty({code: 2.0}))
        parts.insert(0, _line(fault_x, fault_z, "strays"))
        words.append(("strays", f"{code}: {LIMITS[code].title.lower()}"))
    base = round(0.82 * LIFTERS["Imke"].stature_m, 2) if lift == "jerk" else 0.225
    riser = ' <rect x="90" y="356" width="120" height="8" class="floor"/>\n' if "deficit" in drill.code else ""
    legend = "".join(
        f' <line x1="12" y1="{18 + 16 * k}" x2="34" y2="{18 + 16 * k}" class="{name}"/>'
        f'<text x="40" y="{22 + 16 * k}">{text}</text>\n'
        for k, (name, text) in enumerate(words)
    )
    title = f"{drill.title}: bar path from the side, forward to the right"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{title}">\n'
        f" <title>{title}</title>\n <style>line,path{{fill:none;stroke-width:2.5}}.wanted{{stroke:#1b5e7a}}"
        ".strays{stroke:#b4541a;stroke-dasharray:6 4}.plumb{stroke:#999;stroke-width:1}.floor{fill:#ddd}"
        "text{font:12px sans-serif;fill:#333}</style>\n"
        f' <line x1="{LEFT}" y1="40" x2="{LEFT}" y2="{BOTTOM}" class="plumb"/>\n{riser}'
        f"{''.join(parts)}{legend}"
        f' <text x="{LEFT + 4}" y="374">start, {100 * base:g} cm up</text>\n</svg>\n'
    )


def simulated_path(lift: str, faults: Faults) -> tuple[Floats, Floats]:
    """Side view (n,) x and z in m from where the bar starts to the catch, of one simulated lift without sway."""
    style = None if lift == "jerk" else own_style(lift, np.random.default_rng(4))
    options = Options(faults=faults, style=style, sway_m=0.0, sway_deg=0.0, finish="lowered")
    draft = build_set(lift, np.random.default_rng(7), LIFTERS["Imke"], 0.8, 1, options)
    edges = draft.reps[0].edges
    begin = edges["dip_start"] if lift == "jerk" else edges["lift_off"]
    t = np.arange(begin, edges["settled"], 0.01)
    x, z = draft.bar.x.evaluate(t)[0], draft.bar.z.evaluate(t)[0]
    return x - x[0], z - z[0]


def _line(x: Floats, z: Floats, name: str) -> str:
    stretch = 1.0 if z.max() > 0.6 else 2.0  # a jerk is short: twice the scale, both ways
    foot = BOTTOM if z.min() > -0.05 else BOTTOM - 80
    points = " ".join(
        f"{LEFT + stretch * SCALE * a:.1f},{foot - stretch * SCALE * b:.1f}" for a, b in zip(x, z, strict=True)
    )
    return f' <path d="M{points}" class="{name}"/>\n'


def _range(pair: tuple[float, float]) -> str:
    low, high = f"{pair[0]:g}", f"{pair[1]:g}"
    return low if low == high else f"{low}-{high}"


def _own_max(drill: Drill) -> str:
    return "" if drill.own_max >= 1 else f"Its own maximum is about {100 * drill.own_max:.0f} % of the {drill.of}'s. "


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[1] / "docs"
    print(f"{len(main(target))} files written below {target}")
