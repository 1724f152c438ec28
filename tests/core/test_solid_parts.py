"""Parts without a bore, and solid stretches of bored ones, against closed forms."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from borewright.core.errors import BadSetting, NotTubular
from borewright.core.job import plan_parts
from borewright.core.meshes.mend import mend_bodies
from borewright.core.surveying.survey import survey_part
from borewright.core.truing.true_up import as_trued, true_up, truing_remarks
from borewright.core.values import OUTSIDE, Mesh, Ornament, Outcome, Settings, Survey, WallStretch
from manifold3d import CrossSection, Manifold

from tests.parts import FloatArray, random_pose

GIVEN = Path(__file__).parents[3] / "shared" / "parts"
SETTINGS = Settings((200.0, 200.0, 160.0))
LENGTH = 400.0
SEEDS = (1, 2, 3)


# Solids about the z axis, low end at 0


def rod(radius: float, length: float = LENGTH, top: float | None = None, n: int = 96) -> Manifold:
    return Manifold.cylinder(length, radius, radius if top is None else top, n)


def block(x: float, y: float, z: float = LENGTH) -> Manifold:
    return Manifold.cube((x, y, z)).translate((-x / 2.0, -y / 2.0, 0.0))


def prism(half_x: float, half_y: float, sides: int, length: float = LENGTH) -> Manifold:
    """Its corners on an ellipse, the first side square to x."""
    turn = 2.0 * math.pi * (np.arange(sides) + 0.5) / sides
    outline = np.column_stack([half_x * np.cos(turn), half_y * np.sin(turn)])
    return CrossSection([outline.tolist()]).extrude(length)


def across(radius: float, station: float, off: float = 0.0) -> Manifold:
    """A drill along y through everything."""
    drill = Manifold.cylinder(400.0, radius, radius, 64).translate((0.0, 0.0, -200.0))
    return drill.rotate((90.0, 0.0, 0.0)).translate((off, 0.0, station))


def curved(solid: Manifold, radius: float) -> Manifold:
    """A solid of 300 mm bent about an axis along y at x = radius."""

    def bend(point: tuple[float, float, float]) -> tuple[float, float, float]:
        x, y, z = point
        turn, arm = z / radius, radius - x
        return radius - arm * math.cos(turn), y, arm * math.sin(turn)

    return solid.refine_to_length(4.0).warp(bend)


# Reading and comparing


def placed(solid: Manifold, pose: FloatArray) -> Mesh:
    """In a pose, rounded as a file rounds it."""
    raw = solid.to_mesh()
    points = np.array(raw.vert_properties[:, :3], np.float64) @ pose[:3, :3].T + pose[:3, 3]
    return Mesh(points.astype(np.float32).astype(np.float64), np.array(raw.tri_verts, np.int64))


def upright(seed: int) -> FloatArray:
    """A random pose whose low end is the low end by the contract."""
    rng = np.random.default_rng(seed)
    while True:
        pose = random_pose(rng)
        axis = pose[:3, 2]
        if axis[np.argmax(np.abs(axis))] > 0.0:
            return pose


def read(solid: Manifold, pose: FloatArray) -> Survey:
    bodies = mend_bodies(placed(solid, pose))
    assert len(bodies) == 1
    return survey_part(bodies[0], max_move=0.1)


def read_upright(solid: Manifold) -> Survey:
    return read(solid, np.eye(4))


def assert_axis(survey: Survey, pose: FloatArray, *, off: float = 0.005) -> None:
    """Within 0.02 degrees of the pose's own, and near its line at both ends."""
    tilt = np.linalg.norm(np.cross(survey.frame.rows[2], pose[:3, 2]))
    assert math.degrees(tilt) < 0.02
    ends = survey.frame.to_source(np.array([[0.0, 0.0, 0.0], [0.0, 0.0, survey.length]]))
    local = (ends - pose[:3, 3]) @ pose[:3, :3]
    assert np.hypot(local[:, 0], local[:, 1]).max() < off
    assert local[:, 2] == pytest.approx([0.0, survey.length], abs=0.02)


