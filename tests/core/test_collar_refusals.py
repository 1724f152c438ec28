"""Collars and sleeves that find no place are refused in words, with what would do."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from borewright.core.errors import CoreError, NoPlan
from borewright.core.values import Mesh, Outcome, Settings
from manifold3d import Manifold

from tests.jobs import plan_surveyed
from tests.parts import Hole, tube


def plan(mesh: Mesh, settings: Settings) -> Outcome:
    (planned,) = plan_surveyed(mesh, "p", settings)
    return planned


def test_a_collar_higher_than_the_envelope_is_refused_and_the_remedy_works() -> None:
    made = tube(length=75.2, bore=28.8, outside=30.44).mesh
    mesh = Mesh(made.vertices, made.faces)
    settings = Settings((49.0, 49.0, 38.4), engagement=24.2)
    with pytest.raises(NoPlan) as caught:
        plan(mesh, settings)
    assert caught.value.found.startswith("a collar 48.40 mm high")
    remedy = re.search(r"--engagement (\S+)", caught.value.remedy)
    assert remedy is not None
    planned = plan(mesh, replace(settings, engagement=float(remedy[1])))
    assert all(2.0 * joint.engagement <= 38.4 for joint in planned.plan.joints)


def test_a_sleeve_with_no_room_in_one_of_two_walls_is_refused_in_words() -> None:
    """The step leaves a wall in which no zone of a sleeve lies."""
    solid = Manifold.cylinder(157.2, 12.21, 12.21, 96)
    solid -= Manifold.cylinder(57.6, 4.27, 4.27, 96).translate((0.0, 0.0, -1.0))
    solid -= Manifold.cylinder(102.0, 1.5, 1.5, 96).translate((0.0, 0.0, 56.6))
    made = solid.to_mesh()
    mesh = Mesh(made.vert_properties[:, :3].astype(float), made.tri_verts.astype(int))
    settings = Settings((40.2, 40.2, 16.0), joint="sleeve", clearance=0.45, pieces=4)
    with pytest.raises(CoreError) as caught:
        plan(mesh, settings)
    assert caught.value.found and caught.value.needed and caught.value.remedy


def test_side_holes_that_shut_a_collar_out_are_told_and_no_bore_steps() -> None:
    holes = [
        Hole(33.3, -61.0, 12.72), Hole(91.4, 103.2, 9.36), Hole(115.0, -54.9, 7.79),
        Hole(170.4, -78.6, 14.56), Hole(212.0, -164.9, 16.37), Hole(263.0, 77.5, 2.82),
        Hole(298.5, -116.3, 12.16), Hole(324.35, -34.4, 7.38), Hole(360.9, -170.3, 7.32),
    ]  # fmt: skip
    made = tube(length=394.86, bore=28.12, outside=33.74, holes=holes).mesh
    settings = Settings((53.7, 53.7, 39.5), joint="collar", clearance=0.25, least_wall=1.24)
    with pytest.raises(NoPlan) as caught:
        plan(Mesh(made.vertices, made.faces), settings)
    assert "side holes from" in caught.value.found
    assert "of the bore" not in caught.value.found
