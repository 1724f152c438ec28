"""The least wall beside bulbs, sockets and dents, against closed forms and an independent gap."""

from __future__ import annotations

import math

import numpy as np
import pytest
from borewright.core.meshes.mend import mend_bodies
from borewright.core.surveying.survey import survey_part
from borewright.core.values import Survey
from manifold3d import CrossSection, Manifold

from tests.loose_parts import mesh_of

LENGTH = 330.0


def survey_of(part: Manifold) -> Survey:
    (body,) = mend_bodies(mesh_of(part))
    return survey_part(body, max_move=0.1)


def rod(radius: float, low: float, high: float, sides: int = 96) -> Manifold:
    return Manifold.cylinder(high - low, radius, -1.0, sides).translate((0.0, 0.0, low))


def swollen(radius: float, swell: float, half: float, low: float, high: float) -> Manifold:
    """A rod that swells by a full wave of a cosine about its station 150."""
    z = np.linspace(150.0 - half, 150.0 + half, 60)
    radii = radius + swell * (1.0 + np.cos(math.pi * (z - 150.0) / half)) / 2.0
    corners = [(0.0, low), (radius, low), *zip(radii, z, strict=True), (radius, high), (0.0, high)]
    return CrossSection([np.array(corners)]).revolve(96)


def ball(radius: float, reach: float, angle_deg: float = 0.0, station: float = 150.0) -> Manifold:
    """A ball whose middle is so far from the axis."""
    placed = Manifold.sphere(radius, 96).translate((reach, 0.0, station))
    return placed.rotate((0.0, 0.0, angle_deg))


def octagon(across: float) -> Manifold:
    """Flat sides so far apart, the first of them square to x."""
    return rod(across / 2.0 / math.cos(math.pi / 8.0), 0.0, LENGTH, 8).rotate((0.0, 0.0, 22.5))


OUTER, BORE = rod(13.0, 0.0, LENGTH), rod(8.0, -1.0, LENGTH + 1.0)
NARROW = rod(5.0, -1.0, LENGTH + 1.0)
DENT, INNER_DENT = ball(10.0, 21.5), ball(6.0, 3.0)
"""Of the outside, 1.5 mm deep; of the bore, 1 mm deep."""


def bore_bulb(swell: float, half: float) -> Manifold:
    return swollen(8.0, swell, half, -1.0, LENGTH + 1.0)


def bulb(swell: float, half: float) -> Manifold:
    return swollen(13.0, swell, half, 0.0, LENGTH)


PARTS = {
    "bulb of the outside": (bulb(4.0, 40.0) - BORE, 5.0),
    "waist of the outside": (bulb(-2.0, 20.0) - BORE, 3.0),
    "short bulb of the bore": (OUTER - bore_bulb(2.0, 10.0), 3.0),
    "long bulb of the bore": (OUTER - bore_bulb(2.0, 40.0), 3.0),
    "bulb that thins": (bulb(4.0, 30.0) - bore_bulb(6.0, 30.0), 3.0),
    "bulb that thickens": (bulb(6.0, 30.0) - bore_bulb(3.0, 30.0), 5.0),
    "square socket": (OUTER - NARROW - rod(8.0, 312.0, 331.0, 4), 5.0),
    "nut's socket": (OUTER - NARROW - rod(8.0, 312.0, 331.0, 6), 5.0),
    "nut's socket, low": (OUTER - NARROW - rod(8.0, -1.0, 18.0, 6), 5.0),
    "nut's pocket": (OUTER - NARROW - rod(8.0, 100.0, 120.0, 6), 5.0),
    "nut's socket in an octagon": (
        octagon(28.0) - NARROW - rod(8.0, 312.0, 331.0, 6),
        6.0,
    ),
    "dent against dent": (OUTER - BORE - DENT - INNER_DENT, 2.5),
    "dent beside dent": (OUTER - BORE - DENT - ball(6.0, 3.0, 180.0), 3.5),
    "dent of an octagon's bore": (octagon(28.0) - BORE - INNER_DENT, 5.0),
    "dent of an octagon against dent": (octagon(28.0) - BORE - ball(10.0, 22.5) - INNER_DENT, 3.5),
}


@pytest.mark.parametrize("name", PARTS)
def test_the_least_wall_is_found_beside_what_is_of_no_known_surface(name: str) -> None:
    part, least = PARTS[name]
    assert survey_of(part).wall_least == pytest.approx(least, abs=0.02)


@pytest.mark.parametrize("rounded", [False, True])
def test_chamfers_and_roundings_of_the_ends_are_no_thin_wall(*, rounded: bool) -> None:
    steps = np.linspace(0.0, math.pi / 2.0, 9 if rounded else 2)
    rim = [(8.0 + 2.0 * (1.0 - math.cos(a)), 2.0 * (1.0 - math.sin(a))) for a in steps]
    low = [*rim, *((21.0 - r, z) for r, z in reversed(rim))]
    high = [(r, LENGTH - z) for r, z in reversed(low)]
    part = CrossSection([np.array([*low, *high])]).revolve(96)
    assert survey_of(part).wall_least == pytest.approx(5.0, abs=0.02)


