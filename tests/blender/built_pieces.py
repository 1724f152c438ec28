"""Parts brought into a scene, their pieces built there, and saved."""

from __future__ import annotations

import importlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType
from typing import Any

import bpy
import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray

from tests.blender.conftest import EXTENSION

FloatArray = NDArray[np.float64]


def own(name: str) -> ModuleType:
    """A module of the installed extension."""
    return importlib.import_module(f"{EXTENSION}.{name}")


def import_part(path: Path, name: str) -> bpy.types.Object:
    """A mesh file as people bring it in: one unit is one mm."""
    bpy.ops.wm.stl_import(filepath=str(path), use_mesh_validate=False)
    (part,) = bpy.context.selected_objects
    part.name = name
    return part


def add_part(mesh: trimesh.Trimesh, name: str) -> bpy.types.Object:
    """A mesh as the active object of a name."""
    data = bpy.data.meshes.new(name)
    data.from_pydata(mesh.vertices.tolist(), [], mesh.faces.tolist())
    part = bpy.data.objects.new(name, data)
    bpy.context.scene.collection.objects.link(part)
    make_active(part)
    return part


def make_active(part: bpy.types.Object) -> None:
    part.hide_set(False)
    bpy.context.view_layer.objects.active = part
    part.select_set(True)


def build(**asked: Any) -> None:
    """The pieces of the active object, with the settings of `conftest.JOB`."""
    usual = {"envelope": (180.0,) * 3, "unit": "MM", "choose_engagement": True, "engagement": 11.0}
    assert bpy.ops.borewright.split("EXEC_DEFAULT", True, **{**usual, **asked}) == {"FINISHED"}
    bpy.context.view_layer.update()


def made_of(source: bpy.types.Object) -> bpy.types.Collection:
    made = own("addon.pieces.piece_data").made_of(source)
    assert isinstance(made, bpy.types.Collection)
    return made


def pieces_of(source: bpy.types.Object) -> list[bpy.types.Object]:
    """Pieces and rings, from the low end up."""
    return list(own("addon.pieces.piece_data").pieces_in(made_of(source)))


def place(source: bpy.types.Object, where: str, *, apart: float = 0.0) -> None:
    source.borewright.place = where
    source.borewright.explode = apart
    bpy.context.view_layer.update()


def save(source: bpy.types.Object, folder: Path, *, overwrite: bool = False) -> Any:
    saver = own("addon.pieces.save_pieces")
    return saver.save(bpy.context, made_of(source), folder, overwrite=overwrite)


def corners(shown: bpy.types.Object) -> FloatArray:
    """Vertices of an object's own mesh, in its own coordinates."""
    flat = np.empty(3 * len(shown.data.vertices), np.float32)
    shown.data.vertices.foreach_get("co", flat)
    return flat.reshape(-1, 3).astype(np.float64)


def in_scene(shown: bpy.types.Object) -> FloatArray:
    """The same in the scene, in its units."""
    matrix = np.array(shown.matrix_world)
    placed: FloatArray = corners(shown) @ matrix[:3, :3].T + matrix[:3, 3]
    return placed


@contextmanager
def refused(pattern: str) -> Iterator[None]:
    """A refusal of the core that tells what was found, what is needed and what to try."""
    with pytest.raises(own("core.errors").CoreError, match=pattern) as told:
        yield
    assert told.match(r"found: .*\d.*needed: .*try: ")
