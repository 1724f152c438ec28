"""Sheets of a mesh that cross away from round walls: told, kept off seams, or refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from borewright.core.errors import BadMesh, NoPlan
from borewright.core.meshes.mend import mend_bodies
from borewright.core.meshes.piercings import find_piercings
from borewright.core.surveying.survey import survey_part
from borewright.core.values import FloatArray, IntArray, Mesh, Outcome, Settings
from manifold3d import CrossSection, Manifold

from tests.families.gallery import GALLERY, SCANNED, scanned
from tests.families.judged import read
from tests.families.round_outside import odd_holes
from tests.families.truth import noisy
from tests.jobs import split_surveyed
from tests.loose_parts import mesh_of

LENGTH = 330.0


def rod(diameter: float, beyond: float = 0.0, sides: int = 48) -> Manifold:
    made = Manifold.cylinder(LENGTH + 2.0 * beyond, diameter / 2.0, -1.0, sides)
    return made.translate((0.0, 0.0, -beyond))


def oval() -> Manifold:
    angles = np.linspace(0.0, 2.0 * math.pi, 64, endpoint=False)
    outline = np.column_stack([15.0 * np.cos(angles), 11.5 * np.sin(angles)])
    return Manifold.extrude(CrossSection([outline]), LENGTH)


BORE = rod(14.0, 1.0)
SOLIDS = {
    "round": rod(24.0) - BORE,
    "oval": oval() - BORE,
    "octagon": rod(26.0, sides=8) - BORE,
    "solid": rod(24.0),
    "solid oval": oval(),
}


def fine(name: str) -> Mesh:
    return mesh_of(SOLIDS[name].refine_to_length(2.5))


def with_horn(mesh: Mesh, station: float, turn_deg: float, down: float) -> Mesh:
    """A horn that grows out of the outside at +x, bends upward, then goes straight on.

    turn_deg : by how much it bends, about 6 mm; at 178 it points back at the wall
    down : mm, how far it goes on from there
    """
    normals = np.cross(
        *(mesh.vertices[mesh.triangles[:, k]] - mesh.vertices[mesh.triangles[:, 0]] for k in (1, 2))
    )
    middles = mesh.vertices[mesh.triangles].mean(axis=1)
    root = int(((middles - [20.0, 0.0, station]) ** 2).sum(axis=1).argmin())
    out = normals[root] / np.linalg.norm(normals[root])
    picked, ring = _disc(mesh, middles[root])
    centre = mesh.vertices[ring].mean(axis=0)
    path = [(1.0 + 6.0 * math.sin(a), 6.0 * (1.0 - math.cos(a)), a)
            for a in np.linspace(0.0, math.radians(turn_deg), 25 if turn_deg else 1)]  # fmt: skip
    forth, up, angle = path[-1]
    path += [(forth + d * math.cos(angle), up + d * math.sin(angle), angle)
             for d in np.arange(1.0, down + 0.5)]  # fmt: skip
    arms = (mesh.vertices[ring] - centre) * 0.8
    across = np.cross(out, [0.0, 0.0, 1.0])
    upward = np.cross(across, out)
    rings = [
        centre + forth * out + up * upward + (arms @ across)[:, None] * across
        + (arms @ upward)[:, None] * (math.cos(angle) * upward - math.sin(angle) * out)
        for forth, up, angle in path
    ]  # fmt: skip
    return _capped(mesh, picked, ring, rings)


def _disc(mesh: Mesh, middle: FloatArray) -> tuple[IntArray, IntArray]:
    """Triangles about a place that are a disc, and its rim in order."""
    for reach in np.linspace(2.5, 1.5, 30):
        near = np.linalg.norm(mesh.vertices[mesh.triangles] - middle, axis=2) < reach
        picked = np.flatnonzero(near.all(axis=1))
        edges = {(int(t[k]), int(t[k - 2])) for t in mesh.triangles[picked] for k in range(3)}
        rim = {a: b for a, b in edges if (b, a) not in edges}
        ring = [next(iter(rim))]
        while rim[ring[-1]] != ring[0] and len(ring) <= len(rim):
            ring.append(rim[ring[-1]])
        if len(ring) == len(rim):
            return picked, np.array(ring)
    raise AssertionError("no disc of triangles there")


def _capped(mesh: Mesh, picked: IntArray, ring: IntArray, rings: list[FloatArray]) -> Mesh:
    """The mesh with a tube from ring to ring in place of the triangles picked."""
    points, faces, last = [mesh.vertices], [np.delete(mesh.triangles, picked, axis=0)], ring
    for number, corners in enumerate(rings):
        here = len(mesh.vertices) + number * len(ring) + np.arange(len(ring))
        after, beside = np.roll(last, -1), np.roll(here, -1)
        faces += [np.column_stack([last, after, beside]), np.column_stack([last, beside, here])]
        points.append(corners)
        last = here
    tip = np.full(len(last), sum(map(len, points)))
    faces.append(np.column_stack([last, np.roll(last, -1), tip]))
    points.append(rings[-1].mean(axis=0)[None])
    used, numbers = np.unique(np.vstack(faces), return_inverse=True)
    return Mesh(np.vstack(points)[used], numbers.reshape(-1, 3))


def split(mesh: Mesh, cuts: tuple[float, ...] = ()) -> Outcome:
    settings = Settings(envelope=(180.0, 180.0, 180.0), cuts=cuts)
    (outcome,) = split_surveyed(mesh, "part", settings)
    return outcome


def crossings_told(outcome: Outcome) -> list[str]:
    return [said for said in outcome.warnings if "of the mesh with itself" in said]


# Parts


@pytest.mark.parametrize("name", SOLIDS)
def test_a_horn_that_goes_back_into_the_wall_is_told_with_its_place(name: str) -> None:
    """Its root is at 100, its tip 12 mm higher, 3 mm in the wall of 11.5 to 15."""
    (said,) = crossings_told(split(with_horn(fine(name), 100.0, 178.0, 4.0)))
    places = np.array([word.strip("(),.") for word in said.split() if word.strip("(),.").replace(
        ".", "").replace("-", "").isdigit()][1:], float).reshape(-1, 3)  # fmt: skip
    assert (np.abs(places[:, 2] - 112.0) < 3.0).all()
    assert (np.abs(places[:, 0] - 13.0) < 2.5).all()


@pytest.mark.parametrize("name", ["oval", "octagon", "solid oval"])
def test_a_cut_through_what_crosses_is_refused(name: str) -> None:
    """Without the horn there is nothing against a cut at 112."""
    assert len(split(fine(name), (112.0, 220.0)).pieces) == 3
    with pytest.raises(NoPlan, match=r"--cut 112: rings or blocks on the outside from 10\d"):
        split(with_horn(fine(name), 100.0, 178.0, 4.0), (112.0, 220.0))


def test_two_horns_that_cross_are_told_with_their_place() -> None:
    once = with_horn(fine("oval"), 110.0, 0.0, 12.0)
    outcome = split(with_horn(once, 100.0, 90.0, 8.0))
    assert len(crossings_told(outcome)) == 1
    assert any(o.start < 110.0 < o.stop for o in outcome.survey.ornaments)


@pytest.mark.parametrize("name", ["oval", "octagon"])
def test_a_spike_of_the_bore_through_an_outside_that_is_not_round_is_refused(name: str) -> None:
    mesh = fine(name)
    vertices = mesh.vertices.copy()
    around = 7.0 * np.arctan2(vertices[:, 1], vertices[:, 0])
    off = np.hypot(around, vertices[:, 2] - 100.0) / 3.0
    on_bore = np.hypot(vertices[:, 0], vertices[:, 1]) < 7.01
    vertices[:, 0] += on_bore * 16.0 * (1.0 - off.clip(0.0, 1.0))
    with pytest.raises(BadMesh, match=r"passes through itself: \d+ crossings at a bore") as refusal:
        split(Mesh(vertices, mesh.triangles))
    assert (np.abs(np.array(refusal.value.places)[:, 2] - 100.0) < 4.0).all()


@pytest.mark.parametrize("name", SOLIDS)
def test_horns_that_cross_nothing_are_no_crossing(name: str) -> None:
    mesh = with_horn(with_horn(fine(name), 100.0, 120.0, 1.0), 130.0, 0.0, 8.0)
    assert crossings_told(split(mesh)) == []


# No false alarm: every triangle of a sound mesh against every other


@pytest.mark.parametrize("name", GALLERY)
def test_no_triangle_of_a_sound_part_pierces_another(name: str) -> None:
    part = GALLERY[name]()
    mesh = Mesh(part.vertices * part.truth.unit, part.triangles)
    every = np.arange(len(mesh.triangles))
    assert len(find_piercings(mesh, every, every[:0], 0.001).points) == 0


@pytest.mark.parametrize("name", SCANNED)
def test_slivers_that_noise_turns_over_are_no_crossing(name: str) -> None:
    assert not [said for said in read(scanned(name)).remarks if "with itself" in said]


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_facets_that_noise_moves_over_slivers_at_a_rim_are_no_crossing(seed: int) -> None:
    """Holes' walls and the long slivers of bore and outside beside them, 0.02 mm of noise each."""
    part = noisy(odd_holes(), 0.02, np.random.default_rng(seed))
    body = mend_bodies(Mesh(part.vertices, part.triangles))[0]
    assert not [said for said in survey_part(body, max_move=0.15).remarks if "with itself" in said]


