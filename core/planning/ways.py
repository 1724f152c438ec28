"""Which kinds of joint a part's runs of wall allow, and why.

By the section: a ring tenon where the wall holds tenon, ribs and socket; a round tenon in
solid; pins where that tenon's tip would take too much of it; a collar over both ends where
the wall is too thin to share. A sleeve narrows the bore, so it is made on request only.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..errors import BadSetting
from ..jointing.collar_design import collar_on, is_bare
from ..jointing.collar_line import CollarLine
from ..jointing.joint_design import CutPlace, tenon_on
from ..jointing.joint_line import JointLine, where_kept
from ..jointing.key_pattern import LEAST_WEB, second_turn
from ..jointing.wall_run import WallRun, wall_runs
from ..values import Joint, JointKind, Settings, Survey
from .engagements import engagement_limits
from .intervals import Span, merge, outside_of

Line = JointLine | CollarLine
Form = Literal["tenon", "collar", "sleeve"]

_LUG_ROOM = 3.3
"""Half of both lugs, mm, and a web between them is added."""


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """A kind of joint on a run of wall.

    spans : stations where it may be
    """

    form: Form
    run: WallRun
    spans: tuple[Span, ...]

    @property
    def kind(self) -> JointKind:
        """As the contract calls it."""
        return self.form


def ways_on(survey: Survey, settings: Settings) -> tuple[Way, ...]:
    """The kinds of joint that may be made on each run of wall.

    Raises
    ------
    BadSetting : the kind asked for can be made on none of them
    """
    ways = tuple(way for run in wall_runs(survey) for way in _on_run(survey, run, settings))
    if not ways and settings.joint is not None and survey.walls:
        raise BadSetting(
            f"--joint {settings.joint}, where the part is {_sections(survey)}",
            _NEEDS[settings.joint],
            "another --joint, or none: then the section decides",
        )
    return ways


_NEEDS: dict[JointKind, str] = {
    "tenon": "wall or solid that a tenon fits in",
    "pins": "a wide solid section",
    "collar": "one bore in a round outside",
    "sleeve": "one bore",
    "oring": "one bore, or a round solid section",
    "lapped": "one bore, or a round solid section",
}


def _sections(survey: Survey) -> str:
    counts = {len(wall.bores) for wall in survey.walls}
    words = {0: "solid", 1: "a wall around one bore", 2: "a wall around two bores"}
    return " and ".join(words[count] for count in sorted(counts))


def _on_run(survey: Survey, run: WallRun, settings: Settings) -> list[Way]:
    whole = ((run.start, run.stop),)
    if settings.joint == "collar":
        return [Way("collar", run, whole)] if _takes_collar(survey, run) else []
    if settings.joint == "sleeve":
        return [Way("sleeve", run, whole)] if len(run.bores) == 1 else []
    ways = [Way("tenon", run, whole)]
    if settings.joint is None and _takes_collar(survey, run):
        too_thin = _without_tenon(run, settings)
        if too_thin:
            ways.append(Way("collar", run, tuple(too_thin)))
    return ways


def _takes_collar(survey: Survey, run: WallRun) -> bool:
    walls = [survey.walls[number] for number in run.walls]
    return len(run.bores) == 1 and any(is_bare(survey, wall) for wall in walls)


def _without_tenon(run: WallRun, settings: Settings) -> list[Span]:
    """Stations where the wall holds no tenon, of the shortest engagement."""
    held: list[Span] = []
    for strip in engagement_limits(run):
        engagement = strip.least if settings.engagement is None else settings.engagement
        line = JointLine(run, engagement, settings.made_clearance, settings.least_wall)
        held += where_kept(line.linear_parts(strip.low, strip.high), line.wall_spare)
    free = outside_of(merge(held))
    return [
        (max(low, run.start), min(high, run.stop))
        for low, high in free
        if low < run.stop and high > run.start
    ]


def line_on(way: Way, engagement: float, survey: Survey, settings: Settings) -> Line:
    """The sizes of a joint of one engagement along a way."""
    clearance, least_wall = settings.made_clearance, settings.least_wall
    if way.form == "tenon":
        return JointLine(way.run, engagement, clearance, least_wall)
    walls = tuple(survey.walls[number] for number in way.run.walls)
    place: Literal["outside", "inside"] = "outside" if way.form == "collar" else "inside"
    bare = tuple(is_bare(survey, wall) for wall in walls)
    return CollarLine(way.run, walls, bare, place, engagement, clearance, least_wall)


def joint_at(line: Line, station: float, place: CutPlace) -> Joint:
    """The joint at a station."""
    if isinstance(line, JointLine):
        return Joint("tenon", station, (tenon_on(line, station, place),))
    number = line.run.wall_number(station)
    wall = line.walls[line.run.walls.index(number)]
    least = (_LUG_ROOM + LEAST_WEB) / float(line.run.bore_radii(np.array(station)))
    second = second_turn(place.number, place.count, least)
    angles = (place.key_angle, place.key_angle + second)
    sizes = line.engagement, line.radial_clearance, line.least_wall
    collar = collar_on(wall, number, station, *sizes, line.place, angles)
    return Joint("collar" if line.place == "outside" else "sleeve", station, (), collar)


def reason(line: Line, station: float) -> str:
    """Why a joint is of its kind, in words; ends without a full stop."""
    wall = float(line.wall(np.array([station]))[0])
    if isinstance(line, CollarLine):
        if line.place == "inside":
            return f"a sleeve inside, as asked: the wall of {wall:.2f} mm is under it"
        shared = JointLine(line.run, line.engagement, line.radial_clearance, line.least_wall)
        return (
            f"a collar over both ends, as the wall of {wall:.2f} mm is too thin to share: "
            f"a tenon and its socket need {shared.wall_needed:.2f}"
        )
    if not line.run.bores:
        return f"a round tenon, as the section is solid {2.0 * wall:.2f} mm wide"
    around = " around both bores" if len(line.run.bores) > 1 else ""
    return (
        f"a tenon in the wall{around}, {wall:.2f} mm of it where {line.wall_needed:.2f} are needed"
    )
