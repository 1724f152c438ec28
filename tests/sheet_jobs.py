"""Jobs whose sheets tests read: every kind of joint, every fit, and parts without any."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import trimesh
from borewright.core.recording.job_record import JobRecord
from borewright.core.recording.report import job_document
from borewright.core.sheet.sheet_parts import sheet_parts
from borewright.core.sheet.sheet_text import PartText, SheetText, Step, Table, Value
from borewright.core.values import Compensation, Mesh, Printing, Settings
from manifold3d import CrossSection

from tests.loose_parts import an_ell, mesh_of
from tests.parts import Hole, tapered_pipe, tube
from tests.recorded import recorded_job
from tests.told_together import rows_singly, singly

SETTINGS = Settings((180.0, 180.0, 180.0))
TINY_HOLES = (Hole(60, 0, 1.5), Hole(220, 0, 2.2))
HOLES = (Hole(96, 0, 7), Hole(147, 0, 7.5), Hole(221, 20, 8.5))


def _tube(**sizes: Any) -> Mesh:
    part = tube(**sizes)
    return Mesh(np.asarray(part.mesh.vertices), np.asarray(part.mesh.faces))


def _bar(diameter: float, length: float) -> Mesh:
    bar = trimesh.creation.cylinder(radius=diameter / 2.0, height=length, sections=90)
    return Mesh(np.asarray(bar.vertices), np.asarray(bar.faces))


def _twin() -> Mesh:
    """Two bores of 11 mm, 15.5 apart, in one oval body 300 long."""
    at = [(-7.75, 0.0), (7.75, 0.0)]
    body = CrossSection.batch_hull([CrossSection.circle(10.0, 128).translate(xy) for xy in at])
    for xy in at:
        body -= CrossSection.circle(5.5, 128).translate(xy)
    return mesh_of(body.extrude(300.0))


def _tapered() -> Mesh:
    part = tapered_pipe()
    return Mesh(np.asarray(part.mesh.vertices) * part.truth.unit, np.asarray(part.mesh.faces))


@cache
def job_of(name: str) -> JobRecord:
    """The record of one of `JOBS`."""
    meshes, settings = _asked()[name]
    return recorded_job(meshes, settings)


@cache
def _asked() -> Mapping[str, tuple[dict[str, Mesh], Settings]]:
    flute = {"length": 352.0, "bore": 14.2, "outside": 21.4, "holes": HOLES}
    tight = {"fit": "push", "clearance": 0.1}
    loose = {"fit": "take-apart", "clearance": 0.2}
    rough = Compensation(hole_undersize=0.1, first_layer_bulge=0.4, shrink_percent=0.5)
    wide = {"length": 300.0, "bore": 14.0, "outside": 26.0}
    return {
        "flute": ({"flute": _tube(**flute)}, SETTINGS),
        "rough": (
            {"flute": _tube(**flute | {"length": 600.0})},
            replace(SETTINGS, compensation=rough, layer=0.28, clearance=0.25),
        ),
        "pushed": ({"bar": _bar(38.0, 420.0)}, replace(SETTINGS, **tight)),
        "apart": ({"flute": _tube(**flute)}, replace(SETTINGS, **loose)),
        "oring": ({"pipe": _tube(**wide)}, replace(SETTINGS, joint="oring", **loose)),
        "lapped": ({"pipe": _tube(**wide)}, replace(SETTINGS, joint="lapped", **loose)),
        "collar": ({"shade": _tube(length=340.0, bore=57.6, outside=60.0)}, SETTINGS),
        "sleeve": (
            {"pipe": _tube(length=300.0, bore=30.0, outside=40.0)},
            replace(SETTINGS, joint="sleeve"),
        ),
        "twin": ({"twin": _twin()}, SETTINGS),
        "pins": ({"post": _bar(80.0, 300.0)}, SETTINGS),
        "tapered": ({"whistle": _tapered()}, replace(SETTINGS, envelope=(180.0, 180.0, 150.0))),
        "whole": ({"beak": _tube(length=100.0, bore=6.0, outside=9.0)}, SETTINGS),
        "leaning": (
            {"pipe": _tube(length=195.0, bore=14.0, outside=20.0)},
            replace(SETTINGS, lean=True),
        ),
        "block": ({"block": an_ell()}, SETTINGS),
        "wind": ({"twin": _twin()}, replace(SETTINGS, wind=True)),
        "tiny": (
            {"tube": _tube(length=300.0, bore=3.0, outside=12.0, holes=TINY_HOLES)},
            replace(SETTINGS, printing=Printing("PETG")),
        ),
        "soaked": ({"pipe": _tube(**wide)}, replace(SETTINGS, clearance=0.05)),
        "wide": (
            {"pipe": _tube(length=300.0, bore=100.0, outside=112.0)},
            replace(SETTINGS, envelope=(250.0, 250.0, 180.0)),
        ),
    }


JOBS = tuple(_asked())
JOINTED = tuple(name for name in JOBS if name not in ("whole", "leaning", "block"))
GLUED = (
    "flute", "rough", "collar", "sleeve", "twin", "pins", "tapered", "tiny", "soaked", "wide",
)  # fmt: skip
DRY = ("pushed", "apart", "oring", "lapped")


@cache
def text_of(name: str) -> SheetText:
    """All that the sheet of a job says."""
    return sheet_parts(job_of(name))


def part_of(name: str) -> PartText:
    """What it says of its only part."""
    (part,) = text_of(name).parts
    return part


@cache
def document_of(name: str) -> Any:
    """The same job's document, as plain lists and numbers."""
    return job_document(job_of(name))


def steps_of(name: str) -> tuple[Step, ...]:
    """Every note and step of a job."""
    text = text_of(name)
    return (
        *(step for part in text.parts for step in (*part.printing, *part.bench, *part.tuning)),
        *text.after,
    )


def step_of(name: str, title: str) -> Step:
    """The one note or step of a title."""
    (step,) = [step for step in steps_of(name) if step.title == title]
    return step


def table_of(name: str, title: str) -> list[dict[str, str]]:
    """The rows of a table, by their headings, one for each joint or piece."""
    tables = [*part_of(name).tables, *(table for step in steps_of(name) for table in step.tables)]
    (table,) = [table for table in tables if table.title == title]
    pieces = [piece.name for part in job_of(name).parts for piece in part.pieces]
    return rows_of(table, pieces)


def values_of(step: Step) -> list[Value]:
    """A step's values, one for each joint, hole or bore that they are told of."""
    return [Value(name, one.shown) for one in step.values for name in singly(one.name)]


def rows_of(table: Table, pieces: Sequence[str] = ()) -> list[dict[str, str]]:
    """The same of a table.

    pieces : names of all of them, in order
    """
    return [*rows_singly(table.header, table.rows, pieces)]


def words_of(step: Step) -> str:
    """All that a note or step says, its cautions left out."""
    return "\n".join(_words(step))


def _words(step: Step) -> Iterator[str]:
    yield step.title
    yield from step.text
    for value in step.values:
        yield f"{value.name}: {value.shown}"
    for table in step.tables:
        yield from (table.title, *table.header, *table.notes)
        for row in table.rows:
            yield from row


def mesh_of_piece(name: str, piece: str) -> trimesh.Trimesh:
    """A piece of a job, as its file has it."""
    pieces = {one.name: one for part in job_of(name).parts for one in part.pieces}
    mesh = pieces[piece].mesh
    return trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
