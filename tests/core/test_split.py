"""Pieces as the stepped cut leaves them: closed, exact, and otherwise untouched."""

from __future__ import annotations

import math

import numpy as np
import pytest
from borewright.core.errors import CrowdedZone, WallTooThin
from borewright.core.jointing.footprint import socket_footprint, tenon_footprint
from borewright.core.jointing.joint_design import usual_engagement
from borewright.core.jointing.split import build_pieces
from borewright.core.meshes.mend import mend_bodies
from borewright.core.meshes.mesh_checks import check_closed, enclosed_volume
from borewright.core.surveying.survey import survey_part
from borewright.core.truing.true_up import true_up
from borewright.core.values import (
    AXIAL_GAP,
    CHORD_TOLERANCE,
    Cut,
    Mesh,
    Piece,
    Plan,
    Settings,
    Survey,
    Tenon,
    TruedPart,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.parts import Hole, random_pose, tube
from tests.surveys import design_tenon, joint_of

FloatArray = NDArray[np.float64]
SETTINGS = Settings((300.0, 300.0, 300.0))


def prepared(**changes: object) -> tuple[Survey, TruedPart]:
    kinds = {"length": 260.0, "bore": 14.0, "outside": 22.0, "holes": [Hole(60.0, 0.0, 6.0)]}
    true = str(changes.pop("true", "both"))
    part = tube(pose=random_pose(np.random.default_rng(11)), **{**kinds, **changes})  # type: ignore[arg-type]
    survey = survey_part(mend_bodies(Mesh(part.mesh.vertices, part.mesh.faces))[0], max_move=0.1)
    return survey, true_up(survey, Settings((300.0, 300.0, 300.0), true=true))  # type: ignore[arg-type]


def split(
    survey: Survey, trued: TruedPart, stations: list[float], key_angle: float = 2.0
) -> tuple[tuple[Tenon, ...], tuple[Piece, ...]]:
    sizes = 9.0, 0.15, 0.8, key_angle
    tenons = tuple(
        design_tenon(
            survey.bore, survey.outsides[0], station, *sizes, number=number, count=len(stations)
        )
        for number, station in enumerate(stations)
    )
    cuts = tuple(Cut(station, (station, station), "") for station in stations)
    plan = Plan(cuts, tuple(joint_of(tenon) for tenon in tenons))
    return tenons, build_pieces(survey, trued, plan, SETTINGS, "part")


def in_part(survey: Survey, piece: Piece) -> FloatArray:
    """A piece's vertices where they belong in the part frame."""
    placed = piece.mesh.vertices @ piece.to_source[:3, :3].T + piece.to_source[:3, 3]
    return survey.frame.to_part(placed)


KINDS = {
    "straight": {},
    "thin": {"outside": 18.7},
    "taper": {"bore": (16.0, 10.0), "outside": (25.0, 18.0)},
    "thin taper": {"bore": (16.0, 13.0), "outside": (20.9, 18.0)},
    "untrued": {"true": "none"},
    "thin, untrued": {"true": "none", "outside": 18.7},
}


@pytest.mark.parametrize("changes", KINDS.values(), ids=KINDS.keys())
def test_pieces_are_closed_and_share_out_the_part(changes: dict[str, object]) -> None:
    survey, trued = prepared(**changes)
    tenons, pieces = split(survey, trued, [85.0, 130.0, 165.0])
    for piece in pieces:
        check_closed(piece.mesh)
    missing = enclosed_volume(trued.mesh) - sum(enclosed_volume(piece.mesh) for piece in pieces)
    least_gap = sum(tenon.glue_area * 0.15 for tenon in tenons)
    assert 0.8 * least_gap < missing < 3.0 * least_gap
    assert [piece.name for piece in pieces] == ["part-01", "part-02", "part-03", "part-04"]


@pytest.mark.parametrize("changes", KINDS.values(), ids=KINDS.keys())
def test_pieces_stand_on_the_bed_and_lead_back_to_their_place(changes: dict[str, object]) -> None:
    survey, trued = prepared(**changes)
    tenons, pieces = split(survey, trued, [120.0])
    for piece in pieces:
        assert (piece.mesh.vertices.min(axis=0) == 0.0).all()
        assert np.array_equal(piece.mesh.vertices, piece.mesh.vertices.astype(np.float32))
        placed = in_part(survey, piece)
        assert placed[:, 2].min() == pytest.approx(piece.low, abs=1e-4)
        assert placed[:, 2].max() == pytest.approx(piece.high, abs=1e-4)
    assert pieces[0].high == pytest.approx(tenons[0].tip, abs=1e-6)
    assert pieces[1].low == pytest.approx(tenons[0].station, abs=1e-6)


def test_away_from_the_joint_no_vertex_moved_and_none_is_new() -> None:
    survey, trued = prepared(true="none")
    tenons, pieces = split(survey, trued, [120.0])
    old = trued.mesh.vertices
    lowest = tenons[0].station - max(mark.depth for mark in tenons[0].marks)
    for piece in pieces:
        placed = in_part(survey, piece)
        away = (placed[:, 2] < lowest - 1e-3) | (placed[:, 2] > tenons[0].roof_top + 1e-3)
        gaps = np.linalg.norm(placed[away][:, None] - old[None], axis=2).min(axis=1)
        assert gaps.max() < 5e-5  # float32 at 300 mm


def test_tenon_and_socket_have_their_shape() -> None:
    survey, trued = prepared()
    (tenon,), (lower, upper) = split(survey, trued, [120.0])
    low, up = in_part(survey, lower), in_part(survey, upper)
    made = low[low[:, 2] > tenon.station + 1e-4]
    reach = np.hypot(made[:, 0], made[:, 1])
    on_land = np.abs(made[:, 2] - tenon.tip) < 1e-4
    assert reach[on_land].max() == pytest.approx(7.0 + tenon.land, abs=1e-4)
    assert reach.max() == pytest.approx(tenon.tenon_radius + tenon.relief, abs=1e-4)
    cone = ~on_land & (reach > 7.5)
    assert np.allclose(made[cone, 2], tenon.tip - (reach[cone] - 7.0 - tenon.land), atol=1e-4)
    depth = max(mark.depth for mark in tenon.marks)
    hollow = (up[:, 2] > tenon.station + depth + 1e-3) & (up[:, 2] < tenon.roof_top - 1e-3)
    socket = up[hollow & (np.hypot(up[:, 0], up[:, 1]) < 10.5)]
    reach = np.hypot(socket[:, 0], socket[:, 1])
    roof = tenon.tip + AXIAL_GAP - (reach - 7.0 - tenon.land)
    assert np.allclose(socket[:, 2], roof, atol=1e-4)


def test_a_hole_in_a_joints_zone_is_refused_with_numbers() -> None:
    survey, trued = prepared()
    (hole,) = survey.side_holes
    with pytest.raises(CrowdedZone, match=r"outlines where the joint from station \d+"):
        split(survey, trued, [hole.station - 4.0])


@settings(max_examples=60, deadline=None)
@given(
    st.floats(3.0, 40.0),
    st.floats(2.0, 10.0),
    st.floats(0.05, 0.4),
    st.floats(-math.pi, math.pi),
    st.integers(0, 3),
)
def test_socket_facets_never_come_nearer_than_the_clearance(
    bore: float, wall: float, clearance: float, angle: float, kind: int
) -> None:
    """The gap between the outlines, off the key, is the clearance up to two chord errors."""
    from borewright.core.values import RoundSurface

    inner = RoundSurface(bore, 0.0, 0.0, 200.0)
    outer = RoundSurface(bore + wall, 0.0, 0.0, 200.0)
    engagement = usual_engagement(2.0 * bore + wall) + 2.0 * wall
    try:
        tenon = design_tenon(inner, outer, 50.0, engagement, clearance, 0.8, angle)
    except WallTooThin:  # for this clearance: another test's matter
        return
    rng = np.random.default_rng(kind)
    generators = (np.sort(rng.uniform(-math.pi, math.pi, 30 * kind)),)
    ours, socket = tenon_footprint(tenon, generators), socket_footprint(tenon, generators)
    angles = socket.places / tenon.tenon_radius
    chord = np.diff(angles)
    level = np.abs(np.diff(socket.u)) < 0.05
    facets = socket.u[:-1] * np.cos(chord / 2.0)
    off = level
    for key in tenon.keys:
        turned = np.abs(np.angle(np.exp(1j * (angles[:-1] + chord / 2.0 - key.angle))))
        off &= turned > key.half_width + 0.3
    assert facets[off].min() >= tenon.socket_radius - 1e-9
    assert facets[off].max() <= tenon.socket_radius + 3.0 * CHORD_TOLERANCE
    assert ours.u.min() == pytest.approx(tenon.tenon_radius, abs=1e-12)


def test_every_flank_angle_of_a_key_can_be_cut() -> None:
    """Wherever the key lies against the bore's facets, the pieces close."""
    survey, trued = prepared(outside=18.7)
    for angle in (*np.linspace(-math.pi, math.pi, 13), *trued.generators[0][:3]):
        for piece in split(survey, trued, [120.0], float(angle))[1]:
            check_closed(piece.mesh)
