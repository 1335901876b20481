"""How the service would understand a file, as frozen dataclasses."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from barwright_client.errors import Detail, Problem
from barwright_client.figures import Figure, figure

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class PreviewColumn:
    """One column. channel: time, accel_x, ..., or None when it is left out, with `why`.

    unit: UCUM code, and who told it: header, declared, inferred (from the samples), or SI where nobody did.
    """

    header: str
    channel: str | None = None
    quantity: str | None = None
    axis: str | None = None
    unit: str | None = None
    unit_from: str | None = None
    first: tuple[float | str, ...] = ()
    why: str = ""

    def __str__(self) -> str:
        """One line, such as `AccX -> accel_x in [g] (inferred): 0.01 0.02`."""
        if self.channel is None:
            return f"{self.header} -> left out: {self.why}"
        unit = f"in {self.unit} ({self.unit_from})" if self.unit else "in a unit not known"
        values = " ".join(str(one) for one in self.first)
        return f"{self.header} -> {self.channel} {unit}" + (f": {values}" if values else "")


@dataclass(frozen=True, slots=True)
class Preview:
    """taken: whether the service would take the file; problem: why not. force_at_rest: 1 [g] when all is well."""

    taken: bool
    format: str | None
    layout: tuple[str, ...]
    kind: str | None
    columns: tuple[PreviewColumn, ...]
    force_at_rest: Figure
    units: dict[str, str] = field(default_factory=dict)
    samples: int = 0
    duration_s: float = 0.0
    rate_hz: float | None = None
    gaps: int = 0
    longest_gap_s: float = 0.0
    repeated: int = 0
    notes: tuple[str, ...] = ()
    problem: Problem | None = None

    @classmethod
    def read(cls, document: Json) -> Preview:
        """From the service's JSON."""
        names = PreviewColumn.__dataclass_fields__
        columns = tuple(
            PreviewColumn(**{k: v for k, v in one.items() if k in names} | {"first": tuple(one.get("first") or ())})
            for one in document["columns"]
        )
        timing = {
            name: value
            for name, value in (document.get("timing") or {}).items()
            if name in ("samples", "duration_s", "rate_hz", "gaps", "longest_gap_s", "repeated")
        }
        problem = document.get("problem")
        return cls(
            document["taken"],
            document.get("format"),
            tuple(document.get("layout") or ()),
            document.get("kind"),
            columns,
            figure(document["force_at_rest"]),
            dict(document.get("units") or {}),
            notes=tuple(document.get("notes") or ()),
            problem=None if problem is None else _problem(problem),
            **timing,
        )

    def words(self) -> tuple[str, ...]:
        """The same as plain lines."""
        lines = [", ".join(one for one in (self.format or "not known", *self.layout))]
        lines += [f"  {column}" for column in self.columns]
        if self.samples:
            rate = "" if self.rate_hz is None else f" at {self.rate_hz:.4g} Hz"
            lines.append(f"{self.samples} samples{rate} over {self.duration_s:.1f} s, {_gaps(self)}")
        if self.force_at_rest:
            lines.append(f"at rest the accelerometer reads {self.force_at_rest.value:.4g} {self.force_at_rest.unit}")
        lines += self.notes
        lines.append("would be taken" if self.problem is None else f"would be refused: {self.problem.detail}")
        return tuple(lines)


def _problem(document: Json) -> Problem:
    errors = tuple(Detail(str(one.get("detail", "")), one.get("pointer")) for one in document.get("errors") or ())
    return Problem(
        type=str(document.get("type", "about:blank")),
        code=document.get("code"),
        title=str(document.get("title", "")),
        status=document.get("status"),
        detail=str(document.get("detail", "")),
        errors=errors,
    )


def _gaps(preview: Preview) -> str:
    if not preview.gaps:
        return "no gaps"
    return f"{preview.gaps} gaps, the longest {1000 * preview.longest_gap_s:.0f} ms"
