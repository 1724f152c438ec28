"""A joint cut in the plane that tells most of it, and what stands beside its drawing."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..jointing.collar_design import mating_radius, mating_surface
from ..jointing.hull import outline_place, outline_points
from ..values import AXIAL_GAP, Collar, Joint, Survey, Tenon
from .assembled import clear_angle
from .cross_sections import Plane
from .part_notes import told_angle
from .scales import told_length


@dataclass(frozen=True, slots=True)
class PlaceNote:
    """Words about a place of a section.

    across, station : mm, of the place
    """

    across: float
    station: float
    text: str


@dataclass(frozen=True, slots=True)
class Gap:
    """Where the clearance is seen at the seam: across from what goes in to what is around it.

    inner, outer : mm across
    """

    inner: float
    outer: float

    @property
    def middle(self) -> float:
        """Across, mm."""
        return (self.inner + self.outer) / 2.0


def telling_plane(joint: Joint) -> Plane:
    """Through the middle of two bores or of the first pin, else clear of keys and marks."""
    if joint.collar is not None:
        middle = mating_surface(joint.collar).offset
        angle = clear_angle(list(joint.key_angles))
    elif joint.kind == "pins":
        middle, angle = joint.tenon.centres[0], joint.key_angles[0]
    elif len(joint.bores) > 1:
        return _through_two_bores(joint)
    else:
        middle = joint.tenon.centres[0]
        angle = clear_angle([*joint.key_angles, *(mark.angle for mark in joint.tenon.marks)])
    return Plane(angle, Plane(angle).beyond(*middle))


def _through_two_bores(joint: Joint) -> Plane:
    """Through both bores, with that tenon to the right whose outer end is farther from a key."""
    (x, y), (other_x, other_y) = (centre for tenon in joint.tenons for centre in tenon.centres)
    angle = math.atan2(y - other_y, x - other_x)
    planes = [Plane(a, Plane(a).beyond(x, y)) for a in (angle, angle + math.pi)]
    return max(planes, key=lambda plane: _away_from_keys(shown_tenon(joint, plane), plane.angle))


def _away_from_keys(tenon: Tenon, angle: float) -> float:
    """How far an angle is from the nearest key of a tenon, radians."""
    apart = (abs(math.remainder(key.angle - angle, 2.0 * math.pi)) for key in tenon.keys)
    return round(min(apart, default=math.pi), 6)


def shown_tenon(joint: Joint, plane: Plane) -> Tenon:
    """The tenon farthest to the right in a plane: notes and the gap are of this one."""
    return max(joint.tenons, key=lambda tenon: _rightmost(tenon, plane))


def _rightmost(tenon: Tenon, plane: Plane) -> float:
    """Where the middle of its right end lies, mm across."""
    return max(plane.across(*centre) for centre in tenon.centres)


def shown_gap(joint: Joint, plane: Plane) -> Gap:
    """The clearance at the seam that faces the plane's right."""
    if joint.collar is not None:
        middle = plane.across(*mating_surface(joint.collar).offset)
        part = mating_surface(joint.collar).radius_at(joint.station)
        ring = mating_radius(joint.collar, joint.station)
        return Gap(middle + min(part, ring), middle + max(part, ring))
    tenon = shown_tenon(joint, plane)
    middle = _rightmost(tenon, plane)
    return Gap(middle + tenon.tenon_radius, middle + tenon.socket_radius)


def notes_of(joint: Joint, plane: Plane, survey: Survey) -> list[PlaceNote]:
    """Diameters and gaps of a joint, of the tenon shown, each at its place to the right."""
    if joint.collar is not None:
        return _collar_notes(joint, joint.collar, plane)
    word = "pin" if joint.kind == "pins" else "tenon"
    tenon = shown_tenon(joint, plane)
    return [*_tenon_notes(tenon, plane, word), *_bore_notes(joint, plane, survey)]


def told_others(joint: Joint, plane: Plane) -> list[str]:
    """Sentences on tenons that the section's notes leave out; pins are told in the view across."""
    if joint.kind == "pins":
        return []
    return [
        f"other tenon Ø{told_length(2.0 * tenon.tenon_radius)}, "
        f"its socket Ø{told_length(2.0 * tenon.socket_radius)}"
        for tenon in joint.tenons
        if tenon is not shown_tenon(joint, plane)
    ]


