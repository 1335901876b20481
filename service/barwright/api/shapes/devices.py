"""Devices on the wire."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field, WithJsonSchema, model_validator

from barwright.analysis.quantities.units import UnknownUnit, factor_to_si
from barwright.api.shapes.base import Answer, Name, Number, Told
from barwright.ingest.mounting import parse_bar_axis
from barwright.ingest.refusals import Refusal
from barwright.storage.devices import Device, DeviceFacts, Mounting

# Whatever is told goes to parse_bar_axis, whose refusal says it better than a list of failed alternatives.
BarAxis = Annotated[
    Any,
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string", "enum": ["+x", "-x", "+y", "-y", "+z", "-z"]},
                {"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3},
                {"type": "null"},
            ],
            "description": "The sensor axis that points along the bar to the lifter's left.",
            "examples": ["+x", [0.98, 0.17, 0.0]],
        }
    ),
]
DeviceKind = Literal["imu", "encoder"]
DeviceClass = Literal["calibrated", "good", "fast", "hobby", "poor"]
_QUANTITY = {"accel": "acceleration", "gyro": "rate"}
_SI = {"accel": "m/s2", "gyro": "rad/s"}
# Full scales sold: 2 to 400 times gravity, 15 to 10,000 degrees a second (common practice, no source).
_FULL_SCALES = {"accel": (19.0, 4000.0, "[g]"), "gyro": (0.25, 180.0, "deg/s")}


class ToldMounting(Told):
    """How the sensor sits on the bar, or where an encoder's string leaves its housing."""

    bar_axis: BarAxis = None
    place: Literal["shaft", "sleeve"] | None = Field(default=None, description="sleeve: the end that spins by itself.")
    along_m: Annotated[Number, Field(ge=-1.2, le=1.2)] | None = Field(
        default=None, description="How far from the middle of the bar the sensor sits, metres, to the lifter's left."
    )
    anchor_offset_m: Annotated[Number, Field(ge=0, le=5)] | None = Field(
        default=None, description="Encoder: horizontal distance from the anchor to the bar's path, metres."
    )
    anchor_height_m: Annotated[Number, Field(ge=-5, le=5)] | None = Field(
        default=None, description="Encoder: height of the anchor above the platform, metres."
    )

    def changes(self) -> dict[str, Any]:
        """The members that were told, as Mounting has them. Raises Refusal for an axis that names no direction."""
        told = {name: getattr(self, name) for name in self.model_fields_set}
        if told.get("bar_axis") is not None:
            told["bar_axis"] = parse_bar_axis(told["bar_axis"])
        for name, value in (("place", "shaft"), ("anchor_height_m", 0.0)):
            if name in told and told[name] is None:
                told[name] = value
        return told


class Ranges(Told):
    """Full scale of the sensor; SI unless a unit is declared."""

    model_config = ConfigDict(
        json_schema_extra={"examples": [{"accel": 16, "gyro": 2000, "units": {"accel": "[g]", "gyro": "deg/s"}}]}
    )

    accel: Annotated[Number, Field(gt=0)] | None = None
    gyro: Annotated[Number, Field(gt=0)] | None = None
    units: dict[Literal["accel", "gyro"], str] = Field(default_factory=dict)

    def in_si(self) -> dict[str, float]:
        """m/s2 and rad/s. Raises Refusal for a unit that is not known."""
        out = {}
        for group, quantity in _QUANTITY.items():
            value: float | None = getattr(self, group)
            if value is None:
                continue
            try:
                out[group] = value * factor_to_si(self.units.get(group, _SI[group]), quantity)  # type: ignore[call-overload]
            except UnknownUnit as unknown:
                raise Refusal("unknown-unit", unknown.detail, f"/ranges/units/{group}") from unknown
            least, most, usual = _FULL_SCALES[group]
            if not least <= out[group] <= most:
                raise Refusal(
                    "bad-member",
                    f"The range of {group} is {out[group]:g} {_SI[group]}; full scales lie between {least:g} and "
                    f'{most:g}. For another unit declare it: "units": {{"{group}": "{usual}"}}.',
                    f"/ranges/{group}",
                )
        return out


class NewDevice(Told):
    """A sensor on a bar."""

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {"name": "bar 3", "kind": "imu", "mounting": {"bar_axis": "+x", "place": "shaft"}, "class": "good"},
                {"name": "string 1", "kind": "encoder", "mounting": {"anchor_offset_m": 0.15}},
            ]
        }
    )

    name: Name
    kind: DeviceKind
    mounting: ToldMounting | None = None
    device_class: DeviceClass | None = Field(default=None, alias="class")
    ranges: Ranges | None = None

    def facts(self) -> DeviceFacts:
        """As the workflows want it. Raises Refusal."""
        ranges = {} if self.ranges is None else self.ranges.in_si()
        mounting = Mounting() if self.mounting is None else Mounting(**self.mounting.changes())
        return DeviceFacts(self.name, self.kind, mounting, self.device_class, ranges)


class DeviceChanges(Told):
    """What is to change; members left out stay. Streams that already began keep the device as it was."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"mounting": {"bar_axis": "-x"}}]})

    name: Name | None = None
    mounting: ToldMounting | None = None
    device_class: DeviceClass | None = Field(default=None, alias="class")
    ranges: Ranges | None = None

    @model_validator(mode="after")
    def _name_stays(self) -> DeviceChanges:
        if "name" in self.model_fields_set and self.name is None:
            raise ValueError("the name can be changed, not taken away.")
        return self

    def changes(self) -> tuple[dict[str, Any], dict[str, Any]]:
        """(facts, mounting) that were told. Raises Refusal."""
        told: dict[str, Any] = {n: getattr(self, n) for n in self.model_fields_set if n in ("name", "device_class")}
        if "ranges" in self.model_fields_set:
            told["ranges"] = {} if self.ranges is None else self.ranges.in_si()
        return told, {} if self.mounting is None else self.mounting.changes()


class MountingAnswer(Answer):
    """How the sensor sits; bar_axis as a unit vector, null when it is not known."""

    bar_axis: tuple[float, float, float] | None
    place: str
    along_m: float | None
    anchor_offset_m: float | None
    anchor_height_m: float


class RangesAnswer(Answer):
    """Full scale, null when it is not known."""

    accel: float | None
    gyro: float | None
    units: dict[str, str]


class DeviceAnswer(Answer):
    """A device of the club."""

    model_config = ConfigDict(serialize_by_alias=True)

    id: str
    name: str
    kind: DeviceKind
    mounting: MountingAnswer
    device_class: str | None = Field(alias="class")
    ranges: RangesAnswer
    created_at: datetime

    @classmethod
    def of(cls, device: Device) -> DeviceAnswer:
        """From the stored device."""
        facts = device.facts
        mounting = MountingAnswer(
            bar_axis=facts.mounting.bar_axis,
            place=facts.mounting.place,
            along_m=facts.mounting.along_m,
            anchor_offset_m=facts.mounting.anchor_offset_m,
            anchor_height_m=facts.mounting.anchor_height_m,
        )
        ranges = RangesAnswer(accel=facts.ranges.get("accel"), gyro=facts.ranges.get("gyro"), units=_SI)
        return cls.model_validate(
            {
                "id": device.id,
                "name": facts.name,
                "kind": facts.kind,
                "mounting": mounting,
                "class": facts.device_class,
                "ranges": ranges,
                "created_at": device.created_at,
            }
        )


class DevicePage(Answer):
    """Devices in order of name."""

    items: list[DeviceAnswer]
    next: str | None
