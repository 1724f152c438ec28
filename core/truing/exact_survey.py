"""The survey as it is once its surfaces are exact, and whether that leaves a wall."""

from __future__ import annotations

import math
from dataclasses import replace

from ..errors import BadSetting, TruingRefused
from ..values import RoundSurface, Settings, Survey, WallStretch

_LEAST_LEFT = 0.1
"""Truing must not leave a wall thinner than this, mm, where there was more."""


def as_trued(survey: Survey, settings: Settings) -> Survey:
    """The survey with no chord error left on the surfaces that are trued.

    Bores that are brought to a diameter have it, and the walls what that leaves them.

    Raises
    ------
    BadSetting : a bore is asked for that the other settings leave as it is
    TruingRefused : no straight bore is near enough to the diameter asked for
    """
    bores = _brought(survey, settings)
    outsides = survey.outsides
    if settings.true in {"both", "bore"}:
        bores = tuple(replace(bore, sagitta=0.0) for bore in bores)
    if settings.true in {"both", "outside"}:
        outsides = tuple(replace(outside, sagitta=0.0) for outside in outsides)
    growth = [new.radius_at_zero - old.radius_at_zero for new, old in _pairs(bores, survey.bores)]
    return replace(
        survey,
        bores=bores,
        outsides=outsides,
        walls=tuple(_as_left(wall, survey, bores, outsides, growth) for wall in survey.walls),
        wall_least=survey.wall_least - max(growth, default=0.0),
        wall_median=survey.wall_median - (growth[0] if growth else 0.0),
    )


def _pairs(
    new: tuple[RoundSurface, ...], old: tuple[RoundSurface, ...]
) -> list[tuple[RoundSurface, RoundSurface]]:
    return list(zip(new, old, strict=True))


def _as_left(
    wall: WallStretch,
    survey: Survey,
    bores: tuple[RoundSurface, ...],
    outsides: tuple[RoundSurface, ...],
    growth: list[float],
) -> WallStretch:
    """A wall with its surfaces exact; several bores share the width that the widest leaves."""
    if not wall.bores:
        held = [outside.held_about_axis for outside in survey.outsides]
        if wall.outer not in held:
            return wall
        return replace(wall, outer=outsides[held.index(wall.outer)].held_about_axis)
    if wall.outer in survey.outsides:
        outer = outsides[survey.outsides.index(wall.outer)]
    else:
        lost = max(growth[number] for number in wall.bores) - growth[wall.bores[0]]
        outer = replace(wall.outer, radius_at_zero=wall.outer.radius_at_zero - lost)
    return replace(wall, inner=bores[wall.bores[0]], outer=outer)


def _brought(survey: Survey, settings: Settings) -> tuple[RoundSurface, ...]:
    """The bores, straight ones brought to the diameter asked for where it is near enough."""
    asked = settings.bore
    if asked is None:
        return survey.bores
    if settings.true in {"outside", "none"}:
        raise BadSetting(
            f"--bore {asked:.2f} with --true {settings.true}",
            "a bore that is made true",
            "--true both, or --true bore",
        )
    if not survey.bores:
        raise BadSetting(
            f"--bore {asked:.2f} on a solid part, which has no bore",
            "a bore to bring to a diameter",
            "no --bore",
        )
    off = [abs(2.0 * bore.radius_at_zero - asked) for bore in survey.bores]
    straight = [bore.slope == 0.0 for bore in survey.bores]
    near = [
        level and gap <= 2.0 * settings.max_move for level, gap in zip(straight, off, strict=True)
    ]
    if not any(near):
        raise _none_near(survey, settings, asked)
    return tuple(
        replace(bore, radius_at_zero=asked / 2.0) if chosen else bore
        for bore, chosen in zip(survey.bores, near, strict=True)
    )


def _none_near(survey: Survey, settings: Settings, asked: float) -> TruingRefused:
    straight = [2.0 * bore.radius_at_zero for bore in survey.bores if bore.slope == 0.0]
    needed = (
        f"a straight bore within {2.0 * settings.max_move:.2f} mm of the {asked:.2f} mm asked for"
    )
    if not straight:
        return TruingRefused("tapered bores only", needed, "no --bore")
    nearest = min(straight, key=lambda diameter: abs(diameter - asked))
    move = math.ceil(abs(nearest - asked) * 50.0 + 0.1) / 100.0
    return TruingRefused(
        f"a bore of {nearest:.3f} mm",
        needed,
        f"--bore {nearest:.2f}, or --max-move {move:.2f}",
    )


def check_walls(survey: Survey, exact: Survey) -> None:
    """Exact surfaces must not cross, nor leave next to no wall where there was one.

    How thin the part's own wall is, is no business of truing; bores that ran into
    each other before may go on doing so.

    Raises
    ------
    TruingRefused : with the wall that would be left
    """
    outer, web = _least(_outer_walls(exact)), _least(_webs(exact))
    had = _least(_outer_walls(survey)), _least(_webs(survey))
    for left, before in ((outer, had[0]), (web, had[1])):
        if left < min(_LEAST_LEFT, before):
            raise _no_wall(left, _LEAST_LEFT)
    if outer <= 0.0:
        raise _no_wall(outer, 0.0)


def _no_wall(left: float, needed: float) -> TruingRefused:
    return TruingRefused(
        f"a wall of {left:.2f} mm at its thinnest between true surfaces",
        f"more than {needed:.2f} mm",
        "--true none, another --bore, or a thicker part",
    )


def _least(walls: list[float]) -> float:
    return min(walls, default=math.inf)


def _outer_walls(survey: Survey) -> list[float]:
    """Wall, mm, between each bore and each outside, at the ends of what they share."""
    return [
        outside.radius_at(z) - bore.radius_at(z) - math.dist(bore.offset, outside.offset)
        for bore in survey.bores
        for outside in survey.outsides
        for z in _shared(bore, outside)
    ]


def _webs(survey: Survey) -> list[float]:
    """Wall, mm, between bores about different lines, at the ends of what they share."""
    return [
        math.dist(bore.offset, other.offset) - bore.radius_at(z) - other.radius_at(z)
        for number, bore in enumerate(survey.bores)
        for other in survey.bores[number + 1 :]
        if bore.offset != other.offset
        for z in _shared(bore, other)
    ]


def _shared(first: RoundSurface, second: RoundSurface) -> tuple[float, ...]:
    """The first and last station of the stretch that two surfaces share, if there is one."""
    start, stop = max(first.start, second.start), min(first.stop, second.stop)
    return (start, stop) if start < stop else ()
