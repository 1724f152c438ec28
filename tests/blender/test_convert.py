"""Numbers come through import and export unchanged, and nothing stays behind."""

from __future__ import annotations

import struct
from pathlib import Path

import bpy
import numpy as np
import pytest
from borewright.addon.meshes.convert import blender_mesh, export_stl, import_mesh, mesh_edges
from borewright.addon.meshes.mesh_file import check_mesh_file, stl_corners
from borewright.core.errors import BadFile
from borewright.core.values import Mesh

from tests.blender.conftest import blender_data, stl_bytes

VERTICES = np.array([[1.25, -2.5, 3.75], [40.5, 5.0, -6.0], [7.0, 80.125, 9.0], [0.1, 0.2, 90.3]],
                    np.float32).astype(np.float64)  # fmt: skip
TRIANGLES = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])
"""A tetrahedron whose axes cannot be taken for one another."""

PLY = (
    "ply\nformat {} 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\n"
    "element face {}\nproperty list uchar int vertex_indices\nend_header\n"
)


def lines(rows: np.ndarray, start: str = "") -> str:
    return "".join(start + " ".join(map(str, row)) + "\n" for row in rows.tolist())


def ascii_stl() -> str:
    facets = (
        "facet normal 0 0 0\nouter loop\n" + lines(corners, "vertex ") + "endloop\nendfacet\n"
        for corners in VERTICES[TRIANGLES]
    )
    return "solid four\n" + "".join(facets) + "endsolid four\n"


def obj() -> str:
    return lines(VERTICES, "v ") + "o part\nusemtl oak\n" + lines(TRIANGLES + 1, "f ")


WHOLE_FILES = {
    "four.stl": stl_bytes(VERTICES[TRIANGLES]),
    "ascii.stl": ascii_stl().encode(),
    "CAPITALS.STL": ascii_stl().encode(),
    "marked.stl": b"\xef\xbb\xbf" + ascii_stl().encode(),
    "indented.stl": ascii_stl().replace("\n", "\r\n\t ").replace("solid", "SOLID").encode(),
    "four.obj": obj().encode(),
    "windows.obj": obj().replace("\n", "\r\n").encode(),
    "coloured.obj": (
        lines(np.hstack([VERTICES, np.ones((4, 3))]), "v ") + lines(TRIANGLES - 4, "f ")
    ).encode(),
    "ascii.ply": (PLY.format("ascii", 4) + lines(VERTICES)
                  + "".join("3 " + row + "\n" for row in lines(TRIANGLES).splitlines())).encode(),
    "little.ply": PLY.format("binary_little_endian", 4).encode()
    + VERTICES.astype("<f4").tobytes()
    + b"".join(struct.pack("<B3i", 3, *row) for row in TRIANGLES),
    "big.ply": PLY.format("binary_big_endian", 4).encode()
    + VERTICES.astype(">f4").tobytes()
    + b"".join(struct.pack(">B3i", 3, *row) for row in TRIANGLES),
}  # fmt: skip


def corner_set(corners: np.ndarray) -> list[object]:
    """Triangles by their coordinates, whatever their order and their first corner."""
    turned = [min(np.roll(triangle, k, axis=0).tolist() for k in range(3)) for triangle in corners]
    return sorted(turned)


