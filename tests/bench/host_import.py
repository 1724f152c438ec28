"""Blender's own import of an STL file, and the arrays that it gives."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import bpy
import numpy as np
from borewright.core.values import Mesh


def import_stl(path: Path, *, check: bool) -> bpy.types.Mesh:
    """The mesh data of the imported object; the object itself is gone again.

    check : let Blender check and mend the mesh, as it does where nobody says otherwise
    """
    with quietly():
        bpy.ops.wm.stl_import(filepath=str(path), use_mesh_validate=check)
    made = bpy.context.view_layer.objects.active
    data = made.data
    bpy.data.objects.remove(made)
    return data


@contextmanager
def quietly() -> Iterator[None]:
    """Send what Blender prints to nowhere; our own tables go to standard output."""
    kept = os.dup(1)
    with Path(os.devnull).open("w") as nowhere:
        os.dup2(nowhere.fileno(), 1)
        try:
            yield
        finally:
            os.dup2(kept, 1)
            os.close(kept)


def read_arrays(data: bpy.types.Mesh) -> Mesh:
    """Vertices and triangles, as the add-on hands them to the core."""
    positions = np.empty(3 * len(data.vertices), np.float32)
    data.attributes["position"].data.foreach_get("vector", positions)
    corners = np.empty(len(data.loops), np.int32)
    data.attributes[".corner_vert"].data.foreach_get("value", corners)
    assert len(corners) == 3 * len(data.polygons)
    return Mesh(positions.reshape(-1, 3).astype(np.float64), corners.reshape(-1, 3))
