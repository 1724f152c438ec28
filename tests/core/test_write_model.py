"""3MF files as written, read by lib3mf, trimesh and the rules of the standard.

lib3mf is the 3MF Consortium's own implementation; in strict mode it refuses what it
would otherwise mend. The rules in words are those of the 3MF Core Specification 1.4.0
(2025), their sections beside them; they are quoted from memory.
"""

from __future__ import annotations

import io
import math
import os
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest
import trimesh
from borewright.core.beds.bed import Placed
from borewright.core.errors import BadMesh
from borewright.core.threemf.write_model import ModelObject, model_bytes
from borewright.core.values import Mesh
from lib3mf import get_wrapper
from numpy.typing import NDArray

from tests.parts import plain_tube, straight_pipe

FloatArray = NDArray[np.float64]

CORE = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"
TYPES = "{http://schemas.openxmlformats.org/package/2006/content-types}"
RELATIONS = "{http://schemas.openxmlformats.org/package/2006/relationships}"

MILLIMETRE = 1
"""As lib3mf numbers its units."""

BED = 1e-5
"""mm, within which a piece stands where it should."""


def as_piece(mesh: trimesh.Trimesh) -> Mesh:
    """In the pose of a piece's file: at 0 and above, coordinates exactly float32."""
    points = (mesh.vertices - mesh.vertices.min(axis=0)).astype(np.float32)
    return Mesh(points.astype(np.float64), mesh.faces)


def bed() -> list[ModelObject]:
    """Three pieces, two of them turned."""
    tube, pipe = as_piece(plain_tube(length=150.0).mesh), as_piece(straight_pipe().mesh)
    ball = as_piece(trimesh.creation.icosphere(subdivisions=3, radius=20.0 / 3.0))
    return [
        ModelObject("pipe-01", tube, np.eye(4)),
        ModelObject("pipe-02", pipe, standing(pipe, math.pi / 2.0, 60.1, 0.3)),
        ModelObject("stop", ball, standing(ball, math.radians(37.0), 91.7, 33.3)),
    ]


def standing(piece: Mesh, turn: float, x: float, y: float) -> FloatArray:
    """A turn about z, then a motion that brings the low corner of the box to x and y."""
    matrix = Placed("", turn, 0.0, 0.0).to_bed
    matrix[:2, 3] = np.array((x, y)) - (piece.vertices @ matrix[:3, :3].T).min(axis=0)[:2]
    return matrix


def read_strictly(data: bytes) -> Any:
    """A model as lib3mf reads it, which found nothing to warn of."""
    model = get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)  # noqa: FBT003 - it takes no keyword
    reader.ReadFromBuffer(data)
    assert reader.GetWarningCount() == 0, reader.GetWarning(0)
    return model


def lib3mf_items(data: bytes) -> list[tuple[Any, FloatArray, FloatArray]]:
    """Each item's object, its vertices, and its transform for columns."""
    model, found = read_strictly(data), []
    items = model.GetBuildItems()
    while items.MoveNext():
        item = items.GetCurrent()
        mesh = model.GetMeshObjectByID(item.GetObjectResource().GetResourceID())
        points = np.array([list(one.Coordinates) for one in mesh.GetVertices()])
        rows = np.array([list(row) for row in item.GetObjectTransform().Fields])
        found.append((mesh, points, np.vstack((rows.T, (0.0, 0.0, 0.0, 1.0)))))
    return found


def moved(points: FloatArray, matrix: FloatArray) -> FloatArray:
    result: FloatArray = points @ matrix[:3, :3].T + matrix[:3, 3]
    return result


def test_lib3mf_reads_each_piece_whole_and_outward_under_its_name() -> None:
    assert read_strictly(model_bytes(bed())).GetUnit() == MILLIMETRE
    for (mesh, _, _), asked in zip(lib3mf_items(model_bytes(bed())), bed(), strict=True):
        assert mesh.GetName() == asked.name
        assert mesh.IsValid() and mesh.IsManifoldAndOriented()
        assert mesh.GetTriangleCount() == len(asked.mesh.triangles)


def test_lib3mf_reads_coordinates_to_the_bit_and_places_to_a_hundredth_of_a_micron() -> None:
    for (mesh, points, matrix), asked in zip(lib3mf_items(model_bytes(bed())), bed(), strict=True):
        corners = np.array([list(one.Indices) for one in mesh.GetTriangleIndices()])
        assert np.array_equal(points[corners], asked.mesh.vertices[asked.mesh.triangles])
        placed = moved(asked.mesh.vertices[asked.mesh.triangles], asked.to_bed)
        assert np.abs(moved(points[corners], matrix) - placed).max() < BED


def test_trimesh_reads_the_same_places() -> None:
    scene = trimesh.load(io.BytesIO(model_bytes(bed())), file_type="3mf")
    assert scene.units == "millimeter"
    assert list(scene.geometry) == [asked.name for asked in bed()]
    for asked in bed():
        matrix, name = scene.graph[asked.name]
        mesh = scene.geometry[name]
        placed = moved(asked.mesh.vertices[asked.mesh.triangles], asked.to_bed)
        assert np.abs(moved(mesh.vertices[mesh.faces], matrix) - placed).max() < BED
        assert mesh.is_watertight and mesh.volume > 0.0


