"""The core knows no Blender: its syntax tree imports numpy and the standard library only."""

from __future__ import annotations

import ast
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

CORE = Path(__file__).resolve().parents[2] / "core"
ALLOWED = {"numpy"} | set(sys.stdlib_module_names)
BY_NAME = {"__import__", "import_module"}


def foreign_imports(source: str, depth: int = 1) -> list[str]:
    """Imports that the core may not make, lazy ones and those by a name in a string too.

    depth : how many dots still lead to a module of the core
    """
    return [name for node in ast.walk(ast.parse(source)) for name in imported(node, depth)
            if name.split(".")[0] not in ALLOWED]  # fmt: skip


def imported(node: ast.AST, depth: int) -> Iterator[str]:
    match node:
        case ast.Import(names=names):
            yield from (alias.name for alias in names)
        case ast.ImportFrom(module=module, level=level) if level == 0:
            yield str(module)
        case ast.ImportFrom(level=level) if level > depth:
            yield "." * level  # out of the core
        case ast.Name(id=name) | ast.Attribute(attr=name) if name in BY_NAME:
            yield f"<{name}>"


@pytest.mark.parametrize("path", sorted(CORE.rglob("*.py")), ids=lambda path: path.stem)
def test_the_core_imports_no_blender(path: Path) -> None:
    depth = len(path.relative_to(CORE).parts)
    assert foreign_imports(path.read_text(encoding="utf-8"), depth) == []


def test_one_dot_too_many_leads_out_of_the_core() -> None:
    assert foreign_imports("from ..values import Mesh", 2) == []
    assert foreign_imports("from ...addon import convert", 2) == ["..."]


@pytest.mark.parametrize(
    "source",
    [
        "import bpy",
        "import numpy, bmesh",
        "from mathutils import Vector",
        "def f():\n    import trimesh.creation",
        "if TYPE_CHECKING:\n    from bpy.types import Mesh",
        "__import__('bpy')",
        "import importlib\nimportlib.import_module('bpy')",
        "from ..addon import convert",
    ],
)
def test_the_check_sees_every_way_in(source: str) -> None:
    assert foreign_imports(source)


def test_every_package_is_listed_for_whoever_installs_the_checkout() -> None:
    root = Path(__file__).resolve().parents[2]
    listed = tomllib.loads((root / "pyproject.toml").read_text())["tool"]["setuptools"]["packages"]
    folders = {path.parent.relative_to(root) for path in root.glob("[ac][do]*/**/__init__.py")}
    assert sorted(listed) == sorted(
        ["borewright", *(f"borewright.{'.'.join(f.parts)}" for f in folders)]
    )
