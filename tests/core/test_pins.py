"""Joints of three pins: their sizes along a part, and the pieces, measured with booleans."""

from __future__ import annotations

import math
from functools import cache
from itertools import combinations

import numpy as np
import pytest
from borewright.core.errors import WallTooThin
from borewright.core.jointing.joint_design import CutPlace, usual_engagement
from borewright.core.jointing.key_pattern import LEAST_STEP
from borewright.core.jointing.pins_design import pin_patterns, pin_turn, pins_on, prefers_pins
from borewright.core.jointing.pins_line import LEAST_PIN, PinsLine
from borewright.core.jointing.wall_run import run_of
from borewright.core.values import AXIAL_GAP, MOUTH_RELIEF, RoundSurface, Tenon
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection, Manifold

from tests.grouped import (
    LENGTH,
    SEAMS,
    GroupedPart,
    free_turns,
    least_distance,
    pinned,
    round_section,
    slab,
    square_section,
    steepest_down_deg,
)

CLEARANCE, LEAST_WALL = 0.15, 0.8
SECTIONS = {
    "round 60": (round_section(60.0), 25.0),
    "round 90": (round_section(90.0), 25.0),
    "square 70": (square_section(70.0), 25.0),
    "ring 40/12": (round_section(40.0, 12.0), 16.0),
}
LEVELS = (1.0, 4.0, 8.0)
"""Heights over the seam, mm, at which pins and sockets are parallel."""


@cache
def part_of(name: str) -> GroupedPart:
    return pinned(*SECTIONS[name])


@cache
def alike(name: str) -> GroupedPart:
    """The same with one pattern for all cuts."""
    return pinned(*SECTIONS[name], same=True)


every_section = pytest.mark.parametrize("name", SECTIONS)


def lower_at(part: GroupedPart, number: int, height: float) -> CrossSection:
    return part.placed[number].slice(SEAMS[number] + height)


def upper_at(part: GroupedPart, number: int, height: float) -> CrossSection:
    return part.placed[number + 1].slice(SEAMS[number] + height)


def sockets_at(part: GroupedPart, number: int, height: float) -> list[CrossSection]:
    """The sockets: what the upper piece lacks of the part."""
    whole = part.solid.slice(SEAMS[number] + height)
    holes = (whole - upper_at(part, number, height)).decompose()
    return [hole for hole in holes if hole.area() > 1.0]


# --- the pieces --------------------------------------------------------------------------


@every_section
def test_every_proof_holds(name: str) -> None:
    part = part_of(name)
    assert [check for checks in part.checks.values() for check in checks if not check.ok] == []
    for proof in ("one_seat_play", "one_seat_free_turns", "between_tenons", "between_sockets"):
        assert len(part.checks[proof]) == len(SEAMS)
    assert len(part.checks["own_pattern"]) == 1


@every_section
def test_pieces_share_nothing_and_lack_only_the_gaps(name: str) -> None:
    part = part_of(name)
    lacking = part.solid.volume() - sum(piece.volume() for piece in part.placed)
    due = 0.0
    for joint in part.joints:
        for pin in joint.tenons:
            due += math.pi * (
                _turned_volume(pin.socket_radius, pin.roof_top - pin.station, 0.0)
                - _turned_volume(pin.tenon_radius, pin.engagement, pin.land)
            )
    # beside the closed form: nicks, mouths' bevels and the facets, 0.005 of each outline
    assert due < lacking < 1.35 * due
    for lower, upper in zip(part.placed, part.placed[1:], strict=False):
        assert (lower ^ upper).volume() < 0.01


def _turned_volume(radius: float, height: float, land: float) -> float:
    """Over pi: a cylinder that ends in a 45 degree cone down to a land."""
    cone = radius - land
    frustum = cone * (radius**2 + radius * land + land**2) / 3.0
    return radius**2 * (height - cone) + frustum


