"""The survey against parts whose truth is known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from borewright.core.errors import BadSetting, NotTubular
from borewright.core.meshes.mend import mend_bodies
from borewright.core.surveying.survey import axis_direction, survey_part
from borewright.core.truing.true_up import true_up
from borewright.core.values import BORE, HIGH_END, LOW_END, OTHER, OUTSIDE, Mesh, Settings, Survey
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.parts import Block, Hole, Part, Recess, Ring, datums, random_pose, tube

HOLES = (Hole(80.0, 20.0, 6.0), Hole(110.0, 20.0, 7.0), Hole(150.0, -160.0, 5.0))


def read(part: Part, *, flip: bool = False) -> Survey:
    vertices = part.mesh.vertices.astype(np.float32).astype(np.float64)
    return survey_part(mend_bodies(Mesh(vertices, part.mesh.faces))[0], max_move=0.1, flip=flip)


def assert_true(part: Part, survey: Survey) -> None:
    """Within the bounds that the project promises: 0.02 mm, 0.02 degrees, 0.2 mm for holes."""
    truth = datums(part.truth)
    tilt = np.linalg.norm(np.cross(survey.frame.rows[2], truth.direction))
    assert math.degrees(tilt) < 0.02
    assert survey.frame.rows[2] @ truth.direction > 0.0
    assert survey.length == pytest.approx(part.truth.length, abs=0.02)
    for surface, ends in ((survey.bore, truth.bore), (survey.outsides[0], truth.outside)):
        assert 2.0 * surface.radius_at(0.0) == pytest.approx(ends[0], abs=0.02)
        assert 2.0 * surface.radius_at(survey.length) == pytest.approx(ends[1], abs=0.02)
    assert len(survey.side_holes) == len(truth.holes)
    for hole, (station, angle_deg, diameter) in zip(survey.side_holes, truth.holes, strict=True):
        assert hole.station == pytest.approx(station, abs=0.2)
        assert abs(math.remainder(math.degrees(hole.angle) - angle_deg, 360.0)) < 1.0
        assert hole.axial_width == pytest.approx(diameter, abs=0.2)
        assert hole.across_width == pytest.approx(diameter, abs=0.2)
        assert hole.low <= station - diameter / 2.0 + 0.1
        assert hole.high >= station + diameter / 2.0 - 0.1


@settings(max_examples=12, deadline=None, derandomize=True)
@given(
    st.integers(0, 10_000),
    st.sampled_from(["true", "facets"]),
    st.sampled_from([20, 24, 48, 63, 96]),
    st.sampled_from([(14.0, 14.0), (16.0, 9.0), (9.0, 12.0)]),
)
def test_any_pose_facets_and_order_read_the_same(
    seed: int, rims: str, facets: int, bore: tuple[float, float]
) -> None:
    rng = np.random.default_rng(seed)
    part = tube(
        length=200.0,
        bore=bore,
        outside=(24.0, 22.0),
        holes=HOLES,
        facets=facets,
        rims=rims,  # type: ignore[arg-type]
        pose=random_pose(rng),
        shuffle=rng,
    )
    assert_true(part, read(part))


def test_rims_on_facets_do_not_pull_the_radius_in() -> None:
    """Of a prism with drilled holes most vertices lie on chords, up to 0.2 mm inside."""
    part = tube(length=200.0, bore=20.0, outside=30.0, holes=HOLES, facets=20, rims="facets")
    survey = read(part)
    assert 2.0 * survey.bore.radius_at(0.0) == pytest.approx(20.0, abs=1e-4)


def test_noise_is_averaged_out() -> None:
    part = tube(length=120.0, bore=14.0, outside=22.0, holes=HOLES[:1], facets=63)
    mesh = part.mesh
    for _ in range(4):
        mesh = mesh.subdivide()
    rng = np.random.default_rng(0)
    noisy = mesh.vertices + rng.normal(0.0, 0.003, mesh.vertices.shape)
    survey = survey_part(mend_bodies(Mesh(noisy, mesh.faces))[0], max_move=0.1)
    assert 2.0 * survey.outsides[0].radius_at(60.0) == pytest.approx(22.0, abs=0.02)
    assert len(survey.side_holes) == 1


def test_rings_and_a_block_stay_out_of_the_fit_and_are_found() -> None:
    part = tube(
        length=200.0,
        bore=14.0,
        outside=22.0,
        holes=HOLES,
        rings=[Ring(30.0, 8.0, 30.0)],
        block=Block(170.0, 15.0, 90.0, 10.0, 18.0),
        pose=random_pose(np.random.default_rng(5)),
    )
    survey = read(part)
    assert_true(part, survey)
    turned = datums(part.truth).direction @ part.truth.pose[:3, 2] < 0.0
    places = sorted(
        (200.0 - stop, 200.0 - start) if turned else (start, stop)
        for start, stop in ((o.start, o.stop) for o in survey.ornaments)
    )
    assert np.allclose(places, [(30.0, 38.0), (170.0, 185.0)], atol=0.01)


def test_a_groove_thins_the_least_wall() -> None:
    part = tube(length=200.0, bore=14.0, outside=22.0, recesses=[Recess(60.0, 5.0, 19.0)])
    survey = read(part)
    assert survey.wall_median == pytest.approx(4.0, abs=0.01)
    assert survey.wall_least == pytest.approx(2.5, abs=0.03)
    assert [o.place for o in survey.ornaments] == ["outside"]


def test_labels_share_out_the_whole_surface_of_a_plain_tube() -> None:
    survey = read(tube(length=100.0, bore=14.0, outside=22.0, facets=32))
    counts = np.bincount(survey.labels, minlength=5)
    assert counts[[BORE, OUTSIDE, LOW_END, HIGH_END]].tolist() == [64, 64, 64, 64]
    assert counts[OTHER] == 0


def test_flip_counts_from_the_other_end() -> None:
    part = tube(length=200.0, bore=(16.0, 10.0), outside=22.0, holes=HOLES)
    usual, flipped = read(part), read(part, flip=True)
    assert np.allclose(flipped.frame.rows[2], -usual.frame.rows[2])
    assert [h.station for h in flipped.side_holes] == pytest.approx(
        [200.0 - h.station for h in usual.side_holes[::-1]], abs=1e-6
    )
    assert flipped.bore.radius_at(0.0) == pytest.approx(usual.bore.radius_at(200.0), abs=1e-6)


@pytest.mark.parametrize(
    ("given_direction", "kept"),
    [
        ((0.6, 0.0, -0.8), (-0.6, 0.0, 0.8)),
        ((-0.7071, 0.7075, 0.0), (0.7071, -0.7075, 0.0)),
        ((0.0, -1.0, 0.0), (0.0, 1.0, 0.0)),
    ],
)
def test_the_largest_component_of_the_axis_is_positive(
    given_direction: tuple[float, ...], kept: tuple[float, ...]
) -> None:
    assert np.array_equal(axis_direction(np.array(given_direction), flip=False), kept)
    assert np.array_equal(axis_direction(np.array(given_direction), flip=True), -np.array(kept))


def test_angles_count_from_x_or_from_y_where_the_axis_is_x() -> None:
    upright = read(tube(length=100.0, bore=14.0, outside=22.0, holes=[Hole(50.0, 30.0, 5.0)]))
    assert math.degrees(upright.side_holes[0].angle) == pytest.approx(30.0, abs=1e-3)
    lying = np.eye(4)
    lying[:3, :3] = [[0, 0, 1], [1, 0, 0], [0, 1, 0]]
    along_x = read(
        tube(length=100.0, bore=14.0, outside=22.0, holes=[Hole(50.0, 30.0, 5.0)], pose=lying)
    )
    assert np.allclose(along_x.frame.rows[0], [0.0, 1.0, 0.0])
    assert math.degrees(along_x.side_holes[0].angle) == pytest.approx(30.0, abs=1e-3)


def test_a_rod_is_solid() -> None:
    import trimesh

    rod = trimesh.creation.cylinder(radius=10.0, height=200.0, sections=64)
    survey = survey_part(mend_bodies(Mesh(rod.vertices, rod.faces))[0], max_move=0.1)
    assert survey.bores == ()
    assert survey.outsides[0].radius_at(100.0) == pytest.approx(10.0, abs=1e-4)
    assert [(wall.bores, wall.inner) for wall in survey.walls] == [((), None)]


def test_a_many_sided_tube_is_told_from_a_coarse_circle() -> None:
    with pytest.raises(NotTubular, match="8 flat sides"):
        read(tube(length=200.0, bore=14.0, outside=30.0, facets=8))
    assert read(tube(length=200.0, bore=14.0, outside=22.0, facets=16)).bore.slope == 0.0


def test_a_max_move_that_reaches_across_the_wall_is_refused() -> None:
    part = tube(length=200.0, bore=14.0, outside=22.0)
    with pytest.raises(BadSetting, match=r"wall of some 4\.00 mm.*--max-move 1\.9\d or less"):
        survey_part(mend_bodies(Mesh(part.mesh.vertices, part.mesh.faces))[0], max_move=2.1)


def test_rounded_ends_do_not_pull_the_fit() -> None:
    """Fillets hold most of the vertices and little of the area."""
    import trimesh

    turn = np.linspace(0.0, math.pi / 2.0, 7)
    low = np.column_stack([11.0 + np.sin(turn), 1.0 - np.cos(turn)])
    inner = np.column_stack([8.0 - np.sin(turn), 1.0 - np.cos(turn)])[::-1]
    half = np.vstack([low, [[12.0, 199.0]]])
    top = np.column_stack([11.0 + np.cos(turn), 199.0 + np.sin(turn)])
    top_inner = np.column_stack([8.0 - np.cos(turn), 199.0 + np.sin(turn)])[::-1]
    outline = np.vstack([half, top[1:], top_inner, inner, low[:1]])
    body = trimesh.creation.revolve(outline, sections=96)
    survey = survey_part(mend_bodies(Mesh(body.vertices, body.faces))[0], max_move=0.1)
    assert survey.bore.radius_at(100.0) == pytest.approx(7.0, abs=0.001)
    assert survey.outsides[0].radius_at(100.0) == pytest.approx(12.0, abs=0.001)


def test_a_closed_end_is_no_bore() -> None:
    import trimesh

    outer = trimesh.creation.cylinder(radius=12.0, segment=[[0, 0, 0], [0, 0, 300]], sections=64)
    core = trimesh.creation.cylinder(radius=7.0, segment=[[0, 0, 5], [0, 0, 301]], sections=64)
    body = trimesh.boolean.difference([outer, core], engine="manifold")
    survey = survey_part(mend_bodies(Mesh(body.vertices, body.faces))[0], max_move=0.1)
    assert survey.bore.start == pytest.approx(5.0, abs=1e-3)
    true_up(survey, Settings((200.0, 200.0, 200.0)))