def test_the_lip_of_an_undercut_is_no_wall_between_bore_and_outside() -> None:
    """A ball sunk whole into the outside: its rim is sharp, the wall under it 2 mm."""
    part = OUTER - BORE - ball(2.0, 12.0)
    assert survey_of(part).wall_least == pytest.approx(2.0, abs=0.02)


def test_the_edge_at_which_two_bores_part_is_no_thin_wall() -> None:
    """A wide bore that narrows into two: 4 mm lie between those, the edge is sharp."""
    arms = [
        (rod(13.0, 145.0, 150.0) + rod(5.0, 150.0, 170.0).translate((x, 0.0, 0.0))).hull()
        + rod(5.0, 150.0, 331.0).translate((x, 0.0, 0.0))
        for x in (-7.0, 7.0)
    ]
    part = rod(20.0, 0.0, LENGTH) - rod(13.0, -1.0, 151.0) - arms[0] - arms[1]
    assert survey_of(part).wall_least == pytest.approx(4.0, abs=0.02)


def dented(rng: np.random.Generator) -> tuple[Manifold, float]:
    """A tube with dents at one station on either side of its wall; and the gap of the two.

    The gap is manifold3d's, in space, between the room of the bore and all around the part.
    """
    outer, bore = rod(13.0, 0.0, 120.0, 200), rod(7.0, -1.0, 121.0, 200)
    angle, station = rng.uniform(0.0, 360.0), rng.uniform(20.0, 100.0)
    for inside in (True, False, bool(rng.random() < 0.5)):
        radius, deep = rng.uniform(2.0, 6.0), rng.uniform(0.4, 1.9)
        turn = float(angle + rng.normal(0.0, 6.0))
        if inside:
            bore += ball(radius, 7.0 + deep - radius, turn, station)
        else:
            outer -= ball(radius, 13.0 - deep + radius, turn, station)
    around = Manifold.cube((60.0, 60.0, 120.0)).translate((-30.0, -30.0, 0.0)) - outer
    return outer - bore, bore.min_gap(around, 6.5)


@pytest.mark.parametrize("seed", range(8))
def test_dents_anywhere_leave_the_wall_that_is_told(seed: int) -> None:
    part, gap = dented(np.random.default_rng(seed))
    survey = survey_of(part)
    assert survey.wall_least == pytest.approx(gap, abs=0.02)
    assert {bore.offset for bore in survey.bores} == {survey.bores[0].offset}


Dent = tuple[bool, float, float, float, float]
"""Of the bore or not, degrees, station, radius, depth."""

BORE_DENTS: list[tuple[int, float, float, list[Dent]]] = [
    (96, 13.0, 6.0, [(True, 99.0, 53.6, 3.9, 2.31)]),
    (48, 14.0, 6.5, [(True, 42.0, 82.5, 3.5, 1.57), (True, 16.0, 88.7, 3.4, 1.4)]),
    (48, 14.0, 6.5, [(True, 174.0, 84.4, 4.0, 1.7), (True, 185.0, 84.4, 3.9, 1.5)]),
    (96, 14.0, 7.0, [(True, 192.0, 55.6, 3.8, 2.0), (True, 188.0, 55.6, 3.3, 0.9)]),
    (96, 14.0, 6.0, [(True, 187.0, 58.6, 3.0, 1.0), (True, 177.0, 58.6, 4.0, 1.1)]),
    (
        96,
        13.0,
        6.0,
        [
            (True, 322.0, 53.8, 4.4, 0.49),
            (False, 314.0, 53.8, 3.0, 3.25),
            (True, 319.0, 53.8, 3.5, 1.57),
        ],
    ),
]


@pytest.mark.parametrize(("sides", "outer", "bore", "dents"), BORE_DENTS)
def test_a_dented_bore_is_one_bore(
    sides: int, outer: float, bore: float, dents: list[Dent]
) -> None:
    """Facets along it reach past a dent on both sides; the dent's own side is no bore."""
    whole, room = rod(outer, 0.0, 120.0, sides), rod(bore, -1.0, 121.0, sides)
    for inside, angle, station, radius, deep in dents:
        reach = bore + deep - radius if inside else outer - deep + radius
        dent = Manifold.sphere(radius, 64).translate((reach, 0.0, 0.0))
        dent = dent.rotate((0.0, 0.0, angle)).translate((0.0, 0.0, station))
        room, whole = (room + dent, whole) if inside else (room, whole - dent)
    survey = survey_of(whole - room)
    reaches = [end for found in survey.bores for end in (found.start, found.stop)]
    assert (min(reaches), max(reaches)) == pytest.approx((0.0, 120.0), abs=0.02)
    assert {found.offset for found in survey.bores} == {(0.0, 0.0)}
    assert [found.radius_at(60.0) for found in survey.bores] == pytest.approx(
        [bore] * len(survey.bores), abs=0.01
    )


def test_nothing_is_cut_again_for_a_plain_tube(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise AssertionError("a plain tube is cut for its thin places")

    monkeypatch.setattr("borewright.core.surveying.thin_places.cut_sections", refuse)
    drilled = OUTER - BORE - rod(3.0, 0.0, 20.0).rotate((0.0, 90.0, 0.0)).translate((0, 0, 90))
    assert survey_of(drilled).wall_least == pytest.approx(5.0, abs=0.01)
