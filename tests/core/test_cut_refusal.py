"""What the user asks for, refusals with their numbers and remedies, and the floor."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from borewright.core.errors import BadSetting, NoPlan, TooWide, WallTooThin
from borewright.core.planning.cut_plan import plan_cuts
from borewright.core.planning.floor_fit import points_between
from borewright.core.planning.plan_survey import survey_plans
from borewright.core.values import OTHER, Mesh, Ornament, RoundSurface, Settings, Survey

from tests.round_parts import BED, a_part, broken_rules, fife, pieces_of, refused, stations
from tests.surveys import a_box, with_surfaces

# --- what the user asks for ------------------------------------------------------------


def test_a_cut_insisted_on_is_made_though_the_part_fits() -> None:
    plan = plan_cuts(fife(), Settings((180.0, 180.0, 400.0), cuts=(166.123456789,)))
    assert stations(plan) == [166.123456789]
    assert plan.cuts[0].why.startswith("As asked")


def test_pieces_asked_for_are_made() -> None:
    for pieces in (1, 2, 3, 4, 5, 6):
        plan = plan_cuts(fife(), Settings(BED, pieces=pieces))
        assert len(plan.cuts) + 1 == max(2, pieces)
        assert broken_rules(fife(), Settings(BED), plan.joints) == []


def test_more_pieces_than_can_be_made_are_refused_with_the_number_that_can() -> None:
    # a plain tube of 100: seams from 1, each 6 + 1 + 1 over the last, the last zone ends at 99
    survey, settings = a_part(100.0), Settings(BED, engagement=6.0)
    most = math.floor((99.0 - 7.0 - 1.0) / 8.0) + 2
    assert len(plan_cuts(survey, replace(settings, pieces=most)).cuts) + 1 == most
    with pytest.raises(NoPlan, match=rf"{most} pieces at the most.*--pieces {most} or fewer"):
        plan_cuts(survey, replace(settings, pieces=most + 1))
    with pytest.raises(NoPlan, match=rf"{most} pieces at the most"):
        plan_cuts(survey, replace(settings, pieces=10**9))


def test_a_part_too_short_for_a_joint_is_one_piece_and_none_fewer_is_offered() -> None:
    with pytest.raises(NoPlan, match=r"found: 1 piece at the most.*try: no --pieces$"):
        plan_cuts(a_part(6.0), Settings(BED, pieces=2))
    with pytest.raises(NoPlan, match=r"2 pieces at the most.*try: --pieces 2, or none$"):
        plan_cuts(a_part(12.0), Settings(BED, pieces=3, engagement=6.0))


def test_what_goes_together_with_leaving_a_cut_out_is_one_remedy() -> None:
    # the hole at 96 ends at 99.5; that at 122 begins at 118, 0.5 over the zone of a seam at 110
    with pytest.raises(NoPlan) as problem:
        plan_cuts(fife(), Settings(BED, cuts=(100.0, 110.0)))
    assert problem.value.remedy == "no --cut 100, together with no --cut 110 or --guard 0.5"
    for less in ({"cuts": ()}, {"cuts": (110.0,), "guard": 0.5}):
        plan_cuts(fife(), replace(Settings(BED), **less))  # type: ignore[arg-type]


@pytest.mark.parametrize("pieces", [0, -3])
def test_fewer_than_one_piece_is_refused(pieces: int) -> None:
    with pytest.raises(BadSetting, match=f"--pieces {pieces}"):
        plan_cuts(fife(), Settings(BED, pieces=pieces))


@pytest.mark.parametrize("cut", [-1.0, 0.0, 352.0, 400.0])
def test_a_cut_beyond_the_part_is_refused(cut: float) -> None:
    with pytest.raises(BadSetting, match=r"0 and 352\.00 mm"):
        plan_cuts(fife(), Settings(BED, cuts=(cut,)))


@pytest.mark.parametrize(
    ("cut", "told"),
    [
        # hole 147 has edges at 143.25 and 150.75; a zone of 6.5 + 1
        (147.0, r"overlaps the side holes at 143\.25 to 150\.75 mm by 3\.75 mm.*--cut 152\.75"),
        (151.25, r"lies 0\.50 mm from the side holes at 143\.25.*guard of 2\.00 mm.*--cut 152\.75"),
        (183.5, r"183\.50 to 191\.00 mm lies 1\.50 mm from the side holes.*--cut 183,"),
        (0.5, r"0\.00 to 352\.00.*1\.0 mm off the part's ends.*--cut 1,"),
        (351.0, r"1\.0 mm off the part's ends.*--cut 343\.5,"),
    ],
)
def test_an_impossible_cut_names_rule_amount_and_nearest_station(cut: float, told: str) -> None:
    with pytest.raises(NoPlan, match=told):
        plan_cuts(fife(), Settings(BED, cuts=(cut,)))


def test_a_cut_in_a_ring_names_it_and_the_nearest_station() -> None:
    ring = Ornament(84.0, 112.0, 10.7, 14.0)
    with pytest.raises(NoPlan, match=r"from 84\.00 to 112\.00 mm.*1\.00 mm off.*--cut 83,"):
        plan_cuts(a_part(200.0, ornaments=[ring]), Settings(BED, cuts=(90.0,)))


def test_two_cuts_whose_joints_would_meet_are_refused() -> None:
    # shortest engagement 6.5: zone 7.5, and 1 mm between joints
    settings = Settings(BED, cuts=(160.0, 168.0))
    with pytest.raises(NoPlan, match=r"8\.00 mm apart.*8\.50 mm.*--cut 168\.5,"):
        plan_cuts(fife(), settings)
    assert stations(plan_cuts(fife(), Settings(BED, cuts=(160.0, 168.5))))[:2] == [160.0, 168.5]


def test_the_same_cut_twice_is_one_cut() -> None:
    plan = plan_cuts(fife(), Settings(BED, cuts=(166.0, 166.0), engagement=10.0))
    assert stations(plan).count(166.0) == 1


# --- refusals --------------------------------------------------------------------------


def holed_through() -> Survey:
    """Holes 10 wide every 20 mm from 45 to 305: 10 between edges, 6 with the guard off."""
    return a_part(352.0, [(45.0 + 20.0 * number, 10.0) for number in range(14)])


def test_holes_all_the_way_are_named_with_gap_and_need() -> None:
    problem = refused(holed_through(), Settings(BED))
    assert isinstance(problem, NoPlan)
    # the last seam that can be reached is 30.5: its zone of 7.5 ends 2 under the hole at 40
    assert "between 39.00 and 204.00 mm" in problem.found
    assert "side holes" in problem.found
    assert "wider than 6.00 mm" in problem.found
    assert "7.50 mm" in problem.needed
    assert "6.50 mm engagement" in problem.needed


def test_each_remedy_for_holes_works_and_half_of_it_does_not() -> None:
    survey, settings = holed_through(), Settings(BED)
    problem = refused(survey, settings)
    guard = re.search(r"--guard ([\d.]+)", problem.remedy)
    height = re.search(r"an envelope ([\d.]+) mm high", problem.remedy)
    assert guard and height
    # 10 between edges less a zone of 7.5 leaves 1.25 of guard; 352 - 310 - 2 = 40 over the holes
    assert float(guard[1]) == 1.2
    assert pieces_of(survey, replace(settings, guard=1.2)) < math.inf
    assert pieces_of(survey, replace(settings, guard=1.3)) == math.inf
    assert (
        pieces_of(survey, replace(settings, envelope=(180.0, 180.0, float(height[1])))) < math.inf
    )
    lower = float(height[1]) - 0.1
    assert pieces_of(survey, replace(settings, envelope=(180.0, 180.0, lower))) == math.inf


def test_shorter_engagement_is_named_where_it_would_do() -> None:
    # 8.5 of engagement and a guard of 2 ask for 13.5 between edges; 13 are there
    holes = [(45.0 + 20.0 * number, 7.0) for number in range(15)]
    problem = refused(a_part(352.0, holes), Settings(BED, engagement=8.5))
    assert "--engagement 8.0" in problem.remedy
    assert "13" not in problem.found.split("wider than")[1][:4]
    assert pieces_of(a_part(352.0, holes), Settings(BED, engagement=8.0)) < math.inf


def test_a_wall_too_thin_everywhere_is_refused_with_wall_need_and_remedies() -> None:
    # bore 14.2, outside 18.7: wall 2.25 where 2 (0.8 + 0.02) + 0.15 + 0.5 = 2.29 is needed
    survey, settings = a_part(352.0, outside=(18.7, 18.7)), Settings(BED, joint="tenon")
    problem = refused(survey, settings)
    assert isinstance(problem, WallTooThin)
    assert "wall 2.25 mm" in problem.found
    assert "2.29 mm" in problem.needed
    # 2.25 - 2.14 = 0.11 of clearance, and (2.25 - 0.65) / 2 - 0.02 = 0.78 of least wall, are
    # the limits; the first lies on one, so round-off may ask for a hundredth less
    clearance = re.search(r"--clearance ([\d.]+)", problem.remedy)
    least_wall = re.search(r"--least-wall ([\d.]+)", problem.remedy)
    assert clearance and float(clearance[1]) in {0.10, 0.11}
    assert least_wall and float(least_wall[1]) in {0.77, 0.78}
    assert pieces_of(survey, replace(settings, clearance=float(clearance[1]))) < math.inf
    assert pieces_of(survey, replace(settings, least_wall=float(least_wall[1]))) < math.inf


def test_a_tenon_too_short_for_its_tip_is_refused_with_the_length_that_would_do() -> None:
    # bore 2, outside 40: tenon radius 10.425, land 0.8, cone 8.625, and 2 parallel
    survey = a_part(352.0, bore=(2.0, 2.0), outside=(40.0, 40.0))
    problem = refused(survey, Settings(BED, engagement=8.0))
    assert isinstance(problem, WallTooThin)
    assert "-0.62 mm parallel" in problem.found
    assert "2.00 mm parallel" in problem.needed
    assert "--engagement 11.0" in problem.remedy
    assert pieces_of(survey, Settings(BED, engagement=11.0)) < math.inf
    assert pieces_of(survey, Settings(BED, engagement=10.5)) == math.inf


def test_an_envelope_lower_than_two_joints_is_refused_with_a_height_that_would_do() -> None:
    problem = refused(a_part(100.0), Settings((180.0, 180.0, 12.0), engagement=9.0))
    assert isinstance(problem, NoPlan)
    # seams 11 apart at the least, and 9 of tenon
    assert "20.00 mm" in problem.needed
    height = re.search(r"an envelope ([\d.]+) mm high", problem.remedy)
    assert height and float(height[1]) == 20.0


def test_a_ring_from_end_to_end_is_named() -> None:
    ring = Ornament(5.0, 195.0, 10.7, 14.0)
    problem = refused(a_part(200.0, ornaments=[ring]), Settings((180.0, 180.0, 120.0)))
    assert isinstance(problem, NoPlan)
    # the highest seam under the ring is at 4: zone 7.5 and 1 mm over it, 120 - 6.5 at the most
    assert "between 12.50 and 117.50 mm" in problem.found
    assert "from 5.00 to 195.00 mm" in problem.found
    assert "an envelope 196.0 mm high" in problem.remedy


def test_a_round_stretch_too_short_for_a_joint_is_named() -> None:
    survey = with_surfaces(a_part(200.0), outside=RoundSurface(10.7, 0.0, 100.0, 105.0))
    problem = refused(survey, Settings((180.0, 180.0, 120.0)))
    assert isinstance(problem, NoPlan)
    assert "from 100.00 to 105.00 mm" in problem.found


def test_a_section_wider_than_the_floor_is_refused() -> None:
    with pytest.raises(TooWide, match=r"200\.00 x 21\.40 mm"):
        plan_cuts(a_part(section=(200.0, 21.4)), Settings((120.0, 120.0, 180.0)))


def test_a_section_that_fits_when_turned_is_taken() -> None:
    # 160 x 10 turned by 45 degrees is (160 + 10) / sqrt(2) = 120.2 both ways
    survey = a_part(section=(160.0, 10.0))
    assert plan_cuts(survey, Settings((120.3, 120.3, 180.0))).cuts
    with pytest.raises(TooWide):
        plan_cuts(survey, Settings((120.1, 120.1, 180.0)))


# --- the floor, piece by piece ---------------------------------------------------------


def winged(gap: tuple[float, float], length: float = 352.0) -> Survey:
    """A block 100 x 20 up to the gap and one 20 x 100 above it, on a neck 20 x 20."""
    low, high = gap
    blocks = [(100.0, 20.0, 0.0, low), (20.0, 20.0, low, high), (20.0, 100.0, high, length)]
    meshes = [a_box(x, y, stop - start) for x, y, start, stop in blocks]
    moved = [
        mesh.vertices + np.array([0.0, 0.0, start])
        for mesh, (_, _, start, _) in zip(meshes, blocks, strict=True)
    ]
    mesh = Mesh(np.vstack(moved), np.vstack([m.triangles + 8 * k for k, m in enumerate(meshes)]))
    return replace(
        a_part(length), mesh=mesh, labels=np.full(36, OTHER), numbers=np.zeros(36, np.int64)
    )


def test_pieces_that_fit_the_floor_are_made_though_the_whole_part_would_not() -> None:
    # 352 in 180 is cut at 172 and nowhere else
    plan = plan_cuts(winged((171.0, 173.0)), Settings((110.0, 30.0, 180.0), engagement=8.0))
    assert stations(plan) == [172.0]
    # not the other way round: with the seam within the lower block the upper piece has both
    with pytest.raises(TooWide, match=r"piece 2, stations 172\.00 to 352\.00 mm, of 100\.00 x 100"):
        plan_cuts(winged((173.0, 175.0)), Settings((110.0, 30.0, 180.0), engagement=8.0))


def test_more_pieces_are_tried_where_that_makes_them_fit_the_floor() -> None:
    # one cut has to lie from 172 to 172 for 2 pieces; the neck is at 120
    survey, settings = winged((115.0, 125.0)), Settings((110.0, 30.0, 180.0), engagement=8.0)
    plan = plan_cuts(survey, settings)
    assert len(plan.cuts) == 2
    assert any(115.0 <= station <= 125.0 for station in stations(plan))
    assert "3 pieces, as 2 would not all fit the floor" in plan.remarks[-1]
    assert broken_rules(survey, settings, plan.joints) == []


def test_of_the_best_plans_only_those_count_whose_pieces_fit_the_floor() -> None:
    survey, settings = winged((115.0, 125.0)), Settings((110.0, 30.0, 180.0), engagement=8.0)
    plan = plan_cuts(survey, settings)
    ranked = survey_plans(survey, settings, plan).plans
    assert ranked[0].stations == tuple(stations(plan))
    for one in ranked:
        assert any(115.0 <= station <= 125.0 for station in one.stations)


def test_the_floor_that_a_refusal_names_does_for_all_pieces() -> None:
    survey, settings = winged((173.0, 175.0)), Settings((30.0, 60.0, 180.0), engagement=8.0)
    problem = refused(survey, settings)
    assert isinstance(problem, TooWide)
    words = problem.remedy.split()
    floor = float(words[3]), float(words[5])
    assert plan_cuts(survey, replace(settings, envelope=(*floor, 180.0))).cuts


@pytest.mark.parametrize("up", [1.0, -1.0])
@pytest.mark.parametrize(("low", "high"), [(-math.inf, 50.0), (50.0, 60.0), (60.0, math.inf)])
def test_a_piece_is_as_wide_as_the_part_between_its_stations(
    low: float, high: float, up: float
) -> None:
    # a pyramid on its base or its tip: how wide the square is grows evenly from 0 to 2
    foot = 50.0 - 50.0 * up
    corners = [[-1, -1, foot], [1, -1, foot], [1, 1, foot], [-1, 1, foot], [0, 0, 100.0 - foot]]
    faces = [[0, 2, 1], [0, 3, 2], [0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]]
    points = points_between(Mesh(np.array(corners), np.array(faces)), low, high)
    widest = 2.0 - 2.0 * (max(low, 0.0) if up > 0.0 else 100.0 - min(high, 100.0)) / 100.0
    assert np.ptp(points, axis=0) == pytest.approx([widest, widest])


# --- remedies that leave out what was asked for ----------------------------------------


def test_a_kind_of_joint_that_does_not_go_may_be_left_out() -> None:
    # 1.9 mm of wall take no tenon, and the section alone would choose a collar
    survey, settings = a_part(352.0, outside=(18.0, 18.0)), Settings(BED, joint="tenon")
    assert "without --joint tenon" in refused(survey, settings).remedy.split("; or ")
    assert plan_cuts(survey, replace(settings, joint=None)).cuts


def test_no_kind_is_left_out_where_none_was_asked_for_or_none_would_do() -> None:
    assert "--joint" not in refused(holed_through(), Settings(BED)).remedy
    assert "--joint" not in refused(holed_through(), Settings(BED, joint="tenon")).remedy


def test_a_collar_is_told_of_its_lugs_and_not_of_a_tip() -> None:
    survey, settings = a_part(352.0, outside=(18.0, 18.0)), Settings(BED, engagement=2.0)
    problem = refused(survey, settings)
    assert "an engagement of 2.00 mm of a collar" in problem.found
    assert "mm for its lugs and bevels" in problem.needed


def test_a_run_that_two_kinds_of_joint_share_is_told_once() -> None:
    survey, settings = a_part(352.0, outside=(18.0, 18.0)), Settings(BED, cuts=(0.5,))
    assert refused(survey, settings).found.count("from 0.00 to 352.00 mm") == 1


def test_the_engagement_is_told_to_be_rounded() -> None:
    (cut,) = plan_cuts(a_part(300.0), Settings(BED)).cuts
    assert "engagement 9.00 mm, half of the joint's 17.80 mm, to 0.5 mm" in cut.why
