"""Pieces of the scene as the files that the command makes of the same mesh.

All comes from the pieces' objects and from what their collection keeps, whether they were
built just now or came with a file; so what is saved is what was proven, or it is refused.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import bpy
import numpy as np

from ...core.errors import BadRecord, CoreError
from ...core.recording.report import SCHEMA
from ...core.strict_json import parse_object
from ...core.threemf.write_model import ModelObject
from ...core.values import Mesh
from ..meshes.convert import evaluated_mesh
from ..saving.job_files import SHEET, save_bed, save_sheet, save_stl
from ..saving.json_text import json_text
from ..saving.output_folder import check_output, new_output
from ..saving.own_files import RECORD, TIMINGS
from .built_job import is_file_name, mesh_sha256
from .kept_sheets import note_saved, sheet_of
from .piece_data import job_key, piece_data, pieces_data, pieces_in
from .piece_objects import object_scale

SIZE_SLACK = 1e-5
"""By which an object's scale may be off, of itself; float32 is good to 1e-7."""


class PiecesChanged(CoreError):
    """What was built and proven is not what lies in the scene."""


@dataclass(frozen=True, slots=True)
class SavedPieces:
    """What was saved.

    folder : as it was asked for
    sheet : whether the plan sheet is there, too
    """

    folder: Path
    pieces: int
    beds: int
    sheet: bool


def save(
    context: bpy.types.Context, made: bpy.types.Collection, folder: Path, *, overwrite: bool
) -> SavedPieces:
    """Save the pieces in a collection: each piece, each bed, sheet, record and timings.

    The plan sheet of a job that was built before Blender started is not at hand.

    Parameters
    ----------
    overwrite : whether files that an earlier job left in the folder may be replaced

    Raises
    ------
    PiecesChanged : a piece is missing, or not as it was proven
    BadRecord : the collection keeps no record of a job, or a damaged one
    OutputRefused : the folder cannot be written, or holds what must not be replaced
    """
    place = check_output(folder, overwrite=overwrite)
    began = time.perf_counter()
    record = _kept_record(made)
    standing = _proven_meshes(context, made, [piece["name"] for piece in record.pieces])
    timings = parse_object(pieces_data(made).timings, _damaged)
    page = sheet_of(pieces_data(made).record)
    with new_output(place) as out:
        for piece in record.pieces:
            saved = save_stl(piece["file"], standing[piece["name"]], out)
            piece["sha256"] = saved.sha256
        for bed in record.beds:
            bed["sha256"] = save_bed(bed["file"], _standing_on(bed, standing), out).sha256
        record.document["sheet"] = None if page is None else asdict(save_sheet(page, out))
        (out / RECORD).write_text(json_text(record.document), encoding="utf-8")
        timings = {**timings, "export_s": time.perf_counter() - began}
        (out / TIMINGS).write_text(json_text(timings), encoding="utf-8")
    if page is not None:
        note_saved(pieces_data(made).record, folder / SHEET)
    return SavedPieces(folder, len(record.pieces), len(record.beds), page is not None)


@dataclass(frozen=True, slots=True, eq=False)
class _KeptRecord:
    """The record that a collection keeps; its entries are parts of the document."""

    document: dict[str, object]
    pieces: list[dict[str, Any]]
    beds: list[dict[str, Any]]


def _kept_record(made: bpy.types.Collection) -> _KeptRecord:
    """Read what may have come with somebody else's file.

    Raises
    ------
    BadRecord : it is none, or would name a file outside of the folder
    """
    document: Any = parse_object(pieces_data(made).record, _damaged)
    try:
        pieces = [piece for part in document["parts"] for piece in part["pieces"]]
        beds = list(document["beds"])
        names = {piece["name"] for piece in pieces}
        files = [str(entry["file"]) for entry in (*pieces, *beds)]
        known = all(place["piece"] in names for bed in beds for place in bed["places"])
        known = known and document["schema"] == SCHEMA
        places = [place["to_bed"] for bed in beds for place in bed["places"]]
        whole = np.array(places, dtype=np.float64).shape == (len(places), 4, 4)
    except (KeyError, TypeError, ValueError):
        raise _damaged("1 key or value that no job writes", "0") from None
    if not (pieces and known and whole and all(map(is_file_name, files))):
        raise _damaged("1 name or place that no job writes", "0")
    return _KeptRecord(document, pieces, beds)


def _damaged(found: str, needed: str) -> BadRecord:
    return BadRecord(
        f"in the record that the pieces' collection keeps: {found}", needed, "build the pieces anew"
    )


def _proven_meshes(
    context: bpy.types.Context, made: bpy.types.Collection, names: list[str]
) -> dict[str, Mesh]:
    """The mesh of each piece, as its file will have it.

    Raises
    ------
    PiecesChanged : one is missing, or not as it was proven
    """
    job = job_key(pieces_data(made).record)
    own = [shown for shown in pieces_in(made) if piece_data(shown).job == job]
    meshes = {piece_data(shown).name: _proven_mesh(context, shown) for shown in own}
    missing = [name for name in names if name not in meshes]
    if missing:
        raise PiecesChanged(
            f"{len(names) - len(missing)} of {len(names)} pieces in the collection {made.name}, "
            f"which lacks {', '.join(missing)}",
            f"all {len(names)}",
            "put them back there, by undo for instance, or build the pieces anew",
        )
    return {name: meshes[name] for name in names}


def _proven_mesh(context: bpy.types.Context, shown: bpy.types.Object) -> Mesh:
    data = piece_data(shown)
    mesh = evaluated_mesh(context, shown)
    if mesh_sha256(mesh) != data.geometry:
        raise _changed(
            f"{shown.name} with {len(mesh.triangles)} triangles that are not those that were proven"
        )
    size = np.array(shown.scale) / object_scale(shown)
    if np.abs(size - 1.0).max() > SIZE_SLACK:
        times = " x ".join(f"{one:.4g}" for one in size)
        raise _changed(f"{shown.name} scaled to {times} of its size")
    if not data.proven:
        raise _changed(f"{shown.name} with 0 proofs")
    return mesh


def _changed(found: str) -> PiecesChanged:
    return PiecesChanged(
        found,
        "the piece as it was built and proven",
        "build the pieces anew; a piece that was changed on purpose goes out by Blender's own "
        "export, unproven, once it lies in another collection",
    )


def _standing_on(bed: Mapping[str, Any], standing: Mapping[str, Mesh]) -> list[ModelObject]:
    return [
        ModelObject(
            place["piece"], standing[place["piece"]], np.array(place["to_bed"], dtype=np.float64)
        )
        for place in bed["places"]
    ]
