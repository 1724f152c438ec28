"""Parts that lean. Closed forms: a cylinder D across and L long, tilted by t about a level line,
is L cos t + D sin t high, L sin t + D cos t long and D wide; a block the same with its sides.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from borewright.core.errors import BadSetting, CoreError, NoPlan, TooWide
from borewright.core.jointing.pose import lean_on_bed
from borewright.core.planning import lean_plan
from borewright.core.planning.leaning import find_lean, leaning_rows, lowest_lean
from borewright.core.proving.piece_checks import pose_checks
from borewright.core.proving.solid import read_solid
from borewright.core.stages import know_part, mend_parts, plan_known
from borewright.core.values import Compensation, Lean, Mesh, Outcome, Settings

from tests.jobs import plan_surveyed, split_surveyed
from tests.loose_parts import a_block, as_trimesh, solid_of
from tests.parts import FloatArray, in_pose, plain_tube, random_pose

Room = tuple[float, float, float]


def a_cylinder(across: float, length: float, sides: int = 720) -> Mesh:
    made = trimesh.creation.cylinder(across / 2.0, length, sections=sides)
    return Mesh(made.vertices + np.array([0.0, 0.0, length / 2.0]), made.faces)


def least_tilt(across: float, length: float, height: float) -> float:
    """L cos t + D sin t = r cos(t - s) with r the diagonal and tan s = D / L."""
    return math.atan2(across, length) + math.acos(height / math.hypot(across, length))


def in_degrees(lean: Lean | None) -> float:
    assert lean is not None
    return math.degrees(lean.tilt)


def a_tube(length: float, **changes: float) -> Mesh:
    made = plain_tube(length=length, **changes).mesh
    return Mesh(made.vertices, made.faces)


def leaning(mesh: Mesh, settings: Settings) -> Outcome:
    (done,) = split_surveyed(mesh, "pipe", replace(settings, lean=True))
    assert done.plan.lean is not None
    return done


@pytest.mark.parametrize(("across", "length"), [(25.0, 200.0), (25.0, 215.0), (60.0, 185.0)])
def test_a_cylinder_leans_as_little_as_its_height_allows(across: float, length: float) -> None:
    lean = find_lean(a_cylinder(across, length), (180.0, 180.0, 180.0), 0.0)
    due = math.degrees(least_tilt(across, length, 180.0))
    assert in_degrees(lean) == pytest.approx(due, abs=0.01)


def test_the_floor_binds_from_its_side_and_from_its_corner() -> None:
    """Along a floor as wide as the cylinder it needs L sin t + D cos t; across a square's
    corners its two round ends reach less than a rectangle would."""
    part, tilt = a_cylinder(25.0, 215.0), least_tilt(25.0, 215.0, 180.0)
    reach = 215.0 * math.sin(tilt) + 25.0 * math.cos(tilt)
    assert find_lean(part, (reach + 0.05, 25.0, 180.0), 0.0) is not None
    assert find_lean(part, (reach - 0.05, 25.0, 180.0), 0.0) is None
    square = (reach + 25.0) / math.sqrt(2.0)
    lean = find_lean(part, (square, square, 180.0), 0.0)
    assert lean is not None and math.degrees(lean.turn) % 90.0 == pytest.approx(45.0, abs=8.0)
    assert find_lean(part, (0.9 * square, 0.9 * square, 180.0), 0.0) is None


def test_a_flat_part_rolls_onto_its_thin_side() -> None:
    """Leaning over its 60 mm it would be L cos t + 60 sin t high, over its 20 mm less."""
    lean = find_lean(a_block(60.0, 20.0, 200.0), (180.0, 180.0, 180.0), 0.0)
    assert in_degrees(lean) == pytest.approx(math.degrees(least_tilt(20.0, 200.0, 180.0)), abs=0.01)
    assert lean is not None and abs(math.sin(lean.azimuth)) == pytest.approx(1.0)


def test_where_the_side_asked_for_does_not_fit_another_is_taken() -> None:
    """Over its 60 mm it would lean by 47 degrees and need 187 mm of the floor; it has 150."""
    lean = find_lean(a_block(60.0, 20.0, 200.0), (150.0, 61.0, 180.0), 0.0)
    assert in_degrees(lean) == pytest.approx(math.degrees(least_tilt(20.0, 200.0, 180.0)), abs=0.01)


def test_the_least_lean_may_be_the_floors() -> None:
    """A block 100 wide and 60 high leans until 60 sin t + 100 cos t is 90 mm."""
    lean = find_lean(a_block(100.0, 20.0, 60.0), (90.0, 20.5, 180.0), 0.0)
    due = math.degrees(least_tilt(60.0, 100.0, 90.0))
    assert in_degrees(lean) == pytest.approx(due, abs=0.01)


def test_a_round_part_keeps_the_side_asked_for() -> None:
    lean = find_lean(a_cylinder(25.0, 200.0), (180.0, 180.0, 180.0), 1.25)
    assert lean is not None and lean.azimuth == 1.25


def stands(points: FloatArray, lean: Lean, room: Room) -> bool:
    """By brute force: turned in steps of a tenth of a degree."""
    leaned = points @ leaning_rows(lean.tilt, lean.azimuth).T
    if np.ptp(leaned[:, 2]) > room[2]:
        return False
    turns = np.radians(np.arange(0.0, 180.0, 0.1))
    cos, sin = np.cos(turns), np.sin(turns)
    along = np.ptp(np.outer(leaned[:, 0], cos) - np.outer(leaned[:, 1], sin), axis=0)
    across = np.ptp(np.outer(leaned[:, 0], sin) + np.outer(leaned[:, 1], cos), axis=0)
    return bool(((along <= room[0]) & (across <= room[1])).any())


@pytest.mark.parametrize("seed", range(6))
def test_no_lesser_lean_of_any_roll_fits_by_brute_force(seed: int) -> None:
    """A twelfth part of the rolls, tilts in steps of half a degree: all that is sure is no less."""
    rng = np.random.default_rng(seed)
    points = rng.uniform(-1.0, 1.0, (40, 3)) * [20.0, 12.0, 90.0]
    hull = solid_of(a_block(1.0, 1.0, 1.0)).hull_points(points).to_mesh()
    mesh = Mesh(hull.vert_properties[:, :3].astype(float), hull.tri_verts.astype(np.int64))
    high = float(np.ptp(mesh.vertices[:, 2]))
    room = (rng.uniform(40.0, 160.0), rng.uniform(40.0, 160.0), high - rng.uniform(2.0, 30.0))
    lean = find_lean(mesh, room, 0.0)
    within = tuple(side - 1e-4 for side in room)
    found = [
        tilt
        for tilt in np.arange(0.0, 90.5, 0.5)
        for roll in range(24)
        if stands(mesh.vertices, Lean(math.radians(tilt), roll * math.pi / 12.0, 0.0), within)  # type: ignore[arg-type]
    ]
    if lean is None:
        assert not found
        return
    roomier = tuple(side + 0.05 for side in room)
    assert stands(mesh.vertices, lean, roomier)  # type: ignore[arg-type]
    assert not found or in_degrees(lean) <= min(found) + 1.0


def test_very_many_points_give_the_same_lean() -> None:
    """A cylinder of 200 rings of 120 corners, and its two end rings alone."""
    turns = np.arange(120) * math.pi / 60.0
    ring = np.column_stack([np.cos(turns), np.sin(turns)]) * 12.5
    points = np.vstack([np.column_stack([ring, np.full(120, z)]) for z in np.linspace(0, 200, 201)])
    some = np.array([[0, 1, 2]])
    room = (180.0, 180.0, 180.0)
    fine = find_lean(Mesh(points, some), room, 0.0)
    ends = find_lean(Mesh(np.vstack([points[:120], points[-120:]]), some), room, 0.0)
    assert in_degrees(fine) == pytest.approx(in_degrees(ends), abs=1e-4)
    belly = points.copy()
    belly[100 * 120 : 101 * 120, :2] *= 1.5  # a ring in its middle stands out, and is seen
    wide = find_lean(Mesh(belly, some), (180.0, 30.0, 180.0), 0.0)
    assert wide is None and find_lean(Mesh(points, some), (180.0, 30.0, 180.0), 0.0) is not None


def test_the_lowest_lean_is_that_of_the_floors_reach() -> None:
    """On a floor as wide as the cylinder: L sin t + D cos t is the floor's length."""
    tilt = math.radians(30.0)
    floor = (300.0 * math.sin(tilt) + 25.0 * math.cos(tilt), 25.0)
    found = lowest_lean(a_cylinder(25.0, 300.0), floor, 0.0)
    assert found is not None
    assert math.degrees(found[0]) == pytest.approx(30.0, abs=0.05)
    assert found[1] == pytest.approx(300.0 * math.cos(tilt) + 25.0 * math.sin(tilt), abs=0.2)