def test_every_float32_comes_back_as_it_was() -> None:
    rng = np.random.default_rng(5)
    for size in (1e-6, 1.0, 300.0, 9e4):
        points = (rng.random((4, 3)) * size).astype(np.float32).astype(np.float64)
        piece = Mesh(points, np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]))
        ((_, read, _),) = lib3mf_items(model_bytes([ModelObject("x", piece, np.eye(4))]))
        assert np.array_equal(read, points)


# The package, sections 2.1 and 2.2, and Open Packaging Conventions


def parts_of(data: bytes) -> dict[str, ET.Element]:
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        assert package.testzip() is None
        return {name: ET.fromstring(package.read(name)) for name in package.namelist()}


def test_the_package_is_a_plain_zip_of_three_parts() -> None:
    with zipfile.ZipFile(io.BytesIO(model_bytes(bed()))) as package:
        entries = package.infolist()
        assert [each.filename for each in entries] == [
            "[Content_Types].xml", "_rels/.rels", "3D/3dmodel.model"
        ]  # fmt: skip
        for each in entries:
            assert each.compress_type in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}
            assert not each.flag_bits & 0b1  # not encrypted
            text = package.read(each).decode("utf-8")
            assert text.startswith('<?xml version="1.0" encoding="UTF-8"?>')
            assert "<!DOCTYPE" not in text and "xsi:" not in text


def test_every_part_has_its_content_type_and_one_relationship_leads_to_the_model() -> None:
    parts = parts_of(model_bytes(bed()))
    types = parts["[Content_Types].xml"]
    assert types.tag == f"{TYPES}Types"
    assert {each.get("Extension"): each.get("ContentType") for each in types} == {
        "rels": "application/vnd.openxmlformats-package.relationships+xml",
        "model": "application/vnd.ms-package.3dmanufacturing-3dmodel+xml",
    }
    relations = parts["_rels/.rels"]
    assert relations.tag == f"{RELATIONS}Relationships"
    (start,) = relations
    assert start.tag == f"{RELATIONS}Relationship" and start.get("Id")
    assert start.get("Type") == "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
    assert start.get("Target") == "/3D/3dmodel.model"


# The model, sections 3 and 4


def test_the_model_says_its_unit_and_defines_each_object_once_before_it_is_used() -> None:
    model = parts_of(model_bytes(bed()))["3D/3dmodel.model"]
    assert model.tag == f"{CORE}model" and model.get("unit") == "millimeter"
    assert [each.tag for each in model] == [f"{CORE}{tag}" for tag in
                                            ("metadata", "resources", "build")]  # fmt: skip
    ids = [int(str(each.get("id"))) for each in model.iter(f"{CORE}object")]
    assert len(set(ids)) == len(ids) and min(ids) >= 1 and max(ids) < 2**31
    assert [int(str(each.get("objectid"))) for each in model.iter(f"{CORE}item")] == ids


def test_every_edge_has_two_triangles_that_run_it_in_opposite_ways() -> None:
    model = parts_of(model_bytes(bed()))["3D/3dmodel.model"]
    for mesh in model.iter(f"{CORE}mesh"):
        points = [[float(str(each.get(key))) for key in "xyz"]
                  for each in mesh.iter(f"{CORE}vertex")]  # fmt: skip
        corners = [[int(str(each.get(key))) for key in ("v1", "v2", "v3")]
                   for each in mesh.iter(f"{CORE}triangle")]  # fmt: skip
        assert len(corners) >= 4
        assert all(0 <= one < len(points) for triangle in corners for one in triangle)
        assert all(len(set(triangle)) == 3 for triangle in corners)
        edges = [(t[k], t[k - 2]) for t in corners for k in range(3)]
        assert len(set(edges)) == len(edges)  # no triangle's edge twice the same way
        assert {edge[::-1] for edge in edges} == set(edges)  # and each the other way
        assert len({tuple(point) for point in points}) == len(points)  # no vertex twice
        a, b, c = (np.array(points)[np.array(corners)[:, k]] for k in range(3))
        assert np.einsum("ij,ij->", a, np.cross(b, c)) > 0.0  # faces outward


def test_transforms_are_12_numbers_that_leave_all_above_and_right_of_the_origin() -> None:
    model = parts_of(model_bytes(bed()))["3D/3dmodel.model"]
    for item, asked in zip(model.iter(f"{CORE}item"), bed(), strict=True):
        numbers = [float(each) for each in str(item.get("transform")).split(" ")]
        rows = np.array(numbers).reshape(4, 3)  # multiplies (x, y, z, 1) from the right
        placed = np.column_stack((asked.mesh.vertices, np.ones(len(asked.mesh.vertices)))) @ rows
        assert placed.min() > -BED
        assert np.linalg.det(rows[:3]) > 0.0


def test_a_piece_beside_its_bed_is_our_own_fault() -> None:
    tube = as_piece(plain_tube().mesh)
    with pytest.raises(AssertionError, match="beside its bed"):
        ModelObject("pipe", tube, Placed("pipe", 0.0, -1.0, 0.0).to_bed)


