"""Which way some of a mesh's triangles face."""

from __future__ import annotations

import numpy as np

from ..values import FloatArray, IntArray


def facings(vertices: FloatArray, triangles: IntArray) -> tuple[FloatArray, FloatArray]:
    """(k, 3) unit normals, zero where degenerate, and (k,) areas, mm2.

    Reads only the vertices of the triangles given.
    """
    a = vertices[triangles[:, 0]]
    cross = np.cross(vertices[triangles[:, 1]] - a, vertices[triangles[:, 2]] - a)
    length = np.sqrt(np.einsum("ij,ij->i", cross, cross))
    return cross / np.where(length > 0.0, length, 1.0)[:, None], length / 2.0
