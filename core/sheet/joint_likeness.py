"""Which joints of a part are drawn alike, so that one drawing stands for them.

All that is told of them has to be the same, and their sections, but for the angles of their keys,
which differ at every seam, and for what lies beyond the joints.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ..values import FloatArray, Survey
from .assembled import spans_at
from .cross_sections import enclosed_area, section_across
from .cut_joint import CutJoint, axis_across
from .joint_notes import level_of_keys, notes_of, told_others
from .scales import told_length

_SAME = 0.03
"""mm, that sections may differ by: facets of the same circle begin at other angles."""

_SAME_SHARE = 2e-3
"""Of a section's area, by which it may differ for the same reason."""

_LEVELS, _DIRECTIONS = 24, 72


def alike_joints(cuts: Sequence[CutJoint], survey: Survey) -> list[list[int]]:
    """Numbers, from 0, of joints that are alike, in the order of the first of each."""
    groups: list[list[int]] = []
    for number, cut in enumerate(cuts):
        for group in groups:
            if _are_alike(cuts[group[0]], cut, survey):
                group.append(number)
                break
        else:
            groups.append([number])
    return groups


def _are_alike(one: CutJoint, other: CutJoint, survey: Survey) -> bool:
    return (
        _told(one, survey) == _told(other, survey)
        and _is_same_along(one, other)
        and _is_same_across(one, other)
    )


def _told(cut: CutJoint, survey: Survey) -> tuple[str, ...]:
    """All that a drawing says of a joint, but where it lies, its pieces and its angles."""
    joint = cut.joint
    lengths = (
        joint.engagement,
        joint.radial_clearance,
        level_of_keys(joint) - joint.station,
        *(2.0 * tenon.tenon_radius for tenon in joint.tenons),
        *(2.0 * tenon.socket_radius for tenon in joint.tenons),
    )
    return (
        joint.kind,
        cut.view,
        cut.scale.told,
        str(len(cut.numbers)),
        str(len(joint.key_angles)),
        *map(told_length, lengths),
        *(note.text for note in notes_of(joint, cut.plane, survey)),
        *told_others(joint, cut.plane),
    )


def _is_same_along(one: CutJoint, other: CutJoint) -> bool:
    """Do their sections along the axis lie over each other within the joints?"""
    (low, high), (other_low, other_high) = one.joint.zone, other.joint.zone
    if abs((high - low) - (other_high - other_low)) > _SAME:
        return False
    shares = (np.arange(_LEVELS) + 0.382) / _LEVELS
    for share in shares.tolist():
        spans = _spans(one, low + share * (high - low))
        others = _spans(other, other_low + share * (high - low))
        if spans.shape != others.shape or np.abs(spans - others).max(initial=0.0) > _SAME:
            return False
    return True


def _spans(cut: CutJoint, station: float) -> FloatArray:
    """Ends of what each piece is cut to at a station, mm from the joint's middle, each by piece."""
    middle = axis_across(cut.joint, cut.plane)
    within = (cut.window.left, cut.window.right) if cut.view != "full" else (-math.inf, math.inf)
    rows = [
        (number, max(left, within[0]) - middle, right - middle)
        for number, loops in enumerate(cut.sections)
        for left, right in spans_at(loops, station, within)
    ]
    return np.array(rows, dtype=float).reshape(-1, 3)


def _is_same_across(one: CutJoint, other: CutJoint) -> bool:
    """Do their sections across the keys have the same areas, and the same outline around them?"""
    (areas, reach), (other_areas, other_reach) = _across(one), _across(other)
    off = np.abs(areas - other_areas)
    is_filled = bool((off <= _SAME_SHARE * areas).all())
    return is_filled and float(np.abs(reach - other_reach).max()) <= _SAME


def _across(cut: CutJoint) -> tuple[FloatArray, FloatArray]:
    """Of each piece its area, mm2, and of all together how far they reach in all directions."""
    level = level_of_keys(cut.joint)
    sections = [section_across(cut.whole.meshes[number], level) for number in cut.numbers]
    angles = np.linspace(0.0, 2.0 * math.pi, _DIRECTIONS, endpoint=False)
    points = np.concatenate([loop for loops in sections for loop in loops])
    reach: FloatArray = (points @ np.array([np.cos(angles), np.sin(angles)])).max(axis=0)
    return np.array([enclosed_area(loops) for loops in sections]), reach
