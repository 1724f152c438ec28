"""Two small bores and a wide clearance: their joint still seats with little play."""

from __future__ import annotations

import pytest
from borewright.core.values import Mesh, Settings

from tests.families.shapes import two_bores
from tests.jobs import split_surveyed


@pytest.mark.parametrize(("bore", "wall", "web", "clearance"), [
    (7.25, 3.86, 1.13, 0.19), (6.13, 5.01, 1.17, 0.2), (9.55, 3.58, 1.4, 0.25),
    (3.3, 2.4, 1.7, 0.15), (3.3, 2.4, 4.7, 0.2), (3.3, 2.6, 4.7, 0.3), (3.3, 3.2, 4.7, 0.3),
])  # fmt: skip
def test_play_of_small_bores_is_held_by_a_rib_far_from_the_middle(
    bore: float, wall: float, web: float, clearance: float
) -> None:
    """A flank's gap over its distance from the middle is the play: a plain gap would be 2 degrees.

    Around bores of 3.3 mm a rib is so wide for its arc that its two flanks have levers of
    their own. The proofs refuse a play of more than 1.5 degrees.
    """
    apart = bore + web
    size = (apart + bore + 2.0 * wall, bore + 2.0 * wall)
    part = two_bores(length=150.0, bore=bore, apart=apart, size=size)
    settings = Settings((60.0, 60.0, 70.0), clearance=clearance, pieces=4)
    mesh = Mesh(part.vertices, part.triangles)
    (done,) = split_surveyed(mesh, "p", settings)
    plays = [check.value for check in done.checks if check.name == "one_seat_play"]
    assert len(plays) == 3
    assert 0.3 < min(plays) <= max(plays) <= 1.5