@pytest.mark.parametrize("shrink", [0.0, 1.0])
def test_a_leaning_piece_is_the_whole_part_in_the_envelope(shrink: float) -> None:
    part = in_pose(plain_tube(length=200.0), random_pose(np.random.default_rng(8)))
    settings = Settings(
        (180.0, 180.0, 180.0), compensation=Compensation(shrink_percent=shrink), lean=True
    )
    done = leaning(Mesh(part.mesh.vertices, part.mesh.faces), settings)
    (piece,) = done.pieces
    assert (piece.name, piece.joint_below, piece.joint_above) == ("pipe-01", None, None)
    stored = piece.mesh.vertices
    assert np.array_equal(stored, stored.astype(np.float32))
    assert np.array_equal(stored.min(axis=0), np.zeros(3))
    assert stored.max(axis=0).max() == pytest.approx(180.0, abs=0.002)
    due = least_tilt(26.0, 200.0, 180.0 * (1.0 - shrink / 100.0))
    assert in_degrees(done.plan.lean) == pytest.approx(math.degrees(due), abs=0.02)
    assert (piece.low, piece.high) == pytest.approx((0.0, 200.0), abs=1e-6)
    placed = as_trimesh(
        Mesh(stored / piece.scale @ piece.to_source[:3, :3].T + piece.to_source[:3, 3],
             piece.mesh.triangles)
    )  # fmt: skip
    assert placed.is_watertight
    assert placed.volume == pytest.approx(part.mesh.volume, rel=0.005)
    assert np.allclose(placed.bounds, part.mesh.bounds, atol=0.03)
    names = {check.name for check in done.checks}
    assert "leaning" in names and "upright" not in names
    assert all(check.ok for check in done.checks)
    assert done.plan.cuts == done.plan.joints == ()


