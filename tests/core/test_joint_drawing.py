"""Enlarged joints and beds from above, read back from their SVG, against record and pieces."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import combinations
from typing import Any

import numpy as np
import pytest
import trimesh
from borewright.core.recording.report import job_document
from borewright.core.sheet.assembled import assemble
from borewright.core.sheet.bed_drawing import bed_drawings
from borewright.core.sheet.cut_joint import CutJoint, cut_joint
from borewright.core.sheet.joint_drawing import joint_drawings
from borewright.core.sheet.joint_likeness import alike_joints
from borewright.core.sheet.svg import Drawing
from borewright.core.values import Outcome, Settings

from tests.drawn import assert_sound, loops_of, root_of, segments_of, texts_of
from tests.drawn_jobs import ODD, SETTINGS, as_mesh, as_mesh_of, own_job, own_parts, shared_job
from tests.parts import tube
from tests.recorded import recorded_job
from tests.told_together import numbers_of

UNCUT = {"whole", "leaning", "block", "crowded", ODD}
PATH = "{http://www.w3.org/2000/svg}path"
SHARED = ["fife", "double", "newel", "sunshade"]


@pytest.mark.parametrize("name", sorted(SETTINGS))
def test_drawings_of_own_joints_and_beds_are_sound(name: str) -> None:
    record = own_job(name)
    joints = joint_drawings(record.parts[0], record)
    outcome = record.parts[0].outcome
    count = len(outcome.plan.joints) if isinstance(outcome, Outcome) else 0
    assert sorted(seam for drawing in joints for seam in seams_of(drawing)) == [
        *range(1, count + 1)
    ]
    for drawing in (*joints, *bed_drawings(record)):
        assert_sound(drawing)


def seams_of(drawing: Drawing) -> list[int]:
    """The seam that a drawing is of, and those that it says are the same."""
    (first,) = re.findall(r", seam (\d+) at", drawing.name)
    others = re.findall(r"; (seams? [\d, andto]+) (?:is|are) the same but for", drawing.caption)
    assert len(others) <= 1
    return [int(first), *(seam for said in others for seam in numbers_of(said.split(" ", 1)[1]))]


def test_equal_joints_are_drawn_once() -> None:
    record = own_job("many")
    joints = job_document(record)["parts"][0]["joints"]  # type: ignore[index]
    assert len(joints) > 20
    (drawing,) = joint_drawings(record.parts[0], record)
    assert seams_of(drawing) == [*range(1, len(joints) + 1)]


def test_joints_that_differ_are_drawn_apart() -> None:
    """An outside that tapers makes joints of other widths."""
    record = own_job("five")
    joints = job_document(record)["parts"][0]["joints"]  # type: ignore[index]
    drawings = joint_drawings(record.parts[0], record)
    told = [
        {(joint["kind"], round(joint["tenon_diameter"], 2), joint["engagement"]) for joint in alike}
        for alike in ([joints[seam - 1] for seam in seams_of(one)] for one in drawings)
    ]
    assert all(len(each) == 1 for each in told)
    assert len(drawings) > 1


def _cuts(name: str) -> tuple[list[CutJoint], Outcome]:
    part = own_job(name).parts[0]
    assert isinstance(part.outcome, Outcome)
    whole = assemble(part)
    joints = part.outcome.plan.joints
    return [cut_joint(whole, joint, number) for number, joint in enumerate(joints)], part.outcome


@pytest.mark.parametrize("of", ["along", "across", "words"])
def test_a_joint_whose_shape_differs_within_it_is_none_of_the_others(of: str) -> None:
    """Half a tenth of a millimetre of a wall, in either section, or of what is told."""
    cuts, outcome = _cuts("bar")
    assert alike_joints(cuts, outcome.survey) == [[0, 1]]
    one, other = cuts
    if of == "along":
        wider = tuple(tuple(loop * [1.003, 1.0] for loop in loops) for loops in other.sections)
        other = replace(other, sections=wider)
    elif of == "across":
        meshes = tuple(
            replace(mesh, vertices=mesh.vertices * [1.003, 1.0, 1.0]) for mesh in other.whole.meshes
        )
        other = replace(other, whole=replace(other.whole, meshes=meshes))
    else:
        tenon = replace(other.joint.tenon, tenon_radius=other.joint.tenon.tenon_radius - 0.01)
        other = replace(other, joint=replace(other.joint, tenons=(tenon,)))
    assert alike_joints([one, other], outcome.survey) == [[0], [1]]


@pytest.mark.parametrize("name", SHARED)
def test_drawings_of_shared_joints_and_beds_are_sound(name: str) -> None:
    record = shared_job(name)
    for drawing in (*joint_drawings(record.parts[0], record), *bed_drawings(record)):
        assert_sound(drawing)


@pytest.mark.parametrize("kind", ["oring", "lapped", "pins"])
def test_drawings_of_joints_asked_for_are_sound(kind: Any) -> None:
    part = tube(length=300.0, bore=20.0, outside=70.0 if kind == "pins" else 34.0)
    settings = Settings((160.0, 160.0, 170.0), joint=kind, clearance=0.2)
    record = recorded_job({"pipe": as_mesh(part)}, settings)
    (drawing,) = joint_drawings(record.parts[0], record)
    assert_sound(drawing)
    assert "0.2" in texts_of(drawing)


def joint_of(name: str) -> tuple[Any, Any, Any]:
    """The record's entry of a part's first joint, its drawing and its lower piece's name."""
    record = own_job(name)
    entry: Any = job_document(record)
    part = record.parts[0]
    return entry["parts"][0]["joints"][0], joint_drawings(part, record)[0], part.pieces


