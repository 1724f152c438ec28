"""What cutting left open at a joint of a piece, sorted into outlines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import CrowdedZone
from ..meshes.edge_rings import counter_clockwise, do_close, edge_rings, unpaired
from ..meshes.polygon import signed_area
from ..values import BoolArray, FloatArray, IntArray, Joint, RoundSurface, Tenon
from .zone_cut import CutPart, joint_bounds, tenon_u

_SAME_HEIGHT = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class OpenEnd:
    """The outlines at one joint of one piece, as vertex numbers of the cut part.

    section : outlines at the seam, counter-clockwise from above around material: of the
        outside, and of whatever else there is off the joint
    bores : each of the joint's bores, by growing angle
    """

    section: list[IntArray]
    bores: list[IntArray]


@dataclass(frozen=True, slots=True, eq=False)
class CutBores:
    """A tenon's bores as they were cut: the open ring of each, its surface and its generators."""

    rings: list[IntArray]
    surfaces: list[RoundSurface]
    generators: tuple[FloatArray, ...]


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
    for tenon in joint.tenons:
        _check_clear(part, section, tenon, joint)
    return OpenEnd(section, [counter_clockwise(part.vertices, chains[0]) for chains in rings])


def find_collar_end(
    part: CutPart, kept: BoolArray, joint: Joint, *, upper: bool
) -> tuple[IntArray, IntArray]:
    """The outlines of outside and bore where a piece is cut flat under a collar's notches.

    Both run counter-clockwise from above.

    Raises
    ------
    CrowdedZone : there are others
    """
    end = find_open_end(part, kept, joint, upper=upper)
    rings = sorted(
        end.section, key=lambda ring: abs(signed_area(part.vertices[ring, :2])), reverse=True
    )
    if len(rings) != 2:
        raise _crowded(joint, f"{len(rings)} outlines", "2")
    outer, inner = (counter_clockwise(part.vertices, ring) for ring in rings)
    return outer, inner


def _open_edges(
    part: CutPart, kept: BoolArray, joint: Joint
) -> tuple[IntArray, IntArray, IntArray]:
    """Edges in the joint's zone with one kept triangle only, and the bore that it lines."""
    stations = part.vertices[:, 2]
    bottom, top = joint_bounds(joint)
    zoned = (stations >= bottom - _SAME_HEIGHT) & (stations <= top + _SAME_HEIGHT)
    # at a seam only new vertices can be open: its cut passes through none of the others
    inner = np.zeros(len(stations), bool)
    inner[part.triangles[part.bores[joint.bores] >= 0]] = True
    zoned[: len(part.home)] &= inner[: len(part.home)]
    triangles, bores = part.triangles[kept], part.bores[joint.bores][kept]
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    within = np.flatnonzero(zoned[start] & zoned[end])
    start, end = start[within], end[within]
    single = unpaired(start, end)
    return start[single], end[single], bores[within[single] // 3]


def _chains(start: IntArray, end: IntArray, joint: Joint) -> list[IntArray]:
    """Edges linked into closed outlines."""
    if not do_close(start, end):
        raise _crowded(joint, "outlines that do not close", "closed outlines")
    return edge_rings(start, end)


def _crowded(joint: Joint, found: str, needed: str) -> CrowdedZone:
    return CrowdedZone(
        f"{found} where the joint from station {joint.zone[0]:.2f} to "
        f"{joint.zone[1]:.2f} mm is to go",
        f"{needed}: nothing but wall around the bore",
        "a --cut elsewhere; the wall there holds a hollow, a hole or a loose surface",
    )


def _check_clear(part: CutPart, section: list[IntArray], tenon: Tenon, joint: Joint) -> None:
    """Nothing at the seam comes into a tenon's column."""
    for ring in section:
        points = part.vertices[ring, :2]
        nearest = least_u_along(tenon, points, np.roll(points, -1, axis=0))
        if nearest < tenon.reach:
            within = "the bore" if tenon.bores else "the tenon's middle"
            raise _crowded(
                joint,
                f"an outline {nearest - tenon.bore_radius_at_tip:.2f} mm from {within}",
                f"more than {tenon.reach - tenon.bore_radius_at_tip:.2f} mm",
            )


def least_u_along(tenon: Tenon, start: FloatArray, end: FloatArray) -> float:
    """The least u along segments.

    Along a segment u is convex. It is smooth but on the line between two centres, and grows
    evenly or with the distance from a centre: so it is least at an end, at the place
    nearest to a centre, or on that line.
    """
    arm, centres = end - start, np.array(tenon.centres)
    whole = np.maximum((arm**2).sum(axis=1), 1e-300)
    shares = [np.zeros(len(arm)), np.ones(len(arm))]
    shares += [((centre - start) * arm).sum(axis=1) / whole for centre in centres]
    if len(centres) > 1:
        x, y = centres[1] - centres[0]
        rise = arm @ (-y, x)
        shares.append(((centres[0] - start) @ (-y, x)) / np.where(rise == 0.0, np.inf, rise))
    points = [start + np.clip(share, 0.0, 1.0)[:, None] * arm for share in shares]
    return float(tenon_u(tenon, np.vstack(points)).min())
