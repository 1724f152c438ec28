"""Finished pieces as objects of the scene: assembled, apart, or on their beds.

A piece's mesh is the mesh of its file: in mm, standing as it prints. All else is the
object's: its scale makes units of the scene of it, and takes back what the file is larger
for the print's shrink; location and rotation put it in its place in the part, or on its bed.
"""

from __future__ import annotations

import bpy
import numpy as np
from mathutils import Matrix

from ...core.values import FloatArray, Outcome, PassedOn, Piece
from ..meshes.convert import blender_mesh
from ..properties import groups
from ..properties.panel_settings import part_properties
from ..saving.json_text import json_text
from .built_job import BuiltJob
from .kept_sheets import keep_sheet
from .piece_data import (
    as_motion,
    job_key,
    made_of,
    piece_data,
    pieces_data,
    pieces_in,
)

_LIGHT, _DARK, _RING = "Borewright Piece Light", "Borewright Piece Dark", "Borewright Ring"

GREYS = {_LIGHT: 0.66, _DARK: 0.28, _RING: 0.08}
"""How much light each material gives back.

Lightness alone tells neighbours apart, a third of the scale from one to the next, so it holds
for every kind of colour vision and in any theme, and leaves colours to the theme: those of
selections, and of what is drawn of the plan. In CIE lightness (CIE 15:2018, section 8.2.1:
116 Y^(1/3) - 16) they are 85, 60 and 34.
"""


def show(
    context: bpy.types.Context, source: bpy.types.Object, built: BuiltJob
) -> bpy.types.Collection:
    """Finished pieces as new, selected objects of a collection; their source is hidden.

    Pieces that were made of the same object before are replaced. Whatever else lies in
    their collection stays.
    """
    made = _collection(context, source)
    _remove_earlier(made)
    data = pieces_data(made)
    data.record, data.timings = built.record, json_text(built.timings)
    keep_sheet(built.record, built.sheet)
    data.corner, data.step = built.row.corner, built.row.step
    shown = [
        _piece_object(made, built, outcome, number)
        for outcome in built.outcomes
        for number in range(1, len(outcome.pieces) + 1)
    ]
    _outline_beds(made, source.name, built)
    place_pieces(source)
    _select(context, shown)
    _hide(context, [source], hidden=True)
    return made


def show_instead(context: bpy.types.Context, source: bpy.types.Object, *, pieces: bool) -> None:
    """Show an object in place of its pieces, or the pieces in place of it; select what is shown."""
    made = made_of(source)
    assert made is not None
    ready = pieces_in(made)
    outlines = [outline for beds in _beds_of(made) for outline in _outlines(beds)]
    coming, going = ([*ready, *outlines], [source]) if pieces else ([source], [*ready, *outlines])
    _hide(context, coming, hidden=False)
    _select(context, ready if pieces else [source])
    _hide(context, going, hidden=True)


def _hide(context: bpy.types.Context, things: list[bpy.types.Object], *, hidden: bool) -> None:
    for thing in things:
        if thing.name in context.view_layer.objects:
            thing.hide_set(hidden)


def place_pieces(source: bpy.types.Object) -> None:
    """Move the pieces of an object to where its properties say that they stand."""
    made = made_of(source)
    if made is None:
        return
    asked = part_properties(source)
    on_beds = asked.place == "BED"
    for shown in pieces_in(made):
        _move(shown, _on_bed(made, shown) if on_beds else _assembled(shown, asked.explode))
    for beds in _beds_of(made):
        beds.hide_viewport = not on_beds


def _assembled(shown: bpy.types.Object, apart: float) -> FloatArray:
    """In the part, moved up the axis by a gap for each piece below."""
    data = piece_data(shown)
    motion = as_motion(data.to_source)
    motion[:3, 3] += motion[:3, 2] * apart * (data.number - 1)
    return motion


def _on_bed(made: bpy.types.Collection, shown: bpy.types.Object) -> FloatArray:
    """As it prints, on its bed in the row of beds."""
    motion = as_motion(piece_data(shown).to_bed)
    motion[:3, 3] += _bed_corner(made, piece_data(shown).bed)
    return motion


def _bed_corner(made: bpy.types.Collection, bed: int) -> FloatArray:
    data = pieces_data(made)
    corner: FloatArray = np.array(data.corner) + np.array([data.step * (bed - 1), 0.0, 0.0])
    return corner


def _move(shown: bpy.types.Object, motion: FloatArray) -> None:
    """Put an object where a motion, in mm, puts the mesh of its file.

    What of a motion is no shift turns the file's mesh at the size that the piece is to have.
    """
    data = piece_data(shown)
    where = Matrix(motion.tolist())
    where.translation = motion[:3, 3] / data.mm_per_unit
    shown.matrix_basis = where
    shown.scale = [object_scale(shown)] * 3


def object_scale(shown: bpy.types.Object) -> float:
    """By which a piece's object shows the mesh of its file."""
    data = piece_data(shown)
    return 1.0 / float(data.scale * data.mm_per_unit)


