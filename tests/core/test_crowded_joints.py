"""Joints as near to each other as they may be, and as many as that gives."""

from __future__ import annotations

from itertools import pairwise

from borewright.core.job import split_parts
from borewright.core.values import Mesh, Outcome, Settings

from tests.parts import tube


def split(height: float, *, bore: float, wall: float, length: float, clearance: float) -> Outcome:
    made = tube(length=length, bore=bore, outside=bore + 2.0 * wall).mesh
    settings = Settings((60.0, 60.0, height), clearance=clearance)
    (done,) = split_parts(Mesh(made.vertices, made.faces), "p", settings, 1.0, lambda _: None)
    return done


def test_a_nick_that_reaches_down_to_the_joint_below_counts_its_gap_once() -> None:
    """Nicks are deeper than the millimetre that joints keep off each other at the least."""
    done = split(16.0, bore=15.8, wall=3.7, length=88.0, clearance=0.16)
    joints = done.plan.joints
    near = [
        above.station - below.zone[1]
        for below, above in pairwise(joints)
        if above.station - below.zone[1] < max(mark.depth for mark in above.tenon.marks)
    ]
    assert near
    (balance,) = [check.value for check in done.checks if check.name == "volume_balance"]
    assert abs(balance) < 0.1
