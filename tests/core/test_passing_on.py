"""Parts that no survey reads: passed on where they fit. Truth is what made the parts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from borewright.core.errors import BadMesh, BadSetting, CoreError, NotTubular
from borewright.core.job import plan_parts, split_parts
from borewright.core.proving.passed_checks import prove_passed
from borewright.core.values import Compensation, Mesh, Outcome, PassedOn, Settings

from tests.loose_parts import (
    a_block,
    a_mouthpiece,
    a_pebble,
    a_ring,
    an_ell,
    as_trimesh,
    solid_of,
    turned,
)
from tests.parts import plain_tube, random_pose

SETTINGS = Settings((180.0, 180.0, 180.0))
LOOSE: list[Callable[[], Mesh]] = [
    lambda: a_block(40.0, 35.0, 45.0),
    an_ell,
    a_mouthpiece,
    a_pebble,
    a_ring,
]


def passed(mesh: Mesh, settings: Settings = SETTINGS) -> PassedOn:
    (done,) = split_parts(mesh, "loose", lambda _: settings, 1.0, lambda _: None)
    assert isinstance(done, PassedOn)
    return done


def two(one: Mesh, other: Mesh) -> Mesh:
    moved = other.vertices + np.array([200.0, 0.0, 0.0])
    rows = np.vstack([one.triangles, other.triangles + len(one.vertices)])
    return Mesh(np.vstack([one.vertices, moved]), rows)


@pytest.mark.parametrize("part", LOOSE)
@pytest.mark.parametrize("shrink", [0.0, 2.0])
def test_its_one_piece_is_the_source_standing_on_the_bed(
    part: Callable[[], Mesh], shrink: float
) -> None:
    mesh = turned(part(), random_pose(np.random.default_rng(4))[:3, :3])
    settings = replace(SETTINGS, compensation=Compensation(shrink_percent=shrink))
    done = passed(mesh, settings)
    piece = done.piece
    assert piece.name == "loose-01"
    assert piece.scale == pytest.approx(1.0 / (1.0 - shrink / 100.0))
    stored = piece.mesh.vertices
    assert np.array_equal(stored, stored.astype(np.float32))
    assert stored.min() == 0.0 and np.all(stored.min(axis=0) == 0.0)
    rotation = piece.to_source[:3, :3]
    assert np.allclose(rotation @ rotation.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(rotation) > 0.0
    placed = stored / piece.scale @ rotation.T + piece.to_source[:3, 3]
    corners = placed[piece.mesh.triangles], mesh.vertices[mesh.triangles]
    assert np.abs(corners[0] - corners[1]).max() < 1e-4
    made = as_trimesh(piece.mesh)
    assert made.is_watertight and len(solid_of(piece.mesh).decompose()) == 1
    assert made.volume == pytest.approx(as_trimesh(mesh).volume * piece.scale**3, rel=1e-5)
    assert done.checks and all(check.ok for check in done.checks)


def test_the_reason_is_that_of_the_survey() -> None:
    assert "an axis that bends: it lies up to" in passed(a_mouthpiece()).reason
    assert "a round bore in 0 of" in passed(a_block(40.0, 35.0, 45.0)).reason
    assert "one cylinder or cone" in passed(a_ring()).reason


def test_a_plan_has_the_piece_and_no_proofs() -> None:
    (done,) = plan_parts(an_ell(), "loose", lambda _: SETTINGS, 1.0, lambda _: None)
    assert isinstance(done, PassedOn)
    assert (len(done.pieces), done.checks) == (1, ())


def test_what_does_not_fit_is_refused_as_ever_with_its_size() -> None:
    with pytest.raises(NotTubular) as refused:
        passed(a_block(40.0, 35.0, 45.0), replace(SETTINGS, envelope=(60.0, 38.0, 34.0)))
    assert "a round bore in 0 of" in refused.value.found
    assert "40.00 x 35.00 x 45.00 mm, which fits an envelope of 60 x 38 x 34 mm" in (
        refused.value.found
    )
    assert "a larger --envelope" in refused.value.remedy


def test_what_the_print_shrinks_is_counted() -> None:
    block = a_block(60.0, 50.0, 48.0)
    room = replace(SETTINGS, envelope=(61.0, 51.0, 49.0))
    assert passed(block, room).piece.scale == 1.0
    with pytest.raises(NotTubular):
        passed(block, replace(room, compensation=Compensation(shrink_percent=4.0)))


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (replace(SETTINGS, cuts=(20.0,)), "--cut 20 "),
        (replace(SETTINGS, pieces=2), "--pieces 2 "),
    ],
)
def test_what_needs_an_axis_is_refused(asked: Settings, told: str) -> None:
    with pytest.raises(BadSetting) as refused:
        passed(a_mouthpiece(), asked)
    assert refused.value.found.startswith(told)
    assert told.strip() in refused.value.remedy


def test_one_piece_is_no_demand_and_what_does_nothing_is_told() -> None:
    done = passed(a_mouthpiece(), replace(SETTINGS, pieces=1, flip=True, lean=True, bore=12.0))
    for told in (
        "It has no low end that --flip could change.",
        "It has no axis that --lean could tilt.",
        "It has no bore that --bore 12 could change.",
    ):
        assert told in done.warnings


def test_demands_are_those_of_the_part_of_that_name() -> None:
    tube = plain_tube().mesh
    both = two(Mesh(tube.vertices, tube.faces), a_block(40.0, 35.0, 45.0))
    own = {"kit-a": replace(SETTINGS, pieces=3), "kit-b": SETTINGS}
    first, second = split_parts(both, "kit", lambda name: own.get(name, SETTINGS), 1.0, print)
    assert isinstance(first, Outcome) and len(first.pieces) == 3
    assert isinstance(second, PassedOn) and second.piece.name == "kit-b-01"
    own["kit-b"] = own["kit-a"]
    with pytest.raises(BadSetting, match="in part kit-b: --pieces 3"):
        split_parts(both, "kit", lambda name: own.get(name, SETTINGS), 1.0, print)


def test_damage_is_refused_as_ever() -> None:
    ell, pebble = an_ell(), a_pebble()
    with pytest.raises(BadMesh):
        passed(Mesh(pebble.vertices, pebble.triangles[len(pebble.triangles) // 2 :]))
    through = Mesh(ell.vertices + 5.0, ell.triangles)
    rows = np.vstack([ell.triangles, through.triangles + len(ell.vertices)])
    with pytest.raises(BadMesh, match="pass through each other"):
        passed(Mesh(np.vstack([ell.vertices, through.vertices]), rows))


def test_a_tear_that_is_not_flat_is_refused() -> None:
    """All the triangles at one corner of a pebble: what was there is not known."""
    pebble = a_pebble()
    beside = (pebble.triangles == 7).any(axis=1)
    with pytest.raises(CoreError) as refused:
        passed(Mesh(pebble.vertices, pebble.triangles[~beside]))
    assert isinstance(refused.value, BadMesh)


def failed(source: Mesh, done: PassedOn, damaged: Mesh) -> set[str]:
    piece = replace(done.piece, mesh=damaged)
    return {check.name for check in prove_passed(source, piece, SETTINGS) if not check.ok}


def test_a_damaged_piece_fails_its_proofs() -> None:
    source = an_ell()
    done = passed(source)
    points, rows = done.piece.mesh.vertices, done.piece.mesh.triangles
    assert failed(source, done, done.piece.mesh) == set()
    moved = points.copy()
    moved[points.max(axis=1).argmax()] -= 0.01
    assert "same_shape" in failed(source, done, Mesh(moved, rows))
    assert failed(source, done, Mesh(points * 1.001, rows)) == {"same_shape", "same_volume"}
    assert "closed" in failed(source, done, Mesh(points, rows[1:]))
    assert "same_shape" in failed(source, done, Mesh(points, rows[1:]))
    assert {"on_bed", "same_shape"} <= failed(source, done, Mesh(points + 0.01, rows))
    small = replace(SETTINGS, envelope=(180.0, 180.0, 19.0))
    assert {c.name for c in prove_passed(source, done.piece, small) if not c.ok} == {"envelope"}


def test_corners_that_float32_brings_together_are_no_other_shape() -> None:
    """Of two corners 1e-7 mm apart the triangles between them are nothing in the file."""
    block = a_block(40.0, 35.0, 45.0)
    top = np.flatnonzero(block.triangles[0] == block.triangles[0][0])[0]
    a, b, c = np.roll(block.triangles[0], -top)
    beside = [row for row in block.triangles.tolist() if {int(a), int(b)} <= set(row)]
    other = next(row for row in beside if set(row) != {int(a), int(b), int(c)})
    new = len(block.vertices)
    point = block.vertices[b] + 1e-7 * (block.vertices[a] - block.vertices[b]) / 40.0
    rest = [row for row in block.triangles.tolist() if row not in beside]
    third = next(k for k in other if k not in {int(a), int(b)})
    rows = [[a, new, c], [new, b, c], [new, a, third], [b, new, third], *rest]
    done = passed(Mesh(np.vstack([block.vertices, point]), np.array(rows)))
    assert len(done.piece.mesh.triangles) == len(rows) - 2
    assert all(check.ok for check in done.checks)
