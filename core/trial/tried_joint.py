"""The joint whose fit is tried: of a wall of given sizes, or of a part's own plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..errors import BadSetting
from ..jointing.collar_line import CollarLine
from ..jointing.joint_design import CutPlace, tenon_on, usual_engagement
from ..jointing.joint_line import JointLine
from ..jointing.wall_run import WallRun, run_of, runs_beside, wall_runs
from ..planning.ways import joint_at
from ..truing.exact_survey import as_trued
from ..values import Collar, Outcome, RoundSurface, Settings, Tenon, WallStretch

_LONG, _MIDDLE = 1000.0, 500.0
"""A wall of given sizes has no ends near its joint, mm."""


@dataclass(frozen=True, slots=True)
class TriedJoint:
    """A joint's tenon and the wall that it is cut from.

    bore_radius : mm, beside the tenon; 0 where it is solid
    outer_radius : mm, of the wall over the joint
    place : which cut of how many, and where its first key is
    settings : as asked; `clearance` is the one that trial clearances lie about
    source : what it is the joint of, in words
    """

    tenon: Tenon
    bore_radius: float
    outer_radius: float
    place: CutPlace
    settings: Settings
    source: str


@dataclass(frozen=True, slots=True)
class TriedCollar:
    """A collar over both ends of a thin tube.

    bore_radius, outer_radius : mm, of the tube at the seam
    collar : its own
    settings, source : as a `TriedJoint`'s
    """

    bore_radius: float
    outer_radius: float
    collar: Collar
    settings: Settings
    source: str


def joint_of_sizes(bore: float, wall: float, settings: Settings) -> TriedJoint | TriedCollar:
    """The joint in a round tube, or in a round solid section.

    Parameters
    ----------
    bore : its diameter, mm; 0 of a solid section
    wall : mm; of a solid section its radius; one too thin for a tenon takes a collar

    Raises
    ------
    WallTooThin : as `tenon_on`, or as `collar_on`
    """
    outer_radius = bore / 2.0 + wall
    outer = RoundSurface(outer_radius, 0.0, 0.0, _LONG)
    surfaces = (RoundSurface(bore / 2.0, 0.0, 0.0, _LONG),) if bore else ()
    run = run_of([outer], surfaces, [0.0, _LONG], bores=(0,) if bore else ())
    across = float(run.joint_diameter(np.array([_MIDDLE]))[0])
    line = _line(run, settings.engagement or usual_engagement(across), settings)
    place = CutPlace(0, 1, 0.0)
    told = (
        f"a tube of bore {bore:g} mm and wall {wall:g} mm"
        if bore
        else f"a solid round of {2.0 * wall:g} mm"
    )
    thin = line.wall_spare(np.array([_MIDDLE]))[0] < 0.0 and settings.joint is None
    if bore and (settings.joint == "collar" or thin):
        return TriedCollar(bore / 2.0, outer_radius, _collar(line, outer, place), settings, told)
    tenon = tenon_on(line, _MIDDLE, place)
    return TriedJoint(tenon, bore / 2.0, outer_radius, place, settings, told)


def _collar(line: JointLine, outer: RoundSurface, place: CutPlace) -> Collar:
    run = line.run
    wall = WallStretch((0,), run.surfaces[0], outer, 0.0, _LONG)
    sizes = line.engagement, line.radial_clearance, line.least_wall
    collar = joint_at(CollarLine(run, (wall,), (True,), "outside", *sizes), _MIDDLE, place).collar
    assert collar is not None
    return collar


def joint_of_plans(
    outcomes: Sequence[Outcome], number: int, settings: Settings
) -> TriedJoint | TriedCollar:
    """A joint of the plans of a file's parts, the first of its tenons.

    Around two bores it is tried about the first one's centre line, in as much wall.

    Parameters
    ----------
    number : of the joint, from 1 at the first part's low end

    Raises
    ------
    BadSetting : the plans have no such joint, or one that a ring does not try
    """
    places = [(outcome, place) for outcome in outcomes for place in range(len(outcome.plan.joints))]
    if not 1 <= number <= len(places):
        raise BadSetting(
            f"--joint-number {number} where the plan has {len(places)} joints",
            f"a number from 1 to {len(places)}" if places else "1 joint: a part that has to be cut",
            "another --joint-number" if places else "--bore and --wall, or --solid, without PART",
        )
    outcome, place = places[number - 1]
    return _joint_of_plan(outcome, place, number, settings)


def _joint_of_plan(
    outcome: Outcome, place: int, number: int, settings: Settings
) -> TriedJoint | TriedCollar:
    joints = outcome.plan.joints
    joint = joints[place]
    told = f"joint {number} of {outcome.name} ({joint.kind}) at station {joint.station:.2f} mm"
    if joint.collar is not None:
        return _planned_collar(joint.collar, joint.station, told, settings)
    tenon = replace(joint.tenon, rib_height=None, groove=None)  # the gap is tried, no seal
    if len(joint.tenons) > 1:
        told += f", the first of its {len(joint.tenons)} tenons"
    survey = as_trued(outcome.survey, settings)
    beside = (run for pair in runs_beside(survey) for run in pair)
    run = next(run for run in (*wall_runs(survey), *beside) if tenon.wall in run.walls)
    line = _line(run, tenon.engagement, settings)
    here = np.array([tenon.station])
    key_angle = tenon.keys[0].angle if tenon.keys else 0.0
    return TriedJoint(
        tenon,
        float(line.bore_radius(here)[0]) if tenon.bores else 0.0,
        float(line.outer_radius(here)[0]),
        CutPlace(place, len(joints), key_angle),
        settings,
        told,
    )


def _planned_collar(collar: Collar, station: float, told: str, settings: Settings) -> TriedCollar:
    if collar.place == "inside":
        raise BadSetting(
            f"{told}, with 0 rings outside that bars could number",
            "1 tenon, or 1 collar over the outside",
            "a trial of --joint collar: the gap that a printer needs is the same",
        )
    radii = collar.inner.radius_at(station), collar.outer.radius_at(station)
    return TriedCollar(*radii, collar, settings, told)


def _line(run: WallRun, engagement: float, settings: Settings) -> JointLine:
    return JointLine(run, engagement, settings.made_clearance, settings.least_wall)