def test_another_lean_than_planned_is_no_proof() -> None:
    settings = Settings((180.0, 180.0, 180.0))
    done = leaning(a_tube(200.0), settings)
    lean, frame = done.plan.lean, done.survey.frame
    assert lean is not None
    for off in (replace(lean, tilt=lean.tilt + 2e-4), replace(lean, azimuth=lean.azimuth + 1e-3)):
        piece = lean_on_bed(
            "p", done.trued.mesh, frame, replace(settings, envelope=(200.0,) * 3), off
        )
        checks = pose_checks(piece, read_solid(piece, frame), frame, settings, lean)
        assert "leaning" in {check.name for check in checks if not check.ok}


def test_a_cut_parts_plan_tells_what_leaning_costs_in_its_numbers() -> None:
    """The bore's section by a level plane is d / cos t long: an ellipse."""
    (done,) = plan_surveyed(a_tube(200.0), "pipe", Settings((180.0, 180.0, 180.0)))
    tilt = least_tilt(26.0, 200.0, 180.0)
    (told,) = [said for said in done.warnings if "Leaning" in said]
    assert told.startswith(f"Leaning by {math.degrees(tilt):.1f} degrees it would fit in one piece")
    assert f"{19.0 / math.cos(tilt):.2f} mm long, each {0.2 * math.tan(tilt):.3f} mm" in told
    ring = math.pi / 4.0 * (26.0**2 - 19.0**2)
    on_bed = re.search(r"stands on an edge, upright on (\d+) mm2", told)
    assert on_bed and float(on_bed[1]) == pytest.approx(ring, rel=0.01)
    assert "The price is 1 joint, engaged over" in told


