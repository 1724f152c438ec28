"""Meshes between Blender and the core. Units and axes are handled here and nowhere else."""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn, cast

import bpy
import numpy as np
from numpy.typing import NDArray

from ...core.errors import BadFile, BadMesh
from ...core.meshes.half_edges import edge_numbers
from ...core.surveying.unit_guess import UnitChoice, choose_likely_unit
from ...core.values import Mesh
from ..settings.typed_numbers import as_typed
from .mesh_file import MeshFile, stl_corners, stl_size
from .quiet import quiet_output

MM_PER_M = 1000.0

SCENE_UNITS = (
    ("AUTO", "Auto", "Whichever of the two makes the part one that somebody would print"),
    ("SCENE", "Scene Units", "As the scene's unit settings show it"),
    ("MM", "1 Unit = 1 mm", "As mesh files in millimeters come in, whatever the unit settings"),
)
"""Ways to read an object's size."""

_OWN_DATA = ("collections", "curves", "images", "materials", "meshes", "objects", "scenes")
"""Kinds of data that an importer may make."""


@dataclass(frozen=True, slots=True)
class ImportedMesh:
    """What Blender read of a mesh file, in the file's own coordinates.

    faces : as many as were read; one may be several triangles
    """

    mesh: Mesh
    faces: int


def import_mesh(file: MeshFile) -> ImportedMesh:
    """The triangles of a mesh file.

    Nothing stays behind in Blender, whatever happens. Triangles with two equal
    corners, and doubled ones, are left out by Blender's STL importer.

    Raises
    ------
    BadFile : Blender cannot read it, or finds no faces in it
    """
    if file.mesh is not None:
        return ImportedMesh(file.mesh, file.faces)
    with quiet_output(), _scratch_scene() as scene:
        try:
            _call_importer(file)
        except RuntimeError as problem:
            raise BadFile(
                f"{file.path.name}, of {file.faces} faces, cannot be imported: "
                f"{str(problem).strip()}",
                "a file that Blender can read",
                "export the part again, as STL",
            ) from None
        for found in scene.collection.all_objects:
            if isinstance(found.data, bpy.types.Mesh) and len(found.data.polygons):
                return ImportedMesh(_triangles(found.data), len(found.data.polygons))
    raise BadFile(
        f"0 faces that Blender can read in {file.path.name}, which counts {file.faces}",
        "a closed surface",
        "export the part again, as STL",
    )


def export_stl(mesh: Mesh, path: Path) -> None:
    """Write a mesh, whose coordinates are exactly float32, as binary STL.

    What was written is read back and compared by the byte.

    Raises
    ------
    OSError : it cannot be written, or not all of it
    """
    size = stl_size(len(mesh.triangles))
    with quiet_output(), _scratch_scene() as scene:
        data = blender_mesh(path.stem, mesh)
        scene.collection.objects.link(bpy.data.objects.new(path.stem, data))
        try:
            bpy.ops.wm.stl_export(
                filepath=str(path),
                check_existing=False,
                ascii_format=False,
                use_batch=False,
                export_selected_objects=False,
                global_scale=1.0,
                use_scene_unit=False,
                forward_axis="Y",
                up_axis="Z",
                apply_modifiers=False,
            )
        except RuntimeError:
            _raise_cause(path, size)
    if path.stat().st_size != size:
        _raise_cause(path, size)
    corners = stl_corners(path.read_bytes())
    assert np.array_equal(corners, mesh.vertices[mesh.triangles]), "STL holds other coordinates"


def _raise_cause(path: Path, size: int) -> NoReturn:
    """Blender does not tell why a file is missing or short; the system does, asked for as much."""
    with path.open("wb") as file:
        file.write(bytes(size))
        file.flush()
        os.fsync(file.fileno())
    raise OSError(errno.EIO, "Blender's exporter wrote a part of the file only", str(path))


@dataclass(frozen=True, slots=True, eq=False)
class ObjectReading:
    """An object as it stands in its scene, modifiers applied, as Blender has it.

    positions : (3 n,) float32, of the vertices, in the object's own coordinates
    corners : (3 m,) int32, the vertices of its triangles
    matrix : (4, 4), to the world
    """

    positions: NDArray[np.float32]
    corners: NDArray[np.int32]
    matrix: NDArray[np.float64]

    def same(self, other: ObjectReading) -> bool:
        """Whether both are exactly the same mesh in the same place."""
        return (
            np.array_equal(self.matrix, other.matrix)
            and np.array_equal(self.positions, other.positions)
            and np.array_equal(self.corners, other.corners)
        )

    def own_mesh(self) -> Mesh:
        """In the object's own coordinates and units."""
        return _mesh_of(self.positions, self.corners)

    def world_mesh(self) -> Mesh:
        """In world coordinates, scene units; a mirrored object is no inside-out mesh."""
        own, turn = self.own_mesh(), self.matrix[:3, :3]
        mirrored = np.linalg.det(turn) < 0.0
        return Mesh(
            own.vertices @ turn.T + self.matrix[:3, 3],
            own.triangles[:, ::-1] if mirrored else own.triangles,
        )


