"""Where to cut: the fewest pieces, proven, then the best-placed seams among those."""

from __future__ import annotations

import math

import numpy as np

from ..jointing.joint_design import design_joint
from ..values import FIT_SLACK, Cut, Joint, Plan, Settings, SideHole, Survey
from .cut_refusal import check_demands, refusal
from .cut_score import Seams, best_seams
from .cut_search import Search, search_cuts
from .floor_fit import turn_to_fit
from .intervals import GRAIN, Span, merge
from .seam_reach import Runs, seam_windows
from .seam_stretches import engagement_strips, joint_line

_NO_DIRECTION = 1e-6


def plan_cuts(survey: Survey, settings: Settings) -> Plan:
    """Cuts and joints of the fewest pieces that keep every rule.

    Raises
    ------
    TooWide : the section does not fit the envelope's floor, however turned
    BadSetting : cuts beyond the part, or fewer than one piece
    WallTooThin : the wall holds no joint anywhere
    NoPlan : no set of cuts keeps every rule; says which rule binds, and what would do
    """
    turn_to_fit(survey.mesh.vertices[:, :2], settings.envelope[:2])
    check_demands(survey, settings)
    search = search_cuts(survey, settings)
    if search is None:
        raise refusal(survey, settings)
    windows = seam_windows(search.ground, search.levels, search.height)
    seams = best_seams(survey, settings, search.ground, windows, search.height)
    engagements = search.ground.engagement[seams.home]
    joints = tuple(
        design_joint(
            survey.bore,
            survey.outside,
            float(seams.stations[number]),
            float(engagements[number]),
            settings.clearance,
            settings.least_wall,
            key_angle(survey.side_holes, float(seams.stations[number])),
        )
        for number in range(1, search.pieces)
    )
    cuts = tuple(
        Cut(joint.station, _window(windows[number], seams, number), why)
        for number, (joint, why) in enumerate(
            zip(joints, _reasons(survey, settings, joints), strict=True), start=1
        )
    )
    return Plan(cuts, joints, _remarks(survey, settings, search, joints))


def key_angle(holes: tuple[SideHole, ...], station: float) -> float:
    """Opposite the mean direction of the two side holes nearest by station; 0 without holes.

    Two holes that face each other have no mean direction: the key goes square to them.
    """
    nearest = sorted(holes, key=lambda hole: (abs(hole.station - station), hole.angle))[:2]
    if not nearest:
        return 0.0
    across = sum(math.sin(hole.angle) for hole in nearest)
    along = sum(math.cos(hole.angle) for hole in nearest)
    if math.hypot(across, along) < _NO_DIRECTION:
        across, along = -math.cos(nearest[0].angle), math.sin(nearest[0].angle)
    angle = math.atan2(-across, -along)
    return angle if angle > -math.pi else math.pi


def _window(runs: Runs, seams: Seams, number: int) -> Span:
    """The stretch of feasible stations that holds a seam, whatever its engagement."""
    station = float(seams.stations[number])
    spans = merge(zip(runs.low.tolist(), runs.high.tolist(), strict=True))
    low, high = next(span for span in spans if span[0] - GRAIN <= station <= span[1] + GRAIN)
    return min(low, station), max(high, station)


def _reasons(survey: Survey, settings: Settings, joints: tuple[Joint, ...]) -> list[str]:
    """One sentence for each cut."""
    bottom, top = survey.ends(settings)
    lows = [bottom, *(joint.station for joint in joints)]
    highs = [*(joint.tip for joint in joints), top]
    heights = [high - low for low, high in zip(lows, highs, strict=True)]
    of_height = f"of {settings.envelope[2]:.2f} mm"
    reasons = []
    for number, joint in enumerate(joints):
        line = joint_line(survey, settings, joint.engagement)
        wall = float(line.wall(np.array([joint.station]))[0])
        opening = "As asked: the" if joint.station in settings.cuts else "The"
        reasons.append(
            f"{opening} joint's zone lies {_place(survey, joint)}; the piece below stands "
            f"{heights[number]:.2f} and the piece above {heights[number + 1]:.2f} {of_height}; "
            f"the wall is {wall:.2f} mm."
        )
    return reasons


def _place(survey: Survey, joint: Joint) -> str:
    """How far the joint's zone lies from the nearest side hole, or end, on both sides."""
    below = [hole for hole in survey.side_holes if hole.high <= joint.station + GRAIN]
    above = [hole for hole in survey.side_holes if hole.low >= joint.roof_top - GRAIN]
    parts = []
    if below:
        hole = max(below, key=lambda hole: hole.high)
        parts.append(f"{joint.station - hole.high:.2f} mm above the hole at {hole.station:.2f}")
    else:
        parts.append(f"{joint.station:.2f} mm above the low end")
    if above:
        hole = min(above, key=lambda hole: hole.low)
        parts.append(f"{hole.low - joint.roof_top:.2f} mm below the hole at {hole.station:.2f}")
    else:
        parts.append(f"{survey.length - joint.roof_top:.2f} mm below the high end")
    return " and ".join(parts)


def _remarks(
    survey: Survey, settings: Settings, search: Search, joints: tuple[Joint, ...]
) -> tuple[str, ...]:
    height = settings.envelope[2]
    remarks = []
    bottom, top = survey.ends(settings)
    if not joints:
        remarks.append(
            f"The part stands {top - bottom:.2f} mm in an envelope {height:.2f} mm high: "
            "it fits as it is, in 1 piece."
        )
    if search.cap is not None:
        remarks.append(_shortening(survey, settings, search, joints))
    if search.height > height:
        remarks.append(
            f"Pieces pass the envelope's height of {height:.2f} mm by up to "
            f"{search.height - height:.4f} mm, within the {FIT_SLACK:.3f} mm allowed for round-off."
        )
    return tuple(remarks)


def _shortening(
    survey: Survey, settings: Settings, search: Search, joints: tuple[Joint, ...]
) -> str:
    strips = engagement_strips(survey, settings, None)
    usual = [
        next(strip.most for strip in strips if strip.low <= joint.station <= strip.high)
        for joint in joints
    ]
    pairs = zip(usual, (joint.engagement for joint in joints), strict=True)
    changes = ", ".join(
        f"from {before:.1f} to {after:.1f} mm"
        for before, after in dict.fromkeys(pairs)
        if after < before
    )
    instead = "no plan at all" if search.usual_pieces is None else f"{search.usual_pieces} pieces"
    return f"Engagement shortened {changes}: {search.pieces} pieces instead of {instead}."
