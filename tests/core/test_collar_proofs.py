"""Each proof of a collar says no to a piece that breaks its promise. Damage is made by booleans."""

from __future__ import annotations

import math

import pytest
from manifold3d import Manifold

from tests.collared import SEAM, WALLS, Collared, collared

WALL = "wall 1.2 around 57.6"
BORE, OUTSIDE = 28.8, 30.0
"""Radii, mm, of that wall."""

TURNED_DEG = 3.0


def tube_of(inner: float, outer: float, low: float, high: float) -> Manifold:
    """A ring about the axis, fine enough to lie within 0.001 of its circles."""
    whole = Manifold.cylinder(high - low, outer, outer, 720)
    hole = Manifold.cylinder(high - low + 2.0, inner, inner, 720).translate((0.0, 0.0, -1.0))
    return (whole - hole).translate((0.0, 0.0, low))


def block(radius: float, angle: float, size: tuple[float, float, float], height: float) -> Manifold:
    """A box, radial by tangential by upright, about a place."""
    box = Manifold.cube(size, center=True).rotate((0.0, 0.0, math.degrees(angle)))
    return box.translate((radius * math.cos(angle), radius * math.sin(angle), height))


def failed(made: Collared, **changed: Manifold) -> set[str]:
    return {name for name, check in made.checks(**changed).items() if not check.ok}


@pytest.fixture(scope="module")
def made() -> Collared:
    return collared(WALL, "outside")


@pytest.mark.parametrize("wall", WALLS)
def test_what_was_made_proves(wall: str) -> None:
    for place in ("outside", "inside"):
        assert failed(collared(wall, place)) == set()


def test_a_ring_turned_into_the_ends_overlaps(made: Collared) -> None:
    turned = made.ring.rotate((0.0, 0.0, TURNED_DEG))
    assert {"overlap", "key_clearance"} <= failed(made, ring=turned)


def test_a_ring_off_its_middle_is_too_near_on_one_side(made: Collared) -> None:
    assert {"least_clearance"} <= failed(made, ring=made.ring.translate((0.1, 0.0, 0.0)))


def test_a_ring_scooped_out_is_too_far(made: Collared) -> None:
    scoop = block(OUTSIDE + 0.15, 4.0, (0.4, 6.0, 20.0), SEAM)
    assert "greatest_clearance" in failed(made, ring=made.ring - scoop)


def test_a_ring_skimmed_outside_is_too_thin(made: Collared) -> None:
    skim = tube_of(OUTSIDE + 0.8, OUTSIDE + 5.0, SEAM + 2.0, SEAM + 4.0)
    assert "collar_wall" in failed(made, ring=made.ring - skim)


def test_an_end_skimmed_inside_is_too_thin(made: Collared) -> None:
    skim = tube_of(BORE - 1.0, BORE + 0.6, SEAM - 6.0, SEAM - 4.0)
    assert {"end_wall", "bore_kept"} <= failed(made, lower=made.lower - skim)


def test_a_ring_without_lugs_turns_freely(made: Collared) -> None:
    lugs = tube_of(BORE - 1.0, OUTSIDE + 0.1, SEAM - 7.0, SEAM + 7.0)
    assert {"one_seat_play", "axial_play"} <= failed(made, ring=made.ring - lugs)


def test_lugs_at_even_angles_seat_twice() -> None:
    even = collared(WALL, "outside", angles=(0.3, 0.3 + math.pi))
    # the first lug is wider than the other's notch: turned by half it stays out
    assert "one_seat_free_turns" not in failed(even)
    narrow = block(OUTSIDE - 0.6, 0.3, (3.0, 3.0, 20.0), SEAM)
    first = block(OUTSIDE - 0.6, 0.3, (1.49, 8.0, 9.0), SEAM)
    alike = even.ring - (first - narrow)
    assert "one_seat_free_turns" in failed(even, ring=alike)


def test_lugs_cut_short_let_the_ring_slide(made: Collared) -> None:
    top = tube_of(BORE - 1.0, OUTSIDE + 0.1, SEAM + 1.0, SEAM + 7.0)
    assert "axial_play" in failed(made, ring=made.ring - top)


def test_a_ring_pushed_up_its_notches_comes_too_near(made: Collared) -> None:
    assert "cone_clearance" in failed(made, ring=made.ring.translate((0.0, 0.0, 0.15)))


def test_an_upper_piece_that_stands_off_does_not_meet(made: Collared) -> None:
    raised = made.upper.translate((0.0, 0.0, 0.05))
    assert {"shoulders_meet", "seam_at_station"} <= failed(made, upper=raised)


def test_a_dent_in_the_outside_is_seen(made: Collared) -> None:
    dent = block(OUTSIDE, 4.0, (0.4, 3.0, 3.0), SEAM + 5.0)
    assert "outside_kept" in failed(made, upper=made.upper - dent)


def test_a_flat_ceiling_in_the_ring_hangs(made: Collared) -> None:
    groove = tube_of(OUTSIDE, OUTSIDE + 0.6, SEAM - 6.0, SEAM - 5.0)
    assert "self_supporting" in failed(made, ring=made.ring - groove)