@dataclass(frozen=True, slots=True)
class ObjectPart:
    """An object's triangles in world coordinates, scene units.

    remark : which unit was taken, where that was left to us
    reading : what they were made from
    read_as : the unit asked for, and the scene's scale
    """

    mesh: Mesh
    scale_to_mm: float
    remark: str
    reading: ObjectReading
    read_as: tuple[str, float]


def read_object(context: bpy.types.Context, source: bpy.types.Object) -> ObjectReading:
    """An object's evaluated triangles, what is being edited included.

    Raises
    ------
    BadMesh : Blender does not evaluate it, so its modifiers and place would not count
    """
    if source.mode == "EDIT":
        source.update_from_editmode()
    evaluated = source.evaluated_get(context.evaluated_depsgraph_get())
    if not evaluated.is_evaluated:
        raise BadMesh(
            f"{source.name} disabled in viewports, or in 0 collections that this view layer has",
            "an object whose modifiers Blender applies",
            "enable it, or its collection, in the outliner; hiding it by its eye does no harm",
        )
    positions, corners = _triangle_arrays(evaluated.to_mesh())
    evaluated.to_mesh_clear()
    return ObjectReading(positions, corners, np.array(evaluated.matrix_world))


def object_part(context: bpy.types.Context, source: bpy.types.Object, unit: str) -> ObjectPart:
    """An object's evaluated triangles in world coordinates, and their scale.

    Raises
    ------
    CoreError : as `part_read`
    """
    assert context.scene is not None
    return part_read(read_object(context, source), read_as(context.scene, unit))


def part_read(reading: ObjectReading, asked: tuple[str, float]) -> ObjectPart:
    """What was read of an object, in the world, and its scale. It touches nothing of Blender's.

    asked : as `read_as`

    Raises
    ------
    UnitUnclear : the unit was left to us, and its size fits neither
    BadMesh : the same, of an object without triangles
    """
    mesh = reading.world_mesh()
    choice = _scene_unit(mesh, *asked)
    return ObjectPart(mesh, choice.scale_to_mm, choice.remark, reading, asked)


def evaluated_mesh(context: bpy.types.Context, shown: bpy.types.Object) -> Mesh:
    """An object's triangles with its modifiers applied, in its own coordinates and units."""
    return read_object(context, shown).own_mesh()


def read_as(scene: bpy.types.Scene, unit: str) -> tuple[str, float]:
    """All that, beside its mesh, says how large an object is."""
    return unit, scene.unit_settings.scale_length


def _scene_unit(mesh: Mesh, unit: str, scale_length: float) -> UnitChoice:
    """How long one unit of the scene is on the printer."""
    scene_unit = as_typed(scale_length) * MM_PER_M
    if unit == "SCENE":
        return UnitChoice("scene units", scene_unit)
    if unit == "MM" or scene_unit == 1.0:
        return UnitChoice("mm", 1.0)
    return choose_likely_unit(mesh, {"mm": 1.0, "scene units": scene_unit}, "Unit set to")


@dataclass(frozen=True, slots=True, eq=False)
class MeshEdges:
    """The edges of a mesh as Blender keeps them.

    ends : (2 e,) int32, the vertices of each
    of_corners : (3 m,) int32, which one runs from each corner of each triangle to the next
    """

    ends: NDArray[np.int32]
    of_corners: NDArray[np.int32]


def mesh_edges(mesh: Mesh) -> MeshEdges:
    """The edges of a mesh, found without Blender, so beside it."""
    numbers, counts = edge_numbers(mesh.triangles)
    start, end = mesh.triangles, mesh.triangles[:, [1, 2, 0]]
    ends = np.empty((len(counts), 2), np.int32)
    ends[numbers, 0], ends[numbers, 1] = np.minimum(start, end), np.maximum(start, end)
    return MeshEdges(ends.ravel(), numbers.astype(np.int32).ravel())


