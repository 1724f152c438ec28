"""Which kinds of joint a part's runs of wall allow, and why.

By the section: a ring tenon where the wall holds tenon, ribs and socket; a round tenon in
solid; pins where that tenon's tip would take too much of it; a collar over both ends where
the wall is too thin to share. A sleeve narrows the bore, so it is made on request only.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..errors import BadSetting
from ..fitting.oring_tables import CordHousing
from ..fitting.ring_housings import usable_cords
from ..jointing.collar_design import FIRST_LUG_WIDTH, LUG_WIDTH, collar_on, is_bare
from ..jointing.collar_line import CollarLine
from ..jointing.each_design import each_on
from ..jointing.each_line import EachLine, each_line
from ..jointing.grooved_design import grooved_on
from ..jointing.grooved_line import GroovedLine
from ..jointing.joint_design import ENGAGEMENT_STEP, MOST_ENGAGEMENT, CutPlace, tenon_on
from ..jointing.joint_line import JointLine, where_kept
from ..jointing.key_pattern import LEAST_WEB, second_turn
from ..jointing.pins_design import pins_on, prefers_pins
from ..jointing.pins_line import PinsLine
from ..jointing.wall_run import WallRun, runs_beside, wall_runs
from ..values import Joint, JointKind, Settings, Survey
from .engagements import EngagementStrip, engagement_limits
from .intervals import GRAIN, Span, common, merge, outside_of

Line = JointLine | PinsLine | EachLine | CollarLine
Form = Literal["tenon", "each", "pins", "collar", "sleeve", "oring", "lapped"]

_LUG_ROOM = (FIRST_LUG_WIDTH + LUG_WIDTH) / 2.0
"""Half of both lugs, mm at the outside; a web between them, at the bore, is added."""


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """A kind of joint on a run of wall.

    form : "each" is a ring tenon around each of two bores
    spans : stations where it may be
    beside : the run around the other of two bores
    cord : of the O-ring that goes into the tenon's groove
    """

    form: Form
    run: WallRun
    spans: tuple[Span, ...]
    beside: WallRun | None = None
    cord: CordHousing | None = None


def ways_on(survey: Survey, settings: Settings) -> tuple[Way, ...]:
    """The kinds of joint that may be made on each run of wall.

    Raises
    ------
    BadSetting : the kind asked for can be made on none of them
    """
    runs = wall_runs(survey)
    ways = tuple(way for run in runs for way in _on_run(survey, run, settings))
    if settings.joint in (None, "tenon"):
        ways += tuple(_around_each(survey, runs, settings))
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
    "sleeve": "one bore in a round outside",
    "oring": "one bore, or a round solid section",
    "lapped": "one bore, or a round solid section",
}


def _sections(survey: Survey) -> str:
    counts = {len(wall.bores) for wall in survey.walls}
    if runs_beside(survey):
        counts = counts - {1} | {2}
    words = {0: "solid", 1: "a wall around one bore", 2: "a wall around two bores"}
    told = " and ".join(words[count] for count in sorted(counts))
    return told if survey.outsides else f"{told}, its outside not round"


def _on_run(survey: Survey, run: WallRun, settings: Settings) -> list[Way]:
    whole = ((run.start, run.stop),)
    asked = settings.joint
    if asked in ("collar", "sleeve"):
        return [Way(asked, run, whole)] if _takes_collar(survey, run) else []
    if asked == "pins":
        return [Way("pins", run, whole)] if len(run.bores) < 2 else []
    if asked in ("oring", "lapped"):
        return _grooved(run, settings, asked) if len(run.bores) < 2 else []
    if asked is None and not run.bores:
        return _in_solid(run)
    ways = [Way("tenon", run, whole)]
    if asked is None and _takes_collar(survey, run):
        ways += _where_left("collar", run, _without_tenon(run, settings))
    return ways


def _in_solid(run: WallRun) -> list[Way]:
    """A round tenon, or pins where the section is wide."""
    spans: dict[Form, list[Span]] = {"tenon": [], "pins": []}
    for strip in engagement_limits(run):
        radius = float(run.outer_at(np.array((strip.low + strip.high) / 2.0)))
        form: Form = "pins" if prefers_pins(radius, strip.most) else "tenon"
        spans[form].append((strip.low, strip.high))
    return [way for form, found in spans.items() for way in _where_left(form, run, merge(found))]


def _grooved(run: WallRun, settings: Settings, form: Literal["oring", "lapped"]) -> list[Way]:
    """A tenon with a groove: for the best cord that the wall and the engagement hold.

    Where they hold none: for the one that needs the least wall, which tells what is missing.
    """
    if form == "lapped":
        return [Way(form, run, ((run.start, run.stop),))]
    cords = usable_cords(settings.clearance, settings.spread)
    thinnest = min(cords, key=lambda cord: cord.depth)
    left: list[Span] = [(run.start, run.stop)]
    found = []
    for cord in cords:
        way = Way(form, run, tuple(left), cord=cord)
        held = left if cord == thinnest else grooved_spans(way, settings)
        if held and (cord != thinnest or left):
            found.append(Way(form, run, tuple(common(left, held)), cord=cord))
        left = [span for span in common(left, outside_of(held)) if span[1] - span[0] > GRAIN]
    return [way for way in found if way.spans]


def grooved_spans(way: Way, settings: Settings) -> list[Span]:
    """Stations where a grooved tenon of the longest engagement has the wall and the length."""
    engagement = MOST_ENGAGEMENT if settings.engagement is None else settings.engagement
    line = _grooved_line(way, engagement, settings)
    parts = [part for span in way.spans for part in line.linear_parts(*span)]
    for limit in (line.wall_spare, line.parallel_spare, line.mounting_spare):
        parts = where_kept(parts, limit)
    return merge(parts)


def _grooved_line(way: Way, engagement: float, settings: Settings) -> GroovedLine:
    return GroovedLine(
        way.run,
        engagement,
        settings.made_clearance,
        settings.least_wall,
        nozzle=settings.nozzle,
        undersize=settings.made_clearance - settings.clearance,
        cord=way.cord,
    )


def engagements_on(way: Way, settings: Settings) -> list[EngagementStrip]:
    """The engagements that may be taken along a way: the trade's, or as long as a groove asks."""
    limits = engagement_limits(way.run)
    if way.form not in ("oring", "lapped"):
        return limits
    return [_lengthened(way, strip, settings) for strip in limits]


