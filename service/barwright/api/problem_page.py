"""docs/problems.md: one heading per code, what it means and what to do."""

from __future__ import annotations

from barwright.api.problem_advice import ADVICE
from barwright.api.problems import PROBLEMS

_INTRO = """# Problems

Every error of every route is one `application/problem+json` document (RFC 9457):

```json
{
  "type": "/docs/problems.md#unknown-lift",
  "title": "The lift is not known",
  "status": 422,
  "detail": "'snach' is not a lift this service knows. GET /v1/lifts lists them all.",
  "instance": "/v1/streams",
  "code": "unknown-lift",
  "errors": [{"pointer": "/lift", "detail": "'snach' is not a lift this service knows. GET /v1/lifts lists them all."}]
}
```

Decide by `code` (or `type`), never by the words. `pointer` is a JSON pointer (RFC 6901) into the body or the part
`meta`, or the name of a parameter. A refused block or recording leaves nothing behind. `X-Request-Id` comes with every
answer and is in the log.
"""


def problem_page() -> str:
    """The whole page as Markdown."""
    parts = [_INTRO]
    for code, (status, title) in sorted(PROBLEMS.items()):
        parts.append(f"## {code}\n\n**{status}** {title}.\n\n{ADVICE[code]}\n")
    return "\n".join(parts)
