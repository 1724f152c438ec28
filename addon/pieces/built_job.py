"""The pieces of an object, and the record that they will be saved with.

Made without Blender, so beside it: places on beds, estimates and the text of the record
take longer than a window may stand still.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...core.beds.bed import Bed
from ...core.fitting.fit_rules import fit_notes
from ...core.recording.draft import draft_files
from ...core.recording.job_record import JobRecord, PartRecord, Source
from ...core.recording.report import job_document
from ...core.sheet.page import sheet_html
from ...core.surveying.unit_guess import UNITS_IN_MM
from ...core.values import (
    FloatArray,
    Mesh,
    Outcome,
    PartDemands,
    PassedOn,
    Piece,
    Settings,
)
from ..meshes.convert import MeshEdges, ObjectPart, mesh_edges
from ..saving.json_text import json_text

LONGEST_STEM = 180
"""Bytes of what the pieces' files are called by; file systems take 255 of a whole name."""

BED_GAP = 0.1
"""Between two beds, of a bed's width."""

_UNITS = {mm: unit for unit, mm in UNITS_IN_MM.items()}

ENDS = 12
"""Letters at the end of a name by which pieces are told apart: of body and number."""

_NO_FILE = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*]|^\.')
"""What some file system does not take in a name, or would hide."""


@dataclass(frozen=True, slots=True, eq=False)
class BuiltJob:
    """Proven pieces of every body of an object, and where they stand on their beds.

    geometry : hash of the mesh of each piece, by its name
    edges : the edges of each, so that showing it takes Blender no time
    row : where the beds stand side by side
    record : text of the job's record, complete but for the hashes of the files
    sheet : its plan sheet, a page
    timings : s, by the keys of the file that holds them; saving adds its own
    """

    outcomes: tuple[Outcome | PassedOn, ...]
    settings: Settings
    beds: tuple[Bed, ...]
    scale_to_mm: float
    geometry: Mapping[str, str]
    edges: Mapping[str, MeshEdges]
    row: BedsRow
    record: str
    sheet: str
    timings: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class BedsRow:
    """Beds side by side on the floor of the scene, z = 0, under the middle of the part.

    corner : of the first one, mm
    step : mm from each to the next, along x
    """

    corner: tuple[float, float, float]
    step: float


def built_job(
    source: ObjectPart,
    name: str,
    outcomes: Sequence[Outcome | PassedOn],
    settings: Sequence[Settings],
    *,
    remarks: Sequence[str] = (),
    import_s: float,
    core_s: float,
) -> BuiltJob:
    """Pack proven pieces, and record all that is known before they are saved.

    Parameters
    ----------
    name : of the object
    outcomes : one a body
    settings : that each was made with; they differ in what is asked for one body at most
    remarks : what is to be told of the object; its unit is told anyway
    import_s, core_s : taken to read the object, and from there to proven pieces

    Raises
    ------
    TooWide : a piece fits the bed at no turn
    """
    common, own = _asked(outcomes, settings)
    jointed = any(isinstance(one, Outcome) and one.plan.joints for one in outcomes)
    told = dict.fromkeys(filter(None, (source.remark, *remarks)))
    job = JobRecord(
        settings=common,
        parts=tuple(PartRecord(source_of(source, name), outcome) for outcome in outcomes),
        warnings=(*told, *fit_notes(common, jointed=jointed)),
        own=own,
    )
    record = draft_files(job, stem=file_stem)
    beds = tuple(one.bed for one in record.beds)
    pieces = [piece for one in outcomes for piece in one.pieces]
    return BuiltJob(
        outcomes=tuple(outcomes),
        settings=common,
        beds=beds,
        scale_to_mm=source.scale_to_mm,
        geometry={piece: mesh_sha256(mesh) for piece, mesh in record.standing.items()},
        edges={piece.name: mesh_edges(piece.mesh) for piece in pieces},
        row=_beds_row(pieces, len(beds), common),
        record=json_text(job_document(record)),
        sheet=sheet_html(record),
        timings={"import_s": import_s, "core_s": core_s},
    )


def source_of(source: ObjectPart, name: str) -> Source:
    """An object in the place of a file; its hash is that of its arrays in world coordinates."""
    mesh = source.mesh
    return Source(
        file=name,
        sha256=mesh_sha256(mesh),
        triangles=len(mesh.triangles),
        unit=_UNITS.get(source.scale_to_mm, f"{source.scale_to_mm:g} mm"),
        scale_to_mm=source.scale_to_mm,
    )


def mesh_sha256(mesh: Mesh) -> str:
    """Hash of the vertices as little-endian float64, then the triangles as int64."""
    digest = hashlib.sha256(mesh.vertices.astype("<f8").tobytes())
    digest.update(mesh.triangles.astype("<i8").tobytes())
    return digest.hexdigest()


def file_stem(piece: str) -> str:
    """What the file of a piece is called by: its name, where a file may be called so."""
    fit = _NO_FILE.sub("_", piece)
    if len(fit.encode()) <= LONGEST_STEM:
        return fit
    head, tail = fit[:-ENDS], fit[-ENDS:]
    return head.encode()[: LONGEST_STEM - len(tail.encode())].decode(errors="ignore") + tail


def is_file_name(name: str) -> bool:
    """Whether a file may be called so: in the folder that it is for, on any system."""
    return bool(name) and _NO_FILE.search(name) is None


def _beds_row(pieces: Sequence[Piece], beds: int, settings: Settings) -> BedsRow:
    corners = np.vstack([_extent(piece) for piece in pieces])
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2.0
    width, depth, _ = settings.envelope
    step = width * (1.0 + BED_GAP)
    row = step * beds - width * BED_GAP
    return BedsRow((float(middle[0] - row / 2.0), float(middle[1] - depth / 2.0), 0.0), step)


def _extent(piece: Piece) -> FloatArray:
    """Least and greatest coordinates of a piece in its place in the part, (2, 3) mm."""
    points = piece.in_source(piece.mesh.vertices)
    return np.array([points.min(axis=0), points.max(axis=0)])


def _asked(
    outcomes: Sequence[Outcome | PassedOn], settings: Sequence[Settings]
) -> tuple[Settings, dict[str, PartDemands]]:
    """What was asked for every body, and the cuts of single ones."""
    if all(one == settings[0] for one in settings):
        return settings[0], {}
    common = replace(settings[0], cuts=())
    assert all(replace(one, cuts=()) == common for one in settings), "bodies differ in cuts only"
    named = zip(outcomes, settings, strict=True)
    return common, {one.name: PartDemands(cuts=asked.cuts) for one, asked in named if asked.cuts}