def solids(survey: Survey) -> list[WallStretch]:
    found = [wall for wall in survey.walls if not wall.bores]
    assert all(wall.inner is None and wall.outer.offset == (0.0, 0.0) for wall in found)
    return found


def disc_at(survey: Survey, station: float) -> float:
    """The widest disc that the walls promise at a station, 0 where there is none."""
    here = [wall for wall in solids(survey) if wall.start < station < wall.stop]
    return max((wall.outer.radius_at(station) for wall in here), default=0.0)


def covered(survey: Survey) -> list[tuple[float, float]]:
    return [(wall.start, wall.stop) for wall in solids(survey)]


def spans(ornaments: tuple[Ornament, ...]) -> list[tuple[float, float]]:
    return [(ornament.start, ornament.stop) for ornament in ornaments]


# Round ones


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("facets", [18, 24, 48, 200])
@pytest.mark.parametrize("radii", [(19.0, 19.0), (25.0, 15.0)], ids=["straight", "tapered"])
def test_a_round_post_is_its_own_wall(radii: tuple[float, float], facets: int, seed: int) -> None:
    pose = upright(seed)
    survey = read(rod(radii[0], top=radii[1], n=facets), pose)
    assert survey.bores == () and survey.side_holes == () and survey.ornaments == ()
    assert_axis(survey, pose)
    assert survey.length == pytest.approx(LENGTH, abs=0.02)
    (outside,) = survey.outsides
    ends = [2.0 * outside.radius_at(end) for end in (0.0, LENGTH)]
    assert ends == pytest.approx([2.0 * radius for radius in radii], abs=0.02)
    (wall,) = solids(survey)
    assert wall.outer == outside
    assert (wall.start, wall.stop) == pytest.approx((0.0, LENGTH), abs=0.01)
    short = max(radii) * (1.0 - math.cos(math.pi / facets))
    assert wall.outer.sagitta == pytest.approx(short, rel=0.5)
    assert survey.wall_least == pytest.approx(min(radii), abs=0.01)
    assert survey.wall_median == pytest.approx(sum(radii) / 2.0, abs=0.1)


def test_rings_stay_out_of_the_fit_and_are_found() -> None:
    post = rod(19.0) + rod(26.0, 12.0).translate((4.0, 0.0, 90.0))
    pose = upright(4)
    survey = read(post, pose)
    assert_axis(survey, pose)
    assert np.allclose(spans(survey.ornaments), [(90.0, 102.0)], atol=0.01)
    assert survey.ornaments[0].greatest_radius == pytest.approx(30.0, abs=0.01)
    assert covered(survey) == [pytest.approx((0.0, LENGTH), abs=0.01)]


def test_square_blocks_of_a_turned_post_are_no_round_stretches() -> None:
    """Their corners lie on a circle; made true as one they would grow by 57 %."""
    post = block(60.0, 60.0, 100.0) + rod(22.0, 400.0).translate((0.0, 0.0, 50.0))
    post += block(60.0, 60.0, 100.0).translate((0.0, 0.0, 400.0))
    survey = read(post, upright(5))
    assert [(o.start, o.stop) for o in survey.outsides] == [pytest.approx((100.0, 400.0), abs=0.01)]
    assert [disc_at(survey, z) for z in (50.0, 250.0, 450.0)] == pytest.approx(
        [30.0, 22.0, 30.0], abs=0.01
    )
    shoulders = [o for o in survey.ornaments if o.place == "outside"]
    assert np.allclose(spans(tuple(shoulders)), [(100.0, 100.0), (400.0, 400.0)], atol=0.01)
    trued = true_up(survey, SETTINGS)
    assert volume(trued.mesh) == pytest.approx(post.volume(), rel=1e-3)


