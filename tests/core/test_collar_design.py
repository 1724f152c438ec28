"""Sizes of collars and sleeves, and what is refused with the numbers that would do."""

from __future__ import annotations

import re

import numpy as np
import pytest
from borewright.core.errors import BadSetting, CoreError, CrowdedZone, WallTooThin
from borewright.core.jointing.collar_design import (
    Place,
    bore_left,
    collar_on,
    collar_wall,
    flat_cuts,
    least_reach,
    taper_needs,
)
from borewright.core.values import Collar, RoundSurface, WallStretch

ANGLES = (0.3, 2.0)


def a_wall(
    bore: float, outside: float, *, slope: float = 0.0, off: float = 0.0, stop: float = 100.0
) -> WallStretch:
    inner = RoundSurface(bore / 2.0, slope, 0.0, stop, (off, 0.0))
    return WallStretch((0,), inner, RoundSurface(outside / 2.0, slope, 0.0, stop), 0.0, stop)


def design(
    wall: WallStretch,
    *,
    engagement: float = 8.0,
    clearance: float = 0.15,
    least_wall: float = 0.8,
    place: Place = "outside",
    station: float = 50.0,
) -> Collar:
    return collar_on(wall, 0, station, engagement, clearance, least_wall, place, ANGLES)


def refused(kind: type[CoreError], wall: WallStretch, **sizes: object) -> CoreError:
    with pytest.raises(kind) as caught:
        design(wall, **sizes)  # type: ignore[arg-type]
    return caught.value


def number_in(text: str, after: str) -> float:
    found = re.search(re.escape(after) + r" ([0-9.]+)", text)
    assert found is not None, text
    return float(found.group(1))


@pytest.mark.parametrize(("wall", "thick"), [(1.0, 1.6), (2.0, 2.0), (4.0, 3.0)])
def test_a_ring_is_as_thick_as_the_wall_within_limits(wall: float, thick: float) -> None:
    assert design(a_wall(40.0, 40.0 + 2.0 * wall)).thickness == pytest.approx(thick)


def test_a_sleeve_tells_the_bore_it_leaves() -> None:
    sleeve = design(a_wall(57.6, 60.0), place="inside")
    assert bore_left(sleeve, 50.0) == pytest.approx(57.6 - 2.0 * (0.15 + 1.6), abs=0.02)
    assert bore_left(design(a_wall(57.6, 60.0)), 50.0) == 57.6


def test_the_least_wall_is_the_thinnest_of_the_zone_less_what_bore_is_off() -> None:
    tapered = WallStretch(
        (0,), RoundSurface(10.0, 0.0, 0.0, 100.0), RoundSurface(12.0, -0.01, 0.0, 100.0), 0.0, 100.0
    )
    found = collar_wall(tapered, np.array([20.0, 50.0]), 8.0)
    assert found == pytest.approx([2.0 - 0.28, 2.0 - 0.58])
    assert collar_wall(a_wall(20.0, 23.0, off=0.3), np.array([50.0]), 8.0) == pytest.approx([1.2])


def test_a_wall_under_the_least_is_refused_and_at_the_least_is_not() -> None:
    problem = refused(WallTooThin, a_wall(20.0, 21.5))
    assert "0.75 mm" in problem.found and "0.80 mm" in problem.needed
    design(a_wall(20.0, 21.5), least_wall=0.75 - 1e-9)


def test_a_zone_past_the_walls_end_is_refused() -> None:
    problem = refused(CrowdedZone, a_wall(20.0, 23.0), station=7.9)
    assert "-0.10 to 15.90" in problem.needed
    design(a_wall(20.0, 23.0), station=8.0)


def test_a_taper_that_the_ring_cannot_pass_is_refused_and_both_remedies_work() -> None:
    steep = a_wall(20.0, 24.0, slope=0.0125)
    assert taper_needs(steep.outer, 8.0) == pytest.approx(0.2)
    remedy = refused(BadSetting, steep).remedy
    design(steep, engagement=number_in(remedy, "--engagement"))
    design(steep, clearance=number_in(remedy, "--clearance"))


def test_an_engagement_too_short_for_lugs_is_refused_and_the_one_told_works() -> None:
    wall = a_wall(20.0, 23.0)
    remedy = refused(BadSetting, wall, engagement=4.0).remedy
    told = number_in(remedy, "--engagement")
    assert least_reach(wall, 50.0, told, 0.15) <= told
    cuts = flat_cuts(design(wall, engagement=told), 50.0)
    assert 50.0 - told < cuts[0] < cuts[1] < 50.0 + told


def test_a_sleeve_that_closes_the_bore_is_refused() -> None:
    problem = refused(WallTooThin, a_wall(5.0, 8.0), place="inside")
    assert "collar" in problem.remedy


def test_two_bores_and_none_are_refused() -> None:
    one = a_wall(20.0, 23.0)
    for bores in ((), (0, 1)):
        wall = WallStretch(bores, one.inner if bores else None, one.outer, 0.0, 100.0)
        assert f"{len(bores)} bores" in refused(BadSetting, wall).found
