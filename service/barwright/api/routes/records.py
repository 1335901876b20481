"""What was done, and how analyses went."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request, Response

from barwright.api.dependencies import Admin, PartsOf
from barwright.api.openapi import SIGNED_IN, problems
from barwright.api.paging import Cursor, Limit, number_in, page
from barwright.api.shapes.base import Answer
from barwright.storage.analysis_runs import AnalysisRun
from barwright.storage.audit import AuditEntry
from barwright.workflows.read_records import DEEDS, list_analyses, list_deeds

router = APIRouter(prefix="/v1", tags=["records"])

_DEED = "^(" + "|".join(deed.replace(".", r"\.") for deed in DEEDS) + ")$"
Outcome = Literal["analysed", "unusable", "failed"]


class AuditAnswer(Answer):
    """One thing somebody did. by: id of a key or a coach, or `operator`; by_name: null where they are gone."""

    at: datetime
    by: str
    by_name: str | None
    what: str
    subject: str | None
    details: dict[str, Any]
    request_id: str | None

    @classmethod
    def of(cls, entry: AuditEntry) -> AuditAnswer:
        """From the stored entry."""
        return cls.model_validate({name: getattr(entry, name) for name in cls.model_fields})


class AuditPage(Answer):
    """What was done, the newest first."""

    items: list[AuditAnswer]
    next: str | None


class AnalysisAnswer(Answer):
    """One analysis. failed: of its own fault, the samples are safe. unusable: the samples do not allow one."""

    set_id: str
    ended_at: datetime
    seconds: float
    samples: int
    outcome: Outcome
    reason_code: str | None

    @classmethod
    def of(cls, numbered: tuple[int, AnalysisRun]) -> AnalysisAnswer:
        """From the stored run."""
        return cls.model_validate({name: getattr(numbered[1], name) for name in cls.model_fields})


class AnalysisPage(Answer):
    """Analyses, the newest first."""

    items: list[AnalysisAnswer]
    next: str | None


@router.get(
    "/audit",
    response_model=AuditPage,
    responses=problems(*SIGNED_IN, "bad-cursor", "request-invalid"),
    operation_id="list_audit",
)
def get_audit(
    request: Request,
    response: Response,
    caller: Admin,
    parts: PartsOf,
    what: Annotated[str | None, Query(pattern=_DEED, description="Only this kind.")] = None,
    subject: Annotated[str | None, Query(max_length=64, description="Only what was done to this id.")] = None,
    limit: Limit = 50,
    cursor: Cursor = None,
) -> Any:
    """Who changed loads, caps, settings and plans, erased, exported, made keys. Entries are only ever added."""
    found = list_deeds(parts, caller, number_in(cursor), limit + 1, what, subject)
    return page(request, response, found, limit, lambda one: (str(one.id),), AuditAnswer.of)


@router.get(
    "/analyses",
    response_model=AnalysisPage,
    responses=problems(*SIGNED_IN, "bad-cursor", "request-invalid"),
    operation_id="list_analyses",
)
def get_analyses(
    request: Request,
    response: Response,
    caller: Admin,
    parts: PartsOf,
    outcome: Annotated[Outcome | None, Query(description="Only these; `failed` ones can be asked for again.")] = None,
    at_least_s: Annotated[float, Query(ge=0, le=1e6, description="Only slow ones: seconds of work at least.")] = 0.0,
    limit: Limit = 50,
    cursor: Cursor = None,
) -> Any:
    """How analyses went and how long they took. A failed one is asked for again with POST /v1/sets/{id}/reanalyse."""
    found = list_analyses(parts, caller, number_in(cursor), limit + 1, outcome, at_least_s)
    return page(request, response, found, limit, lambda one: (str(one[0]),), AnalysisAnswer.of)