def test_shoulders_of_a_square_post_are_told() -> None:
    """A seam in the very plane of one could not be cut."""
    survey = read(block(60.0, 60.0, 200.0) + block(40.0, 40.0), upright(5))
    assert survey.outsides == ()
    assert np.allclose(spans(survey.ornaments), [(200.0, 200.0)], atol=0.01)
    assert [disc_at(survey, z) for z in (100.0, 300.0)] == pytest.approx([30.0, 20.0], abs=0.01)


def test_half_a_round_runs_along_its_own_centroids() -> None:
    half = rod(20.0) ^ block(40.0, 80.0).translate((-20.0, 0.0, 0.0))
    survey = read_upright(half)
    centre = survey.frame.to_source(np.zeros((1, 3)))[0]
    assert centre[0] == pytest.approx(-4.0 * 20.0 / (3.0 * math.pi), abs=0.02)  # closed form
    assert disc_at(survey, 200.0) == pytest.approx(4.0 * 20.0 / (3.0 * math.pi), abs=0.02)


# Any other outside


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(
    ("solid", "inner"),
    [
        (block(40.0, 40.0), 20.0),
        (block(60.0, 25.0), 12.5),
        (prism(20.0, 20.0, 6), 20.0 * math.cos(math.pi / 6.0)),
        (prism(25.0, 25.0, 8), 25.0 * math.cos(math.pi / 8.0)),
        (prism(25.0, 15.0, 96), 15.0),
        (prism(25.0, 15.0, 24), 15.0 * math.cos(math.pi / 24.0)),
    ],
    ids=["square", "rectangle", "hexagon", "octagon", "oval", "coarse oval"],
)
def test_a_solid_of_any_section_holds_its_widest_disc(
    solid: Manifold, inner: float, seed: int
) -> None:
    pose = upright(seed)
    survey = read(solid, pose)
    assert survey.bores == () and survey.outsides == () and survey.ornaments == ()
    assert_axis(survey, pose)
    assert covered(survey) == [pytest.approx((0.0, LENGTH), abs=0.01)]
    discs = [disc_at(survey, station) for station in (1.0, 100.0, 399.0)]
    assert discs == pytest.approx([inner] * 3, abs=0.02)
    assert max(discs) < inner + 1e-4
    assert survey.wall_least == pytest.approx(inner, abs=0.02)
    assert any("not round" in remark for remark in survey.remarks)


def test_a_square_taper_holds_discs_that_taper() -> None:
    outline = CrossSection([[(-30.0, -30.0), (30.0, -30.0), (30.0, 30.0), (-30.0, 30.0)]])
    pose = upright(7)
    survey = read(outline.extrude(LENGTH, scale_top=(0.5, 0.5)), pose)
    assert_axis(survey, pose)
    for station in (10.0, 200.0, 390.0):
        due = 30.0 - 15.0 * station / LENGTH
        assert due - 0.1 * due - 0.05 <= disc_at(survey, station) < due + 1e-3


def test_a_turned_profile_holds_no_wider_disc_than_itself() -> None:
    """A vase: no stretch of it is one cylinder or cone."""

    def radius(station: float) -> float:
        return 22.0 + 6.0 * math.sin(station / 25.0)

    profile = [(radius(z), float(z)) for z in range(0, 401, 4)]
    vase = Manifold.revolve(CrossSection([[(0.0, 0.0), *profile, (0.0, 400.0)]]), 96)
    pose = upright(8)
    survey = read(vase, pose)
    assert_axis(survey, pose)
    for station in np.linspace(2.0, 398.0, 60).tolist():
        due = radius(station)
        assert 0.85 * due < disc_at(survey, station) < due + 0.01


def test_a_block_to_one_side_does_not_move_the_axis() -> None:
    pose = upright(9)
    part = block(40.0, 40.0) + block(30.0, 20.0, 40.0).translate((30.0, 0.0, 100.0))
    survey = read(part, pose)
    assert_axis(survey, pose)
    assert disc_at(survey, 120.0) == pytest.approx(20.0, abs=0.01)


# What cuts into a solid