@every_section
def test_clearance_all_around_each_pin_is_the_one_asked_for(name: str) -> None:
    part = part_of(name)
    for number, station in enumerate(SEAMS):
        low, high = station + 0.5, station + LEVELS[-1]
        gap = slab(part.placed[number], low, high).min_gap(
            slab(part.placed[number + 1], low + 1.0, high - 1.0), 1.0
        )
        assert gap == pytest.approx(CLEARANCE, abs=0.01)
        sockets = sockets_at(part, number, 4.0)
        pins = lower_at(part, number, 4.0).decompose()
        assert len(sockets) == len(pins) == 3
        for pin in pins:
            # the room of a pin in the socket around it, the same on every side
            (own,) = [hole for hole in sockets if (hole ^ pin).area() > 1.0]
            widest = pin.offset(CLEARANCE + 0.011, circular_segments=256)
            assert (own - pin).area() > 0.0 and (own - widest).area() < 1e-6


@every_section
def test_sockets_keep_their_walls(name: str) -> None:
    part = part_of(name)
    for number, station in enumerate(SEAMS):
        for height in LEVELS:
            whole = part.solid.slice(station + height)
            sockets = sockets_at(part, number, height)
            room = CrossSection.square((400.0, 400.0), center=True) - whole
            for socket in sockets:
                assert least_distance(socket, room) >= LEAST_WALL
            for one, other in combinations(sockets, 2):
                assert least_distance(one, other) >= 2.0 * LEAST_WALL


@every_section
def test_pins_seat_in_one_rotation_only(name: str) -> None:
    part = part_of(name)
    turns = np.arange(360.0)
    for number in range(len(SEAMS)):
        for height in LEVELS:
            free = free_turns(
                lower_at(part, number, height), upper_at(part, number, height), (0.0, 0.0), turns
            )
            assert set(free.tolist()) <= {0.0, 1.0, 359.0}
        play = max(check.value for check in part.checks["one_seat_play"])
        circle = math.hypot(*part.joints[number].tenon.centres[0])
        assert play == pytest.approx(math.degrees(CLEARANCE / circle), abs=0.05)


@every_section
def test_no_two_middle_pieces_can_change_places(name: str) -> None:
    part = part_of(name)
    turns = np.arange(0.0, 360.0, 0.5)
    # pieces 1 and 2 change places: 0 meets 2, 2 meets 1, 1 meets 3
    for lower, upper in ((0, 1), (1, 2), (2, 0)):
        for height in LEVELS[::2]:
            below, above = lower_at(part, lower, height), upper_at(part, upper, height)
            assert len(free_turns(below, above, (0.0, 0.0), turns)) == 0


def test_pieces_of_one_pattern_would_change_places() -> None:
    part = alike("round 60")
    below, above = lower_at(part, 0, 4.0), upper_at(part, 1, 4.0)
    assert 0.0 in free_turns(below, above, (0.0, 0.0), np.arange(-3.0, 4.0))
    assert {name for name, checks in part.checks.items() if not all(c.ok for c in checks)} == {
        "own_pattern"
    }
    assert part.checks["own_pattern"][0].value == 1.0


@every_section
def test_roofs_print_unsupported_and_end_in_a_point(name: str) -> None:
    part = part_of(name)
    for number, joint in enumerate(part.joints):
        top = joint.zone[1]
        upper = part.placed[number + 1]
        assert steepest_down_deg(upper, SEAMS[number] + 0.1, top + 1.0) <= 45.5
        for pin in joint.tenons:
            room = part.solid.slice(top - 1.0) - upper.slice(top - 1.0)
            near = CrossSection.circle(2.0, 48).translate(pin.centres[0])
            assert (room ^ near).area() == pytest.approx(math.pi, rel=0.02)  # 1 mm under a point
        assert abs((part.solid.slice(top + 0.01) - upper.slice(top + 0.01)).area()) < 1e-3
        highest = part.placed[number].bounding_box()[5]
        assert highest == pytest.approx(joint.station + joint.engagement, abs=1e-4)
        assert top == pytest.approx(highest + AXIAL_GAP + LEAST_WALL, abs=1e-4)


@every_section
def test_the_widest_pin_has_as_many_nicks_as_its_cut_has_cuts_below(name: str) -> None:
    part = part_of(name)
    for number, station in enumerate(SEAMS):
        root = part.solid.slice(station - 0.3) - part.placed[number].slice(station - 0.3)
        nicks = [nick for nick in root.decompose() if nick.area() > 0.1]
        assert len(nicks) == number + 1
        centre = part.joints[number].tenon.centres[0]
        for nick in nicks:
            x0, y0, x1, y1 = nick.bounds()
            away = math.dist(((x0 + x1) / 2.0, (y0 + y1) / 2.0), centre)
            assert away == pytest.approx(part.joints[number].tenon.tenon_radius + 0.4, abs=0.5)


