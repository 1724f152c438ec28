"""Damaged parts through the whole job: the right pieces, or a refusal that names the place.

Never a wrong piece, and never another exception. What is right is the truth that the
part was built to, read off the pieces by trimesh.
"""

from __future__ import annotations

import itertools
import math
import os
import re
from collections.abc import Callable
from functools import cache

import numpy as np
import pytest
import trimesh
from borewright.core.errors import CoreError
from borewright.core.values import Mesh, Outcome, Settings
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from tests.damage import ASIDE, DAMAGES, Damage, Source, as_built, source_of
from tests.jobs import split_surveyed
from tests.measure import solid_of
from tests.parts import (
    Block,
    Hole,
    Part,
    Ring,
    ringed_pipe,
    straight_pipe,
    tapered_pipe,
    turned_pose,
)

ALL_PAIRS = "BOREWRIGHT_ALL_DAMAGE" in os.environ
"""Each pair on each part takes minutes; else each on one of them, and one pair in three."""

ENVELOPE = (80.0, 80.0, 80.0)
FACETS = 48
DIAMETER = 0.02
"""mm, how far a diameter read may be off, as the project promises."""

PARTS: dict[str, Callable[[], Part]] = {
    "straight": lambda: straight_pipe(
        length=130.0, holes=(Hole(30, 0, 7), Hole(52, 0, 6), Hole(100, 180, 5)),
        facets=FACETS, hole_facets=24,
        pose=turned_pose((0.3, 0.2, 0.9), 40.0, (12.0, -40.0, 75.0)),
    ),
    "ringed": lambda: ringed_pipe(
        length=130.0, holes=(Hole(40, 0, 7), Hole(100, 0, 8)), rings=(Ring(10, 9, 31),),
        block=Block(108, 16, 0, 12, 19), facets=FACETS, hole_facets=24,
    ),
    "tapered": lambda: tapered_pipe(
        length=130.0, bore=(16.0, 10.0), outside=(26.0, 20.0),
        holes=(Hole(30, 0, 7), Hole(95, 180, 4.5)), facets=FACETS, hole_facets=24,
        level_step=10.0,
    ),
}  # fmt: skip


@cache
def part_of(name: str) -> Source:
    return source_of(PARTS[name]())


def damaged(source: Source, damages: tuple[Damage, ...], seed: int) -> Source:
    rng = np.random.default_rng(seed)
    for damage in damages:
        source = damage.step(source, rng)
    return source


def run(source: Source) -> tuple[Outcome, ...] | CoreError:
    mesh = Mesh(source.vertices, source.triangles)
    try:
        return split_surveyed(mesh, "part", Settings(ENVELOPE), source.unit)
    except CoreError as refusal:
        return refusal


def assert_right(source: Source, damages: tuple[Damage, ...]) -> None:
    """What came of it is among what these damages may come to."""
    result = run(source)
    outcomes = {damage.outcome for damage in damages}
    if isinstance(result, CoreError):
        assert outcomes & {"refused", "either"}, result
        assert result.places, result
        assert np.isfinite(result.places).all()
        assert re.search(r"\(-?\d+\.\d+, -?\d+\.\d+, -?\d+\.\d+\)", result.found), result
        return
    assert "refused" not in outcomes
    assert len(result) == math.prod(damage.bodies for damage in damages)
    said = " ".join(warning for outcome in result for warning in outcome.warnings)
    for damage in damages:
        assert len(damages) > 1 or damage.remark in said, said
    for outcome in result:
        assert_true_pieces(source, outcome)


# What the pieces are


def assert_true_pieces(source: Source, outcome: Outcome) -> None:
    truth, pieces = source.truth, pieces_as_built(source, outcome)
    assert len(pieces) == 2
    assert all(check.ok for check in outcome.checks)
    for piece in pieces:
        assert piece.is_watertight and piece.is_winding_consistent and piece.volume > 0.0
        assert len(solid_of(piece).decompose()) == 1
    holes_through = sum(2 - piece.euler_number for piece in pieces) // 2
    assert holes_through == len(pieces) + len(truth.holes)
    stations = np.concatenate([piece.vertices[:, 2] for piece in pieces])
    assert stations.min() == pytest.approx(0.0, abs=DIAMETER)
    assert stations.max() == pytest.approx(truth.length, abs=DIAMETER)
    assert_diameters(source, outcome, pieces)
    assert_holes(source, outcome)


def pieces_as_built(source: Source, outcome: Outcome) -> list[trimesh.Trimesh]:
    """The pieces in the part's build frame; those of a second body moved onto the first."""
    pieces = []
    for piece in outcome.pieces:
        rotation, shift = piece.to_source[:3, :3], piece.to_source[:3, 3]
        points = as_built(source, piece.mesh.vertices @ rotation.T + shift)
        pieces.append(trimesh.Trimesh(points, piece.mesh.triangles, process=False))
    middle = np.mean([piece.bounds.mean(axis=0) for piece in pieces], axis=0)
    for piece in pieces:
        piece.apply_translation([-ASIDE * round(middle[0] / ASIDE), 0.0, 0.0])
    return pieces