@pytest.mark.parametrize("outside", [rod(19.0), block(38.0, 38.0)], ids=["round", "square"])
@pytest.mark.parametrize("seed", SEEDS)
def test_a_hole_across_takes_the_wall_away_and_opens_no_bore(outside: Manifold, seed: int) -> None:
    pose = upright(seed)
    survey = read(outside - across(5.0, 150.0) - across(4.0, 250.0).rotate((0, 0, 60)), pose)
    assert survey.bores == () and survey.side_holes == ()
    assert_axis(survey, pose)
    assert np.allclose(spans(survey.ornaments), [(145.0, 155.0), (246.0, 254.0)], atol=0.05)
    assert [o.least_radius for o in survey.ornaments] == pytest.approx([0.0, 0.0], abs=0.01)
    assert np.allclose(covered(survey), [(0, 145), (155, 246), (254, LENGTH)], atol=0.05)
    told = [remark for remark in survey.remarks if "opens no bore" in remark]
    assert ["145.0 to 155.0" in told[0], "246.0 to 254.0" in told[1]] == [True, True]


def test_beside_a_hole_off_the_axis_the_disc_is_what_it_leaves() -> None:
    survey = read_upright(rod(19.0) - across(5.0, 150.0, off=8.0))
    assert 2.5 < disc_at(survey, 150.0) <= 3.0 + 1e-3
    assert survey.ornaments[0].least_radius == pytest.approx(3.0, abs=0.01)
    assert disc_at(survey, 100.0) == pytest.approx(19.0, abs=0.01)


def test_a_blind_hole_leaves_the_disc_under_its_floor() -> None:
    drill = across(6.0, 150.0) ^ block(100.0, 100.0).translate((0.0, 56.0, 0.0))
    survey = read_upright(rod(19.0) - drill)
    assert disc_at(survey, 150.0) == pytest.approx(6.0, abs=0.01)
    assert not any("opens no bore" in remark for remark in survey.remarks)


@pytest.mark.parametrize(
    ("solid", "cut"),
    [
        (rod(19.0) - block(12.0, 18.0, 25.0).translate((0, 0, 376.0)), (376.0, 400.0)),
        (block(40.0, 40.0) - block(12.0, 18.0, 25.0).translate((0, 0, 376.0)), (376.0, 400.0)),
        (rod(19.0) - prism(7.0, 7.0, 6, 20.0).translate((0, 0, -5.0)), (0.0, 15.0)),
        (rod(19.0) - Manifold.sphere(10.0, 64).translate((0, 0, 200.0)), (190.0, 210.0)),
        (block(40.0, 40.0) - block(10.0, 14.0, 20.0).translate((0, 0, 200.0)), (200.0, 220.0)),
        (rod(19.0) - block(10.0, 60.0, 20.0).translate((0, 30.0, 150.0)), (150.0, 170.0)),
        (rod(19.0) - (rod(30.0, 0.6) - rod(15.0, 0.6)).translate((0, 0, 200.3)), (200.3, 200.9)),
        (
            block(40, 40) - (block(60, 60, 0.6) - block(30, 30, 0.6)).translate((0, 0, 60)),
            (60, 60.6),
        ),
    ],
    ids=[
        "mortise",
        "mortise in a square",
        "hexagon socket",
        "round cavity",
        "square cavity",
        "slot to the middle",
        "narrow groove",
        "narrow groove in a square",
    ],
)
def test_pockets_and_cavities_leave_no_wall(solid: Manifold, cut: tuple[float, float]) -> None:
    survey = read_upright(solid)
    assert survey.bores == ()
    assert disc_at(survey, sum(cut) / 2.0) == 0.0
    assert np.allclose(spans(survey.ornaments), [cut], atol=0.05)
    for low, high in covered(survey):
        assert high < cut[0] + 0.05 or low > cut[1] - 0.05