# --- damaged pieces ----------------------------------------------------------------------


@cache
def one_cut() -> GroupedPart:
    return pinned(*SECTIONS["round 60"], seams=SEAMS[:1])


def rod(centre: tuple[float, float], radius: float, seam: float = SEAMS[0]) -> Manifold:
    """A cylinder from under a seam up to over pins and roofs."""
    return Manifold.cylinder(30.0, radius, circular_segments=96).translate((*centre, seam - 1.0))


def bridge(one: Tenon, other: Tenon, wide: float, left: float) -> Manifold:
    """A wall from the middle of a pin towards another, that ends so far from its outline.

    wide : mm, the other one's radius
    """
    ends = np.array(one.centres[0]), np.array(other.centres[0])
    apart = float(np.linalg.norm(ends[1] - ends[0]))
    stop = ends[0] + (ends[1] - ends[0]) * (apart - wide - left - 1.0) / apart
    return Manifold.batch_hull([rod((x, y), 1.0) for x, y in (ends[0].tolist(), stop.tolist())])


def test_a_second_seat_is_found() -> None:
    part = one_cut()
    upper = part.placed[1]
    for pin in part.joints[0].tenons:
        upper -= rod(pin.centres[0], pin.socket_radius + 0.1).rotate((0.0, 0.0, 67.0))
    assert "one_seat_free_turns" in part.prove_damaged(1, upper)


def test_play_is_found() -> None:
    # 18 mm off the middle 1.5 degrees are 0.47
    part = one_cut()
    for gap, found in ((0.5, True), (0.42, False)):
        upper = part.placed[1]
        for pin in part.joints[0].tenons:
            upper -= rod(pin.centres[0], pin.tenon_radius + gap)
        assert ("one_seat_play" in part.prove_damaged(1, upper)) == found


def test_a_thin_web_between_sockets_is_found() -> None:
    part = one_cut()
    first, second, _ = part.joints[0].tenons
    for left, found in ((1.5, True), (1.7, False)):
        upper = part.placed[1] - bridge(first, second, second.socket_radius, left)
        assert ("between_sockets" in part.prove_damaged(1, upper)) == found


def test_pins_too_near_each_other_are_found() -> None:
    part = one_cut()
    first, second, _ = part.joints[0].tenons
    for left, found in ((1.5, True), (1.7, False)):
        lower = part.placed[0] + bridge(first, second, second.tenon_radius, left)
        failed = part.prove_damaged(0, lower)
        assert ("between_tenons" in failed) == found
        assert "overlap" in failed


def test_a_missing_pin_is_found() -> None:
    part = one_cut()
    last = part.joints[0].tenons[2]
    gone = rod(last.centres[0], last.tenon_radius + 1.0, SEAMS[0] + 1.0)
    failed = part.prove_damaged(0, part.placed[0] - gone)
    assert {"between_tenons", "least_clearance"} <= failed


# --- sizes -------------------------------------------------------------------------------


def a_line(
    outers: list[RoundSurface],
    edges: list[float],
    engagement: float = 12.0,
    bore: RoundSurface | None = None,
    clearance: float = CLEARANCE,
    least_wall: float = LEAST_WALL,
) -> PinsLine:
    surfaces, bores = ((bore,), (0,)) if bore is not None else ((), ())
    walls = tuple(range(len(outers)))
    return PinsLine(
        run_of(outers, surfaces, edges, walls, bores), engagement, clearance, least_wall
    )


def straight(radius: float, bore: float | None = None, **rest: float) -> PinsLine:
    inner = None if bore is None else RoundSurface(bore, 0.0, 0.0, LENGTH)
    return a_line([RoundSurface(radius, 0.0, 0.0, LENGTH)], [0.0, LENGTH], bore=inner, **rest)


PLACE = CutPlace(0, 3, 0.0)


