"""Nicks where joints stand close: the wall that they leave over the roof below.

What a piece lacks of the part between its seams is the socket and the nicks; how far
these are from each other is measured with manifold3d.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import trimesh
from borewright.core.jointing.joint_design import LEAST_MARK_DEPTH, MOST_MARK_DEPTH, mark_depth
from borewright.core.jointing.split import build_pieces
from borewright.core.proving.prove import prove_pieces
from borewright.core.truing.exact_survey import as_trued
from borewright.core.values import Check, Mesh, Outcome, Settings
from manifold3d import Manifold, Mesh64

from tests.jobs import plan_surveyed, split_surveyed

LEAST_WALL, LENGTH, FAR = 0.8, 120.0, 5.0
THIN, USUAL = 2.32, 4.0
SKIN = 0.05
GAPS = [1.0, 1.3, 1.52, 1.6, 1.8, 2.2, 4.0]


@cache
def a_tube(wall: float) -> Mesh:
    made = trimesh.creation.annulus(8.0, 8.0 + wall, LENGTH, sections=96)
    stood = made.vertices + np.array([0.0, 0.0, LENGTH / 2.0])
    return Mesh(stood, np.asarray(made.faces, np.int64))


def settings_for(*cuts: float) -> Settings:
    return Settings((200.0, 200.0, 200.0), cuts=cuts)


@cache
def close_joints(wall: float, gap: float) -> Outcome:
    """Two joints, the second's seam by `gap` over the first one's zone."""
    (planned,) = plan_surveyed(a_tube(wall), "tube", settings_for(40.0))
    top = planned.plan.joints[0].zone[1]
    (outcome,) = split_surveyed(a_tube(wall), "tube", settings_for(40.0, top + gap))
    return outcome


def solid_of(mesh: Mesh) -> Manifold:
    made = Manifold(Mesh64(mesh.vertices.copy(), mesh.triangles.astype(np.uint64, order="C")))
    assert not made.is_empty()
    return made


def nicks_and_socket(outcome: Outcome) -> tuple[list[Manifold], Manifold]:
    """What the middle piece lacks between its seams: the upper joint's nicks, the socket."""
    low, high = (joint.station for joint in outcome.plan.joints)
    piece = outcome.pieces[1]
    placed = piece.mesh.vertices @ piece.to_source[:3, :3].T + piece.to_source[:3, 3]
    outer = float(np.hypot(*outcome.trued.mesh.vertices[:, :2].T).max())
    within = ring(8.0 + SKIN, outer - 2.0 * SKIN, low + SKIN, high - SKIN)
    voids = (within - solid_of(Mesh(placed, piece.mesh.triangles))).decompose()
    nicks = [void for void in voids if void.bounding_box()[5] > high - 2.0 * SKIN]
    (socket,) = (void for void in voids if void.bounding_box()[2] < low + 2.0 * SKIN)
    return nicks, socket


def ring(inner: float, outer: float, low: float, high: float) -> Manifold:
    """Of the tube, but for a skin on all its sides, on which pieces and part are as one."""
    rods = [
        Manifold.cylinder(high - low, radius, circular_segments=96) for radius in (outer, inner)
    ]
    return (rods[0] - rods[1]).translate((0.0, 0.0, low))


@pytest.mark.parametrize("gap", GAPS)
@pytest.mark.parametrize("wall", [THIN, USUAL])
def test_nicks_leave_the_least_wall_over_the_roof_below(wall: float, gap: float) -> None:
    outcome = close_joints(wall, gap)
    tenon = outcome.plan.joints[1].tenon
    nicks, socket = nicks_and_socket(outcome)
    assert (len(nicks) > 0) == (len(tenon.marks) > 0)
    measured = min((nick.min_gap(socket, FAR) for nick in nicks), default=FAR)
    assert measured >= LEAST_WALL
    proven = named(outcome.checks, "nick_floor")
    assert [check.joint for check in proven] == [0, 1][: 1 + bool(nicks)]
    if nicks and measured < FAR:
        # the proof looks from corners only, and a roof's facets stand inside its cone
        assert proven[1].value == pytest.approx(measured, abs=0.05)


def named(checks: tuple[Check, ...], name: str) -> list[Check]:
    return [check for check in checks if check.name == name]


def test_a_mark_is_as_deep_as_wall_and_room_allow_or_left_out() -> None:
    assert mark_depth(5.0, np.inf) == MOST_MARK_DEPTH
    assert mark_depth(5.0, 1.0) == 1.0
    assert mark_depth(0.5, 5.0) == pytest.approx(0.4 + 0.5 - 0.02)
    assert mark_depth(5.0, LEAST_MARK_DEPTH - 0.01) == 0.0
    assert mark_depth(0.31, 5.0) == 0.0


def test_a_nick_that_is_too_deep_over_the_roof_fails_its_proof() -> None:
    outcome = close_joints(THIN, 1.0)
    deep = plan_with_deep_nicks(outcome)
    settings = settings_for(*(joint.station for joint in outcome.plan.joints))
    survey = as_trued(outcome.survey, settings)
    checks = prove_pieces(survey, outcome.trued, deep.plan, deep.pieces, settings)
    (_, proof) = named(checks, "nick_floor")
    assert not proof.ok
    nicks, socket = nicks_and_socket(deep)
    measured = min(nick.min_gap(socket, FAR) for nick in nicks)
    assert proof.value == pytest.approx(measured, abs=0.05)
    assert measured < LEAST_WALL


def plan_with_deep_nicks(outcome: Outcome) -> Outcome:
    """The same with nicks at the second joint as deep as if there were room."""
    first, second = outcome.plan.joints
    (tenon,) = second.tenons
    marks = close_joints(THIN, GAPS[-1]).plan.joints[1].tenon.marks
    assert min(mark.depth for mark in marks) > LEAST_MARK_DEPTH
    joint = replace(second, tenons=(replace(tenon, marks=marks),))
    plan = replace(outcome.plan, joints=(first, joint))
    settings = settings_for(first.station, second.station)
    survey = as_trued(outcome.survey, settings)
    pieces = build_pieces(survey, outcome.trued, plan, settings, "tube")
    return replace(outcome, plan=plan, pieces=pieces)
