"""Public functions of the analysis say what they do; arrays say their shapes, parameters their meaning."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from rules.test_file_lengths import TOP, sources

ANALYSIS = [path for path in sources("service/barwright/analysis") if path.name != "__init__.py"]
ids = [str(path.relative_to(TOP / "service/barwright/analysis")) for path in ANALYSIS]


def public(path: Path) -> list[tuple[str, ast.FunctionDef | ast.ClassDef]]:
    """Public functions, classes and their public methods and properties."""
    out: list[tuple[str, ast.FunctionDef | ast.ClassDef]] = []
    for node in ast.parse(path.read_text()).body:
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)) and not node.name.startswith("_"):
            out.append((node.name, node))
            if isinstance(node, ast.ClassDef):
                out += [
                    (f"{node.name}.{inner.name}", inner)
                    for inner in node.body
                    if isinstance(inner, ast.FunctionDef) and not inner.name.startswith("_")
                ]
    return out


@pytest.mark.parametrize("path", ANALYSIS, ids=ids)
def test_every_file_and_everything_public_has_a_docstring(path: Path) -> None:
    assert ast.get_docstring(ast.parse(path.read_text())), "the file itself"
    bare = [name for name, node in public(path) if not ast.get_docstring(node)]
    assert not bare


@pytest.mark.parametrize("path", ANALYSIS, ids=ids)
def test_parameters_of_a_stage_are_explained_one_by_one(path: Path) -> None:
    """A `...Params` class names every field in its docstring or beside it."""
    for name, node in public(path):
        if isinstance(node, ast.ClassDef) and name.endswith("Params"):
            said = ast.get_docstring(node) or ""
            lines = path.read_text().splitlines()
            for field in node.body:
                if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name):
                    word = field.target.id
                    starred = any(f"{word[:k]}*" in said for k in range(3, len(word)))
                    grouped = isinstance(field.value, ast.Call)  # another stage's parameters explain themselves
                    beside = "#" in lines[field.lineno - 1]
                    assert word in said or starred or grouped or beside, f"{name}.{word}"
