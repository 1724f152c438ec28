"""Joints, for a record: mm and degrees."""

from __future__ import annotations

import math

from ..jointing.collar_corners import nick_angles
from ..jointing.collar_design import mating_radius, mating_surface
from ..values import Collar, Joint, Settings, Survey
from .groove_record import groove_entry
from .strength_record import strength_entry, strength_of, together_entry


def joint_entry(joint: Joint, number: int, survey: Survey, settings: Settings) -> dict[str, object]:
    """A joint's sizes, and what it would hold.

    number : that its witness marks count, from 1
    """
    strength = strength_of(joint, survey, settings)
    parts = () if strength is None else strength.parts
    sizes = (
        _tenon_sizes(joint, number, settings)
        if joint.collar is None
        else _collar_sizes(joint, joint.collar, number)
    )
    return {
        "kind": joint.kind,
        "bores": list(joint.bores),
        "station": joint.station,
        "engagement": joint.engagement,
        **sizes,
        "glue_area": joint.glue_area,
        "strength": [strength_entry(part, settings) for part in parts],
        "strength_together": None if strength is None else together_entry(strength, settings),
    }


def _tenon_sizes(joint: Joint, number: int, settings: Settings) -> dict[str, object]:
    """Diameters are those of the first tenon, about the first of its bores."""
    tenon = joint.tenon
    angles = _key_angles_deg(joint)
    return {
        "tenon_diameter": 2.0 * tenon.tenon_radius,
        "socket_diameter": 2.0 * tenon.socket_radius,
        "radial_clearance": tenon.radial_clearance,
        "key_angle_deg": angles[0],
        "key_angles_deg": angles,
        "tenons": [
            {
                "bores": list(one.bores),
                "centre": list(one.centres[0]),
                "tenon_diameter": 2.0 * one.tenon_radius,
                "socket_diameter": 2.0 * one.socket_radius,
            }
            for one in joint.tenons
        ],
        "witness_marks": joint_nicks(joint, number),
        "housing": groove_entry(tenon, settings),
    }


def _collar_sizes(joint: Joint, collar: Collar, number: int) -> dict[str, object]:
    """What goes in is the part under a collar, and a sleeve itself."""
    within, around = fit_diameters(joint)
    angles = _key_angles_deg(joint)
    return {
        "tenon_diameter": within,
        "socket_diameter": around,
        "radial_clearance": collar.radial_clearance,
        "key_angle_deg": angles[0],
        "key_angles_deg": angles,
        "collar_thickness": collar.thickness,
        "witness_marks": joint_nicks(joint, number),
    }


def _key_angles_deg(joint: Joint) -> list[float]:
    """From -180 to 180, of joints of every kind."""
    return [math.remainder(math.degrees(angle), 360.0) for angle in joint.key_angles]


def joint_nicks(joint: Joint, number: int) -> int:
    """Witness marks on either side of a joint; `number` is what they are to count, from 1."""
    if joint.collar is None:
        return len(joint.tenon.marks)
    return len(nick_angles(joint.collar, joint.station, number))


def fit_diameters(joint: Joint) -> tuple[float, float]:
    """Diameters, mm, of what goes in and of what goes around it, at the seam."""
    if joint.collar is None:
        return 2.0 * joint.tenon.tenon_radius, 2.0 * joint.tenon.socket_radius
    part = mating_surface(joint.collar).radius_at(joint.station)
    ring = mating_radius(joint.collar, joint.station)
    return 2.0 * min(part, ring), 2.0 * max(part, ring)