def test_another_plan_of_the_part_looks_for_no_lean_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only another envelope asks for another lean: 80 ms of a part that is not round."""
    room = Settings((180.0, 180.0, 180.0))
    (sound,) = mend_parts(a_tube(200.0), "pipe", lambda _: room, 1.0)
    part = know_part(sound, room, lambda _: None)
    looked: list[tuple[float, float, float]] = []

    def look(mesh: Mesh, room: tuple[float, float, float], *more: float) -> Lean | None:
        looked.append(room)
        return find_lean(mesh, room, *more)

    monkeypatch.setattr(lean_plan, "find_lean", look)
    low = replace(room, envelope=(180.0, 180.0, 190.0))
    asked = [room, replace(room, cuts=(110.0,)), replace(room, pieces=3), low, room]
    told = [lean_told(plan_known(part, one)) for one in asked]
    assert looked == [room.envelope, low.envelope]
    tilts = [math.degrees(least_tilt(26.0, 200.0, height)) for height in (180.0, 190.0)]
    assert told == [f"{tilts[number]:.1f}" for number in (0, 0, 0, 1, 0)]


def lean_told(planned: Outcome) -> str:
    """Degrees."""
    (told,) = [said for said in planned.warnings if "Leaning" in said]
    return told.split()[2]


@pytest.mark.parametrize(("length", "height"), [(300.0, 180.0), (200.0, 150.0), (170.0, 180.0)])
def test_nothing_is_told_of_a_steep_lean_or_none(length: float, height: float) -> None:
    (done,) = plan_surveyed(a_tube(length), "pipe", Settings((180.0, 180.0, height)))
    assert not [said for said in done.warnings if "Leaning" in said]


@pytest.mark.parametrize("asked", [{"cuts": (80.0,)}, {"pieces": 2}])
def test_nothing_is_told_of_leaning_where_the_part_fits_and_is_cut_as_asked(
    asked: dict[str, object],
) -> None:
    settings = replace(Settings((180.0, 180.0, 180.0)), **asked)  # type: ignore[arg-type]
    (done,) = plan_surveyed(a_tube(170.0), "pipe", settings)
    assert len(done.plan.cuts) == 1
    assert not [said for said in done.warnings if "Leaning" in said]


def test_a_part_that_fits_upright_stands_upright() -> None:
    (done,) = split_surveyed(a_tube(170.0), "pipe", Settings((180.0, 180.0, 180.0), lean=True))
    assert done.plan.lean is None
    assert "It stands upright: it need not lean." in done.warnings


@pytest.mark.parametrize(
    ("asked", "told"), [({"cuts": (80.0,)}, "--cut 80"), ({"pieces": 2}, "--pieces 2")]
)
def test_leaning_and_cutting_contradict_each_other(asked: dict[str, object], told: str) -> None:
    settings = replace(Settings((180.0, 180.0, 180.0), lean=True), **asked)  # type: ignore[arg-type]
    with pytest.raises(BadSetting, match=f"--lean with {told}"):
        plan_surveyed(a_tube(200.0), "pipe", settings)


def test_one_piece_asked_for_is_no_contradiction() -> None:
    settings = Settings((180.0, 180.0, 180.0), pieces=1)
    assert len(leaning(a_tube(200.0), settings).pieces) == 1


def test_what_does_not_fit_leaning_is_refused_and_both_remedies_work() -> None:
    settings = Settings((180.0, 180.0, 180.0), lean=True)
    with pytest.raises(NoPlan) as refused:
        plan_surveyed(a_tube(352.0), "pipe", settings)
    remedy = re.fullmatch(
        r"no --lean, for (\d) pieces that stand upright; or an envelope ([\d.]+) mm high",
        refused.value.remedy,
    )
    assert remedy
    (upright,) = plan_surveyed(a_tube(352.0), "pipe", replace(settings, lean=False))
    assert len(upright.plan.cuts) + 1 == int(remedy[1])
    higher = replace(settings, envelope=(180.0, 180.0, float(remedy[2])))
    assert plan_surveyed(a_tube(352.0), "pipe", higher)[0].plan.lean is not None
    lower = replace(settings, envelope=(180.0, 180.0, float(remedy[2]) - 0.5))
    with pytest.raises(NoPlan):
        plan_surveyed(a_tube(352.0), "pipe", lower)


def test_a_floor_too_narrow_for_any_lean_is_refused_as_such() -> None:
    with pytest.raises(TooWide, match=r"a section of 2\d\.\d\d x 2\d\.\d\d mm"):
        plan_surveyed(a_tube(200.0), "pipe", Settings((180.0, 20.0, 180.0), lean=True))


def test_where_no_plan_is_found_leaning_is_a_remedy_that_works() -> None:
    """A wall of 0.5 mm holds no joint; 200 mm of it fit leaning."""
    thin = a_tube(200.0, bore=25.0)
    settings = Settings((180.0, 180.0, 180.0))
    with pytest.raises(CoreError) as refused:
        plan_surveyed(thin, "pipe", settings)
    assert re.search(r"or --lean: in 1 piece, leaning by 3\d\.\d degrees$", refused.value.remedy)
    assert len(leaning(thin, settings).pieces) == 1
