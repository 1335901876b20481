"""One set while it is lifted: which samples to analyse, when, and what is new in what was found.

The analysis itself is that of a whole set, run on the samples since the last agreed rest. Nothing here filters,
integrates or measures.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.quantities.lifts import Lift, Pattern
from barwright.analysis.reps.results import Phase
from barwright.live.stillness import Floats, Ints, Stillness


@dataclass(frozen=True, slots=True)
class FollowParams:
    """When to look. steps_s: how long the bar has been still for the first look, and for the further ones.

    encoder_steps_s: an encoder needs no rest to be sure. keep_s: so much of a rest is enough to begin a window with.
    longest_s: a window never grows longer. least_rest_s: a briefer rest begins no window. drop_s: a bar let go
    reaches the floor within this. settled_s, nothing_s: the next look, where everything is told, or nothing was found.
    """

    steps_s: tuple[float, ...] = (0.5, 0.75, 1.0, 1.5, 2.5)
    encoder_steps_s: tuple[float, ...] = (0.2, 0.9, 2.5)
    keep_s: float = 2.0
    longest_s: float = 60.0
    least_rest_s: float = 0.45
    drop_s: float = 1.3
    settled_s: float = 1.0
    nothing_s: float = 1.5
    changed_u: float = 0.5  # a correction is told when a figure moved by this many of its u


@dataclass(frozen=True, slots=True)
class HeldBlock:
    """A block as it is stored, with the device times it spans."""

    seq: int
    first_us: int
    last_us: int
    packed: bytes


@dataclass(frozen=True, slots=True)
class FoundRep:
    """A rep of the open window, in seconds of the stream."""

    outcome: str
    start_s: float
    stop_s: float
    measures: dict[str, Estimate]
    phases: tuple[Phase, ...]
    path_measures: dict[str, Estimate]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """What the analysis of a window said: reps, and believed rests as (start_s, stop_s); stop_s: its last sample."""

    reps: tuple[FoundRep, ...]
    rests: tuple[tuple[float, float], ...]
    stop_s: float


@dataclass(frozen=True, slots=True)
class KnownRep:
    """A rep that was told. velocity, u: of the measure its lift is judged by, m/s; None when it could not be had."""

    index: int
    start_s: float
    stop_s: float
    outcome: str
    velocity: float | None
    u: float | None


@dataclass(frozen=True, slots=True)
class Memory:
    """All that has to survive a restart.

    boot: the device start; base_us its first sample, at offset_s of the stream. from_us: where the window begins.
    loss_told: the advice to stop was given.
    """

    boot: str
    base_us: int
    offset_s: float
    from_us: int
    reps: tuple[KnownRep, ...] = ()
    loss_told: bool = False

    def stream_s(self, t_us: int) -> float:
        """A device time as seconds of the stream."""
        return self.offset_s + (t_us - self.base_us) * 1e-6

    def device_us(self, stream_s: float) -> int:
        """The other way round."""
        return self.base_us + round((stream_s - self.offset_s) * 1e6)


@dataclass(frozen=True, slots=True)
class Window:
    """What to analyse: samples of one device start from from_us on. newest: the block that closes it."""

    memory: Memory
    blocks: tuple[HeldBlock, ...]

    @property
    def newest(self) -> HeldBlock:
        """The last block by number."""
        return self.blocks[-1]


@dataclass(frozen=True, slots=True)
class Change:
    """A rep to tell of: new, or other than it was told."""

    index: int
    rep: FoundRep
    corrected: bool


@dataclass(slots=True)
class LiveRun:
    """The state of one open stream. Not safe to use from two threads at once."""

    lift: Lift
    kind: str
    memory: Memory | None = None
    params: FollowParams = field(default_factory=FollowParams)
    _still: Stillness = field(default_factory=Stillness)
    _blocks: dict[int, HeldBlock] = field(default_factory=dict)
    _step: int = 0
    _settled: bool = True  # the last look found every rep decided
    _looked_us: int | None = None  # up to where the last look went

    def add(self, boot: str, block: HeldBlock, t_us: Ints, values: Floats, offset_s: float | None = None) -> None:
        """Samples that are stored: (n,) device times in us, (n, 6) force and rates or (n, 1) height, SI.

        offset_s: where in the stream the device start begins; asked for only when it is a new one.
        """
        if self.memory is None or self.memory.boot != boot:
            self._begin(boot, block, offset_s or 0.0)
        assert self.memory is not None
        if block.last_us < self.memory.from_us:
            return
        self._blocks[block.seq] = block
        if self._still.newest_us is not None and block.first_us <= self._still.newest_us:
            return  # late: it is in the window, and the next look sees it
        moved_before = self._still.motion_us
        self._still.add(t_us, values)
        if self._still.motion_us != moved_before:
            self._step = 0
        self._follow_a_drop()
        self._keep_short()

    def due(self) -> bool:
        """Whether an analysis now may tell something new."""
        steps = self._steps()
        return self._still.moved and self._step < len(steps) and self._still.still_s >= steps[self._step]

    def look(self) -> Window:
        """The window to analyse now. The next look is due when the bar has been still for longer, or moved again."""
        assert self.memory is not None
        self._step = sum(self._still.still_s >= step for step in self._steps())
        self._looked_us = self._still.newest_us
        return Window(self.memory, tuple(self._blocks[seq] for seq in sorted(self._blocks)))

    def fold(self, window: Window, found: Found) -> list[Change]:
        """What is new in what the analysis found, and where the next window begins."""
        assert self.memory is not None
        if window.memory.boot != self.memory.boot:
            return []
        changes, undecided = [], False
        reps = list(self.memory.reps)
        for place, rep in enumerate(found.reps):
            known = next((one for one in reps if _same(one, rep)), None)
            if known is not None:
                told = known_rep(known.index, rep, self.lift)
                if self._worth_telling(known, told, rep, found, place):
                    reps[known.index] = told
                    changes.append(Change(known.index, rep, True))
            elif not self._decided(rep, found, place):
                undecided = True
            else:
                reps.append(known_rep(len(reps), rep, self.lift))
                changes.append(Change(len(reps) - 1, rep, False))
        self.memory = replace(self.memory, reps=tuple(reps))
        self._settled = not undecided
        motion_us, moved = self._still.motion_us, self._still.moved
        if self._settled:
            self._advance(found)
            if motion_us is not None and motion_us > window.newest.last_us:
                self._still.moved = moved  # the bar has moved on meanwhile: the next look is as due as it was
            else:
                later_s = self.params.settled_s if found.reps else self.params.nothing_s
                self._step = max(self._step, sum(step < later_s for step in self._steps()))
        return changes

    @property
    def pressing(self) -> bool:
        """Whether the next look may tell a rep nobody has heard of; else it mostly makes told ones surer."""
        return self._step == 0 or not self._settled

    def _begin(self, boot: str, block: HeldBlock, offset_s: float) -> None:
        before, self._still, self._blocks, self._step = self.memory, Stillness(), {}, 0
        self._looked_us, self._settled = None, True
        reps, told = ((), False) if before is None else (before.reps, before.loss_told)
        self.memory = Memory(boot, block.first_us, offset_s, block.first_us, reps, told)

    def _steps(self) -> tuple[float, ...]:
        return self.params.steps_s if self.kind == "imu" else self.params.encoder_steps_s

    def _follow_a_drop(self) -> None:
        """A bar let go after a rep that is told lies on the floor: nothing to analyse, a new window begins there."""
        still, looked = self._still, self._looked_us
        if not (self._settled and looked and still.impact_us and still.motion_us and still.moved):
            return
        dropped = looked <= still.motion_us + 300_000 and still.motion_us <= still.impact_us
        soon = still.impact_us - still.motion_us <= self.params.drop_s * 1e6
        if dropped and soon and still.still_s >= 0.6 and still.still_since_us is not None:
            self._window_from(still.still_since_us)
            still.moved = False

    def _keep_short(self) -> None:
        assert self.memory is not None
        newest = self._still.newest_us
        if newest is not None and newest - self.memory.from_us > self.params.longest_s * 1e6:
            self._window_from(newest - round(self.params.longest_s * 1e6))
        elif not self._still.moved and self._still.still_since_us is not None and newest is not None:
            lying = newest - round(2 * self.params.keep_s * 1e6)
            if self._still.still_since_us < lying and self._settled:
                self._window_from(newest - round(self.params.keep_s * 1e6))

    def _advance(self, found: Found) -> None:
        """The last believed rest behind every told rep begins the next window."""
        assert self.memory is not None
        told = max((rep.stop_s for rep in found.reps), default=0.0)
        least = self.params.least_rest_s if found.reps else 1.0
        rests = [(a, b) for a, b in self._rests(found) if b - a >= least]
        fit = [(a, b) for a, b in rests if a >= told - 0.3]
        if fit:
            a, b = self._begin_at(rests, fit, found)
            self._window_from(self.memory.device_us(max(a, b - self.params.keep_s)))
            if fit[-1][1] >= found.stop_s - 0.3:
                self._still.moved = False
        if self._step >= len(self._steps()):
            self._still.moved = False

    def _begin_at(
        self, rests: list[tuple[float, float]], fit: list[tuple[float, float]], found: Found
    ) -> tuple[float, float]:
        """The last rest; of a lift held in the hands throughout the one before its last rep, so that two are seen."""
        if self.kind == "imu" and self.lift.pattern is Pattern.DOWN_UP and found.reps:
            before = [(a, b) for a, b in rests if b <= found.reps[-1].start_s + 0.3]
            return before[-1] if before else fit[-1]
        return fit[-1]

    def _rests(self, found: Found) -> Sequence[tuple[float, float]]:
        if self.kind == "imu":
            return found.rests
        since = self._still.still_since_us
        assert self.memory is not None
        return () if since is None else ((self.memory.stream_s(since), found.stop_s),)

    def _window_from(self, from_us: int) -> None:
        assert self.memory is not None
        if from_us <= self.memory.from_us:
            return
        self.memory = replace(self.memory, from_us=from_us)
        self._blocks = {seq: block for seq, block in self._blocks.items() if block.last_us >= from_us}

    def _decided(self, rep: FoundRep, found: Found, place: int) -> bool:
        """Whether a rest closes the rep, and what follows can hardly change its outcome."""
        if place + 1 < len(found.reps):
            return True
        if self.lift.pattern is Pattern.PULL_AND_DRIVE and not self._is_down(rep):
            return found.stop_s - rep.stop_s > 8.0  # racked, or overhead: only a bar that is down tells which it was
        closed = any(b > rep.stop_s - 0.1 and a > rep.start_s + 0.3 for a, b in self._rests(found))
        if not closed and self._step < len(self._steps()):
            return False
        if rep.outcome == "made":
            return True
        if self._is_down(rep):
            return True
        since = found.stop_s - rep.stop_s
        if self.lift.pattern is Pattern.PULL_AND_CATCH and rep.outcome == "partial":
            return since > 1.5  # held on the way up
        return since > 0.25

    def _is_down(self, rep: FoundRep) -> bool:
        """Whether the bar has hit the floor since the rep began."""
        assert self.memory is not None
        impact = self._still.impact_us
        return impact is not None and self.memory.stream_s(impact) > rep.start_s

    def _worth_telling(self, known: KnownRep, now: KnownRep, rep: FoundRep, found: Found, place: int) -> bool:
        if known.outcome != now.outcome:
            return self._decided(rep, found, place)
        if known.velocity is None or now.velocity is None or known.u is None or now.u is None:
            return known.velocity is not now.velocity
        return abs(known.velocity - now.velocity) > self.params.changed_u * known.u or now.u < 0.67 * known.u


def known_rep(index: int, rep: FoundRep, lift: Lift) -> KnownRep:
    """What is remembered of a rep that is told."""
    figure = rep.measures.get(lift.key_velocity)
    velocity, u = (None, None) if figure is None else (figure.value, figure.u)
    return KnownRep(index, rep.start_s, rep.stop_s, rep.outcome, velocity, u)


def _same(known: KnownRep, rep: FoundRep) -> bool:
    """Whether two sightings are of one rep: they share most of the time of the shorter."""
    return overlap(known.start_s, known.stop_s, rep.start_s, rep.stop_s)


def overlap(start_a: float, stop_a: float, start_b: float, stop_b: float) -> bool:
    """Whether two spans share more than half of the shorter one."""
    shared = min(stop_a, stop_b) - max(start_a, start_b)
    return shared > 0.5 * min(stop_a - start_a, stop_b - start_b)