def _lengthened(way: Way, strip: EngagementStrip, settings: Settings) -> EngagementStrip:
    """A strip with engagements that hold the groove at both its ends, if any does."""
    ends = np.array([strip.low, strip.high])
    steps = round((MOST_ENGAGEMENT - strip.least) / ENGAGEMENT_STEP)
    needed = next(
        (
            engagement
            for engagement in (strip.least + step * ENGAGEMENT_STEP for step in range(steps))
            if _grooved_line(way, engagement, settings).parallel_spare(ends).min() >= 0.0
        ),
        MOST_ENGAGEMENT,
    )
    return EngagementStrip(strip.low, strip.high, needed, max(strip.most, needed))


def _where_left(
    form: Form, run: WallRun, spans: list[Span], beside: WallRun | None = None
) -> list[Way]:
    return [Way(form, run, tuple(spans), beside)] if spans else []


def _around_each(survey: Survey, runs: tuple[WallRun, ...], settings: Settings) -> Iterator[Way]:
    """A ring around each of two bores, where no tenon goes around both."""
    both = [run for run in runs if len(run.bores) == 2]
    held = [span for run in both for span in _with_tenon(run, settings)]
    for first, second in runs_beside(survey):
        span = max(first.start, second.start), min(first.stop, second.stop)
        left = common([span], outside_of(merge(held)))
        yield from _where_left("each", first, left, second)


def _takes_collar(survey: Survey, run: WallRun) -> bool:
    walls = [survey.walls[number] for number in run.walls]
    return len(run.bores) == 1 and any(is_bare(survey, wall) for wall in walls)


def _without_tenon(run: WallRun, settings: Settings) -> list[Span]:
    """Stations where the wall holds no tenon."""
    left = common([(run.start, run.stop)], outside_of(merge(_with_tenon(run, settings))))
    return [(low, high) for low, high in left if high - low > GRAIN]


def _with_tenon(run: WallRun, settings: Settings) -> list[Span]:
    """Stations where the wall holds a tenon, of the shortest engagement."""
    held: list[Span] = []
    for strip in engagement_limits(run):
        engagement = strip.least if settings.engagement is None else settings.engagement
        line = JointLine(run, engagement, settings.made_clearance, settings.least_wall)
        held += where_kept(line.linear_parts(strip.low, strip.high), line.wall_spare)
    return held


