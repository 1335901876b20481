"""Seeded simulator of bar-mounted sensor recordings with exact truth: `simulate(lift, seed=..., device=...)`."""

from __future__ import annotations

from barsim.devices import DEVICES, PERFECT, DeviceClass, Mounting, Unmodelled
from barsim.encoder import EncoderKind
from barsim.lifters import LIFTERS, Lifter
from barsim.options import OUTCOMES, OUTCOMES_OF, SLOW_OUTCOMES, Faults, Options
from barsim.recording import SimulatedRecording, simulate
from barsim.sets import LIFTS
from barsim.truth import RepTruth, SetTruth

__all__ = [
    "DEVICES", "LIFTERS", "LIFTS", "OUTCOMES", "OUTCOMES_OF", "PERFECT", "SLOW_OUTCOMES", "DeviceClass", "EncoderKind",
    "Faults", "Lifter", "Mounting", "Options", "RepTruth", "SetTruth", "SimulatedRecording", "Unmodelled", "simulate",
]  # fmt: skip
