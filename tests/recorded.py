"""Job records of parts that tests split, as the command makes them, without files."""

from __future__ import annotations

from collections.abc import Mapping

from borewright.core.beds.bed_item import bed_item
from borewright.core.beds.pack import pack_beds
from borewright.core.estimating.estimates import estimate_piece
from borewright.core.job import split_parts
from borewright.core.recording.job_record import (
    JobRecord,
    PartRecord,
    SavedBed,
    SavedFile,
    Source,
)
from borewright.core.values import Mesh, Settings


def recorded_job(meshes: Mapping[str, Mesh], settings: Settings) -> JobRecord:
    """Every part split with the same settings, its pieces on their beds."""
    parts = tuple(
        PartRecord(Source(f"{name}.stl", "0" * 64, len(mesh.triangles), "mm", 1.0), outcome)
        for name, mesh in meshes.items()
        for outcome in split_parts(mesh, name, lambda _: settings, 1.0, lambda _: None)
    )
    pieces = [piece for part in parts for piece in part.pieces]
    items = [bed_item(piece.name, piece.mesh) for piece in pieces]
    beds = pack_beds(items, settings.envelope[:2], settings.spacing)
    return JobRecord(
        settings=settings,
        parts=parts,
        files={piece.name: SavedFile(f"{piece.name}.stl", "0" * 64) for piece in pieces},
        estimates={piece.name: estimate_piece(piece.mesh, settings) for piece in pieces},
        beds=tuple(
            SavedBed(SavedFile(f"bed-{number:02d}.3mf", "0" * 64), bed)
            for number, bed in enumerate(beds, 1)
        ),
    )
