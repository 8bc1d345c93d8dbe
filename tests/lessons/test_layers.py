"""The core knows nothing of the lessons; they stand on it."""

import ast
from pathlib import Path

import bandtrial
import pytest


def imported(file: Path) -> set[str]:
    """Top-level names of what a file imports, anywhere in it."""
    nodes = list(ast.walk(ast.parse(file.read_text(encoding="utf-8"))))
    plain = {name.name.split(".")[0] for node in nodes if isinstance(node, ast.Import) for name in node.names}
    return plain | {(node.module or "").split(".")[0] for node in nodes if isinstance(node, ast.ImportFrom)}


CORE = sorted(Path(bandtrial.__file__).parent.rglob("*.py"))


@pytest.mark.parametrize("file", CORE, ids=lambda file: file.stem)
def test_the_core_never_imports_the_lessons(file):
    assert "bandtrial_lessons" not in imported(file)
