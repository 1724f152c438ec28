"""Pieces of the scene are saved as the command saves those of the same mesh."""

from __future__ import annotations

import importlib
import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType
from typing import Any

import bpy
import pytest

from tests.blender.conftest import EXTENSION


def own(name: str) -> ModuleType:
    """A module of the installed extension."""
    return importlib.import_module(f"{EXTENSION}.addon.{name}")


def import_part(path: Path, name: str) -> bpy.types.Object:
    """A mesh file as people bring it in: one unit is one mm."""
    bpy.ops.wm.stl_import(filepath=str(path))
    (part,) = bpy.context.selected_objects
    part.name = name
    return part


@pytest.fixture
def pipe(extension: ModuleType, tube_stl: Path) -> bpy.types.Object:
    """The tube of the job, its pieces built."""
    assert extension.__name__ == EXTENSION
    part = import_part(tube_stl, "pipe")
    build()
    return part


def build(**asked: Any) -> None:
    given = {"envelope": (180.0,) * 3, "unit": "MM", "choose_engagement": True, "engagement": 11.0}
    assert bpy.ops.borewright.split(**{**given, **asked}) == {"FINISHED"}


def save(source: bpy.types.Object, folder: Path, *, overwrite: bool = False) -> Any:
    made = own("piece_data").made_with(source)
    return own("save_pieces").save(bpy.context, made, folder, overwrite=overwrite)


@contextmanager
def refused(pattern: str) -> Iterator[None]:
    """A refusal of the core that tells what was found, what is needed and what to try."""
    errors = sys.modules[f"{EXTENSION}.core.errors"]
    with pytest.raises(errors.CoreError, match=r"found: .*needed: .*try: ") as told:
        yield
    assert told.match(pattern)


def assert_same_job(saved: Path, commanded: Path) -> None:
    """Every byte, but for what tells a file from an object, and for times."""
    names = sorted(path.name for path in commanded.iterdir())
    assert sorted(path.name for path in saved.iterdir()) == names
    for name in set(names) - {"job.json", "timings.json"}:
        assert (saved / name).read_bytes() == (commanded / name).read_bytes(), name
    texts = [(folder / "job.json").read_text() for folder in (saved, commanded)]
    documents = [json.loads(text) for text in texts]
    for document in documents:
        for part in document["parts"]:
            del part["source"]["file"], part["source"]["sha256"]
    ours, theirs = (json.dumps(document, indent=1) for document in documents)
    assert ours == theirs
    times = [json.loads((folder / "timings.json").read_text()) for folder in (saved, commanded)]
    assert times[0].keys() == times[1].keys()
    assert all(value > 0.0 for value in times[0].values())


def test_saved_as_the_command_saves(pipe: bpy.types.Object, job: Path, tmp_path: Path) -> None:
    told = save(pipe, tmp_path / "out")
    assert (told.pieces, told.beds) == (2, 1)
    assert_same_job(tmp_path / "out", job)
