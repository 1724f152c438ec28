"""Meshes and their places on a bed as a 3MF Core file.

What the standard says a producer must do is done here or cannot go wrong: every edge
has two triangles that run it in opposite ways, by the number of their vertices; each
object is defined once, before it is used; the text is UTF-8 without a DTD; the package
holds its three parts, deflated. The same objects give the same bytes.

References
----------
3MF Core Specification 1.4.0 (2025), sections 2.1 (package), 3.3 (transforms), 3.4
(model), 4.1 (meshes) and 4.2 (components).
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..meshes.half_edges import pair_edges
from ..meshes.mesh_checks import check_closed, check_triangles, weld
from ..values import FloatArray, Mesh, read_only
from .standard import (
    CONTENT_TYPES,
    CONTENT_TYPES_PART,
    CORE,
    MODEL_CONTENT,
    MODEL_PART,
    MODEL_RELATIONSHIP,
    RELATIONSHIPS,
    RELATIONSHIPS_CONTENT,
    RELATIONSHIPS_PART,
)

_XML = '<?xml version="1.0" encoding="UTF-8"?>\n'
_CONTENT_TYPES_TEXT = (
    f'{_XML}<Types xmlns="{CONTENT_TYPES}">'
    f'<Default Extension="rels" ContentType="{RELATIONSHIPS_CONTENT}"/>'
    f'<Default Extension="model" ContentType="{MODEL_CONTENT}"/></Types>\n'
)
_RELATIONSHIPS_TEXT = (
    f'{_XML}<Relationships xmlns="{RELATIONSHIPS}">'
    f'<Relationship Id="rel0" Type="{MODEL_RELATIONSHIP}" Target="/{MODEL_PART}"/>'
    "</Relationships>\n"
)

_VERTEX = '<vertex x="%.9g" y="%.9g" z="%.9g"/>\n'
"""Nine digits tell every float32 from the next."""
_TRIANGLE = '<triangle v1="%d" v2="%d" v3="%d"/>\n'

_NO_XML = re.compile("[^\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What an XML 1.0 text cannot hold (its production 2, Char), and the line ends and tabs
that an attribute could hold only as numbers, which not every reader understands."""
_ESCAPED = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;"})

_OFF_BED = 1e-6
"""Rounding, mm, that turning a piece on its bed may leave."""

_FIRST_DATE = (1980, 1, 1, 0, 0, 0)
_OWNER_MAY_READ_AND_WRITE = 0o600 << 16


@dataclass(frozen=True, slots=True, eq=False)
class ModelObject:
    """A mesh, and where it stands on its bed.

    mesh : coordinates exactly float32, in the pose of the piece's own file
    to_bed : (4, 4) rigid motion to x, y and z of nothing less than 0
    """

    name: str
    mesh: Mesh
    to_bed: FloatArray

    def __post_init__(self) -> None:
        turn = self.to_bed[:3, :3]
        assert np.allclose(turn @ turn.T, np.eye(3), atol=1e-9) and np.linalg.det(turn) > 0.0
        assert np.array_equal(self.to_bed[3], (0.0, 0.0, 0.0, 1.0))
        placed = self.mesh.vertices @ turn.T + self.to_bed[:3, 3]
        assert len(placed) == 0 or placed.min() >= -_OFF_BED, "stands beside its bed"
        read_only(self.to_bed)


def model_bytes(objects: Sequence[ModelObject]) -> bytes:
    """A 3MF file of a bed, in mm.

    Raises
    ------
    BadMesh : a mesh is not closed, or has fewer than 4 triangles
    """
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as package:
        for name, text in (
            (CONTENT_TYPES_PART, _CONTENT_TYPES_TEXT),
            (RELATIONSHIPS_PART, _RELATIONSHIPS_TEXT),
            (MODEL_PART, _model_text(objects)),
        ):
            package.writestr(_entry(name), text.encode("utf-8"))
    return packed.getvalue()


def _entry(name: str) -> zipfile.ZipInfo:
    """The same on every day and every system."""
    entry = zipfile.ZipInfo(name, _FIRST_DATE)
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.create_system = 3
    entry.external_attr = _OWNER_MAY_READ_AND_WRITE
    return entry


def _model_text(objects: Sequence[ModelObject]) -> str:
    return "".join((
        f'{_XML}<model xmlns="{CORE}" unit="millimeter" xml:lang="en-US">\n',
        '<metadata name="Application">Borewright</metadata>\n<resources>\n',
        *(_object_text(number, one) for number, one in enumerate(objects, 1)),
        "</resources>\n<build>\n",
        *(_item_text(number, one) for number, one in enumerate(objects, 1)),
        "</build>\n</model>\n",
    ))  # fmt: skip


def _object_text(number: int, one: ModelObject) -> str:
    mesh = joined_mesh(one.mesh)
    points = mesh.vertices + 0.0  # no minus before a zero
    return "".join((
        f'<object id="{number}" type="model" name="{attribute_text(one.name)}">\n',
        "<mesh>\n<vertices>\n",
        _VERTEX * len(points) % tuple(points.ravel().tolist()),
        "</vertices>\n<triangles>\n",
        _TRIANGLE * len(mesh.triangles) % tuple(mesh.triangles.ravel().tolist()),
        "</triangles>\n</mesh>\n</object>\n",
    ))  # fmt: skip


def _item_text(number: int, one: ModelObject) -> str:
    """Of its transform the standard wants what multiplies a row (x, y, z, 1) from the right."""
    numbers = " ".join(f"{value + 0.0!r}" for value in one.to_bed[:3].T.ravel().tolist())
    return f'<item objectid="{number}" transform="{numbers}"/>\n'


def joined_mesh(mesh: Mesh) -> Mesh:
    """The mesh with one vertex at each place, if each edge then still has two triangles.

    Where two sheets touch along an edge it would have four: such a mesh keeps its vertices
    as they are. Sheets that touch in a point only are joined there.

    Raises
    ------
    BadMesh : not closed either way, or fewer than 4 triangles
    """
    welded = weld(mesh)
    check_triangles(welded)
    if not _is_closed(welded) and _is_closed(mesh):
        return mesh
    check_closed(welded)
    return welded


def _is_closed(mesh: Mesh) -> bool:
    return pair_edges(mesh.triangles, len(mesh.vertices)) is not None


def attribute_text(name: str) -> str:
    """Any file's name as an XML attribute; what XML cannot hold becomes the mark for it."""
    return _NO_XML.sub("\ufffd", name).translate(_ESCAPED)