def told(texts: list[str], word: str) -> float:
    """The one number after a word and a diameter sign."""
    (found,) = (re.fullmatch(rf"{word} Ø([\d.]+)", text) for text in texts if text.startswith(word))
    assert found is not None
    return float(found[1])


@pytest.mark.parametrize("name", ["flute", "five", "bar"])
def test_what_stands_at_a_joint_is_what_the_record_says(name: str) -> None:
    entry, drawing, _ = joint_of(name)
    texts = texts_of(drawing)
    assert told(texts, "tenon") == pytest.approx(entry["tenon_diameter"], abs=0.0051)
    assert told(texts, "socket") == pytest.approx(entry["socket_diameter"], abs=0.0051)
    assert f"{entry['radial_clearance']:g}" in texts
    assert f"{entry['engagement']:g}" in texts
    angles = [float(angle) for angle in re.findall(r"key \d at ([-\d.]+)°", drawing.caption)]
    assert angles == pytest.approx(entry["key_angles_deg"], abs=0.051)
    assert {"1", "2", "C", "D", "B"} <= set(texts)


@pytest.mark.parametrize("name", ["flute", "bar"])
def test_tenon_and_socket_are_drawn_as_wide_as_they_are_told(name: str) -> None:
    """Measured where it is parallel, from the axis at x = 0, on the sides that are drawn."""
    entry, drawing, pieces = joint_of(name)
    assert drawing.factor is not None
    tenon, socket = (
        upright_places(segments_of(drawing, p.name), drawing.factor) for p in pieces[:2]
    )
    sides = (1.0,) if "right of its axis only" in drawing.caption else (-1.0, 1.0)
    for side in sides:
        assert np.abs(tenon - side * entry["tenon_diameter"] / 2.0).min() < 0.02
        assert np.abs(socket - side * entry["socket_diameter"] / 2.0).min() < 0.02


def upright_places(segments: Any, factor: float) -> Any:
    """Where segments of more than 1 mm of the part stand upright, mm of the part."""
    run = segments[:, 1] - segments[:, 0]
    upright = (np.abs(run[:, 0]) < 0.011) & (np.abs(run[:, 1]) > factor)
    return segments[upright, 0, 0] / factor


def test_the_gap_is_drawn_ten_times_its_size_at_the_seam() -> None:
    entry, drawing, _ = joint_of("flute")
    (line,) = (line for line in drawing.dimensions if line.factor == 10.0)
    assert line.stop[0] - line.start[0] == pytest.approx(10.0 * entry["radial_clearance"])


@pytest.mark.parametrize("name", [name for name in sorted(SETTINGS) if name not in UNCUT])
def test_the_clearance_is_told_between_the_edges_that_are_drawn(name: str) -> None:
    """Facets of a circle lie up to 0.01 mm within it, 0.1 on paper; a rib stands out by 5."""
    record = own_job(name)
    for drawing in joint_drawings(record.parts[0], record):
        (line,) = (line for line in drawing.dimensions if line.factor == 10.0)
        ends = line.start[0], line.stop[0]
        for x in ends:
            assert any(
                abs(a[0] - x) < 0.11 and abs(b[0] - x) < 0.11 and abs(a[1] - b[1]) > 3.0
                for a, b in outline_segments(drawing)
            )


def outline_segments(drawing: Drawing) -> Any:
    """(n, 2, 2) mm on paper, wide lines that are not closed: of all that is cut in the detail."""
    paths = [p.attrib["d"] for p in root_of(drawing).iter(PATH) if p.get("class") == "outline"]
    runs = [run for path in paths for run in path.split("M") if run and "Z" not in run]
    return np.array([run.split() for run in runs], float).reshape(-1, 2, 2)


