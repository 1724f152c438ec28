"""Joints as near to each other as they may be, and as many as that gives."""

from __future__ import annotations

from itertools import pairwise

from borewright.core.values import Mesh, Outcome, Settings
from manifold3d import Manifold

from tests.jobs import split_surveyed
from tests.parts import tube


def split(height: float, *, bore: float, wall: float, length: float, clearance: float) -> Outcome:
    made = tube(length=length, bore=bore, outside=bore + 2.0 * wall).mesh
    settings = Settings((60.0, 60.0, height), clearance=clearance)
    (done,) = split_surveyed(Mesh(made.vertices, made.faces), "p", settings)
    return done


def test_joints_a_millimetre_apart_have_no_nicks_that_reach_down_to_the_joint_below() -> None:
    """A nick's usual 1.2 mm is more than joints keep off each other at the least."""
    done = split(16.0, bore=15.8, wall=3.7, length=88.0, clearance=0.16)
    joints = done.plan.joints
    rooms = [above.station - below.zone[1] for below, above in pairwise(joints)]
    assert min(rooms) < 1.2
    for room, above in zip(rooms, joints[1:], strict=True):
        assert all(mark.depth <= room - 0.8 + 1e-9 for mark in above.tenon.marks)
    (balance,) = [check.value for check in done.checks if check.name == "volume_balance"]
    assert abs(balance) < 0.1


def test_middle_pieces_of_a_narrow_tube_in_collars_do_not_change_places() -> None:
    """Lugs leave room for other angles also where the bore is 3.4 mm wide."""
    done = split(21.0, bore=3.4, wall=1.7, length=90.0, clearance=0.185)
    joints = done.plan.joints
    assert len(joints) >= 4
    assert all(joint.collar is not None for joint in joints)
    assert [check.value for check in done.checks if check.name == "own_pattern"] == [0.0]


def test_middle_pieces_of_more_cuts_than_angles_do_not_change_places() -> None:
    """More cuts than angles: no two pieces have the same pair at their ends."""
    width = 6.8
    bar = Manifold.cylinder(330.0, width / 2.0, width / 2.0, 64).to_mesh()
    mesh = Mesh(bar.vert_properties[:, :3].astype(float), bar.tri_verts.astype(int))
    settings = Settings((20.0, 20.0, 18.0), clearance=0.185)
    (done,) = split_surveyed(mesh, "p", settings)
    assert len(done.plan.joints) > 20
    assert [check.value for check in done.checks if check.name == "own_pattern"] == [0.0]
