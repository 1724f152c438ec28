"""Jobs that drawings are made of: our own parts, and those beside the checkout."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from borewright.core.recording.job_record import JobRecord
from borewright.core.sheet.bed_drawing import bed_drawings
from borewright.core.sheet.drawing import part_drawing
from borewright.core.sheet.exploded import exploded_drawing
from borewright.core.sheet.joint_drawing import joint_drawings
from borewright.core.sheet.svg import Drawing
from borewright.core.values import Mesh, PassedOn, Settings

from tests.built_joint import as_mesh as built_mesh
from tests.grouped import a_part, twin_section
from tests.parts import Block, Hole, Part, Ring, tube
from tests.recorded import recorded_job

ODD = '<b>\u202e & "disc" \u6f22'
"""A name with markup, a control character and one of unknown width; passed on as it is."""

SHARED = Path(__file__).resolve().parents[2] / "shared" / "parts"
FIVE_HOLES = [(60, 0, 6), (98, 20, 7), (160, 0, 8), (330, 180, 7), (410, 0, 9), (520, 90, 6)]


def as_mesh(part: Part) -> Mesh:
    return as_mesh_of(part.mesh)


def as_mesh_of(solid: trimesh.Trimesh) -> Mesh:
    return Mesh(np.asarray(solid.vertices), np.asarray(solid.faces))


def solid_round(diameter: float, length: float) -> Mesh:
    return as_mesh_of(trimesh.creation.cylinder(radius=diameter / 2.0, height=length, sections=90))


def two_tubes() -> Mesh:
    """Two tubes, 200 long, with a neck between them: a ring tenon goes around each bore."""
    return built_mesh(a_part(twin_section((5.5, 5.5), 20.0, 3.5, "neck")).solid)


@cache
def own_parts() -> Mapping[str, Mesh]:
    crowded = [Hole(40 + 5 * k, 90 * k, 3) for k in range(60)]
    parts = {
        "flute": tube(
            length=352.0, bore=14.2, outside=21.4, holes=[Hole(z, 0, 7) for z in (96, 147, 221)]
        ),
        "five": tube(
            length=640.0,
            bore=19.0,
            outside=(30.0, 27.0),
            holes=[Hole(*hole) for hole in FIVE_HOLES],
            rings=[Ring(300, 10, 40)],
            block=Block(560, 20, 45, 12, 19),
        ),
        "thin": tube(length=360.0, bore=57.6, outside=60.0),
        "sleeve": tube(length=300.0, bore=30.0, outside=40.0),
        "whole": tube(length=100.0, bore=6.0, outside=9.0),
        "large": tube(length=1500.0, bore=60.0, outside=80.0),
        "crowded": tube(length=400.0, bore=20.0, outside=30.0, holes=crowded),
        "wide": tube(length=450.0, bore=300.0, outside=312.0),
        "many": tube(length=1300.0, bore=8.0, outside=16.0),
        "leaning": tube(length=190.0, bore=10.0, outside=16.0, holes=[Hole(60, 0, 4)]),
    }
    solids = {
        "bar": solid_round(38.0, 420.0),
        "pins": solid_round(80.0, 300.0),
        "rings": two_tubes(),
        "block": as_mesh_of(trimesh.creation.box((80.0, 30.0, 40.0))),
        ODD: as_mesh_of(trimesh.creation.annulus(50.0, 85.0, 20.0)),
    }
    return {**{name: as_mesh(part) for name, part in parts.items()}, **solids}


SETTINGS = {
    "flute": Settings((180.0, 180.0, 180.0)),
    "five": Settings((160.0, 160.0, 150.0)),
    "thin": Settings((180.0, 180.0, 200.0)),
    "sleeve": Settings((160.0, 160.0, 170.0), joint="sleeve"),
    "whole": Settings((160.0, 160.0, 170.0)),
    "large": Settings((200.0, 200.0, 220.0)),
    "crowded": Settings((400.0, 400.0, 400.0)),
    "wide": Settings((400.0, 400.0, 250.0)),
    "many": Settings((60.0, 60.0, 50.0)),
    "leaning": Settings((180.0, 180.0, 180.0), lean=True),
    "block": Settings((100.0, 100.0, 100.0)),
    ODD: Settings((180.0, 180.0, 180.0)),
    "bar": Settings((200.0, 200.0, 160.0)),
    "pins": Settings((160.0, 160.0, 170.0)),
    "rings": Settings((160.0, 160.0, 120.0)),
}


def all_drawings(record: JobRecord) -> list[Drawing]:
    """Every drawing that the job's sheet has."""
    drawings = [*bed_drawings(record)]
    for part in record.parts:
        drawings += [part_drawing(part, record), *joint_drawings(part, record)]
        if len(part.pieces) > 1 or isinstance(part.outcome, PassedOn):
            drawings.append(exploded_drawing(part, record))
    return drawings


@cache
def own_job(name: str) -> JobRecord:
    return recorded_job({name: own_parts()[name]}, SETTINGS[name])


@cache
def shared_job(name: str) -> JobRecord:
    path = SHARED / f"{name}.stl"
    if not path.exists():
        pytest.skip("the shared parts do not lie beside the checkout")
    mesh: Any = trimesh.load(path)
    truth = json.loads((SHARED / "truth.json").read_text())[name]
    x, y, z = (float(length) for length in truth["envelope"])
    return recorded_job({name: Mesh(mesh.vertices, mesh.faces)}, Settings((x, y, z)))