def test_a_ring_around_each_of_two_bores_is_drawn_with_both_tenons() -> None:
    record = own_job("rings")
    (joint,) = record.parts[0].outcome.plan.joints  # type: ignore[union-attr]
    assert [len(tenon.bores) for tenon in joint.tenons] == [1, 1]
    (drawing,) = joint_drawings(record.parts[0], record)
    told = [f"Ø{2.0 * one.tenon_radius:.2f}".rstrip("0") for one in joint.tenons]
    assert f"tenon {told[1]}" in texts_of(drawing)
    assert f"other tenon {told[0]}, its socket Ø" in drawing.caption
    assert drawing.factor is not None
    places = upright_places(segments_of(drawing, "rings-01"), drawing.factor)
    for tenon in joint.tenons:
        outer = math.copysign(10.0 + tenon.tenon_radius, tenon.centres[0][0])
        inner = math.copysign(10.0 - tenon.tenon_radius, tenon.centres[0][0])
        assert np.abs(places - inner).min() < 0.02
        assert tenon.keys or np.abs(places - outer).min() < 0.02


@pytest.mark.parametrize("name", ["flute", "five", "rings"])
def test_two_joints_stand_beside_each_other_on_paper(name: str) -> None:
    record = own_job(name)
    for drawing in joint_drawings(record.parts[0], record):
        assert 2.0 * (drawing.width + 2.0) <= 190.0
        assert drawing.height <= 120.0


def test_a_bed_shows_every_piece_where_it_stands() -> None:
    """A tube's shadow is a disc: its middle is where its place on the bed puts its own."""
    record = own_job("flute")
    (drawing,) = bed_drawings(record)
    assert drawing.factor is not None
    pieces = {piece.name: piece for piece in record.parts[0].pieces}
    for placed in record.beds[0].bed.placed:
        (loop,) = loops_of(drawing, placed.name)
        low, high = loop.min(axis=0) / drawing.factor, loop.max(axis=0) / drawing.factor
        size = np.ptp(pieces[placed.name].mesh.vertices, axis=0)
        assert high - low == pytest.approx(size[:2], abs=0.03)
        middle = (low + high) / 2.0 * [1.0, -1.0]
        turn, radius = placed.turn, size[0] / 2.0
        cosine, sine = math.cos(turn), math.sin(turn)
        assert middle == pytest.approx(
            [placed.x + radius * (cosine - sine), placed.y + radius * (cosine + sine)], abs=0.03
        )


def test_a_bed_tells_heights_and_the_least_distance() -> None:
    record = recorded_job(
        {"flute": own_parts()["flute"]}, Settings((180.0, 180.0, 180.0), spacing=7.0)
    )
    (drawing,) = bed_drawings(record)
    texts = texts_of(drawing)
    for number, piece in enumerate(record.parts[0].pieces, 1):
        height = f"{np.ptp(piece.mesh.vertices[:, 2]):.2f}".rstrip("0").rstrip(".")
        assert f"{number}: {piece.name}, {height} high" in texts
    assert 7.0 <= told_apart(drawing) < 7.1
    assert texts.count("180") == 2


def told_apart(drawing: Drawing) -> float:
    """How far apart the caption of a bed says that its pieces are at the least."""
    (found,) = re.findall(r"; ([\d.]+) apart at the least", drawing.caption)
    return float(found)


def test_the_least_distance_is_that_of_points_all_along_the_outlines() -> None:
    """Prisms of 3, 4 and 5 sides, nearest corner to side; the outlines as they are drawn."""
    prisms = {
        f"prism-{sides}": as_mesh_of(trimesh.creation.cylinder(21.0 - sides, 30.0, sections=sides))
        for sides in (3, 4, 5)
    }
    record = recorded_job(prisms, Settings((90.0, 90.0, 60.0), spacing=6.0))
    (drawing,) = bed_drawings(record)
    assert drawing.factor is not None
    shares = np.linspace(0.0, 1.0, 400)[:, None]
    outlines = []
    for placed in record.beds[0].bed.placed:
        (loop,) = loops_of(drawing, placed.name)
        ahead = np.roll(loop, -1, axis=0)
        sides = [p + shares * (q - p) for p, q in zip(loop, ahead, strict=True)]
        outlines.append(np.concatenate(sides) / drawing.factor)
    least = min(
        float(np.hypot(*(one[:, None] - other).transpose(2, 0, 1)).min())
        for one, other in combinations(outlines, 2)
    )
    assert told_apart(drawing) == pytest.approx(least, abs=0.08)


def test_every_piece_of_many_is_listed_or_counted() -> None:
    small = as_mesh(tube(length=20.0, bore=4.0, outside=7.0))
    meshes = {f"a-rather-long-name-{number:02d}": small for number in range(40)}
    record = recorded_job(meshes, Settings((180.0, 180.0, 180.0)))
    (drawing,) = bed_drawings(record)
    assert_sound(drawing)
    texts = texts_of(drawing)
    assert sum(text.endswith(" high") for text in texts) == 31
    assert "9 more stand in their table only" in texts
