"""How a pull was lost, where its path shows it: in front, behind, or for want of height."""

from __future__ import annotations

from dataclasses import dataclass

from barwright.analysis.technique.seen import SeenRep

MET_S = 0.10  # a bar that takes so much longer than free flight was met by the lifter
WAY_M_S = 0.25  # fore-aft velocity that tells where a bar was lost (tuned on simulated misses)
HEIGHT_SHARE = 0.97  # lower than this share of the own made lifts' peak velocity is want of height


@dataclass(frozen=True, slots=True)
class Miss:
    """way: forward, behind, not_enough_height or not_told; words: what speaks for it."""

    way: str
    words: str


def how_lost(rep: SeenRep, usual_peak: float | None = None) -> Miss:
    """A failed pull by its path after the apex. usual_peak: median peak velocity of own made lifts at a like load."""
    figures = rep.figures
    held, vx = figures.get("held_before_fall"), figures.get("x_velocity_in_fall")
    peak = figures.get("peak_velocity")
    low = usual_peak is not None and peak is not None and peak.value is not None
    low = low and peak.value < HEIGHT_SHARE * usual_peak - 2 * (peak.u or 0.0)  # type: ignore[operator, union-attr]
    if held is None or held.value is None:
        if low:
            return Miss("not_enough_height", "its velocity stayed below that of the own made lifts")
        return Miss("not_told", "the path after the highest point was not recorded")
    if held.value < MET_S:
        return Miss("not_enough_height", "it fell straight from its highest point: it was never met")
    if vx is None or vx.value is None:
        return Miss("not_told", "it was met and then lost; which way is not known without fore-aft motion")
    if not rep.forward_known:
        return Miss("not_told", "it was met and then lost; which way is forward is not known")
    if abs(vx.value) < max(WAY_M_S, 2 * (vx.u or 0.0)):
        return Miss("not_told", "it was met and then lost, hardly going forward or back")
    if vx.value > 0:
        return Miss("forward", f"it was lost in front, falling at {vx.value:.1f} m/s forward")
    return Miss("behind", f"it was lost behind, falling at {-vx.value:.1f} m/s backward")