def blender_mesh(name: str, mesh: Mesh, edges: MeshEdges | None = None) -> bpy.types.Mesh:
    """A new Blender mesh of the same triangles, flat shaded.

    edges : of the mesh; where they are not given Blender finds them, which is most of the time
    """
    data = bpy.data.meshes.new(name)
    count = len(mesh.triangles)
    data.vertices.add(len(mesh.vertices))
    data.loops.add(3 * count)
    data.polygons.add(count)
    if count:
        _positions(data).foreach_set("vector", mesh.vertices.astype(np.float32).ravel())
        _integers(data, ".corner_vert").foreach_set(
            "value", mesh.triangles.astype(np.int32).ravel()
        )
    if count and edges is not None:
        data.edges.add(len(edges.ends) // 2)
        _integers(data, ".edge_verts").foreach_set("value", edges.ends)
        _integers(data, ".corner_edge").foreach_set("value", edges.of_corners)
    data.polygons.foreach_set("loop_start", np.arange(0, 3 * count, 3, dtype=np.int32))
    data.update(calc_edges=edges is None)
    _shade_flat(data)
    return data


def _shade_flat(data: bpy.types.Mesh) -> None:
    """As Blender's own function of that name, which takes a second for a million faces."""
    sharp = data.attributes.new("sharp_face", "BOOLEAN", "FACE")
    flags = np.ones(len(data.polygons), np.bool_)
    cast("bpy.types.BoolAttribute", sharp).data.foreach_set("value", flags)


def _call_importer(file: MeshFile) -> None:
    """Import with the file's numbers unchanged: no scaling, turning, merging or mending."""
    path = str(file.path.resolve())
    match file.kind:
        case "stl":
            bpy.ops.wm.stl_import(
                filepath=path,
                global_scale=1.0,
                use_scene_unit=False,
                use_facet_normal=False,
                forward_axis="Y",
                up_axis="Z",
                use_mesh_validate=False,
            )
        case "obj":
            bpy.ops.wm.obj_import(
                filepath=path,
                global_scale=1.0,
                clamp_size=0.0,
                forward_axis="Y",
                up_axis="Z",
                use_split_objects=False,
                use_split_groups=False,
                validate_meshes=False,
            )
        case "ply":
            bpy.ops.wm.ply_import(
                filepath=path,
                global_scale=1.0,
                use_scene_unit=False,
                forward_axis="Y",
                up_axis="Z",
                merge_verts=False,
                import_colors="NONE",
                import_attributes=False,
            )


def _triangles(data: bpy.types.Mesh) -> Mesh:
    """The mesh's triangles, faces of more corners divided; in the mesh's coordinates."""
    return _mesh_of(*_triangle_arrays(data))


def _mesh_of(positions: NDArray[np.float32], corners: NDArray[np.int32]) -> Mesh:
    return Mesh(
        positions.reshape(-1, 3).astype(np.float64), corners.reshape(-1, 3).astype(np.int64)
    )


def _triangle_arrays(data: bpy.types.Mesh) -> tuple[NDArray[np.float32], NDArray[np.int32]]:
    """Coordinates of the vertices, and the vertices of the triangles, one after the other."""
    if not len(data.polygons):
        return np.empty(0, np.float32), np.empty(0, np.int32)
    positions = np.empty(3 * len(data.vertices), np.float32)
    _positions(data).foreach_get("vector", positions)
    corners = np.empty(len(data.loops), np.int32)
    _integers(data, ".corner_vert").foreach_get("value", corners)
    if not _all_triangles(data):
        loops = np.empty(3 * len(data.loop_triangles), np.int32)
        data.loop_triangles.foreach_get("loops", loops)
        corners = corners[loops]
    return positions, corners


def _positions(
    data: bpy.types.Mesh,
) -> bpy.types.bpy_prop_collection[bpy.types.FloatVectorAttributeValue]:
    """Of the vertices. Read as an attribute, for by vertex it takes three times as long."""
    return cast("bpy.types.FloatVectorAttribute", data.attributes["position"]).data


def _integers(
    data: bpy.types.Mesh, name: str
) -> bpy.types.bpy_prop_collection[bpy.types.IntAttributeValue]:
    """Whole numbers of its corners or edges, read as an attribute for the same reason."""
    return cast("bpy.types.IntAttribute", data.attributes[name]).data


def _all_triangles(data: bpy.types.Mesh) -> bool:
    """Every face has three corners or more; to ask each takes five times as long as all else."""
    return len(data.loops) == 3 * len(data.polygons)


@contextlib.contextmanager
def _scratch_scene() -> Iterator[bpy.types.Scene]:
    """An empty scene to import into or export from; all that came meanwhile goes again."""
    before = _all_data()
    scene = bpy.data.scenes.new("Borewright")
    try:
        with bpy.context.temp_override(scene=scene, view_layer=scene.view_layers[0]):
            yield scene
    finally:
        bpy.data.batch_remove(_all_data() - before)


def _all_data() -> set[bpy.types.ID]:
    return {data for kind in _OWN_DATA for data in getattr(bpy.data, kind)}
