"""Stretches against `design_tenon` and the rules asked one station at a time."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from borewright.core.errors import WallTooThin
from borewright.core.jointing.joint_design import (
    shortest_engagement,
    usual_engagement,
)
from borewright.core.jointing.joint_line import where_kept
from borewright.core.planning.seam_stretches import SeamField, Stretch, seam_stretches
from borewright.core.values import (
    OTHER,
    Frame,
    Mesh,
    Ornament,
    RoundSurface,
    Settings,
    SideHole,
    Survey,
    Tenon,
)

from tests.surveys import a_survey, design_tenon, with_surfaces

BED = (180.0, 180.0, 180.0)


def random_part(seed: int) -> tuple[Survey, Settings]:
    """A tapered part with holes and ornaments whose wall goes from too thin to plenty."""
    rng = np.random.default_rng(seed)
    length = float(rng.uniform(80.0, 300.0))
    bore = _cone(rng.uniform(4.0, 12.0), rng.uniform(4.0, 12.0), length)
    walls = rng.uniform(1.0, 6.0), rng.uniform(1.0, 6.0)
    outer = (bore.radius_at(0.0) + walls[0], bore.radius_at(length) + walls[1])
    outside = _cone(*outer, length, offset=(float(rng.uniform(0.0, 0.2)), 0.0))
    holes = tuple(
        SideHole(z, 0.0, 2.0 * r, 2.0 * r, z - r, z + r)
        for z, r in zip(rng.uniform(5.0, length - 5.0, 4), rng.uniform(1.0, 4.0, 4), strict=True)
    )
    ornaments = tuple(
        Ornament(
            float(start),
            float(start + rng.uniform(1.0, 15.0)),
            float(outside.radius_at(start) - rng.uniform(0.0, 3.0)),
            float(outside.radius_at(start) + rng.uniform(0.0, 3.0)),
            "bore" if number == 0 else "outside",
        )
        for number, start in enumerate(rng.uniform(5.0, length - 20.0, 4))
    )
    corners = np.array([[0.0, 0.0, 0.0], [9.0, 0.0, 0.0], [0.0, 9.0, 0.0], [0.0, 0.0, length]])
    survey = a_survey(
        mesh=Mesh(corners, np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])),
        labels=np.full(4, OTHER),
        frame=Frame(np.zeros(3), np.eye(3)),
        length=length,
        bore=bore,
        outside=outside,
        side_holes=holes,
        ornaments=ornaments,
        wall_least=1.0,
        wall_median=2.0,
    )
    engagement = float(rng.uniform(4.0, 14.0)) if rng.random() < 0.5 else None
    guard = float(rng.uniform(0.0, 4.0))
    return survey, Settings(BED, engagement=engagement, guard=guard, joint="tenon")


def _cone(
    low: float, high: float, length: float, offset: tuple[float, float] = (0.0, 0.0)
) -> RoundSurface:
    return RoundSurface(float(low), float(high - low) / length, 0.0, length, offset)


def tenon_at(survey: Survey, settings: Settings, station: float, engagement: float) -> Tenon:
    return design_tenon(
        survey.bore,
        survey.outsides[0],
        station,
        engagement,
        settings.clearance,
        settings.least_wall,
        0.0,
    )


def is_fine(survey: Survey, settings: Settings, station: float, engagement: float) -> bool:
    try:
        tenon = tenon_at(survey, settings, station, engagement)
    except WallTooThin:
        return False
    top = tenon.roof_top
    fine = station >= 1.0 and top <= survey.length - 1.0
    for hole in survey.side_holes:
        fine &= max(hole.low - top, station - hole.high) >= settings.guard
    needed = tenon.reach + settings.least_wall + 0.02
    for ornament in survey.ornaments:
        clear = max(ornament.start - top, station - ornament.stop) >= settings.guard
        if ornament.place == "bore":
            fine &= clear
        else:
            seam_apart = max(ornament.start - station, station - ornament.stop)
            fine &= seam_apart >= 1.0 and (clear or ornament.least_radius >= needed)
    return bool(fine)


def diameter_at(survey: Survey, station: float) -> float:
    """Diameter of the circle in mid wall."""
    bore, outside = survey.bore, survey.outsides[0]
    eccentric = math.dist(bore.offset, outside.offset)
    return bore.radius_at(station) + outside.radius_at(station) - eccentric


def usual_at(survey: Survey, settings: Settings, station: float) -> float:
    diameter = diameter_at(survey, station)
    return settings.engagement or usual_engagement(diameter)


def home_of(stretches: list[Stretch], station: float) -> Stretch | None:
    homes = [stretch for stretch in stretches if stretch.low <= station <= stretch.high]
    return homes[0] if homes else None


@pytest.mark.parametrize("seed", range(60))
def test_a_station_lies_in_a_stretch_if_and_only_if_every_rule_holds_there(seed: int) -> None:
    survey, settings = random_part(seed)
    stretches = seam_stretches(survey, settings)
    ends = [end for stretch in stretches for end in (stretch.low, stretch.high)]
    for station in np.random.default_rng(seed).uniform(0.0, survey.length, 400).tolist():
        if any(abs(station - end) < 1e-6 for end in ends):
            continue
        home = home_of(stretches, station)
        engagement = usual_at(survey, settings, station)
        assert (home is not None) == is_fine(survey, settings, station, engagement)
        if home is not None:
            assert home.engagement == engagement
            top = tenon_at(survey, settings, station, engagement).roof_top
            assert station + home.zone_at(station) == pytest.approx(top, abs=1e-9)


@pytest.mark.parametrize("seed", range(60))
def test_a_stretch_ends_where_a_rule_begins_to_break(seed: int) -> None:
    survey, settings = random_part(seed)
    stretches = seam_stretches(survey, settings)
    for stretch in stretches:
        # the wall and the tip hold at the very ends, where a seam is often put
        for end in (stretch.low, stretch.high):
            tenon_at(survey, settings, end, stretch.engagement)
        for station in (stretch.low - 1e-6, stretch.high + 1e-6):
            neighbour = home_of(stretches, station)
            engagement = usual_at(survey, settings, station)
            assert neighbour is not None or not is_fine(survey, settings, station, engagement)


def test_the_random_parts_have_and_lack_stretches() -> None:
    counts = [len(seam_stretches(*random_part(seed))) for seed in range(60)]
    assert counts.count(0) >= 3
    assert sum(count >= 4 for count in counts) >= 20


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("cap", [6.0, 7.5])
def test_a_cap_shortens_to_it_but_not_below_the_trade(seed: int, cap: float) -> None:
    survey, settings = random_part(seed)
    if settings.engagement is not None:
        assert seam_stretches(survey, settings, cap) == seam_stretches(survey, settings)
        return
    for stretch in seam_stretches(survey, settings, cap):
        middle = (stretch.low + stretch.high) / 2.0
        diameter = diameter_at(survey, middle)
        usual, shortest = usual_engagement(diameter), shortest_engagement(diameter)
        least = min(usual, max(cap, shortest))
        assert least <= stretch.engagement <= usual
        if stretch.engagement > least:  # then only because a shorter one has no room for its tip
            with pytest.raises(WallTooThin, match="parallel"):
                tenon_at(survey, settings, middle, stretch.engagement - 0.5)


def test_a_thick_wall_takes_a_longer_engagement_than_the_cap_for_the_sake_of_its_tip() -> None:
    # bore radius 3, outside 15: tenon 8.925, cone 8.925 - 3 - 0.8 = 5.125, so 7.125 at least
    survey, _ = random_part(0)
    bare = replace(survey, side_holes=(), ornaments=())
    bore, outside = _cone(3.0, 3.0, survey.length), _cone(15.0, 15.0, survey.length)
    thick = with_surfaces(bare, bore=bore, outside=outside)
    found = seam_stretches(thick, Settings(BED), 6.0)
    assert {stretch.engagement for stretch in found} == {7.5}


@pytest.mark.parametrize("seed", range(40))
def test_joint_line_has_the_sizes_of_design_tenon(seed: int) -> None:
    survey, settings = random_part(seed)
    for engagement in (6.0, 9.5):
        line = SeamField(survey, settings).line(0, engagement)
        for station in np.linspace(1.0, survey.length - 15.0, 23):
            here = np.array([station])
            try:
                tenon = tenon_at(survey, settings, float(station), engagement)
            except WallTooThin as problem:
                short = "parallel" in problem.needed
                assert (line.parallel_spare(here) if short else line.wall_spare(here))[0] < 0.0
                continue
            assert line.wall_spare(here)[0] >= 0.0
            parallel = line.parallel_spare(here)[0] + 2.0
            assert parallel == pytest.approx(tenon.parallel_length, abs=1e-9)
            assert line.tenon_radius(here)[0] == tenon.tenon_radius
            assert {key.relief for key in tenon.keys} == {line.relief}
            assert station + line.zone(here)[0] == pytest.approx(tenon.roof_top, abs=1e-9)


@pytest.mark.parametrize("seed", range(10))
def test_sizes_are_linear_on_each_part(seed: int) -> None:
    survey, settings = random_part(seed)
    line = SeamField(survey, settings).line(0, 8.0)
    parts = line.linear_parts(2.0, survey.length - 12.0)
    assert all(first[1] == second[0] for first, second in pairwise(parts))
    for low, high in parts:
        stations = np.linspace(low, high, 7)
        for values in (
            line.wall_spare(stations),
            line.parallel_spare(stations),
            line.zone(stations),
            line.radius_needed(stations),
        ):
            assert np.diff(values, n=2) == pytest.approx(0.0, abs=1e-9)


def test_where_kept_solves_for_the_end_and_stays_on_the_kept_side() -> None:
    ((low, high),) = where_kept([(0.0, 10.0)], lambda z: z - 4.0)
    assert 4.0 <= low <= 4.0 + 1e-9
    assert high == 10.0
    ((low, high),) = where_kept([(0.0, 10.0)], lambda z: 4.0 - z)
    assert (low, high) == (0.0, pytest.approx(4.0, abs=1e-9))
    assert high <= 4.0
    assert where_kept([(0.0, 10.0)], lambda z: z * 0.0 - 1.0) == []
    assert where_kept([(0.0, 10.0)], lambda z: z * 0.0) == [(0.0, 10.0)]