def walls_of(pins: tuple[Tenon, ...], outer: float, bore: float) -> list[float]:
    """Spare of every wall around the sockets, mm, from their centres and radii."""
    away = [math.hypot(*pin.centres[0]) for pin in pins]
    reach = [pin.socket_radius for pin in pins]
    spare = [outer - far - wide - LEAST_WALL for far, wide in zip(away, reach, strict=True)]
    if bore:
        inner = bore + LEAST_WALL + MOUTH_RELIEF  # the mouth's bevel takes some of it
        spare += [far - wide - inner for far, wide in zip(away, reach, strict=True)]
    for one, other in combinations(pins, 2):
        between = math.dist(one.centres[0], other.centres[0])
        spare.append(between - one.socket_radius - other.socket_radius - 2.0 * LEAST_WALL)
    return spare


@pytest.mark.parametrize(("width", "bore"), [(60.0, 0.0), (90.0, 0.0), (30.0, 0.0), (40.0, 12.0)])
def test_pins_are_up_to_a_fifth_of_the_section_and_one_is_wider(width: float, bore: float) -> None:
    line = straight(width / 2.0, bore / 2.0 or None)
    for number in range(3):
        pins = pins_on(line, 50.0, CutPlace(number, 3, 1.0))
        first, *others = (pin.tenon_radius for pin in pins)
        assert min(others) >= LEAST_PIN and 2.0 * first <= max(width / 5.0, 6.5)
        assert first - max(others) >= CLEARANCE + 0.5 - 1e-9
        assert min(walls_of(pins, width / 2.0, bore / 2.0)) >= 0.0
        assert math.atan2(*pins[0].centres[0][::-1]) == pytest.approx(1.0)


@pytest.mark.parametrize("clearance", [0.05, 0.15, 0.3, 0.5])
@pytest.mark.parametrize("bore", [None, 1.0, 6.0, 20.0])
def test_the_least_section_holds_pins_and_a_narrower_one_tells_what_is_needed(
    clearance: float, bore: float | None
) -> None:
    least = straight(10.0, bore and min(bore, 5.0), clearance=clearance).section_needed
    if bore is not None:
        least = max(least, bore + straight(30.0, bore, clearance=clearance).wall_needed)
    pins = pins_on(straight(least + 1e-9, bore, clearance=clearance), 50.0, PLACE)
    assert min(pin.tenon_radius for pin in pins) >= LEAST_PIN - 1e-9
    assert min(walls_of(pins, least, bore or 0.0)) >= 0.0
    circle = math.hypot(*pins[0].centres[0])
    assert math.degrees(math.asin(clearance / circle)) <= 1.5
    with pytest.raises(WallTooThin) as caught:
        pins_on(straight(least - 0.01, bore, clearance=clearance), 50.0, PLACE)
    assert f"{2.0 * (least - 0.01):.2f} mm wide" in caught.value.found
    assert "mm wide" in caught.value.needed and f"{clearance:.2f} mm of clearance" in (
        caught.value.needed
    )
    assert "--joint tenon" in caught.value.remedy


def test_an_engagement_too_short_for_the_tips_is_refused_with_one_that_would_do() -> None:
    # first pin 9, land 0.8: a tip of 8.2 and 2 parallel
    with pytest.raises(WallTooThin) as caught:
        pins_on(straight(45.0, engagement=10.0), 50.0, PLACE)
    assert "1.80 mm parallel" in caught.value.found
    assert "--engagement 10.2" in caught.value.remedy
    assert pins_on(straight(45.0, engagement=10.2), 50.0, PLACE)


tapers = st.tuples(
    st.floats(8.0, 40.0), st.floats(8.0, 40.0), st.floats(8.0, 40.0), st.sampled_from([0.0, 1.0])
)


