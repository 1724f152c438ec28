"""O-ring housings against published tables, and the grooves that are cut for them.

Housings: metric practice by ISO 3601-2, two published tables that agree but for one
width. Second check: inch practice for static radial housings (AS568 cords). Rings:
AS568's list. Limits of squeeze, fill and stretch: common practice, no source.
"""

from __future__ import annotations

import math

import pytest
from borewright.core.errors import BadSetting, WallTooThin
from borewright.core.fitting.grooves import (
    Groove,
    groove_start,
    lapped_groove,
    wall_under_groove,
)
from borewright.core.fitting.oring_tables import CORD_HOUSINGS, SEAL_LIMITS, listed_rings
from borewright.core.fitting.ring_housings import (
    HOUSING_LINES,
    OringHousing,
    housing_of,
    housing_words,
    usable_cords,
)

CORDS = {housing.cord: housing for housing in CORD_HOUSINGS}


def a_housing(socket_radius: float = 10.15, cord: float = 2.62, wall: float = 3.5) -> OringHousing:
    """Around a tenon with 0.15 mm a side, on a printer that is true to 0.1 mm."""
    housing, tenon_radius = CORDS[cord], socket_radius - 0.15
    bottom = socket_radius - housing.depth
    left = wall - (tenon_radius - bottom)
    return housing_of(housing, Groove(tenon_radius, bottom, housing.width, left), 0.1)


def grade_of(housing: OringHousing, quantity: str) -> str:
    return next(found.grade for found in housing.verdicts if found.quantity == quantity)


@pytest.mark.parametrize(
    ("cord", "depth", "width", "squeeze_percent", "fill_percent"),
    [
        (1.50, 1.10, 2.00, 26.7, 80.3),
        (1.78, 1.30, 2.40, 27.0, 79.8),
        (2.00, 1.50, 2.70, 25.0, 77.6),
        (2.62, 2.00, 3.60, 23.7, 74.9),
    ],
)
def test_housings_are_the_tables_ones(
    cord: float, depth: float, width: float, squeeze_percent: float, fill_percent: float
) -> None:
    found = CORDS[cord]
    assert (found.depth, found.width, found.corner) == (depth, width, 0.3)
    assert 100.0 * found.squeeze == pytest.approx(squeeze_percent, abs=0.05)
    assert 100.0 * found.fill == pytest.approx(fill_percent, abs=0.05)


def test_inch_practice_says_nearly_the_same() -> None:
    # 0.070 in: depth 0.050 to 0.052, width 0.093 to 0.098 in, squeeze 22 to 32 %
    thin = CORDS[1.78]
    assert 0.050 <= thin.depth / 25.4 <= 0.052
    assert 0.093 <= thin.width / 25.4 <= 0.098
    assert 0.22 <= thin.squeeze <= 0.32
    # 0.103 in: depth 0.081 to 0.083, which metric practice undercuts by 0.06 mm; width
    # 0.140 to 0.145 in, squeeze 17 to 24 %
    thick = CORDS[2.62]
    assert 0.081 * 25.4 - thick.depth == pytest.approx(0.057, abs=0.001)
    assert 0.140 <= thick.width / 25.4 <= 0.145
    assert 0.17 <= thick.squeeze <= 0.24


@pytest.mark.parametrize(
    ("number", "inside"),
    [
        ("-010", 6.07),
        ("-012", 9.25),
        ("-014", 12.42),
        ("-016", 15.60),
        ("-020", 21.95),
        ("-024", 28.30),
        ("-110", 9.19),
        ("-120", 25.07),
    ],
)
def test_ring_sizes_by_rule_are_the_listed_ones(number: str, inside: float) -> None:
    rings = {ring.number: ring.inside_diameter for ring in (*listed_rings(0), *listed_rings(100))}
    assert rings[number] == pytest.approx(inside, abs=0.005001)
    assert len(rings) == 30


def test_ring_sizes_by_rule_in_thousandths_of_an_inch() -> None:
    # AS568, from memory: -011 0.301, -013 0.426, -111 0.424, -124 1.237
    rings = {ring.number: ring.inside_diameter for ring in (*listed_rings(0), *listed_rings(100))}
    for number, thousandths in (("-011", 301), ("-013", 426), ("-111", 424), ("-124", 1237)):
        assert rings[number] / 25.4 * 1000.0 == pytest.approx(thousandths, abs=1e-9)


def test_groove_diameter_is_the_sockets_less_twice_the_depth() -> None:
    housing = a_housing()
    assert housing.cord.cord == 2.62
    assert 2.0 * housing.groove.bottom_radius == pytest.approx(20.3 - 2.0 * 2.00)
    assert housing.groove.depth == pytest.approx(1.85)
    assert housing.groove.wall_left == pytest.approx(3.5 - 1.85)