@pytest.mark.parametrize("name", WHOLE_FILES)
def test_coordinates_and_winding_come_in_as_in_the_file(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_bytes(WHOLE_FILES[name])
    before = blender_data()
    file = check_mesh_file(path)
    imported = import_mesh(file)
    mesh = imported.mesh
    assert (file.faces, imported.faces) == (4, 4)
    assert corner_set(mesh.vertices[mesh.triangles]) == corner_set(VERTICES[TRIANGLES])
    assert blender_data() == before


def test_faces_of_more_corners_are_divided(tmp_path: Path) -> None:
    path = tmp_path / "quad.obj"
    path.write_text(lines(VERTICES, "v ") + "f 1 2 3 4\n")
    imported = import_mesh(check_mesh_file(path))
    assert (imported.faces, len(imported.mesh.triangles)) == (1, 2)


def test_faces_of_several_sizes_in_a_binary_file_are_divided(tmp_path: Path) -> None:
    path = tmp_path / "mixed.ply"
    faces = struct.pack("<B4i", 4, 0, 1, 2, 3) + struct.pack("<B3i", 3, 3, 1, 0)
    header = PLY.format("binary_little_endian", 2).replace("property list", "property uchar red\n"
                                                           "property list")  # fmt: skip
    body = b"".join(b"\x07" + face for face in (faces[:17], faces[17:]))
    path.write_bytes(header.encode() + VERTICES.astype("<f4").tobytes() + body)
    file = check_mesh_file(path)
    imported = import_mesh(file)
    assert (file.faces, imported.faces, len(imported.mesh.triangles)) == (2, 2, 3)


def test_faces_that_have_three_corners_on_the_mean_only_are_divided(tmp_path: Path) -> None:
    """A quad and an edge: 6 corners of 2 faces, of which the edge is left out."""
    path = tmp_path / "mean.obj"
    path.write_text(lines(VERTICES, "v ") + "f 1 2 3 4\nf 1 2\n")
    mesh = import_mesh(check_mesh_file(path)).mesh
    assert sorted(map(sorted, mesh.triangles.tolist())) in (
        [[0, 1, 2], [0, 2, 3]], [[0, 1, 3], [1, 2, 3]],
    )  # fmt: skip


def test_faces_without_area_and_doubled_ones_are_counted_as_lost(tmp_path: Path) -> None:
    corners = VERTICES[np.vstack([TRIANGLES, [[0, 0, 1]], TRIANGLES[:1]])]
    path = tmp_path / "six.stl"
    path.write_bytes(stl_bytes(corners))
    file = check_mesh_file(path)
    assert (file.faces, import_mesh(file).faces) == (6, 4)


def test_a_file_that_blender_refuses_leaves_nothing_behind(tmp_path: Path) -> None:
    path = tmp_path / "list.ply"
    faces = "3 0 1 2\n0\n3 1 2 3\n3 0 2 3\n"
    path.write_text(PLY.format("ascii", 4) + lines(VERTICES) + faces)
    before = blender_data()
    with pytest.raises(BadFile, match=r"of 4 faces, cannot be imported"):
        import_mesh(check_mesh_file(path))
    assert blender_data() == before


def test_the_scene_that_is_open_is_not_touched(tmp_path: Path) -> None:
    bpy.ops.mesh.primitive_cube_add()
    cube = bpy.context.active_object
    path = tmp_path / "four.stl"
    path.write_bytes(WHOLE_FILES["four.stl"])
    import_mesh(check_mesh_file(path))
    export_stl(Mesh(VERTICES, TRIANGLES), tmp_path / "out.stl")
    assert bpy.context.active_object == cube
    assert bpy.context.selected_objects == [cube]


def test_an_exported_file_is_the_mesh_by_the_byte(tmp_path: Path) -> None:
    """84 + 50 n bytes; corners in order; normals outward by the right hand."""
    path = tmp_path / "out.stl"
    before = blender_data()
    export_stl(Mesh(VERTICES, TRIANGLES), path)
    assert blender_data() == before
    data = path.read_bytes()
    assert len(data) == 84 + 50 * 4
    assert not data.startswith(b"solid")
    corners = stl_corners(data).astype(np.float64)
    assert np.array_equal(corners, VERTICES[TRIANGLES])
    normals = np.array([struct.unpack_from("<3f", data, 84 + 50 * k) for k in range(4)])
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert np.allclose(normals, cross / np.linalg.norm(cross, axis=1)[:, None], atol=1e-6)


def test_export_into_a_missing_folder_is_an_error_of_the_system(tmp_path: Path) -> None:
    with pytest.raises(OSError, match=r"out\.stl"):
        export_stl(Mesh(VERTICES, TRIANGLES), tmp_path / "none" / "out.stl")


def edges_of(data: bpy.types.Mesh) -> tuple[set[tuple[int, int]], list[tuple[int, int]]]:
    """All edges, and that from each corner to the next; the lower vertex first."""
    ends = [tuple(sorted(edge.vertices)) for edge in data.edges]
    return set(ends), [ends[loop.edge_index] for loop in data.loops]


@pytest.mark.parametrize("triangles", [TRIANGLES, TRIANGLES[:2]], ids=["closed", "open"])
def test_edges_that_are_given_are_those_that_blender_finds(triangles: np.ndarray) -> None:
    mesh = Mesh(VERTICES, triangles)
    given, found = blender_mesh("Given", mesh, mesh_edges(mesh)), blender_mesh("Found", mesh)
    assert edges_of(given) == edges_of(found)
    assert len(given.edges) == len(found.edges)
    assert not given.validate(), "Blender finds it at fault"
    assert not any(face.use_smooth for data in (given, found) for face in data.polygons)
    for data in (given, found):
        bpy.data.meshes.remove(data)
