"""What a coach typed, checked and in SI units."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from barwright.workflows.cannot import Cannot


@dataclass(frozen=True, slots=True)
class Fields:
    """The fields of a form in their order. The readers raise Cannot in plain words, with the field as pointer."""

    told: tuple[tuple[str, str], ...]

    def text(self, name: str, longest: int = 500) -> str:
        """One field without spaces around it; empty when it is not there."""
        found = next((value for key, value in self.told if key == name), "").strip()
        if len(found) > longest:
            raise Cannot("request-invalid", f"That text is longer than {longest} letters.", f"/{name}")
        return found

    def all(self, name: str) -> tuple[str, ...]:
        """Every value of a field that comes more than once."""
        return tuple(value.strip() for key, value in self.told if key == name)

    def number(self, name: str, what: str, low: float, high: float) -> float:
        """A number within limits; a comma does for a point."""
        text = self.text(name)
        value = as_number(text)
        if value is None or not low <= value <= high:
            said = "is empty" if not text else f"is {text!r}"
            raise Cannot(
                "request-invalid", f"{what} {said}; it has to be a number from {low:g} to {high:g}.", f"/{name}"
            )
        return value

    def number_or_none(self, name: str, what: str, low: float, high: float) -> float | None:
        """As `number`, None when the field is empty."""
        return self.number(name, what, low, high) if self.text(name) else None

    def day(self, name: str) -> date:
        """A day as browsers send it, 2026-03-01."""
        text = self.text(name)
        try:
            return date.fromisoformat(text)
        except ValueError as error:
            raise Cannot("request-invalid", f"{text!r} is no day; write it as 2026-03-01.", f"/{name}") from error


def as_number(text: str) -> float | None:
    """A number as a coach may write it; None when it is none."""
    try:
        value = float(text.replace(",", ".").replace("−", "-"))
    except ValueError:
        return None
    return value if abs(value) < 1e9 else None
