"""Glue, stock for mandrels, files and whole layers: closed forms and hand-worked values."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from borewright.core.bench.glue_amounts import DROP, drops_for, glue_for, mixed_for
from borewright.core.bench.layer_steps import whole_layers
from borewright.core.bench.mandrels import (
    FOAMS,
    INCH_DOWELS,
    PAPER,
    Dowel,
    Mandrel,
    all_dowels,
    bare_dowel_for,
    mandrels_for,
)
from borewright.core.bench.round_files import ROUND_FILES, drill_bit_for, round_file_for


def test_a_drop_is_its_mass_over_its_density() -> None:
    assert (DROP.low, DROP.high) == pytest.approx((20.0 / 1.06, 30.0 / 1.06))


@pytest.mark.parametrize(("diameter", "length", "gap"), [(20.0, 15.0, 0.1), (8.0, 6.0, 0.05)])
def test_drops_hold_the_gap_and_not_much_more(diameter: float, length: float, gap: float) -> None:
    """20 x 15 x 0.1: pi D L g is 94.25 mm3, some 0.1 g."""
    volume = math.pi * diameter * length * gap
    few, many = drops_for(volume)
    assert many * DROP.low >= volume > (many - 1) * DROP.low
    assert few == 1 or few * DROP.high <= volume < (few + 1) * DROP.high


def test_wide_gaps_take_epoxy_and_narrow_ones_instant_glue() -> None:
    assert [glue_for(gap, 60.0).is_instant for gap in (0.0, 0.05, 0.15, 0.2)] == [True] * 4
    assert not glue_for(0.21, 60.0).is_instant
    assert glue_for(0.04, 60.0).kind != glue_for(0.06, 60.0).kind
    assert glue_for(0.15, 60.0).handling.low > glue_for(0.1, 60.0).handling.low


def test_so_much_that_it_would_run_takes_epoxy_whatever_the_gap() -> None:
    assert glue_for(0.15, 300.0).is_instant
    assert not glue_for(0.15, 301.0).is_instant


def test_inch_dowels_are_what_their_names_say() -> None:
    for name, sixteenths in INCH_DOWELS.items():
        assert sum(Fraction(word) for word in name.split()) == Fraction(sixteenths, 16)
    half = next(dowel for dowel in all_dowels() if dowel.name == "1/2 in")
    assert half.diameter == pytest.approx(12.7)


@pytest.mark.parametrize("bore", [6.0, 9.5, 12.0, 14.2, 19.0, 23.0, 31.5, 44.0])
def test_stock_adds_up_to_the_bore(bore: float) -> None:
    """In its place the foam is what bore, dowel and paper leave of it."""
    told = mandrels_for(bore, 3.0, 0.8)
    assert told
    for mandrel in told:
        for paper, squeeze in zip(PAPER, mandrel.squeeze, strict=True):
            left = (bore - mandrel.dowel.diameter) / 2.0 - paper
            assert left == pytest.approx(mandrel.foam * (1.0 - squeeze))
        is_light = mandrel.squeeze[0] >= 0.0 and mandrel.squeeze[1] <= 0.3
        assert (mandrel.press == "light") == is_light
        assert mandrel.dowel.diameter + 2.0 * PAPER[1] < bore


@pytest.mark.parametrize("bore", [10.0, 14.2, 19.0, 23.0, 31.5, 44.0])
def test_there_is_a_light_one_for_every_usual_bore(bore: float) -> None:
    assert "light" in {mandrel.press for mandrel in mandrels_for(bore, 3.0, 0.8)}


def test_no_nearer_stock_was_passed_over() -> None:
    for mandrel in mandrels_for(14.2, 3.0, 0.8):
        off = abs(sum(mandrel.squeeze) / 2.0 - 0.12)
        for dowel in all_dowels():
            other = Mandrel(dowel, mandrel.foam, 14.2, 3.0, 0.8)
            if dowel.system == mandrel.dowel.system and other.press != "hard":
                assert abs(sum(other.squeeze) / 2.0 - 0.12) >= off - 1e-12


def test_a_mandrel_never_cuts_wider_than_it_is() -> None:
    """10 mm with 2 mm foam and paper of up to 0.4 is 14.8: of a 14.2 bore it takes 0.3 a side."""
    mandrel = Mandrel(Dowel("10 mm", 10.0, "metric"), 2.0, 14.2, 1.2, 0.8)
    assert mandrel.across == pytest.approx((14.4, 14.8))
    assert mandrel.squeeze == pytest.approx((0.05, 0.15))
    assert mandrel.wall_left == pytest.approx(0.9)
    assert mandrel.keeps_wall
    assert not Mandrel(mandrel.dowel, 2.0, 14.2, 1.05, 0.8).keeps_wall
    short = Mandrel(Dowel("8 mm", 8.0, "metric"), 2.0, 14.2, 1.2, 0.8)
    assert (short.press, short.wall_left) == ("falls short", 1.2)
    assert {2.0, 3.0, 5.0} == set(FOAMS)


@pytest.mark.parametrize("bore", [1.0, 2.5, 3.0, 6.0, 9.5, 14.2, 31.5, 57.6, 120.0])
@pytest.mark.parametrize("wall", [0.8, 1.0, 1.2, 3.0])
def test_nothing_is_told_that_would_thin_the_wall_or_press_hard(bore: float, wall: float) -> None:
    for one in mandrels_for(bore, wall, 0.8):
        widest = one.dowel.diameter + 2.0 * one.foam + 0.8
        assert wall - max(0.0, widest - bore) / 2.0 >= 0.8 - 1e-9
        assert one.press != "hard"


@pytest.mark.parametrize(("bore", "dowel"), [
    (3.0, "2 mm"), (6.0, "5 mm"), (14.2, "1/2 in"), (2.7, None), (57.6, None),
])  # fmt: skip
def test_where_foam_has_no_room_paper_goes_on_the_dowel(bore: float, dowel: str | None) -> None:
    """5 mm and two turns of 0.4 mm are 5.8; 1/2 in is 12.7, and 13.5 with its paper."""
    found = bare_dowel_for(bore)
    assert (None if found is None else found.dowel.name) == dowel
    assert found is None or found.across[1] <= bore


@pytest.mark.parametrize(("volume", "mixed"), [(59.0, 1.0), (500.0, 1.0), (707.0, 1.414)])
def test_epoxy_is_mixed_twice_over_and_never_in_specks(volume: float, mixed: float) -> None:
    assert mixed_for(volume) == pytest.approx(mixed)


@pytest.mark.parametrize(("hole", "size"), [(2.4, 2.4), (2.05, 2.0), (1.3, 1.3)])
def test_a_drill_bit_makes_no_hole_wider(hole: float, size: float) -> None:
    assert drill_bit_for(hole) == pytest.approx(size)


@pytest.mark.parametrize(("hole", "size"), [(7.0, 5.0), (8.0, 6.0), (2.5, 2.0), (2.4, None)])
def test_a_file_leaves_room_to_move(hole: float, size: float | None) -> None:
    assert round_file_for(hole) == size
    assert size is None or size == max(one for one in ROUND_FILES if one <= 0.8 * hole)


@pytest.mark.parametrize(("height", "layer", "layers"), [(172.0, 0.2, 860), (5.1, 0.2, 26),
                                                   (5.09, 0.2, 25), (8.0, 0.3, 27)])  # fmt: skip
def test_heights_snap_to_the_nearest_layer(height: float, layer: float, layers: int) -> None:
    """Middles of layers below the height, counted one by one."""
    assert whole_layers(height, layer) == layers
    middles = [(number + 0.5) * layer for number in range(2000)]
    assert sum(middle <= height + 1e-6 for middle in middles) == layers