# Solid stretches of bored parts


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("outside", [rod(19.0), block(38.0, 38.0)], ids=["round", "square"])
def test_beyond_a_blind_bore_the_part_is_solid(outside: Manifold, seed: int) -> None:
    pose = upright(seed)
    survey = read(outside - rod(6.0, 41.0).translate((0.0, 0.0, 360.0)), pose)
    (bore,) = survey.bores
    assert (bore.start, bore.stop) == pytest.approx((360.0, LENGTH), abs=0.01)
    assert 2.0 * bore.radius_at(380.0) == pytest.approx(12.0, abs=0.02)
    assert_axis(survey, pose)
    assert covered(survey) == [pytest.approx((0.0, 360.0), abs=0.01)]
    assert disc_at(survey, 200.0) == pytest.approx(19.0, abs=0.01)
    bored = [wall for wall in survey.walls if wall.bores]
    assert [(wall.start, wall.stop) for wall in bored] == [pytest.approx((360, 400), abs=0.01)]
    assert survey.wall_least == pytest.approx(13.0, abs=0.05)


def test_a_drilled_bore_ends_in_a_cone_that_holds_no_disc() -> None:
    tip = Manifold.cylinder(3.5, 0.01, 6.0, 96).translate((0.0, 0.0, 356.5))
    survey = read_upright(rod(19.0) - rod(6.0, 41.0).translate((0.0, 0.0, 360.0)) - tip)
    assert covered(survey) == [pytest.approx((0.0, 356.5), abs=0.05)]


def test_a_hole_across_does_not_pass_for_the_bore_of_a_post_with_a_blind_one() -> None:
    pose = upright(3)
    part = rod(19.0) - rod(6.0, 41.0).translate((0.0, 0.0, 360.0)) - across(5.0, 150.0)
    survey = read(part, pose)
    assert_axis(survey, pose)
    assert [2.0 * bore.radius_at(380.0) for bore in survey.bores] == pytest.approx([12.0], abs=0.02)
    assert np.allclose(covered(survey), [(0.0, 145.0), (155.0, 360.0)], atol=0.05)


@pytest.mark.parametrize("closed", [3.0, 60.0])
def test_a_closed_end_is_solid_where_it_is_long_enough_for_a_joint(closed: float) -> None:
    part = rod(19.0) - rod(12.0, LENGTH).translate((0.0, 0.0, closed))
    survey = read_upright(part)
    assert survey.bore.start == pytest.approx(closed, abs=0.01)
    due = [(0.0, closed)] if closed > 6.0 else []
    assert np.allclose(covered(survey), due, atol=0.01)
    assert len(covered(survey)) == len(due)


def test_an_open_tube_has_no_solid_stretch() -> None:
    survey = read_upright(rod(19.0) - rod(12.0, 402.0).translate((0.0, 0.0, -1.0)))
    assert [wall.bores for wall in survey.walls] == [(0,)]


def test_a_blind_bore_off_the_middle_is_the_axis_all_the_same() -> None:
    """By the contract the axis is the bore's; about it the post holds what is left."""
    survey = read_upright(rod(19.0) - rod(6.0, 41.0).translate((5.0, 0.0, 360.0)))
    assert survey.outsides[0].eccentricity == pytest.approx(5.0, abs=0.01)
    assert disc_at(survey, 200.0) == pytest.approx(14.0, abs=0.01)
    exact = as_trued(survey, SETTINGS)
    assert [wall.outer.sagitta for wall in solids(exact)] == [0.0]
    assert disc_at(exact, 200.0) == pytest.approx(14.0, abs=0.01)


# Refusals


