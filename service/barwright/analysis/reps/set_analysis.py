"""The whole pure pipeline: samples of one set in, reps out."""

from __future__ import annotations

from barwright.analysis.motion.samples import Recording
from barwright.analysis.quantities.lifts import Lift
from barwright.analysis.reps.results import SetAnalysis

METHOD = "barwright-1"


def analyse_set(recording: Recording, lift: Lift) -> SetAnalysis:
    """Reps, measures and quality of one set. Raises UnusableSamples when nothing at all can be said."""
    raise NotImplementedError
