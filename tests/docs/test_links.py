"""Links lead somewhere, and no page tells of the machine it was written on."""

from __future__ import annotations

import re
from pathlib import Path
from urllib.parse import unquote
from xml.etree import ElementTree

import pytest

from docs.pages import PAGES, PROJECT, named, page, prose

# What belongs to one machine, not to the project: home and working folders, addresses of package indexes.
ELSEWHERE = re.compile(
    r"(?<![\w.])/(?:home|root|Users|tmp|mnt|srv|opt)\b|file://|\b(?:mirror|registry)\.[a-z]|-----BEGIN",
    re.I,
)


def anchors(text: str) -> set[str]:
    """Names of a page's headings as they are linked: small letters, hyphens for blanks (GitHub's rule, from memory)."""
    headings = re.findall(r"^#+ (.+)$", re.sub(r"^```.*?^```", "", text, flags=re.M | re.S), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


def test_all_pages_are_looked_at():
    names = {named(one) for one in PAGES}
    assert {"README.md", "DEVELOPERS.md", "CHANGELOG.md", "docs/method.md", "docs/frames.md", "sdk/README.md"} <= names


@pytest.mark.parametrize("where", PAGES, ids=named)
def test_every_link_within_the_project_resolves(where: Path):
    lost = []
    for target in re.findall(r"\]\(([^)\s]+)\)", prose(where.read_text())):
        path, _, anchor = target.partition("#")
        if re.match(r"[a-z]+:", path):
            assert path.startswith("https://"), target
            continue
        file = (where.parent / unquote(path)).resolve() if path else where
        there = file.is_relative_to(PROJECT) and file.exists()
        if not there or (anchor and anchor not in anchors(file.read_text())):
            lost.append(target)
    assert lost == []


@pytest.mark.parametrize("where", PAGES, ids=named)
def test_files_named_in_code_marks_exist(where: Path):
    """`service/...`, `tests/...`, `docs/...` and the like are paths from the project's folder."""
    said = re.findall(r"`((?:service|sdk|tests|docs|sample_streams)/[\w./]+)`", where.read_text())
    ours = [path for path in said if not path.endswith("docs/validation.md")]  # what `make bench` last printed
    assert [path for path in ours if not (PROJECT / path).exists()] == []


def test_files_named_for_developers_exist():
    """In DEVELOPERS.md and docs/method.md a path may begin inside the package, or inside its analysis."""
    bases = [PROJECT, PROJECT / "service/barwright", PROJECT / "service/barwright/analysis"]
    text = page("DEVELOPERS.md") + page("docs/method.md")
    said = set(re.findall(r"`([a-z_]+/[\w/]+(?:\.\w+|/))`", text))
    assert len(said) > 25
    assert sorted(path for path in said if not any((base / path).exists() for base in bases)) == []


@pytest.mark.parametrize("where", PAGES, ids=named)
def test_no_page_tells_of_one_machine(where: Path):
    assert ELSEWHERE.findall(where.read_text()) == []


def test_the_search_for_one_machine_finds_what_it_should():
    for text in ("see /srv/main", "in /home/imke/x", "file:///x", "https://mirror.example/simple", "`/tmp/a`"):
        assert ELSEWHERE.search(text), text
    for text in ("`storage/workflows/work`", "how it works", "GET /v1/sets", "[make](Makefile)"):
        assert not ELSEWHERE.search(text), text


def test_the_drawing_of_the_axes_can_be_read():
    drawing = ElementTree.parse(PROJECT / "docs/frames.svg").getroot()
    assert drawing.tag == "{http://www.w3.org/2000/svg}svg"
    told = " ".join(drawing.itertext())
    for words in ("x forward", "z up", "y to the lifter's left", "From above", "From the lifter's right side"):
        assert words in told