@pytest.mark.parametrize(
    ("solid", "told"),
    [
        (block(40, 40, 200) + block(200, 40, 40).translate((80.0, 0, 0)), "bends"),
        (block(40, 40, 400) + block(200, 40, 40).translate((80.0, 0, 0)), "bends"),
        (rod(15.0, 200.0) + rod(15.0, 200.0).rotate((0, 25, 0)).translate((0, 0, 192)), "bends"),
        (block(200.0, 200.0, 10.0), "long"),
        (block(200.0, 100.0, 20.0), "flat, "),
        (block(60.0, 50.0, 55.0), "long"),
        (Manifold.sphere(60.0, 96), r"long and .* wide"),
        (rod(100.0, 15.0), r"long and .* wide"),
        (block(40.0, 40.0) - block(26.0, 26.0), r"hollow along 400\.0"),
    ],
    ids=["L", "long L", "kinked", "plate", "slab", "lump", "sphere", "disc", "square tube"],
)
def test_what_is_no_straight_post_is_refused(solid: Manifold, told: str) -> None:
    with pytest.raises(
        NotTubular, match=r"a round bore in \d+ of .* as a solid part it is .*" + told
    ):
        read(solid, upright(1))


@pytest.mark.parametrize("solid", [rod(15.0, 300.0, n=48), block(30.0, 30.0, 300.0)])
@pytest.mark.parametrize("sagitta", [0.5, 1.0, 2.0, 14.0])
def test_a_bent_solid_is_refused_with_how_far(solid: Manifold, sagitta: float) -> None:
    with pytest.raises(NotTubular, match="bends") as refusal:
        read(curved(solid, 300.0**2 / 8.0 / sagitta), upright(2))
    found = refusal.value.found.split("it lies up to ")[1].split(" mm off")[0]
    assert float(found) == pytest.approx(sagitta, rel=0.06)
    assert len(refusal.value.places) == 1


def test_a_bar_that_turns_aside_at_its_end_is_refused() -> None:
    """Its far third leaves the line of the rest by 4 degrees, never by half its width."""
    far = block(30.0, 30.0, 140.0).translate((15.0, 0.0, 0.0)).rotate((0.0, 4.0, 0.0))
    with pytest.raises(NotTubular, match="bends"):
        read(block(30.0, 30.0, 260.0) + far.translate((-15.0, 0.0, 259.0)), upright(1))


def test_a_round_bore_that_runs_is_not_taken_for_a_pocket() -> None:
    """Its flat sides refuse the part, solid beside it or not."""
    with pytest.raises(NotTubular, match="6 flat sides"):
        read_upright(rod(20.0) - prism(11.0, 11.0, 6))


def test_a_wide_ring_is_bored() -> None:
    survey = read_upright(rod(50.0, 30.0) - rod(20.0, 32.0).translate((0, 0, -1.0)))
    assert 2.0 * survey.bore.radius_at(15.0) == pytest.approx(40.0, abs=0.02)


# Truing


