"""Surveys put together by hand: one bore in one round outside, or several walls."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
from borewright.core.jointing.joint_design import CutPlace, tenon_on
from borewright.core.jointing.joint_line import JointLine
from borewright.core.jointing.wall_run import run_of
from borewright.core.values import (
    OTHER,
    Frame,
    Joint,
    Mesh,
    RoundSurface,
    Survey,
    Tenon,
    WallStretch,
)


def a_box(width: float, depth: float, length: float) -> Mesh:
    """A closed block about the axis, for parts of which only the hull counts."""
    x, y = width / 2.0, depth / 2.0
    ring = [[-x, -y], [x, -y], [x, y], [-x, y]]
    vertices = [[*corner, z] for z in (0.0, length) for corner in ring]
    sides = [[k, (k + 1) % 4, (k + 1) % 4 + 4, k + 4] for k in range(4)]
    quads = [[3, 2, 1, 0], [4, 5, 6, 7], *sides]
    return Mesh(
        np.array(vertices), np.array([t for a, b, c, d in quads for t in ([a, b, c], [a, c, d])])
    )


def one_wall(bore: RoundSurface, outside: RoundSurface) -> WallStretch:
    """The wall between them where both are."""
    return WallStretch(
        (0,), bore, outside, max(bore.start, outside.start), min(bore.stop, outside.stop)
    )


def a_survey(*, bore: RoundSurface, outside: RoundSurface, **rest: Any) -> Survey:
    """A survey of one bore and one outside; `rest` are the survey's other fields."""
    return Survey(
        numbers=np.zeros(len(rest["labels"]), np.int64),
        bores=(bore,),
        outsides=(outside,),
        walls=(one_wall(bore, outside),),
        **rest,
    )


def with_surfaces(
    survey: Survey, *, bore: RoundSurface | None = None, outside: RoundSurface | None = None
) -> Survey:
    """The survey with another bore or outside."""
    bore, outside = bore or survey.bore, outside or survey.outsides[0]
    return replace(survey, bores=(bore,), outsides=(outside,), walls=(one_wall(bore, outside),))


def a_walled_survey(
    bores: Sequence[RoundSurface], walls: Sequence[WallStretch], length: float, **rest: Any
) -> Survey:
    """A survey whose outside is not round: bores, and the walls around them."""
    fields: dict[str, Any] = {
        "mesh": a_box(60.0, 60.0, length),
        "labels": np.full(12, OTHER),
        "frame": Frame(np.zeros(3), np.eye(3)),
        "side_holes": (),
        "ornaments": (),
        "wall_least": 1.0,
        "wall_median": 2.0,
        **rest,
    }
    return Survey(
        numbers=np.zeros(12, np.int64),
        length=length,
        bores=tuple(bores),
        outsides=(),
        walls=tuple(walls),
        **fields,
    )


@lru_cache(maxsize=64)
def design_tenon(
    bore: RoundSurface,
    outside: RoundSurface,
    station: float,
    engagement: float,
    radial_clearance: float,
    least_wall: float,
    key_angle: float,
    *,
    number: int = 0,
    count: int = 1,
) -> Tenon:
    """The tenon of a cut on a wall of one bore and one outside.

    The last ones are kept: a test that designs a joint has `broken_rules` design it again.
    """
    run = run_of([outside], (bore,), [bore.start, bore.stop])
    line = JointLine(run, engagement, radial_clearance, least_wall)
    return tenon_on(line, station, CutPlace(number, count, key_angle))


def joint_of(tenon: Tenon) -> Joint:
    """The joint that a tenon makes alone."""
    return Joint("tenon", tenon.station, (tenon,))


def with_keys(tenon: Tenon, **changes: float) -> Tenon:
    """The tenon with all its keys changed in the same way."""
    return replace(tenon, keys=tuple(replace(key, **changes) for key in tenon.keys))