@settings(deadline=None)
@given(tapers, st.floats(1.0, 7.0), st.floats(1.0, 7.0))
def test_every_size_is_linear_on_each_part(
    radii: tuple[float, float, float, float], bore_low: float, bore_high: float
) -> None:
    low, middle, high, bored = radii
    edges = [0.0, 80.0, LENGTH]
    outers = [_cone(low, middle, 0.0, 80.0), _cone(middle, high, 80.0, LENGTH)]
    bore = _cone(bore_low, bore_high, 0.0, LENGTH) if bored else None
    line = a_line(outers, edges, bore=bore)
    sizes = (
        line.first_radius,
        line.other_radius,
        line.circle,
        line.wall_spare,
        line.parallel_spare,
        line.radius_needed,
        line.zone,
    )
    for start, stop in line.linear_parts(1.0, 180.0):
        ends = np.array([start, (start + stop) / 2.0, stop])
        for size in sizes:
            first, between, last = size(ends).tolist()
            assert between == pytest.approx((first + last) / 2.0, abs=1e-7)


@settings(deadline=None)
@given(tapers, st.floats(2.0, 170.0))
def test_on_tapers_sockets_keep_their_walls_over_the_whole_zone(
    radii: tuple[float, float, float, float], station: float
) -> None:
    low, middle, high, bored = radii
    outers = [_cone(low, middle, 0.0, 80.0), _cone(middle, high, 80.0, LENGTH)]
    bore = _cone(3.0, 5.0, 0.0, LENGTH) if bored else None
    line = a_line(outers, [0.0, 80.0, LENGTH], bore=bore)
    here = np.array([station])
    if line.wall_spare(here)[0] < 0.0 or line.parallel_spare(here)[0] < 0.0:
        return
    pins = pins_on(line, station, PLACE)
    for z in np.linspace(station, station + line.engagement, 9).tolist():
        outer = outers[0 if z < 80.0 else 1].radius_at(z)
        inner = 0.0 if bore is None else bore.radius_at(z)
        assert min(walls_of(pins, outer, inner)) >= 0.0


def _cone(first: float, last: float, start: float, stop: float) -> RoundSurface:
    slope = (last - first) / (stop - start)
    return RoundSurface(first - slope * start, slope, start, stop)


@pytest.mark.parametrize(("radius", "clearance"), [(12.0, 0.15), (30.0, 0.15), (30.0, 0.5)])
def test_patterns_of_all_cuts_are_apart_by_more_than_the_clearances(
    radius: float, clearance: float
) -> None:
    line = straight(radius, clearance=clearance)
    count = pin_patterns(line, 50.0)
    assert count >= 10
    turns = sorted(pin_turn(line, 50.0, CutPlace(number, count, 0.0)) for number in range(count))
    steps = np.diff(turns)
    circle = float(line.circle(np.array(50.0)))
    assert steps.min() >= LEAST_STEP
    assert steps.min() * circle >= 2.0 * clearance + 0.3 - 1e-9
    assert math.degrees(turns[0]) > 80.0 and math.degrees(turns[-1]) < 160.0


def test_nearest_patterns_do_not_go_together_even_when_shifted() -> None:
    """Neighbouring patterns of many cuts, turned and shifted by all that clearances leave."""
    line = straight(12.0)
    count = pin_patterns(line, 50.0)
    one, other = (pins_on(line, 50.0, CutPlace(number, count, 0.0)) for number in (0, 1))
    pins = np.array([pin.centres[0] for pin in one])
    sockets = np.array([pin.centres[0] for pin in other])
    shifts = np.linspace(-0.3, 0.3, 13)
    worst = []
    for turn in np.radians(np.linspace(-8.0, 8.0, 161)).tolist():
        cos, sin = math.cos(turn), math.sin(turn)
        turned = pins @ np.array([[cos, sin], [-sin, cos]])
        for x in shifts.tolist():
            for y in shifts.tolist():
                off = np.hypot(*(turned + np.array([x, y]) - sockets).T)
                worst.append(float(off.max()))
    assert min(worst) > CLEARANCE


@pytest.mark.parametrize(
    ("width", "tip"), [(20.0, 4.2), (40.0, 9.2), (50.0, 11.7), (60.0, 14.2), (90.0, 21.7)]
)
def test_pins_are_liked_where_a_single_tip_takes_half_of_the_usual_engagement(
    width: float, tip: float
) -> None:
    # a round tenon has half the width, its tip is as high as its radius less a land of 0.8
    engagement = usual_engagement(width)
    assert prefers_pins(width / 2.0, engagement) == (tip > engagement / 2.0) == (width > 55.0)
