"""Imports between the folders of the add-on go one way."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ADDON = ROOT / "addon"


def order() -> list[str]:
    """The folders as DEVELOPERS.md lists them, each with what it may import above it."""
    return re.findall(r"^\| `(\w+)/` \|", (ROOT / "DEVELOPERS.md").read_text(), re.MULTILINE)


def imported_folders(source: str, depth: int) -> Iterator[str]:
    """Folders of the add-on that a file imports from, other than its own.

    depth : how many folders under the add-on's own it lies
    """
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ImportFrom) and node.level == depth + 1:
            yield from [node.module.split(".")[0]] if node.module else (a.name for a in node.names)


def against_the_order(source: str, folder: str) -> list[str]:
    above = order()[: order().index(folder)]
    return [name for name in imported_folders(source, 1) if name in order() and name not in above]


def test_every_folder_is_in_the_order() -> None:
    assert sorted(order()) == sorted(path.parent.name for path in ADDON.glob("*/__init__.py"))


@pytest.mark.parametrize("path", sorted(ADDON.glob("*/*.py")), ids=lambda path: path.stem)
def test_a_folder_imports_only_from_those_above_it(path: Path) -> None:
    assert against_the_order(path.read_text(encoding="utf-8"), path.parent.name) == []


@pytest.mark.parametrize(
    "source",
    [
        "from ..panels import layouts",
        "from .. import panels",
        "from ..cuts.handles import HANDLES",
        "def f():\n    from ..operators.build import BOREWRIGHT_OT_build",
    ],
)
def test_the_check_sees_every_way_down(source: str) -> None:
    assert against_the_order(source, "surveys")
    allowed = "from ..words.told import told\nfrom .. import extension"
    assert against_the_order(allowed, "surveys") == []
