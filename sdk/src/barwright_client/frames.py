"""Results as pandas DataFrames; pandas is an extra and is loaded on first use."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable

    from barwright_client.answers import RepPath, SetResult


def path_frame(path: RepPath) -> Any:
    """A rep's path, one row per sample; columns the sensor cannot see are left out."""
    return _pandas().DataFrame({name: column for name, column in asdict(path).items() if column is not None})


def reps_frame(sets: Iterable[SetResult]) -> Any:
    """One row per rep: which set, lift and load, then each measure's value and, as `<measure>_u`, its uncertainty."""
    rows = []
    for each in sets:
        for rep in each.reps:
            row: dict[str, Any] = {"set_id": each.id, "athlete_id": each.athlete_id, "started_at": each.started_at}
            row |= {"lift": each.lift, "load_kg": each.load_kg, "rep": rep.index, "outcome": rep.outcome}
            for name, found in {**rep.measures, **rep.path_measures}.items():
                row[name], row[f"{name}_u"] = found.value, found.u
            rows.append(row)
    return _pandas().DataFrame(rows)


def _pandas() -> Any:
    try:
        import pandas
    except ImportError as error:
        raise ImportError("data frames need pandas: pip install 'barwright-client[pandas]'") from error
    return pandas
