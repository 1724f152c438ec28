"""Stretches to be avoided: no seam is seen in them, and a refusal tells which one is in the way."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest
from borewright.core.errors import BadSetting, NoPlan
from borewright.core.planning.closing_rules import closing_rules
from borewright.core.planning.cut_plan import plan_cuts
from borewright.core.planning.seam_stretches import RULES, seam_stretches
from borewright.core.values import Settings

from tests.round_parts import BED, a_part, fife, pieces_of, refused, stations

THIN = (18.0, 18.0)
"""Outside of a bore of 14.2, mm: a wall of 1.90, which takes a collar."""


def test_the_window_ends_at_the_stretch_to_be_avoided() -> None:
    # 200 in 120 with 8 of engagement leaves seams from 80 to 112
    survey = a_part(200.0)
    settings = Settings((180.0, 180.0, 120.0), engagement=8.0, avoid=((85.5, 130.0),))
    (cut,) = plan_cuts(survey, settings).cuts
    assert cut.window == pytest.approx((80.0, 85.5), abs=1e-9)
    assert 80.0 <= cut.station <= 85.5


def test_a_seam_may_lie_at_the_very_end_of_what_is_avoided() -> None:
    avoid = ((0.0, 172.0), (172.0, 352.0))
    assert stations(plan_cuts(a_part(352.0), Settings(BED, avoid=avoid))) == [172.0]


def test_a_zone_may_lie_under_a_stretch_to_be_avoided() -> None:
    # the seam at 85 is fine; its tenon stands within the stretch, and is not seen
    avoid = ((0.0, 84.9), (85.1, 200.0))
    settings = Settings((180.0, 180.0, 120.0), engagement=8.0, avoid=avoid)
    (cut,) = plan_cuts(a_part(200.0), settings).cuts
    assert 84.9 <= cut.station <= 85.1


def test_what_is_asked_for_beyond_the_part_is_told_to_change_nothing() -> None:
    # a preferred station is felt up to 50 mm from a seam
    asked = replace(Settings(BED), avoid=((352.0, 360.0), (340.0, 360.0)), prefer=(402.0, 402.1))
    told = [said for said in plan_cuts(a_part(352.0), asked).remarks if "lies beyond" in said]
    assert [said.split(" lies ")[0] for said in told] == ["--prefer 402.1", "--avoid 352-360"]
    assert all("0 and 352.00 mm, and changes nothing." in said for said in told)


def test_a_collar_keeps_off_by_as_much_as_it_covers() -> None:
    settings = Settings(BED, avoid=((100.0, 172.0),), engagement=8.0)
    plan = plan_cuts(a_part(300.0, outside=THIN), settings)
    (joint,) = plan.joints
    assert joint.collar is not None
    assert joint.station - joint.collar.reach >= 172.0 or joint.station + joint.collar.reach <= 100
    with pytest.raises(NoPlan, match=r"--avoid 100-172.*8\.00 mm off it.*--cut 180,"):
        plan_cuts(a_part(300.0, outside=THIN), replace(settings, cuts=(179.9,)))


def test_a_sleeve_inside_is_not_seen() -> None:
    settings = Settings(BED, avoid=((100.0, 172.0),), joint="sleeve", cuts=(172.0,))
    assert stations(plan_cuts(a_part(300.0, outside=THIN), settings)) == [172.0]


@pytest.mark.parametrize(
    ("cut", "told"),
    [
        (110.0, r"--cut 110: stations to be avoided, --avoid 100-115; .*--cut 115,"),
        (103.0, r"--avoid 100-115; needed: a seam outside of it; try: --cut 100,"),
    ],
)
def test_a_cut_in_it_is_refused_with_the_nearest_station(cut: float, told: str) -> None:
    with pytest.raises(NoPlan, match=told):
        plan_cuts(a_part(200.0), Settings(BED, avoid=((100.0, 115.0),), cuts=(cut,)))


def test_a_cut_that_a_hole_and_a_stretch_close_is_told_both() -> None:
    # the hole at 147 ends at 150.75; with the guard the zone has to start at 152.75
    settings = Settings(BED, avoid=((140.0, 155.0),), cuts=(151.0,))
    with pytest.raises(NoPlan, match=r"side holes.*--avoid 140-155.*--cut 155,"):
        plan_cuts(fife(), settings)


def test_the_remedy_without_it_is_named_where_that_alone_works() -> None:
    survey, settings = fife(), Settings(BED, avoid=((160.0, 350.0), (10.0, 20.0)))
    problem = refused(survey, settings)
    assert "--avoid 160-350" in problem.found
    assert re.findall(r"without --avoid ([\d-]+)", problem.remedy) == ["160-350"]
    assert pieces_of(survey, replace(settings, avoid=((10.0, 20.0),))) < math.inf


def test_a_remedy_that_does_not_do_alone_is_not_named() -> None:
    problem = refused(fife(), Settings(BED, avoid=((0.0, 180.0), (180.0, 352.0), (170.0, 190.0))))
    assert "without" not in problem.remedy


@pytest.mark.parametrize("stretch", [(120.0, 100.0), (100.0, 100.0)])
def test_a_stretch_the_wrong_way_round_is_refused(stretch: tuple[float, float]) -> None:
    with pytest.raises(BadSetting, match="the lower station first"):
        plan_cuts(fife(), Settings(BED, avoid=(stretch,)))


def test_a_stretch_beyond_the_part_is_of_no_effect() -> None:
    asked = replace(Settings(BED), avoid=((400, 500),))
    usual, plan = plan_cuts(fife(), Settings(BED)), plan_cuts(fife(), asked)
    assert (plan.cuts, plan.joints) == (usual.cuts, usual.joints)


@pytest.mark.parametrize("outside", [(21.4, 21.4), THIN])
def test_rules_told_to_close_a_stretch_open_it_when_dropped_and_no_fewer_do(
    outside: tuple[float, float],
) -> None:
    survey = a_part(200.0, [(60.0, 8.0), (140.0, 8.0)], outside=outside)
    settings = Settings(BED, avoid=((50.0, 70.0), (100.0, 120.0)))
    closed = [((40.0, 52.0), ()), ((55.0, 65.0), ()), ((105.0, 115.0), ())]
    for (low, high), rules in closing_rules(survey, settings, [span for span, _ in closed]):
        middle = (low + high) / 2.0
        for dropped in [set(rules), *(set(rules) - {rule} for rule in rules)]:
            stretches = seam_stretches(survey, settings, 6.0, frozenset(dropped))
            opened = any(stretch.low <= middle <= stretch.high for stretch in stretches)
            assert opened == (dropped == set(rules))


def test_where_nothing_holds_a_joint_no_rule_is_blamed() -> None:
    assert closing_rules(a_part(200.0), Settings(BED), [(0.0, 0.5)]) == [((0.0, 0.5), ())]
    assert "avoid" in RULES