def line_on(way: Way, engagement: float, survey: Survey, settings: Settings) -> Line:
    """The sizes of a joint of one engagement along a way."""
    clearance, least_wall = settings.made_clearance, settings.least_wall
    if way.form in ("oring", "lapped"):
        return _grooved_line(way, engagement, settings)
    if way.form == "tenon":
        return JointLine(way.run, engagement, clearance, least_wall)
    if way.form == "pins":
        return PinsLine(way.run, engagement, clearance, least_wall)
    if way.beside is not None:
        return each_line(way.run, way.beside, engagement, clearance, least_wall)
    walls = tuple(survey.walls[number] for number in way.run.walls)
    place: Literal["outside", "inside"] = "outside" if way.form == "collar" else "inside"
    bare = tuple(is_bare(survey, wall) for wall in walls)
    return CollarLine(way.run, walls, bare, place, engagement, clearance, least_wall)


def joint_at(line: Line, station: float, place: CutPlace) -> Joint:
    """The joint at a station."""
    if isinstance(line, GroovedLine):
        kind: JointKind = "lapped" if line.cord is None else "oring"
        return Joint(kind, station, (grooved_on(line, station, place),))
    if isinstance(line, JointLine):
        return Joint("tenon", station, (tenon_on(line, station, place),))
    if isinstance(line, EachLine):
        return Joint("tenon", station, each_on(line, station, place))
    if isinstance(line, PinsLine):
        return Joint("pins", station, pins_on(line, station, place))
    number = line.run.wall_number(station)
    wall = line.walls[line.run.walls.index(number)]
    web = LEAST_WEB / float(line.run.bore_radii(np.array(station)))
    least = _LUG_ROOM / wall.outer.radius_at(station) + web
    second = second_turn(place.number, place.count, least)
    angles = (place.key_angle, place.key_angle + second)
    sizes = line.engagement, line.radial_clearance, line.least_wall
    collar = collar_on(wall, number, station, *sizes, line.place, angles)
    return Joint("collar" if line.place == "outside" else "sleeve", station, (), collar)


def kind_word(line: Line) -> str:
    """What a line's joint is called."""
    if isinstance(line, CollarLine):
        return line.word
    if isinstance(line, PinsLine):
        return "pins"
    if isinstance(line, EachLine):
        return "tenon around each bore"
    return "tenon with a groove" if isinstance(line, GroovedLine) else "tenon"


def reason(line: Line, station: float) -> str:
    """Why a joint is of its kind, in words; ends without a full stop."""
    wall = float(line.wall(np.array([station]))[0])
    if isinstance(line, CollarLine):
        return _collar_reason(line, wall)
    if isinstance(line, PinsLine):
        width = 2.0 * float(line.outer_radius(np.array([station]))[0])
        return f"three pins, in a section {width:.2f} mm wide"
    needed = f"{wall:.2f} mm of it where {line.wall_needed:.2f} are needed"
    if isinstance(line, GroovedLine):
        held = "thread" if line.cord is None else f"an O-ring of {line.cord.cord:.2f} mm"
        wide = f"a wall of {wall:.2f} mm" if line.run.bores else f"a solid {2.0 * wall:.2f} mm wide"
        return f"a tenon with a groove for {held}, as asked, in {wide}"
    if isinstance(line, EachLine):
        return f"a tenon in the wall around each bore, {needed}; there is too little around both"
    if not line.run.bores:
        return f"a round tenon, as the section is solid, {2.0 * wall:.2f} mm wide"
    around = " around both bores" if len(line.run.bores) > 1 else ""
    return f"a tenon in the wall{around}, {needed}"


def _collar_reason(line: CollarLine, wall: float) -> str:
    if line.place == "inside":
        return f"a sleeve inside, as asked, in a wall of {wall:.2f} mm"
    shared = JointLine(line.run, line.engagement, line.radial_clearance, line.least_wall)
    if wall >= shared.wall_needed:
        return f"a collar over both ends, as asked, over a wall of {wall:.2f} mm"
    return (
        f"a collar over both ends, as the wall of {wall:.2f} mm is too thin to share: "
        f"a tenon and its socket need {shared.wall_needed:.2f}"
    )