def assert_diameters(source: Source, outcome: Outcome, pieces: list[trimesh.Trimesh]) -> None:
    """Sections where there is nothing but bore and outside."""
    truth, sections = source.truth, 0
    for station in np.arange(2.37, truth.length, 4.0):
        if not is_plain(source, outcome, float(station)):
            continue
        bore, outside = (truth.diameter(ends, station) for ends in (truth.bore, truth.outside))
        for piece in pieces:
            cut = trimesh.intersections.mesh_plane(piece, [0, 0, 1], [0, 0, station])
            diameters = 2.0 * np.hypot(cut[..., 0], cut[..., 1]).ravel()
            inner = diameters[diameters < (bore + outside) / 2.0]
            outer = diameters[diameters > (bore + outside) / 2.0]
            assert len(inner) == 0 or np.abs(inner - bore).max() < DIAMETER
            assert len(outer) == 0 or np.abs(outer - outside).max() < DIAMETER
            sections += len(inner) > 0 and len(outer) > 0
    assert sections >= 5


def is_plain(source: Source, outcome: Outcome, station: float) -> bool:
    """No hole, ring, block or joint is at a station of the build."""
    truth = source.truth
    zones = [(h.station - h.diameter / 2.0, h.station + h.diameter / 2.0) for h in truth.holes]
    zones += [(ring.station, ring.station + ring.height) for ring in truth.rings]
    if truth.block:
        zones.append((truth.block.station, truth.block.station + truth.block.height))
    for joint in outcome.plan.joints:
        ends = np.array([[0.0, 0.0, joint.zone[0] - 1.5], [0.0, 0.0, joint.zone[1] + 1.0]])
        low, high = sorted(as_built(source, outcome.survey.frame.to_source(ends))[:, 2].tolist())
        zones.append((low, high))
    return all(not low - 0.6 < station < high + 0.6 for low, high in zones)


def assert_holes(source: Source, outcome: Outcome) -> None:
    truth, survey = source.truth, outcome.survey
    found = []
    for hole in survey.side_holes:
        at = survey.frame.to_source(np.array([[0.0, 0.0, hole.station]]))
        found.append((float(as_built(source, at)[0, 2]), hole.axial_width, hole.across_width))
    due = sorted((hole.station, hole.diameter, hole.diameter) for hole in truth.holes)
    assert np.abs(np.array(sorted(found)) - np.array(due)).max() < DIAMETER


# The matrix


@pytest.mark.parametrize("name", PARTS)
def test_an_undamaged_part_comes_out_right_and_nothing_is_said_of_mending(name: str) -> None:
    source = part_of(name)
    result = run(source)
    assert not isinstance(result, CoreError)
    assert [outcome.warnings for outcome in result] == [()]
    assert_true_pieces(source, result[0])


@pytest.mark.parametrize("damage", DAMAGES, ids=lambda damage: damage.name)
@pytest.mark.parametrize("name", PARTS)
def test_a_damage_alone_ends_in_right_pieces_or_a_place(name: str, damage: Damage) -> None:
    assert_right(damaged(part_of(name), (damage,), seed=1), (damage,))


PAIRS = tuple(itertools.combinations(DAMAGES, 2))


def chosen_pairs() -> list[tuple[str, tuple[Damage, Damage]]]:
    names = list(PARTS)
    if ALL_PAIRS:
        return [(name, pair) for name in names for pair in PAIRS]
    return [(names[k // 3 % 3], pair) for k, pair in enumerate(PAIRS) if k % 3 == 0]


@pytest.mark.parametrize(
    ("name", "pair"),
    chosen_pairs(),
    ids=[f"{name}: {one.name} + {other.name}" for name, (one, other) in chosen_pairs()],
)
def test_two_damages_end_in_right_pieces_or_a_place(name: str, pair: tuple[Damage, Damage]) -> None:
    assert_right(damaged(part_of(name), pair, seed=2), pair)


def test_a_fin_over_a_missing_edge_ends_at_all() -> None:
    """As many half-edges have no opposite there as have one too many: turning came never round."""
    pair = tuple(damage for damage in DAMAGES if damage.name in {"hole missing", "fin"})
    assert_right(damaged(part_of("straight"), pair, seed=2), pair)


@settings(
    max_examples=400 if ALL_PAIRS else 10,
    deadline=None,
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
    suppress_health_check=[HealthCheck.too_slow],
)
@given(
    st.sampled_from(sorted(PARTS)),
    st.sets(st.integers(0, len(DAMAGES) - 1), min_size=1, max_size=3),
    st.integers(0, 2**32 - 1),
)
def test_damages_anywhere_end_in_right_pieces_or_a_place(
    name: str, which: set[int], seed: int
) -> None:
    damages = tuple(DAMAGES[k] for k in sorted(which))
    assert_right(damaged(part_of(name), damages, seed), damages)
