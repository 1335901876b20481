"""The written pages of the project, and what stands in them."""

from __future__ import annotations

import re
from pathlib import Path

PROJECT = Path(__file__).parents[2]
PAGES = sorted(
    [
        *PROJECT.glob("*.md"),
        *(PROJECT / "docs").rglob("*.md"),
        PROJECT / "sdk/README.md",
        PROJECT / "sample_streams/README.md",
    ]
)


def named(page: Path) -> str:
    """A page's path in the project, for the names of tests."""
    return page.relative_to(PROJECT).as_posix()


def page(name: str) -> str:
    """The text of a page."""
    return (PROJECT / name).read_text(encoding="utf-8")


def code_in(name: str, language: str) -> list[tuple[int, str]]:
    """(first line, code) of every fenced block of a language on a page."""
    text = page(name)
    found = re.finditer(rf"^```{language}\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    return [(text.count("\n", 0, one.start(1)) + 1, one[1]) for one in found]


def run(name: str, codes: list[tuple[int, str]]) -> dict[str, object]:
    """Executes code blocks in order, as one program whose line numbers are the page's; answers its names."""
    names: dict[str, object] = {}
    for line, code in codes:
        exec(compile("\n" * (line - 1) + code, name, "exec"), names)
    return names


def prose(text: str) -> str:
    """A page without its code, fenced or inline."""
    return re.sub(r"`[^`\n]*`", "", re.sub(r"^```.*?^```", "", text, flags=re.MULTILINE | re.DOTALL))
