"""Rings of fit trials, read back from their mesh by trimesh and manifold3d only.

Sizes of the joints and their stepped clearances are what was asked for; nothing here is
published. Bars that a finger tells apart: common practice, no source.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
import pytest
import trimesh
from borewright.core.errors import BadSetting, ProofFailed, TooWide, WallTooThin
from borewright.core.recording.job_record import SavedFile
from borewright.core.trial import trial_rings
from borewright.core.trial.make_trial import make_trial
from borewright.core.trial.ring_sizes import plastic_of, ring_sizes, trial_clearances
from borewright.core.trial.trial_record import trial_document
from borewright.core.trial.trial_set import FitTrial
from borewright.core.trial.trial_words import trial_summary
from borewright.core.trial.tried_joint import TriedJoint, joint_of_plans, joint_of_sizes
from borewright.core.values import Compensation, Mesh, Settings

from tests.jobs import plan_surveyed
from tests.parts import plain_tube
from tests.ring_measures import (
    FloatArray,
    Ring,
    as_manifold,
    fitted_circle,
    least_reach,
    outlines,
    rings_of,
    stretches,
)

ANY = Settings(envelope=(1000.0, 1000.0, 1000.0))
USUAL = (0.05, 0.10, 0.15, 0.20, 0.25)
THREE = (0.10, 0.15, 0.20)


@dataclass(frozen=True)
class Case:
    """What is asked for and what is due.

    bore, wall : mm; of a solid round bore 0 and its radius
    tenon : diameter, mm, in mid wall, or farther in for a rib of 0.5 and a wall of 0.82
    """

    bore: float
    wall: float
    tenon: float
    clearances: tuple[float, ...]
    settings: Settings = ANY
    made_wider: float = 0.0
    larger: float = 1.0


CASES = {
    "bore 14, wall 3.6": Case(14.0, 3.6, 2 * (7.0 + 3.6 / 2 - 0.075), USUAL),
    "solid 38": Case(0.0, 19.0, 2 * (19.0 / 2 - 0.075), USUAL),
    "bore 20, wall 3": Case(20.0, 3.0, 2 * (10.0 + 3.0 / 2 - 0.075), USUAL),
    "a thin wall": Case(9.0, 2.6, 2 * (7.1 - 0.82 - 0.5 - 0.15), USUAL),
    "a wide tube": Case(30.0, 2.5, 2 * (17.5 - 0.82 - 0.5 - 0.15), THREE),
    "a thick wall": Case(16.0, 8.0, 2 * (8.0 + 4.0 - 0.075), THREE),
    "a narrow bore": Case(2.0, 3.0, 2 * (1.0 + 1.5 - 0.075), USUAL),
    "a thin rod": Case(0.0, 6.0, 2 * (3.0 - 0.075), USUAL),
    "for push": Case(
        14.0, 3.6, 2 * (7.0 + 1.8 - 0.05), (0.05, 0.075, 0.1, 0.125, 0.15),
        replace(ANY, clearance=0.1),
    ),
    "the widest gap": Case(
        14.0, 3.6, 2 * (10.6 - 0.82 - 0.8 - 0.5), (0.3, 0.35, 0.4, 0.45, 0.5),
        replace(ANY, clearance=0.5),
    ),
    "a printer's own": Case(
        14.0, 3.6, 2 * (7.0 + 1.8 - 0.125), USUAL,
        replace(ANY, compensation=Compensation(0.2, 0.4, 2.0)), 0.1, 1 / 0.98,
    ),
}  # fmt: skip

each = pytest.mark.parametrize("name", CASES)


@cache
def made(name: str) -> FitTrial:
    return make_trial(asked(name), None)


def asked(name: str) -> TriedJoint:
    case = CASES[name]
    tried = joint_of_sizes(case.bore, case.wall, case.settings)
    assert isinstance(tried, TriedJoint)
    return tried


@cache
def rings(name: str) -> list[Ring]:
    """The bodies of the set's one mesh, from its file's float32, tenon first, by their places."""
    return rings_of(made(name).mesh)


def parallel_heights(name: str) -> tuple[float, float]:
    """Heights, mm, in the tenon ring and in a socket ring, at which both are parallel."""
    larger = CASES[name].larger
    return 1.6 * larger + 2.0, 2.0


# --- the gaps -----------------------------------------------------------------------------------


@each
def test_each_ring_has_its_own_clearance_about_the_tenon(name: str) -> None:
    case, (tenon, *sockets) = CASES[name], rings(name)
    assert len(sockets) == len(case.clearances)
    assert len(sockets) % 2 == 1
    high, low = parallel_heights(name)
    circle = near(tenon.outer(high), case.tenon / 2.0 * case.larger)
    radius = circle.max() / case.larger
    assert radius == pytest.approx(case.tenon / 2.0, abs=0.001)
    for socket, clearance in zip(sockets, case.clearances, strict=True):
        gap = least_reach(socket.inner(low)) / case.larger - radius
        assert gap == pytest.approx(clearance + case.made_wider, abs=0.002)


@each
def test_circles_fitted_to_tenon_and_sockets_differ_by_the_stepped_clearances(name: str) -> None:
    case, (tenon, *sockets) = CASES[name], rings(name)
    high, low = parallel_heights(name)
    radius = fitted_radius(tenon.outer(high), case.tenon / 2.0 * case.larger) / case.larger
    for socket, clearance in zip(sockets, case.clearances, strict=True):
        due = case.tenon / 2.0 + clearance + case.made_wider
        gap = fitted_radius(socket.inner(low), due * case.larger) / case.larger - radius
        assert gap == pytest.approx(clearance + case.made_wider, abs=0.01)


def near(outline: FloatArray, due: float) -> FloatArray:
    """Radii of corners on the circle that is due, not on ribs or grooves, 0.5 mm farther out."""
    radii = np.hypot(*outline.T)
    chosen: FloatArray = radii[np.abs(radii - due) < 0.05]
    return chosen


def fitted_radius(outline: FloatArray, due: float) -> float:
    chosen = np.abs(np.hypot(*outline.T) - due) < 0.05
    x, y, radius = fitted_circle(outline[chosen])
    assert math.hypot(x, y) < 0.01
    return radius


def test_the_gaps_beside_keys_step_with_the_clearance_as_far_as_the_play_allows() -> None:
    name = "bore 14, wall 3.6"
    case, (tenon, *sockets) = CASES[name], rings(name)
    radius, (high, low) = case.tenon / 2.0, parallel_heights(name)
    ribs = stretches(tenon.outer(high), radius + 0.45)
    most = math.radians(1.25) * radius
    leaned = 0.05 / 0.5  # flanks lean by 0.05 over a rib of 0.5: a turn more before they touch
    for socket, clearance in zip(sockets, case.clearances, strict=True):
        grooves = stretches(socket.inner(low), radius + clearance + 0.45)
        assert len(ribs) == len(grooves) == 2
        for (rib, wide), (groove, wider) in zip(ribs, grooves, strict=True):
            assert groove == pytest.approx(rib, abs=0.001)
            gap = (wider - wide) / 2.0 * radius
            assert gap == pytest.approx(min(clearance, most - leaned * clearance), abs=0.002)


@each
def test_the_tenon_goes_home_in_every_ring_and_turned_it_goes_in_none(name: str) -> None:
    tenon, *sockets = rings(name)
    foot = as_manifold(tenon.body)
    seam = 1.6 * CASES[name].larger
    for socket in sockets:
        home = as_manifold(socket.body).translate((0.0, 0.0, seam))
        assert (foot ^ home).volume() < 0.01
        assert (foot ^ home.translate((0.0, 0.0, -0.05))).volume() > 0.05  # the shoulders meet
        for turn in (-30.0, -3.0, 3.0, 30.0, 120.0, 240.0):
            assert (foot ^ home.rotate((0.0, 0.0, turn))).volume() > 0.05


# --- bodies, plastic, support, places ------------------------------------------------------------


@each
def test_every_ring_is_one_closed_body_and_all_take_at_most_six_cubic_centimetres(
    name: str,
) -> None:
    bodies = [ring.body for ring in rings(name)]
    assert len(bodies) == 1 + len(CASES[name].clearances)
    assert all(body.is_watertight and body.is_winding_consistent for body in bodies)
    assert all(body.volume > 0.0 for body in bodies)
    plastic = sum(body.volume for body in bodies)
    assert plastic <= 6000.0
    assert made(name).volume == pytest.approx(plastic, rel=1e-6)
    estimated = plastic_of(ring_sizes(asked(name)))
    assert estimated == pytest.approx(plastic, rel=0.02)


@each
def test_rings_stand_on_the_bed_five_millimetres_apart(name: str) -> None:
    boxes = [piece.mesh.vertices for piece in made(name).pieces]
    lows = np.array([box.min(axis=0) for box in boxes])
    highs = np.array([box.max(axis=0) for box in boxes])
    assert (lows[:, 2] == 0.0).all()
    assert (lows >= 0.0).all()
    for one in range(len(boxes)):
        for other in range(one):
            apart = np.maximum(lows[one] - highs[other], lows[other] - highs[one])[:2].max()
            assert apart >= 5.0 - 1e-4


@each
def test_no_face_that_looks_down_is_flatter_than_45_degrees(name: str) -> None:
    for ring in rings(name):
        lowest = ring.body.triangles[:, :, 2].max(axis=1)
        hangs = (ring.body.face_normals[:, 2] < 0.0) & (lowest > 1e-3)
        wide = ring.body.area_faces > 1e-4
        flattest = np.degrees(np.arcsin(-ring.body.face_normals[hangs & wide, 2])).max(initial=0.0)
        assert flattest <= 45.5  # 45, and what facets of 0.005 chord error add


@each
def test_walls_are_no_thinner_than_asked(name: str) -> None:
    tenon, *sockets = rings(name)
    high, low = parallel_heights(name)
    loops = outlines(tenon.body, high)
    if len(loops) > 1:
        assert CASES[name].tenon / 2.0 - np.hypot(*loops[1].T).max() >= 0.8
    for socket in sockets:
        assert socket.outside - np.hypot(*socket.inner(low).T).max() >= 0.8


# --- numbers that a finger reads -----------------------------------------------------------------


@each
def test_the_nth_ring_has_n_bars_and_the_first_is_longer(name: str) -> None:
    tenon, *sockets = rings(name)
    assert bars(tenon, 1.0) == []
    for number, socket in enumerate(sockets, 1):
        for height in (0.1, 1.0, 0.5 * socket.height):
            found = bars(socket, height)
            assert len(found) == number
            assert all(wide >= 0.8 for _, wide in found)
        (long,) = bars(socket, 0.9 * socket.height)
        assert long[0] == pytest.approx(0.0, abs=0.01)  # over the first key
        places = np.array([angle for angle, _ in bars(socket, 1.0)])
        steps = np.diff(np.sort(np.mod(places + 0.01, 2.0 * math.pi))) * socket.outside
        assert number == 1 or steps.min() > 3.0


PROUD = 0.6
"""What a finger feels, mm."""


def bars(ring: Ring, height: float) -> list[tuple[float, float]]:
    """Angle and width, mm, of each stretch that stands out of the outside so far."""
    found = stretches(ring.outer(height), ring.outside + PROUD)
    return [(angle, wide * ring.outside) for angle, wide in found]


# --- what is not made ----------------------------------------------------------------------------


def test_clearances_keep_within_what_prints_and_what_a_profile_keeps() -> None:
    assert trial_clearances(0.15, 5) == USUAL
    assert trial_clearances(0.15, 3) == THREE
    assert trial_clearances(0.12, 5) == (0.05, 0.085, 0.12, 0.155, 0.19)
    assert trial_clearances(0.0, 5) == (0.05, 0.07, 0.09, 0.11, 0.13)
    assert trial_clearances(0.5, 5) == (0.3, 0.35, 0.4, 0.45, 0.5)


def test_a_wide_tube_is_refused_with_what_it_would_take() -> None:
    with pytest.raises(BadSetting, match=r"8\.7 cm3 .* 53\.9 mm.*at most 6 cm3.*at most 36 mm"):
        make_trial(joint_of_sizes(50.0, 4.0, ANY), None)
    # and a tenon as wide as it tells is made
    assert made_of(34.3, 1.7 + 0.82 * 2, ANY).volume <= 6000.0


def made_of(bore: float, wall: float, settings: Settings) -> FitTrial:
    return make_trial(joint_of_sizes(bore, wall, settings), None)


def test_rings_that_fit_no_way_on_the_bed_are_refused() -> None:
    tried = joint_of_sizes(14.0, 3.6, ANY)
    with pytest.raises(TooWide, match=r"6 rings of 22\.0 mm .* at most 50 x 60 x 50 mm"):
        make_trial(tried, (50.0, 60.0, 50.0))
    with pytest.raises(TooWide, match="x 7 mm"):
        make_trial(tried, (500.0, 500.0, 7.0))
    long = make_trial(tried, (160.0, 22.1, 50.0))
    assert np.ptp(long.mesh.vertices[:, 1]) <= 22.1


def test_a_wall_too_thin_for_the_joint_asked_for_is_refused() -> None:
    with pytest.raises(WallTooThin, match=r"wall 1\.50 mm.*2\.29 mm"):
        joint_of_sizes(20.0, 1.5, replace(ANY, joint="tenon"))
    with pytest.raises(WallTooThin, match=r"wall 1\.00 mm.*2\.29 mm"):
        joint_of_sizes(0.0, 1.0, ANY)
    with pytest.raises(WallTooThin, match=r"wall 0\.60 mm.*0\.80 mm of wall"):
        joint_of_sizes(20.0, 0.6, ANY)


def test_a_ring_of_another_gap_than_told_fails_the_run(monkeypatch: pytest.MonkeyPatch) -> None:
    real = trial_rings.build_pieces

    def wider(survey: Any, trued: Any, plan: Any, settings: Any, name: str) -> Any:
        lower, _ = real(survey, trued, plan, settings, name)
        joint = plan.joints[0]
        tenon = replace(joint.tenon, socket_radius=joint.tenon.socket_radius + 0.015)
        other = replace(plan, joints=(replace(joint, tenons=(tenon,)),))
        return lower, real(survey, trued, other, settings, name)[1]

    monkeypatch.setattr(trial_rings, "build_pieces", wider)
    with pytest.raises(ProofFailed, match=r"ring_clearance of ring-1 is 0\.06"):
        made_of(14.0, 3.6, ANY)


def test_a_ring_of_another_number_than_told_fails_the_run(monkeypatch: pytest.MonkeyPatch) -> None:
    real = trial_rings.barred_tube
    monkeypatch.setattr(
        trial_rings, "barred_tube", lambda *sizes: real(*sizes[:-1], max(sizes[-1] - 1, 0))
    )
    with pytest.raises(ProofFailed, match="bars_counted of ring-2 is 1, limit 2"):
        made_of(14.0, 3.6, ANY)


# --- a part's own joint --------------------------------------------------------------------------


@cache
def planned() -> Any:
    mesh = plain_tube().mesh
    settings = Settings(envelope=(180.0, 180.0, 120.0))
    source = Mesh(np.array(mesh.vertices), np.array(mesh.faces))
    return plan_surveyed(source, "pipe", settings), settings


def test_a_planned_joints_rings_have_its_tenon_and_its_keys() -> None:
    outcomes, settings = planned()
    joints = outcomes[0].plan.joints
    assert len(joints) == 2
    for number, joint in enumerate(joints, 1):
        trial = make_trial(joint_of_plans(outcomes, number, settings), settings.envelope)
        tenon, *sockets = rings_of(trial.mesh)
        radius = near(tenon.outer(3.6), joint.tenon.tenon_radius).max()
        assert radius == pytest.approx(joint.tenon.tenon_radius, abs=0.001)
        assert least_reach(sockets[2].inner(2.0)) - radius == pytest.approx(0.15, abs=0.002)
        due = [key.angle for key in joint.tenon.keys]
        ribs = stretches(tenon.outer(3.6), radius + 0.45)
        assert [angle for angle, _ in ribs] == pytest.approx(due, abs=0.001)
    assert joints[0].tenon.keys[1].angle != pytest.approx(joints[1].tenon.keys[1].angle, abs=0.05)


def test_a_pin_is_tried_alone() -> None:
    settings = Settings(envelope=(120.0, 120.0, 100.0), joint="pins")
    rod = trimesh.creation.cylinder(40.0, 150.0, sections=256)
    source = Mesh(np.array(rod.vertices), np.array(rod.faces))
    outcomes = plan_surveyed(source, "rod", settings)
    pins = outcomes[0].plan.joints[0].tenons
    assert len(pins) > 1
    trial = make_trial(joint_of_plans(outcomes, 1, settings), None)
    assert f"the first of its {len(pins)} tenons" in trial.about.source
    tenon, *sockets = rings_of(trial.mesh)
    radius = near(tenon.outer(3.6), pins[0].tenon_radius).max()
    assert radius == pytest.approx(pins[0].tenon_radius, abs=0.001)
    for socket, clearance in zip(sockets, USUAL, strict=True):
        assert least_reach(socket.inner(2.0)) - radius == pytest.approx(clearance, abs=0.002)


@pytest.mark.parametrize("number", [0, 3])
def test_a_joint_that_the_plan_has_not_is_refused(number: int) -> None:
    outcomes, settings = planned()
    with pytest.raises(BadSetting, match=rf"--joint-number {number} .*has 2 joints.*from 1 to 2"):
        joint_of_plans(outcomes, number, settings)


# --- words ---------------------------------------------------------------------------------------


@each
def test_the_record_is_json_and_tells_each_rings_place_and_gap(name: str) -> None:
    case, trial = CASES[name], made(name)
    document = json.loads(json.dumps(
        trial_document(trial, SavedFile("fit-trial.stl", "00"), ()), allow_nan=False
    ))  # fmt: skip
    assert document["schema"] == "borewright.trial/1"
    told = document["rings"]
    assert [ring["clearance"] for ring in told[1:]] == list(case.clearances)
    made_gaps = [clearance + case.made_wider for clearance in case.clearances]
    assert [ring["made_clearance"] for ring in told[1:]] == pytest.approx(made_gaps)
    for ring, piece in zip(told, trial.pieces, strict=True):
        assert ring["corner"] == piece.mesh.vertices.min(axis=0).tolist()
    assert all(check["ok"] for check in document["checks"])


@each
def test_the_table_tells_every_ring_and_how_to_use_them(name: str) -> None:
    case, told = CASES[name], trial_summary(made(name), "fit-trial.stl", ("A remark.",))
    for number, clearance in enumerate(case.clearances, 1):
        assert f"\n     {number}  {clearance:20.3f}" in told
    assert "without supports" in told
    assert "borewright profile NAME --clearance" in told
    assert "A remark." in told
    assert max(map(len, told.splitlines())) <= 96


def test_what_is_cut_short_to_save_plastic_is_told() -> None:
    told = " ".join(trial_summary(made("a thick wall"), "fit-trial.stl", ()).split())
    assert "parallel part is 4.0 mm long, the joint's 8.9 mm" in told
    assert "drilled to 20.65 mm; the joint has a bore of 16.00 mm" in told
    assert "28.46 mm wide outside; the part has 32.00 mm" in told
    assert "3 socket rings in place of 5" in told
    whole = " ".join(trial_summary(made("a thin wall"), "fit-trial.stl", ()).split())
    assert "To save plastic" not in whole
