"""Keys of the club, who did what in it, and how its analyses went: answers as frozen dataclasses, and the calls."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from barwright_client.bodies import json_body
from barwright_client.call import Call, Pages, listing, nothing, part, rfc3339, without_none

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class ApiKey:
    """A key that is in use. hint: its first letters. key: the key itself, only where it was just made.

    replaced_by: the id of the key in its place, beside which it goes on until expires_at.
    """

    id: str
    label: str | None
    hint: str | None
    scopes: tuple[str, ...]
    device_id: str | None
    created_at: datetime
    expires_at: datetime | None
    last_used_at: datetime | None
    replaced_by: str | None
    key: str | None = field(default=None, repr=False)

    @classmethod
    def read(cls, document: Json) -> ApiKey:
        """From the service's JSON."""
        return cls(
            id=document["id"],
            label=document["label"],
            hint=document["hint"],
            scopes=tuple(document["scopes"]),
            device_id=document["device_id"],
            created_at=datetime.fromisoformat(document["created_at"]),
            expires_at=_time(document["expires_at"]),
            last_used_at=_time(document["last_used_at"]),
            replaced_by=document["replaced_by"],
            key=document.get("key"),
        )


@dataclass(frozen=True, slots=True)
class Deed:
    """One thing somebody did. by: id of a key or a coach, or `operator`. subject: the id it was done to."""

    at: datetime
    by: str
    by_name: str | None
    what: str
    subject: str | None
    details: Mapping[str, Any]
    request_id: str | None

    @classmethod
    def read(cls, document: Json) -> Deed:
        """From the service's JSON."""
        at = datetime.fromisoformat(document["at"])
        told = (document[name] for name in ("by", "by_name", "what", "subject", "details", "request_id"))
        return cls(at, *told)


@dataclass(frozen=True, slots=True)
class AnalysisRun:
    """One analysis. outcome: analysed, unusable (the samples allow none) or failed (ask for it with reanalyse())."""

    set_id: str
    ended_at: datetime
    seconds: float
    samples: int
    outcome: str
    reason_code: str | None

    @classmethod
    def read(cls, document: Json) -> AnalysisRun:
        """From the service's JSON."""
        ended_at = datetime.fromisoformat(document["ended_at"])
        told = (document[name] for name in ("seconds", "samples", "outcome", "reason_code"))
        return cls(document["set_id"], ended_at, *told)


def keys() -> Pages[ApiKey]:
    """Keys of the club that are in use, the newest first."""
    return listing("/v1/keys", ApiKey.read)


def make_key(
    label: str, scopes: Collection[str], *, device_id: str | None = None, expires_at: datetime | None = None
) -> Call[ApiKey]:
    """Make a key; `key` of the answer is the only time it can be seen.

    An answer that was lost on the way leaves a key nobody has, without a last_used_at: revoke it.
    scopes: of streams:write, results:read, athletes:write, club:admin. device_id: of the one device it is for.
    """
    told = without_none(label=label, scopes=list(scopes), device_id=device_id, expires_at=rfc3339(expires_at))
    return Call("POST", "/v1/keys", ApiKey.read, body=json_body(told))


def replace_key(key_id: str, *, overlap_hours: float = 24.0) -> Call[ApiKey]:
    """Make a key that may the same; the old one goes on beside it for the overlap, and then ends."""
    body = json_body({"overlap_hours": overlap_hours})
    return Call("POST", f"/v1/keys/{part(key_id)}/replace", ApiKey.read, body=body)


def revoke_key(key_id: str) -> Call[None]:
    """The key opens nothing any more."""
    return Call("DELETE", f"/v1/keys/{part(key_id)}", nothing)


def audit(*, what: str | None = None, subject: str | None = None) -> Pages[Deed]:
    """Who did what in the club, the newest first. what: one kind of deed (docs/security.md). subject: done to it."""
    return listing("/v1/audit", Deed.read, what=what, subject=subject)


def analyses(*, outcome: str | None = None, at_least_s: float | None = None) -> Pages[AnalysisRun]:
    """How analyses went, the newest first; only failed ones (outcome), only slow ones (at_least_s)."""
    slow = None if at_least_s is None else f"{at_least_s:g}"
    return listing("/v1/analyses", AnalysisRun.read, outcome=outcome, at_least_s=slow)


def _time(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)
