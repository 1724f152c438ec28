"""What cutting left open at a joint of a piece, sorted into outlines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import CrowdedZone
from ..meshes.polygon import signed_area
from ..values import BoolArray, FloatArray, IntArray, Joint
from .zone_cut import CutPart, bore_levels, joint_u

_SAME_HEIGHT = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class OpenEnd:
    """The outlines at one joint of one piece, as vertex numbers of the cut part.

    section : outlines at the seam, counter-clockwise from above around material: of the
        outside, and of whatever else there is off the joint
    bores : each of the joint's bores by growing angle; for a notch the part off the notch
    low, rise, fall : for a notch, the chain along the seam in the notch (growing
        angle), and the bore's chains up its flank at the start and at the end of
        the bore's part, from the seam upward, corners included
    """

    section: list[IntArray]
    bores: list[IntArray]
    low: IntArray
    rise: IntArray
    fall: IntArray


def find_open_end(part: CutPart, kept: BoolArray, joint: Joint, *, upper: bool) -> OpenEnd:
    """The open outlines of a piece at a joint.

    Parameters
    ----------
    kept : (t,) triangles near joints that the piece keeps
    upper : the piece is the joint's upper one

    Raises
    ------
    CrowdedZone : the outlines are not one around each bore and others clear of the joint
    """
    start, end, bore = _open_edges(part, kept, joint)
    rings = [_chains(start[bore == k], end[bore == k], joint) for k in range(len(joint.bores))]
    if any(len(chains) != 1 for chains in rings):
        raise _crowded(joint, f"{sum(map(len, rings))} bore outlines", f"{len(rings)}")
    section = _chains(start[bore < 0], end[bore < 0], joint)
    if not upper:
        section = [ring[::-1] for ring in section]
    _check_clear(part, section, joint)
    bores = [_counter_clockwise(part.vertices, chains[0]) for chains in rings]
    none = np.empty(0, np.int64)
    if joint.key.kind == "rib":
        return OpenEnd(section, bores, none, none, none)
    return _notched_end(part.vertices, section, bores[0], joint, upper=upper)


def _open_edges(
    part: CutPart, kept: BoolArray, joint: Joint
) -> tuple[IntArray, IntArray, IntArray]:
    """Edges in the joint's zone with one kept triangle only, and the bore that it lines."""
    stations = part.vertices[:, 2]
    zoned = (stations >= joint.station - _SAME_HEIGHT) & (
        stations <= bore_levels(joint)[1] + _SAME_HEIGHT
    )
    # at a seam only new vertices can be open: its cut passes through none of the others
    inner = np.zeros(len(stations), bool)
    inner[part.triangles[part.bores[joint.bores] >= 0]] = True
    zoned[: len(part.home)] &= inner[: len(part.home)]
    triangles, bores = part.triangles[kept], part.bores[joint.bores][kept]
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    within = np.flatnonzero(zoned[start] & zoned[end])
    start, end = start[within], end[within]
    span = len(stations)
    single = ~np.isin(start * span + end, end * span + start)
    return start[single], end[single], bores[within[single] // 3]


def _chains(start: IntArray, end: IntArray, joint: Joint) -> list[IntArray]:
    """Edges linked into closed outlines."""
    after = dict(zip(start.tolist(), end.tolist(), strict=True))
    if len(after) != len(start) or set(after) != set(after.values()):
        raise _crowded(joint, "outlines that do not close", "closed outlines")
    loops = []
    while after:
        first, current = after.popitem()
        loop = [first]
        while current != first:
            loop.append(current)
            current = after.pop(current)
        loops.append(np.array(loop))
    return loops


def _crowded(joint: Joint, found: str, needed: str) -> CrowdedZone:
    return CrowdedZone(
        f"{found} where the joint from station {joint.station:.2f} to "
        f"{joint.roof_top:.2f} mm is to go",
        f"{needed}: nothing but wall around the bore",
        "a --cut elsewhere; the wall there holds a hollow, a hole or a loose surface",
    )


def _check_clear(part: CutPart, section: list[IntArray], joint: Joint) -> None:
    """Nothing at the seam comes into the joint's column."""
    reach = joint.socket_radius + joint.key.relief
    for ring in section:
        points = part.vertices[ring, :2]
        nearest = least_u_along(joint, points, np.roll(points, -1, axis=0))
        if nearest < reach:
            raise _crowded(
                joint,
                f"an outline {nearest - joint.bore_radius_at_tip:.2f} mm from the bore",
                f"more than {reach - joint.bore_radius_at_tip:.2f} mm",
            )


def least_u_along(joint: Joint, start: FloatArray, end: FloatArray) -> float:
    """The least u along segments.

    Along a segment u is convex. It is smooth but on the line between two centres, and grows
    evenly or with the distance from a centre: so it is least at an end, at the place
    nearest to a centre, or on that line.
    """
    arm, centres = end - start, np.array(joint.centres)
    whole = np.maximum((arm**2).sum(axis=1), 1e-300)
    shares = [np.zeros(len(arm)), np.ones(len(arm))]
    shares += [((centre - start) * arm).sum(axis=1) / whole for centre in centres]
    if len(centres) > 1:
        x, y = centres[1] - centres[0]
        rise = arm @ (-y, x)
        shares.append(((centres[0] - start) @ (-y, x)) / np.where(rise == 0.0, np.inf, rise))
    points = [start + np.clip(share, 0.0, 1.0)[:, None] * arm for share in shares]
    return float(joint_u(joint, np.vstack(points)).min())


def _notched_end(
    vertices: FloatArray, section: list[IntArray], inner: IntArray, joint: Joint, *, upper: bool
) -> OpenEnd:
    """The bore's loop about a notch, taken apart at its four corners."""
    half = joint.key.half_width - (joint.key.side_gap if upper else 0.0)
    start, stop = joint.key.angle + half, joint.key.angle - half
    level = bore_levels(joint)[upper]
    arms = vertices[inner] - np.array([*joint.centres[0], 0.0])
    corners = [
        _nearest(arms, start, level),
        _nearest(arms, stop, level),
        _nearest(arms, stop, joint.station),
        _nearest(arms, start, joint.station),
    ]
    ring = np.roll(inner, -corners[0])
    a, b, c = (int(np.mod(corner - corners[0], len(ring))) for corner in corners[1:])
    if not 0 < a < b < c:  # over the tenon, down, through the notch, up
        raise _crowded(joint, "a bore outline that runs astray", "one around the notch")
    closed = np.append(ring, ring[0])
    return OpenEnd(
        section=section,
        bores=[ring[: a + 1]],
        low=ring[b : c + 1],
        rise=closed[c:],
        fall=ring[a : b + 1][::-1],
    )


def _nearest(arms: FloatArray, angle: float, station: float) -> int:
    off = np.angle(np.exp(1j * (np.arctan2(arms[:, 1], arms[:, 0]) - angle)))
    reach = np.hypot(arms[:, 0], arms[:, 1])
    return int(np.argmin((reach * off) ** 2 + (arms[:, 2] - station) ** 2))


def _counter_clockwise(vertices: FloatArray, loop: IntArray) -> IntArray:
    return loop if signed_area(vertices[loop, :2]) > 0.0 else loop[::-1]