def _tenon_notes(tenon: Tenon, plane: Plane, word: str) -> list[PlaceNote]:
    middle, height = _rightmost(tenon, plane), tenon.parallel_length
    land = tenon.bore_radius_at_tip + tenon.land / 2.0
    sizes = [
        (tenon.tenon_radius, 0.7 * height, f"{word} Ø{told_length(2.0 * tenon.tenon_radius)}"),
        (tenon.socket_radius, 0.4 * height, f"socket Ø{told_length(2.0 * tenon.socket_radius)}"),
        (
            land,
            tenon.tip - tenon.station + AXIAL_GAP / 2.0,
            f"tip gap {told_length(AXIAL_GAP)}",
        ),
    ]
    groove = tenon.groove
    if groove is not None:
        bottom = tenon.tenon_radius - groove.depth
        told = f"groove Ø{told_length(2.0 * bottom)}, {told_length(groove.width)} wide"
        sizes.append((bottom, groove.start + groove.width / 2.0, told))
    return [PlaceNote(middle + radius, tenon.station + over, text) for radius, over, text in sizes]


def _bore_notes(joint: Joint, plane: Plane, survey: Survey) -> list[PlaceNote]:
    station = joint.station - 2.0
    bores = [survey.bores[number] for number in joint.bores]
    shown = sorted(bores, key=lambda bore: plane.across(*bore.offset))[-1:]
    return [
        PlaceNote(
            plane.across(*bore.offset) + bore.radius_at(station),
            station,
            f"bore Ø{told_length(2.0 * bore.radius_at(station))}",
        )
        for bore in shown
        if bore.start <= station <= bore.stop
    ]


def _collar_notes(joint: Joint, collar: Collar, plane: Plane) -> list[PlaceNote]:
    surface, station = mating_surface(collar), joint.station
    middle = plane.across(*surface.offset)
    part, ring = surface.radius_at(station), mating_radius(collar, station)
    outside = collar.place == "outside"
    outside = collar.place == "outside"
    word, own, away = ("collar", "bore", "outside") if outside else ("sleeve", "outside", "bore")
    far = ring + collar.thickness if outside else ring - collar.thickness
    sizes = [
        (part, -0.75, f"part's {away} Ø{told_length(2.0 * part)}"),
        (ring, 0.3, f"{word}'s {own} Ø{told_length(2.0 * ring)}"),
        (far, 0.6, f"{word}'s {away} Ø{told_length(2.0 * far)}"),
    ]
    return [
        PlaceNote(middle + radius, station + share * collar.reach, text)
        for radius, share, text in sizes
    ]


@dataclass(frozen=True, slots=True)
class KeyPlace:
    """Where a key, lug or pin is: mm in the part frame, and the angle it is told by."""

    x: float
    y: float
    angle: float


def key_places(joint: Joint) -> list[KeyPlace]:
    """Of each key, lug or pin, the first one first."""
    if joint.kind == "pins":
        middles = (tenon.centres[0] for tenon in joint.tenons)
        pairs = zip(middles, joint.key_angles, strict=True)
        return [KeyPlace(*middle, angle) for middle, angle in pairs]
    if joint.collar is not None:
        (x, y), radius = (
            mating_surface(joint.collar).offset,
            mating_radius(joint.collar, joint.station),
        )
        return [
            KeyPlace(x + radius * math.cos(a), y + radius * math.sin(a), a)
            for a in joint.key_angles
        ]
    return [place for tenon in joint.tenons for place in _rib_places(tenon)]


def key_word(joint: Joint) -> str:
    """What lets it seat in one rotation only."""
    return "pin" if joint.kind == "pins" else "key" if joint.collar is None else "lug"


def told_keys(joint: Joint) -> str:
    """Each key, lug or pin by its number, with its angle; of pins the diameters, too."""
    word = key_word(joint)
    sizes = [""] * len(joint.key_angles)
    if joint.kind == "pins":
        sizes = [f"Ø{told_length(2.0 * tenon.tenon_radius)} " for tenon in joint.tenons]
    told = (
        f"{word} {number} {size}at {told_angle(angle)}"
        for number, (size, angle) in enumerate(zip(sizes, joint.key_angles, strict=True), 1)
    )
    return ", ".join(told)


def _rib_places(tenon: Tenon) -> list[KeyPlace]:
    """The middle of each rib, on the tenon's outline."""
    discs = np.array(tenon.centres), tenon.tenon_radius + np.array(tenon.swells)
    lengths = [outline_place(*discs, 0.0, key.angle) for key in tenon.keys]
    if not lengths:
        return []
    points, _ = outline_points(*discs, tenon.relief, np.array(lengths))
    angles = [key.angle for key in tenon.keys]
    return [KeyPlace(x, y, angle) for angle, (x, y) in zip(angles, points.tolist(), strict=True)]


def level_of_keys(joint: Joint) -> float:
    """Station of the plane across that shows keys, lugs or pins with what is around them."""
    if joint.collar is not None:
        return joint.station + joint.collar.lugs[0].flank / 2.0
    tenon = joint.tenon
    height = tenon.parallel_length / 2.0
    if tenon.groove is not None:
        height = tenon.groove.start / 2.0
    return joint.station + height
