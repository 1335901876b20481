"""Holds the lock against the advisories of PyPI with pip-audit: `make audit`, which is part of `make check`.

Fails on a known vulnerability that `.ci/audit_exceptions.toml` does not explain. Where the advisories cannot be had, as
on a closed network or behind a mirror that has none, it says so and lets the build go on: nothing was audited then.
The answer for a lock is kept for a day.
"""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
import time
import tomllib
import urllib.error
import urllib.request
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

LOCK, EXCEPTIONS, KEPT = Path("requirements.lock"), Path(".ci/audit_exceptions.toml"), Path("build/audit.json")
# A release with published advisories for years: a service that does not know them knows none.
CANARY = "https://pypi.org/pypi/jinja2/2.11.2/json"
A_DAY_S = 86_400.0


@dataclass(frozen=True, slots=True)
class Explained:
    """An advisory that is lived with. until: the last day on which that holds."""

    id: str
    reason: str
    until: date


def main() -> int:
    """0: nothing found, or nothing could be audited, which is said. 1: a vulnerability. 2: a bad list of exceptions."""
    try:
        exceptions = exceptions_in(EXCEPTIONS.read_text())
    except (KeyError, TypeError, ValueError) as error:
        print(f"{EXCEPTIONS}: {error}; every [[exception]] has id, reason and until (a date)", file=sys.stderr)
        return 2
    digest = hashlib.sha256(LOCK.read_bytes() + date.today().isoformat().encode()).hexdigest()
    report = kept(digest)
    if report is None:
        why = advisories_missing()
        if why is not None:
            print(f"NOT AUDITED: {why}. Run `make audit` where https://pypi.org can be reached.", file=sys.stderr)
            return 0
        report = audit()
        if isinstance(report, str):
            print(f"NOT AUDITED: {report}", file=sys.stderr)
            return 0
        KEPT.parent.mkdir(exist_ok=True)
        KEPT.write_text(json.dumps({"digest": digest, "report": report}))
    lines = findings(report, exceptions, date.today())
    for line in lines:
        print(line, file=sys.stderr)
    print(f"dependency audit: {len(report['dependencies'])} packages of the lock, {len(lines)} findings")
    return 1 if lines else 0


def exceptions_in(text: str) -> list[Explained]:
    """The exceptions, each with its reason and its last day. Raises KeyError, TypeError, ValueError."""
    out = []
    for one in tomllib.loads(text).get("exception", []):
        if len(one["reason"]) < 20 or not isinstance(one["until"], date):
            raise ValueError(f"{one['id']} is not explained")
        out.append(Explained(one["id"], one["reason"], one["until"]))
    return out


def findings(report: dict[str, Any], exceptions: list[Explained], today: date) -> list[str]:
    """A line for each vulnerability of pip-audit's report that no exception covers today."""
    covered = {one.id for one in exceptions if today <= one.until}
    lines = []
    for package in report["dependencies"]:
        for found in package.get("vulns", []):
            if not {found["id"], *found.get("aliases", [])} & covered:
                fixed = ", ".join(found.get("fix_versions", [])) or "no release yet"
                lines.append(f"{package['name']} {package['version']}: {found['id']}, fixed in {fixed}")
    return lines


def advisories_missing(address: str = CANARY) -> str | None:
    """Why no advisories can be had; None when a release that has some tells them."""
    try:
        with urllib.request.urlopen(address, timeout=10) as answer:  # noqa: S310 - a fixed https address
            told = json.load(answer)
    except (OSError, ValueError) as error:
        return f"the advisories of PyPI cannot be reached ({error})"
    if not told.get("vulnerabilities"):
        return "this package index tells no advisories, not even those of a release that is known to have some"
    return None


def audit() -> dict[str, Any] | str:
    """pip-audit's report on the lock, or why there is none."""
    command = [sys.executable, "-m", "pip_audit", "-r", str(LOCK), "--disable-pip", "--require-hashes"]
    done = subprocess.run(  # noqa: S603 - no word of it comes from outside
        [*command, "--format", "json", "--progress-spinner", "off"], capture_output=True, text=True, check=False
    )
    try:
        report = json.loads(done.stdout)
    except ValueError:
        last = (done.stderr.strip().splitlines() or ["it said nothing"])[-1]
        return f"pip-audit did not come to an end: {last[:300]}"
    return report if isinstance(report, dict) else "pip-audit's report has another shape than it had"


def kept(digest: str) -> dict[str, Any] | None:
    """The report on this very lock, if it is from today."""
    try:
        told = json.loads(KEPT.read_text())
        fresh = time.time() - KEPT.stat().st_mtime < A_DAY_S
    except (OSError, ValueError):
        return None
    return told["report"] if fresh and told.get("digest") == digest else None


if __name__ == "__main__":
    sys.exit(main())