def volume(mesh: Mesh) -> float:
    a, b, c = (mesh.vertices[mesh.triangles[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6.0


def is_closed(mesh: Mesh) -> bool:
    start, end = mesh.triangles.ravel(), np.roll(mesh.triangles, -1, axis=1).ravel()
    there = np.unique(start * len(mesh.vertices) + end)
    back = np.unique(end * len(mesh.vertices) + start)
    return len(there) == len(start) and np.array_equal(there, back)


@pytest.mark.parametrize("true", ["both", "outside"])
def test_a_round_post_is_made_true(true: str) -> None:
    survey = read(rod(19.0, n=24) - across(5.0, 150.0), upright(6))
    settings = Settings((200.0, 200.0, 160.0), true=true)  # type: ignore[arg-type]
    trued = true_up(survey, settings)
    assert is_closed(trued.mesh) and trued.generators == ()
    corners = trued.mesh.vertices[trued.mesh.triangles[trued.labels == OUTSIDE]]
    assert np.hypot(corners[..., 0], corners[..., 1]) == pytest.approx(19.0, abs=1e-3)
    middles = corners.mean(axis=1)
    assert np.hypot(middles[:, 0], middles[:, 1]).min() > 19.0 - 0.006
    assert [wall.outer.sagitta for wall in solids(as_trued(survey, settings))] == [0.0, 0.0]


@pytest.mark.parametrize("true", ["bore", "none"])
def test_without_the_outside_nothing_of_a_round_post_is_made_true(true: str) -> None:
    survey = read(rod(19.0, n=24), upright(6))
    settings = Settings((200.0, 200.0, 160.0), true=true)  # type: ignore[arg-type]
    trued = true_up(survey, settings)
    assert is_closed(trued.mesh)
    assert volume(trued.mesh) == pytest.approx(volume(survey.mesh), rel=1e-6)
    assert solids(as_trued(survey, settings)) == solids(survey)
    assert bool(truing_remarks(survey, settings)) == (true == "bore")


def test_ends_of_a_square_post_are_made_level() -> None:
    post = block(40.0, 40.0).refine_to_length(8.0)
    rng = np.random.default_rng(2)

    def rough(point: tuple[float, float, float]) -> tuple[float, float, float]:
        x, y, z = point
        at_end = z < 1.0 or z > LENGTH - 1.0
        return x, y, z + (float(rng.uniform(-0.03, 0.03)) if at_end else 0.0)

    survey = read(post.warp(rough), upright(8))
    trued = true_up(survey, SETTINGS)
    assert is_closed(trued.mesh)
    stations = trued.mesh.vertices[:, 2]
    assert (stations.min(), stations.max()) == pytest.approx(survey.ends(SETTINGS), abs=1e-6)
    assert survey.ends(SETTINGS) == pytest.approx((0.0, survey.length), abs=1e-6)


def test_a_diameter_for_the_bore_of_a_solid_part_is_refused() -> None:
    survey = read_upright(rod(19.0))
    settings = Settings((200.0, 200.0, 160.0), bore=12.0)
    for stage in (true_up, as_trued):
        with pytest.raises(BadSetting, match=r"--bore 12\.00 on a solid part.*try: no --bore"):
            stage(survey, settings)


# The newel of known truth


def a_newel() -> tuple[Mesh, list[tuple[float, float, float]]]:
    """The given part where it lies beside the checkout, else one of the same sizes."""
    rings = [(90.0, 12.0, 52.0), (300.0, 10.0, 50.0)]
    post = rod(19.0, 420.0, n=63)
    for station, height, diameter in rings:
        post += rod(diameter / 2.0, height, n=63).translate((0.0, 0.0, station))
    return placed(post, np.eye(4)), rings


def the_given_newel() -> tuple[Mesh, list[tuple[float, float, float]]]:
    import trimesh

    if not (GIVEN / "newel.stl").is_file():
        pytest.skip("the given parts do not lie beside the checkout")
    truth = json.loads((GIVEN / "truth.json").read_text())["newel"]
    assert (truth["length"], truth["outer_diameter"]) == (420.0, 38.0)
    mesh = trimesh.load(GIVEN / "newel.stl")
    return Mesh(mesh.vertices, mesh.faces), truth["rings_station_height_diameter"]


@pytest.mark.parametrize("newel", [a_newel, the_given_newel])
def test_the_newel_reads_true(
    newel: Callable[[], tuple[Mesh, list[tuple[float, float, float]]]],
) -> None:
    mesh, rings = newel()
    survey = survey_part(mend_bodies(mesh)[0], max_move=0.1)
    assert_axis(survey, np.eye(4))
    assert survey.length == pytest.approx(420.0, abs=0.02)
    assert survey.bores == ()
    assert 2.0 * survey.outsides[0].radius_at(200.0) == pytest.approx(38.0, abs=0.02)
    for ornament, (station, height, diameter) in zip(survey.ornaments, rings, strict=True):
        assert (ornament.start, ornament.stop) == pytest.approx(
            (station, station + height), abs=0.01
        )
        assert 2.0 * ornament.greatest_radius == pytest.approx(diameter, abs=0.02)
    assert [disc_at(survey, z) for z in (45.0, 200.0, 360.0)] == pytest.approx([19.0] * 3, abs=0.01)


def test_the_newel_is_planned() -> None:
    told: list[str] = []
    outcome = plan_parts(a_newel()[0], "newel", lambda _: SETTINGS, 1.0, told.append)[0]
    assert isinstance(outcome, Outcome)
    assert len(outcome.plan.cuts) >= 2
