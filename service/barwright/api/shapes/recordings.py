"""Recording files on the wire: what is told of one, and how it would be understood."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from barwright.api.problems import problem_of
from barwright.api.shapes.base import Answer, Number, Told
from barwright.api.shapes.sets import Figure
from barwright.api.shapes.streams import NewStream
from barwright.ingest.file_layout import FileLayout, layout_of
from barwright.ingest.limits import Limits
from barwright.ingest.preview import ColumnPreview, FilePreview, Timing
from barwright.ingest.tables.unit_guess import AtRest
from barwright.workflows.begin_stream import StreamRequest

Units = Annotated[
    dict[Literal["accel", "gyro", "position", "velocity", "load", "time"], str],
    Field(
        description="UCUM codes: accel m/s2, [g], m[g]; gyro rad/s, deg/s; position m, cm, mm; velocity m/s, cm/s, "
        "mm/s; load kg, [lb_av]; time s, ms, us, ns."
    ),
]
Columns = Annotated[
    list[Annotated[str, Field(max_length=200)]] | None,
    Field(description='A name for each column of the file, "" to leave one out; goes before its header.'),
]
Scale = Annotated[
    dict[Literal["accel", "gyro", "position", "velocity"], Number] | None,
    Field(description="What one count is, in the unit of the group, where the file holds counts."),
]


class FileMeta(Told):
    """What is told of a file whose understanding is asked for."""

    units: Units = Field(default_factory=dict)
    columns: Columns = None
    scale: Scale = None
    rate_hz: Annotated[Number, Field(gt=0)] | None = Field(
        default=None, description="Of the samples, when the file has no clock."
    )

    def layout(self, limits: Limits) -> FileLayout:
        """As ingest wants it. Raises Refusal."""
        return _layout(self, limits)


class NewRecording(NewStream):
    """One set in a file: what is told of a stream, and of the file."""

    units: Units = Field(default_factory=dict)  # type: ignore[assignment]  # wider than a stream's: files have a clock
    columns: Columns = None
    scale: Scale = None

    def layout(self, limits: Limits) -> FileLayout:
        """Of the file. Raises Refusal."""
        return _layout(self, limits)

    def request(self) -> StreamRequest:
        """Of the stream. Raises Cannot when a thing is named twice, or not at all."""
        units = {group: code for group, code in self.units.items() if group != "time"}
        rest = self.model_dump(exclude={"columns", "scale", "units"})
        return NewStream.model_construct(**rest, units=units).request()


class ColumnAnswer(Answer):
    """One column, as understood. channel null: left out, and why."""

    header: str
    channel: str | None
    quantity: str | None
    axis: Literal["x", "y", "z"] | None
    unit: str | None = Field(description="UCUM code; `iso` for a clock of dates and times.")
    unit_from: Literal["header", "declared", "inferred", "SI"] | None = Field(
        description="SI: nobody told one, and a column of this name is SI by contract."
    )
    first: list[float | str] = Field(description="The first values, as they stand in the file.")
    why: str = Field(description="Why the column is left out, or empty.")

    @classmethod
    def of(cls, column: ColumnPreview) -> ColumnAnswer:
        """From ingest."""
        return cls.model_validate(
            {name: getattr(column, name) for name in ColumnPreview.__dataclass_fields__} | {"first": list(column.first)}
        )


class TimingAnswer(Answer):
    """When samples come. rate_hz: outside of gaps. repeated: samples that have the time of the one before."""

    samples: int
    duration_s: float
    rate_hz: float | None
    gaps: int
    longest_gap_s: float
    repeated: int

    @classmethod
    def of(cls, timing: Timing) -> TimingAnswer:
        """From ingest."""
        return cls.model_validate({name: getattr(timing, name) for name in Timing.__dataclass_fields__})


class PreviewAnswer(Answer):
    """How a file would be understood. problem: why it would be refused, null when it would be taken."""

    taken: bool = Field(description="Whether `POST /v1/recordings` would take it with the same units and columns.")
    format: str | None
    layout: list[str]
    kind: Literal["imu", "encoder"] | None
    columns: list[ColumnAnswer]
    units: dict[str, str] | None
    timing: TimingAnswer | None
    force_at_rest: Figure = Field(description="What the accelerometer reads while it rests; 1 [g] when all is well.")
    notes: list[str]
    problem: dict[str, Any] | None

    @classmethod
    def of(cls, found: FilePreview, path: str) -> PreviewAnswer:
        """From ingest. path: of the route a problem would come from."""
        return cls(
            taken=found.refusal is None,
            format=found.form,
            layout=list(found.words),
            kind=found.kind,  # type: ignore[arg-type]  # checked by pydantic
            columns=[ColumnAnswer.of(one) for one in found.columns],
            units=found.units,
            timing=None if found.timing is None else TimingAnswer.of(found.timing),
            force_at_rest=_at_rest(found.at_rest, (found.units or {}).get("accel", "m/s2")),
            notes=list(found.notes),
            problem=None if found.refusal is None else problem_of(found.refusal, path),
        )


def _at_rest(found: AtRest | None, unit: str) -> Figure:
    if found is None:
        return Figure(value=None, u=None, unit=unit, reason="no rest was found in the samples of an accelerometer")
    return Figure(value=found.size, u=found.deviation / found.samples**0.5, unit=unit)


def _layout(told: FileMeta | NewRecording, limits: Limits) -> FileLayout:
    units = {group: code for group, code in told.units.items() if group != "load"}
    return layout_of({"units": units, "columns": told.columns, "scale": told.scale, "rate_hz": told.rate_hz}, limits)