def _collection(context: bpy.types.Context, source: bpy.types.Object) -> bpy.types.Collection:
    """The collection for pieces of an object, in the scene: the earlier one, or a new one."""
    made = made_of(source)
    if made is None:
        made = bpy.data.collections.new(f"{source.name} Pieces")
        pieces_data(made).source = source
    if made not in context.scene.collection.children_recursive:
        context.scene.collection.children.link(made)
    return made


def _remove_earlier(made: bpy.types.Collection) -> None:
    beds = _beds_of(made)
    gone = [*pieces_in(made), *(outline for bed in beds for outline in _outlines(bed))]
    meshes = {shown.data for shown in gone}
    bpy.data.batch_remove(gone)
    bpy.data.batch_remove({mesh for mesh in meshes if mesh is not None and not mesh.users})
    bpy.data.batch_remove([bed for bed in beds if not bed.all_objects and not bed.children])


def _beds_of(made: bpy.types.Collection) -> list[bpy.types.Collection]:
    """Collections of outlines of beds, beside the pieces that stand there."""
    return [beds for beds in made.children if _outlines(beds)]


def _outlines(beds: bpy.types.Collection) -> list[bpy.types.Object]:
    return [shown for shown in beds.objects if piece_data(shown).role == "BED"]


def _piece_object(
    made: bpy.types.Collection, built: BuiltJob, outcome: Outcome | PassedOn, number: int
) -> bpy.types.Object:
    piece = outcome.pieces[number - 1]
    name = piece.name if piece.role == "piece" else f"{piece.name} {piece.role.title()}"
    mesh = blender_mesh(name, piece.mesh, built.edges[piece.name])
    mesh.materials.append(_material(_RING if piece.role != "piece" else _tone(outcome, piece)))
    shown = bpy.data.objects.new(name, mesh)
    made.objects.link(shown)
    data = piece_data(shown)
    data.job = job_key(built.record)
    data.part, data.name, data.number = outcome.name, piece.name, number
    data.role, data.proven = piece.role.upper(), bool(outcome.checks)
    data.to_source, data.scale = piece.to_source.ravel().tolist(), piece.scale
    data.mm_per_unit, data.geometry = built.scale_to_mm, built.geometry[piece.name]
    data.bed, data.to_bed = _bed_of(built, piece)
    return shown


def _tone(outcome: Outcome | PassedOn, piece: Piece) -> str:
    """Light and dark in turn from the low end up, rings left out."""
    pieces = [one for one in outcome.pieces if one.role == "piece"]
    return (_LIGHT, _DARK)[pieces.index(piece) % 2]


def _material(name: str) -> bpy.types.Material:
    """The material of a name, as it is by now; new where it is not there."""
    if name in bpy.data.materials:
        return bpy.data.materials[name]
    material = bpy.data.materials.new(name)
    material.diffuse_color = (*[GREYS[name]] * 3, 1.0)
    material.roughness = 0.6
    return material


def _bed_of(built: BuiltJob, piece: Piece) -> tuple[int, list[float]]:
    """The number of a piece's bed, from 1, and its motion there."""
    ((number, placed),) = (
        (number, placed)
        for number, bed in enumerate(built.beds, 1)
        for placed in bed.placed
        if placed.name == piece.name
    )
    return number, placed.to_bed.ravel().tolist()


def _outline_beds(made: bpy.types.Collection, part: str, built: BuiltJob) -> None:
    """The floor of each bed as four edges, named; neither rendered, selected nor saved."""
    beds = bpy.data.collections.new(f"{part} Beds")
    made.children.link(beds)
    width, depth, _ = built.settings.envelope
    corners = [(0.0, 0.0, 0.0), (width, 0.0, 0.0), (width, depth, 0.0), (0.0, depth, 0.0)]
    for number in range(1, len(built.beds) + 1):
        name = f"{part} Bed {number}"
        mesh = bpy.data.meshes.new(name)
        mesh.from_pydata(corners, [(0, 1), (1, 2), (2, 3), (3, 0)], [])
        outline = bpy.data.objects.new(name, mesh)
        beds.objects.link(outline)
        outline.hide_render, outline.hide_select, outline.show_name = True, True, True
        data = piece_data(outline)
        data.role, data.bed, data.mm_per_unit = "BED", number, built.scale_to_mm
        motion = np.eye(4)
        motion[:3, 3] = _bed_corner(made, number)
        _move(outline, motion)


def _select(context: bpy.types.Context, shown: list[bpy.types.Object]) -> None:
    """These alone are selected, the first is active; none of those that the view hides."""
    for selected in context.selected_objects:
        selected.select_set(False)
    layer = context.view_layer
    seen = [one for one in shown if one.name in layer.objects]
    for one in seen:
        one.select_set(True)
    if seen:
        layer.objects.active = seen[0]


def register() -> None:
    """Move pieces when the properties of their part say so."""
    groups.on_move.append(place_pieces)


def unregister() -> None:
    """Move them no more."""
    groups.on_move.remove(place_pieces)