# Triangles against triangles


def test_piercings_are_those_of_every_pair_looked_at_alone() -> None:
    """Random triangles, some long: an edge runs through another's inside, by signs of volumes."""
    rng = np.random.default_rng(4)
    points = rng.uniform(0.0, 30.0, (300, 1, 3)) + rng.normal(0.0, 1.0, (300, 3, 3))
    points[:20] += rng.normal(0.0, 15.0, (20, 3, 3))
    mesh = Mesh(points.reshape(-1, 3), np.arange(900).reshape(-1, 3))
    found = find_piercings(mesh, np.arange(200), np.arange(200, 300), 1e-9)
    due = {
        (a, b)
        for a in range(200)
        for b in range(a + 1, 300)
        if _pierces(points[a], points[b]) or _pierces(points[b], points[a])
    }
    assert len(due) > 50
    assert set(zip(found.first.tolist(), found.second.tolist(), strict=True)) == due


def _pierces(edges: FloatArray, plate: FloatArray) -> bool:
    a, b, c = plate
    for p, q in zip(edges, np.roll(edges, -1, axis=0), strict=True):
        ends = [np.linalg.det([b - a, c - a, x - a]) for x in (p, q)]
        turns = [np.linalg.det([q - p, x - p, y - p]) for x, y in ((a, b), (b, c), (c, a))]
        if ends[0] * ends[1] < 0.0 and (min(turns) > 0.0 or max(turns) < 0.0):
            return True
    return False
