"""What Blender keeps of finished pieces, so that they can be moved and saved later.

A piece's object has what it takes to move it; the collection has the job's record, its
numbers in full. Objects hold float32, and names that Blender may have changed.
"""

from __future__ import annotations

import hashlib
from typing import Final, cast

import bpy
import numpy as np

from ...core.values import FloatArray
from ..words.own_properties import (
    BoolProperty,
    EnumProperty,
    FloatProperty,
    FloatVectorProperty,
    IntProperty,
    StringProperty,
)

PIECE: Final = "borewright_piece"
"""Under which an object has its group."""
PIECES: Final = "borewright_pieces"
"""Under which a collection has its group."""

_ROLES = (
    ("NONE", "None", "Nothing of a job"),
    ("PIECE", "Piece", "A piece of a part"),
    ("COLLAR", "Collar", "A ring over a seam"),
    ("SLEEVE", "Sleeve", "A ring inside a seam"),
    ("BED", "Bed", "The outline of a bed"),
)


def _motion(what: str) -> object:
    """A rigid motion in mm, by rows."""
    return FloatVectorProperty(name=what, size=16)


class BOREWRIGHT_PG_piece(bpy.types.PropertyGroup):
    """What is known of a piece, on its object.

    job : which one it is of, the key of its record
    number : from 1, from the part's low end
    bed : from 1; 0: none
    scale : the mesh, which is as its file will be, is so much larger than the piece
    mm_per_unit : how long one unit of the scene is
    geometry : hash of the mesh as it was proven
    """

    job: StringProperty(name="Job")
    part: StringProperty(name="Part")
    name: StringProperty(name="Name")
    number: IntProperty(name="Number", min=0)
    role: EnumProperty(name="Role", items=_ROLES, default="NONE")
    to_source: _motion("To Source")
    to_bed: _motion("To Bed")
    bed: IntProperty(name="Bed", min=0)
    scale: FloatProperty(name="Scale", default=1.0)
    mm_per_unit: FloatProperty(name="Millimeters per Unit", default=1.0)
    geometry: StringProperty(name="Geometry")
    proven: BoolProperty(name="Proven")


class BOREWRIGHT_PG_pieces(bpy.types.PropertyGroup):
    """What is known of all pieces of an object, on their collection.

    source : the object that they were made of
    record : text of the job's record, complete but for the hashes of its files
    timings : s, as the text of a record
    corner : of the first bed, mm in the scene
    step : mm from each bed to the next
    """

    source: bpy.props.PointerProperty(type=bpy.types.Object, name="Source")
    record: StringProperty(name="Record")
    timings: StringProperty(name="Timings")
    corner: FloatVectorProperty(name="Corner", size=3)
    step: FloatProperty(name="Step")


def piece_data(shown: bpy.types.Object) -> BOREWRIGHT_PG_piece:
    """What an object says of the piece that it is."""
    return cast("BOREWRIGHT_PG_piece", getattr(shown, PIECE))


def pieces_data(made: bpy.types.Collection) -> BOREWRIGHT_PG_pieces:
    """What a collection says of the pieces in it."""
    return cast("BOREWRIGHT_PG_pieces", getattr(made, PIECES))


def job_key(record: str) -> str:
    """What tells the pieces of one job from those of another."""
    return hashlib.sha256(record.encode()).hexdigest()


def as_motion(flat: object) -> FloatArray:
    """A motion as it is computed with, (4, 4)."""
    return np.array(flat, dtype=np.float64).reshape(4, 4)


def pieces_in(made: bpy.types.Collection) -> list[bpy.types.Object]:
    """Objects of a collection that are pieces or rings, by part and number."""
    found = [shown for shown in made.objects if piece_data(shown).role not in {"NONE", "BED"}]
    return sorted(found, key=lambda shown: (piece_data(shown).part, piece_data(shown).number))


def made_of(source: bpy.types.Object) -> bpy.types.Collection | None:
    """The collection of the pieces that were made of an object, if there is one."""
    return next((made for made in bpy.data.collections if pieces_data(made).source == source), None)


def made_with(shown: bpy.types.Object) -> bpy.types.Collection | None:
    """The collection of pieces that an object is the source of, or one of the pieces."""
    if piece_data(shown).role == "NONE":
        return made_of(shown)
    return next((one for one in shown.users_collection if pieces_data(one).record), None)


CLASSES = (BOREWRIGHT_PG_piece, BOREWRIGHT_PG_pieces)


def register() -> None:
    """Add the groups to objects and collections."""
    setattr(bpy.types.Object, PIECE, bpy.props.PointerProperty(type=BOREWRIGHT_PG_piece))
    setattr(bpy.types.Collection, PIECES, bpy.props.PointerProperty(type=BOREWRIGHT_PG_pieces))


def unregister() -> None:
    """Take them back; what files keep of them stays in the files."""
    delattr(bpy.types.Collection, PIECES)
    delattr(bpy.types.Object, PIECE)