@pytest.mark.parametrize(
    ("name", "read"),
    [
        ("flute & <head> \"1\" 'a'", "flute & <head> \"1\" 'a'"),
        ("&amp; &#65; ]]>", "&amp; &#65; ]]>"),
        ("Flöte 笛 🎶", "Flöte 笛 🎶"),
        ("  two  blanks ", "  two  blanks "),
        ("bell\a tab\t line\n", "bell\ufffd tab\ufffd line\ufffd"),
        ("undecoded \udcff, no character \ufffe", "undecoded \ufffd, no character \ufffd"),
        ("", ""),
    ],
)
def test_a_name_is_read_as_it_was_with_a_mark_for_what_xml_cannot_hold(
    name: str, read: str
) -> None:
    data = model_bytes([ModelObject(name, bed()[0].mesh, np.eye(4))])
    ((mesh, _, _),) = lib3mf_items(data)
    assert mesh.GetName() == read
    (element,) = parts_of(data)["3D/3dmodel.model"].iter(f"{CORE}object")
    assert element.get("name") == read


# Welding


def soup(mesh: trimesh.Trimesh) -> Mesh:
    """Each triangle with corners of its own, as an STL has them."""
    return as_piece(
        trimesh.Trimesh(
            mesh.triangles.reshape(-1, 3), np.arange(3 * len(mesh.faces)).reshape(-1, 3),
            process=False,
        )
    )  # fmt: skip


def two_boxes(shift: tuple[float, float, float]) -> trimesh.Trimesh:
    boxes = [trimesh.creation.box((10.0, 10.0, 10.0)) for _ in range(2)]
    boxes[1].apply_translation(shift)
    return trimesh.util.concatenate(boxes)


def test_loose_triangles_are_welded_and_a_plain_tube_has_four_rings() -> None:
    tube = plain_tube().mesh
    rings = len(tube.vertices) // 4
    ((mesh, points, _),) = lib3mf_items(model_bytes([ModelObject("x", soup(tube), np.eye(4))]))
    assert mesh.IsManifoldAndOriented()
    assert len(points) == 4 * rings
    assert mesh.GetTriangleCount() == 8 * rings


def test_boxes_that_touch_in_a_point_share_it() -> None:
    touching = soup(two_boxes((10.0, 10.0, 10.0)))
    ((mesh, points, _),) = lib3mf_items(model_bytes([ModelObject("x", touching, np.eye(4))]))
    assert len(points) == 15
    assert mesh.IsManifoldAndOriented()


def test_boxes_that_touch_along_an_edge_keep_their_own_vertices() -> None:
    touching = as_piece(two_boxes((10.0, 10.0, 0.0)))
    ((mesh, points, _),) = lib3mf_items(model_bytes([ModelObject("x", touching, np.eye(4))]))
    assert len(points) == 16
    assert mesh.IsManifoldAndOriented()


def test_a_mesh_that_cannot_be_closed_is_refused_with_the_place() -> None:
    box = as_piece(trimesh.creation.box((10.0, 10.0, 10.0)))
    with pytest.raises(BadMesh, match=r"3 edges with one triangle only.*\(\d"):
        model_bytes([ModelObject("x", Mesh(box.vertices, box.triangles[1:]), np.eye(4))])
    with pytest.raises(BadMesh, match="2 triangles"):
        model_bytes([ModelObject("x", Mesh(box.vertices, box.triangles[:2]), np.eye(4))])


def test_a_triangle_between_two_vertices_at_one_place_is_dropped() -> None:
    box = as_piece(trimesh.creation.box((10.0, 10.0, 10.0)))
    a, b, c = box.triangles[0]
    vertices = np.vstack((box.vertices, box.vertices[a]))
    d = len(box.vertices)  # at the place of a; the triangle a, b, c becomes d, b, c and d, a, b
    split = np.vstack((box.triangles[1:], [[d, b, c], [a, b, d], [a, d, c]]))
    assert len(split) == 14
    ((mesh, points, _),) = lib3mf_items(
        model_bytes([ModelObject("x", Mesh(vertices, split), np.eye(4))])
    )
    assert (len(points), mesh.GetTriangleCount()) == (8, 12)
    assert mesh.IsManifoldAndOriented()


# The same bytes


PRINT_HASH = """
import hashlib
from tests.core import test_write_model
from borewright.core.threemf.write_model import model_bytes
print(hashlib.sha256(model_bytes(test_write_model.bed())).hexdigest())
"""


def test_two_processes_write_the_same_bytes() -> None:
    root = Path(__file__).resolve().parents[2]
    hashes = []
    for seed in ("1", "2"):
        done = subprocess.run(
            [sys.executable, "-c", PRINT_HASH], cwd=root, text=True, check=True,
            capture_output=True, timeout=120,
            env={**os.environ, "PYTHONHASHSEED": seed, "TZ": f"UTC{seed}"},
        )  # fmt: skip
        hashes.append(done.stdout)
    assert hashes[0] == hashes[1]