def test_a_groove_has_a_floor_a_bottom_and_a_ceiling_of_45_degrees() -> None:
    lower, inner_low, inner_high, upper = a_housing().groove.profile
    assert lower == (10.0, 0.0)
    assert inner_low == pytest.approx((8.15, 0.0))
    assert inner_high == pytest.approx((8.15, 3.60))
    out, up = upper[0] - inner_high[0], upper[1] - inner_high[1]
    assert math.degrees(math.atan2(up, out)) == pytest.approx(45.0)
    assert upper[0] == 10.0


def test_nominal_and_worst_shares_are_those_of_the_closed_forms() -> None:
    # cord 2.62 +- 0.08, depth 2.00 +- 0.1, width 3.60 +- 0.1, groove 1.85 deep +- 0.05
    housing = a_housing()
    assert housing.squeeze.nominal == pytest.approx(0.62 / 2.62)
    assert housing.squeeze.low == pytest.approx((2.54 - 2.10) / 2.54)
    assert housing.squeeze.high == pytest.approx((2.70 - 1.90) / 2.70)
    room = 2.00 * 3.60 + 1.85**2 / 2.0
    assert housing.fill.nominal == pytest.approx(math.pi * 2.62**2 / 4.0 / room)
    least, most = 1.90 * 3.50 + 1.80**2 / 2.0, 2.10 * 3.70 + 1.90**2 / 2.0
    assert housing.fill.high == pytest.approx(math.pi * 2.70**2 / 4.0 / least)
    assert housing.fill.low == pytest.approx(math.pi * 2.54**2 / 4.0 / most)


def test_a_listed_ring_is_named_where_one_stretches_by_one_to_five_percent() -> None:
    # groove of 16.30 mm: -114 has 0.612 in, 15.545 mm, and stretches by 4.9 %
    housing = a_housing()
    assert housing.ring == "-114"
    assert housing.inside_diameter == pytest.approx(0.612 * 25.4)
    assert housing.stretch.nominal == pytest.approx(16.30 / 15.5448 - 1.0)
    assert housing.stretch.low == pytest.approx(16.20 / 15.5448 - 1.0)
    assert housing.stretch.high == pytest.approx(16.40 / 15.5448 - 1.0)
    assert grade_of(housing, "stretch") == "good"
    assert grade_of(housing, "stretch at worst") == "doubtful"  # up to 5.5 %


def test_where_no_listed_ring_suits_the_supplier_is_asked() -> None:
    housing = a_housing(socket_radius=60.0)
    groove = 120.0 - 2.0 * housing.cord.depth
    assert housing.ring is None
    assert housing.inside_diameter == pytest.approx(groove / 1.02)
    assert housing.inside_range == pytest.approx((groove / 1.05, groove / 1.01))
    assert housing.stretch.nominal == pytest.approx(0.02)
    assert "ask the supplier" in housing_words(housing)[0]
    assert f"{groove / 1.05:.2f} to {groove / 1.01:.2f} mm" in housing_words(housing)[0]


def test_every_housing_has_a_ring_within_the_stretch_that_is_good() -> None:
    for socket_radius in (5.0, 7.3, 9.4, 10.15, 11.0, 12.6, 14.2, 20.0):
        for cord in CORDS:
            housing = a_housing(socket_radius, cord)
            low, high = housing.inside_range
            assert low <= housing.inside_diameter <= high
            groove = 2.0 * (socket_radius - housing.cord.depth)
            assert housing.stretch.nominal == pytest.approx(groove / housing.inside_diameter - 1)


def test_two_lines_of_the_nozzle_or_the_least_wall_is_left_under_a_groove() -> None:
    assert wall_under_groove(0.5, 0.4, HOUSING_LINES) == pytest.approx(0.82)
    assert wall_under_groove(1.0, 0.4, HOUSING_LINES) == pytest.approx(1.02)
    assert wall_under_groove(0.8, 0.6, HOUSING_LINES) == pytest.approx(1.22)


def test_a_spread_too_wide_for_every_cord_is_refused_with_the_widest_that_is_not() -> None:
    with pytest.raises(BadSetting) as refused:
        usable_cords(0.15, 0.5)
    # of 2.62 at 0.5 mm: (2.54 - 2.50) / 2.54 = 2 % and (2.70 - 1.50) / 2.70 = 44 %
    assert "0.50 mm squeeze a cord of 2.62 mm by 2 to 44 %" in refused.value.found
    assert "thicker" not in refused.value.remedy  # no wall holds a cord that the list does not have
    held = float(refused.value.remedy.split("holds ")[1].split(" mm")[0])
    assert usable_cords(0.15, held)
    with pytest.raises(BadSetting):
        usable_cords(0.15, held + 0.01)


