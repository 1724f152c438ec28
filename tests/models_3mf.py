"""3MF files for tests: packages of any text, and models that lib3mf writes.

lib3mf is the 3MF Consortium's own implementation of its standard.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from typing import Any

import lib3mf
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
TYPES = (
    '<?xml version="1.0"?><Types '
    'xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" '
    'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" '
    'ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
RELATIONS = (
    '<?xml version="1.0"?><Relationships '
    'xmlns="http://schemas.openxmlformats.org/package/2006/relationships">{}</Relationships>'
)
START = (
    '<Relationship Id="a" Target="{}" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>'
)

CORNERS: FloatArray = np.array([[0, 0, 0], [9, 0, 0], [0, 9, 0], [0, 0, 9]], np.float64)
FACES: IntArray = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])
"""A corner of a cube, outward."""


def mesh_text(corners: FloatArray, faces: IntArray) -> str:
    """A mesh, each coordinate with all of its digits."""
    return (
        "<mesh><vertices>"
        + '<vertex x="%.17g" y="%.17g" z="%.17g"/>' * len(corners) % tuple(corners.ravel().tolist())
        + "</vertices><triangles>"
        + '<triangle v1="%d" v2="%d" v3="%d"/>' * len(faces) % tuple(faces.ravel().tolist())
        + "</triangles></mesh>"
    )


TETRAHEDRON = mesh_text(CORNERS, FACES)
OBJECT = f'<object id="1">{TETRAHEDRON}</object>'
ITEM = '<item objectid="1"/>'


def model_text(resources: str = OBJECT, items: str = ITEM, attributes: str = "") -> str:
    """A model of these elements."""
    return (
        f'<?xml version="1.0" encoding="UTF-8"?><model xmlns="{CORE}" {attributes}>'
        f"<resources>{resources}</resources><build>{items}</build></model>"
    )


def package(
    model: str | bytes,
    *,
    relations: str = RELATIONS.format(START.format("/3D/3dmodel.model")),
    method: int = zipfile.ZIP_DEFLATED,
    more: Sequence[tuple[str, bytes]] = (),
) -> bytes:
    """A zip with a model and what else belongs to a 3MF file."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", method) as archive:
        archive.writestr("[Content_Types].xml", TYPES)
        archive.writestr("_rels/.rels", relations)
        archive.writestr("3D/3dmodel.model", model)
        for name, data in more:
            archive.writestr(name, data)
    return packed.getvalue()


def mesh_in(model: Any, corners: FloatArray = CORNERS, faces: IntArray = FACES) -> Any:
    """A mesh added to lib3mf's model."""
    mesh = model.AddMeshObject()
    mesh.SetGeometry(
        [lib3mf.Position(Coordinates=tuple(corner)) for corner in corners.tolist()],
        [lib3mf.Triangle(Indices=tuple(face)) for face in faces.tolist()],
    )
    return mesh


def transform(matrix: FloatArray) -> Any:
    """Of a (4, 4) matrix for columns, as lib3mf takes it."""
    return lib3mf.Transform(Fields=tuple(tuple(row) for row in matrix[:3].T.tolist()))


def written_by_lib3mf(model: Any) -> bytes:
    """Its bytes. It writes six decimals."""
    return bytes(model.QueryWriter("3mf").WriteToBuffer())