def test_a_spread_wider_than_any_groove_is_deep_is_refused_in_plain_numbers() -> None:
    with pytest.raises(BadSetting) as refused:
        usable_cords(0.15, 3.0)
    assert "3.00 mm" in refused.value.found
    assert "fill over 100 % of its housing" in refused.value.found
    held = float(refused.value.remedy.split("holds ")[1].split(" mm")[0])
    assert usable_cords(0.15, held)


@pytest.mark.parametrize("clearance", [-0.01, 0.51, 2.0])
def test_a_clearance_that_no_ring_bridges_is_refused(clearance: float) -> None:
    with pytest.raises(BadSetting) as refused:
        usable_cords(clearance, 0.1)
    assert f"{clearance:.2f} mm a side" in refused.value.found


@pytest.mark.parametrize(
    ("quantity", "low", "high", "grade"),
    [
        ("squeeze", 0.20, 0.20, "good"),
        ("squeeze", 0.27, 0.27, "doubtful"),
        ("squeeze at worst", 0.10, 0.30, "good"),
        ("squeeze at worst", 0.09, 0.30, "doubtful"),
        ("squeeze at worst", 0.20, 0.31, "doubtful"),
        ("squeeze at worst", -0.01, 0.20, "critical"),
        ("squeeze at worst", 0.20, 0.41, "critical"),
        ("fill at worst", 0.6, 0.85, "good"),
        ("fill at worst", 0.6, 0.86, "doubtful"),
        ("fill at worst", 0.6, 0.91, "critical"),
        ("stretch", 0.01, 0.01, "good"),
        ("stretch", 0.05, 0.05, "good"),
        ("stretch", 0.009, 0.009, "doubtful"),
        ("stretch", 0.051, 0.051, "critical"),
        ("stretch at worst", -0.01, 0.02, "doubtful"),
    ],
)
def test_limits_grade_as_practice_does(quantity: str, low: float, high: float, grade: str) -> None:
    limit = next(limit for limit in SEAL_LIMITS.values() if limit.quantity == quantity)
    assert limit.grade(low, high) == grade
    assert limit.source == "common practice, no source"


def test_a_lapped_groove_is_as_deep_as_the_wall_spares() -> None:
    # 4 lines of 0.4 and 0.02 mm stay under it
    shallow = lapped_groove(10.0, 7.70, 6.0, least_wall=0.8, nozzle=0.4)
    assert shallow.depth == pytest.approx(2.30 - 1.62)
    deep = lapped_groove(10.0, 6.0, 6.0, least_wall=0.8, nozzle=0.4)
    assert deep.depth == pytest.approx(0.8)
    assert deep.wall_left == pytest.approx(3.2)
    assert deep.profile == (
        (10.0, 0.0),
        (pytest.approx(9.2), 0.0),
        (pytest.approx(9.2), 6.0),
        (10.0, pytest.approx(6.8)),
    )


def test_thread_over_a_thin_wall_is_refused() -> None:
    with pytest.raises(WallTooThin) as refused:
        lapped_groove(10.0, 7.79, 6.0, least_wall=0.8, nozzle=0.4)
    assert "2.21 mm" in refused.value.found
    assert refused.value.needed.startswith("2.22 mm: 0.60 mm of groove and 1.62 mm under it")
    with pytest.raises(WallTooThin, match=r"2\.90 mm along the tenon"):
        lapped_groove(10.0, 6.0, 2.9, least_wall=0.8, nozzle=0.4)


def test_a_groove_lies_near_the_tip_and_needs_its_length() -> None:
    height = a_housing().groove.height
    assert height == pytest.approx(3.60 + 1.85)
    assert groove_start(height, 10.0, 2.5) == pytest.approx(10.0 - 1.0 - 5.45)
    with pytest.raises(WallTooThin) as refused:
        groove_start(height, 8.9, 2.5)
    assert refused.value.needed.startswith("8.95 mm")
    assert refused.value.remedy == "--engagement longer by 0.05 mm"


def test_words_tell_ring_groove_and_every_verdict() -> None:
    told = housing_words(a_housing())
    assert told[0].startswith("O-ring AS568 -114, cord 2.62 mm, inside 15.54 mm")
    assert told[1].startswith("groove of 16.30 mm diameter, 3.60 mm wide")
    assert told[2].startswith("squeeze 23.7 %: good, 15 to 25 % is good")
    assert told[3].startswith("squeeze at worst 17.3 to 29.6 %: good, 10 to 30 % is good")
    assert len(told) == 2 + len(SEAL_LIMITS)
