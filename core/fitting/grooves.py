"""Grooves around a tenon that print with the tenon up, and the one for thread.

Seen along the tenon, from the groove's lower edge up: a flat floor, the bottom, and a
ceiling that rises outward at 45 degrees, which needs no support.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import WallTooThin
from ..values import FACET_ALLOWANCE

LAPPED_LINES = 4
"""Lines of the nozzle left under thread. Thread pulled tight has crushed tenons: a published
measurement, known second hand, has a bore narrowed by lapping from 18.3 to 17.0 mm."""

LEAST_LAPPED_DEPTH, MOST_LAPPED_DEPTH = 0.6, 0.8
LEAST_LAPPED_WIDTH = 3.0
"""Of a groove for thread, mm. Common practice, no source."""

_ROUND_OFF = 1e-9

LAND_BESIDE = 1.0
"""Full tenon left between a groove and its parallel part's end, mm. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Groove:
    """A groove around a tenon, mm.

    tenon_radius : of the parallel part that it is cut into
    bottom_radius : of its bottom
    width : of the bottom, along the axis
    wall_left : between its bottom and the bore
    """

    tenon_radius: float
    bottom_radius: float
    width: float
    wall_left: float

    def __post_init__(self) -> None:
        assert 0.0 < self.bottom_radius < self.tenon_radius
        assert self.width > 0.0

    @property
    def depth(self) -> float:
        """Cut into the tenon, mm."""
        return self.tenon_radius - self.bottom_radius

    @property
    def height(self) -> float:
        """Along the axis, mm, from its lower to its upper edge."""
        return self.width + self.depth

    @property
    def profile(self) -> tuple[tuple[float, float], ...]:
        """(u, height over its lower edge) of its four corners, from the lower edge up."""
        return (
            (self.tenon_radius, 0.0),
            (self.bottom_radius, 0.0),
            (self.bottom_radius, self.width),
            (self.tenon_radius, self.height),
        )


def wall_under_groove(least_wall: float, nozzle: float, lines: int) -> float:
    """Wall, mm, that has to be left under a groove: of so many lines, and the least wall."""
    return max(least_wall, lines * nozzle) + FACET_ALLOWANCE


def groove_start(height: float, parallel_length: float, below: float) -> float:
    """Where a groove's lower edge lies over the seam, mm: as near the tip as may be.

    There the tenon is bent least, and keys find room below it.

    Parameters
    ----------
    height : of the groove, mm
    parallel_length : of the tenon, mm
    below : mm over the seam that has to stay a full tenon: mouth's bevel, keys

    Raises
    ------
    WallTooThin : the parallel part is too short
    """
    start = parallel_length - LAND_BESIDE - height
    if start < below - _ROUND_OFF:
        needed = below + height + LAND_BESIDE
        raise WallTooThin(
            f"a tenon parallel over {parallel_length:.2f} mm",
            f"{needed:.2f} mm for {below:.2f} mm below a groove of {height:.2f} mm and "
            f"{LAND_BESIDE:.2f} mm over it",
            f"--engagement longer by {needed - parallel_length:.2f} mm",
        )
    return start


def lapped_groove(
    tenon_radius: float, bore_radius: float, width: float, *, least_wall: float, nozzle: float
) -> Groove:
    """A shallow groove to wind thread into, as deep as the wall spares.

    Raises
    ------
    WallTooThin : what would be left could be crushed by thread wound tight, or the
        groove is too narrow for more than a few turns
    """
    wall = tenon_radius - bore_radius
    if width < LEAST_LAPPED_WIDTH - _ROUND_OFF:
        raise WallTooThin(
            f"room for a lapped groove of {width:.2f} mm along the tenon",
            f"at least {LEAST_LAPPED_WIDTH:.2f} mm",
            f"--engagement longer by {LEAST_LAPPED_WIDTH - width:.2f} mm",
        )
    left = wall_under_groove(least_wall, nozzle, LAPPED_LINES)
    if wall < left + LEAST_LAPPED_DEPTH - _ROUND_OFF:
        raise WallTooThin(
            f"a tenon's wall of {wall:.2f} mm",
            f"{left + LEAST_LAPPED_DEPTH:.2f} mm: {LEAST_LAPPED_DEPTH:.2f} mm of groove and "
            f"{left:.2f} mm under it, lest thread wound tight narrow the bore",
            "a thicker part, or another --joint",
        )
    depth = min(wall - left, MOST_LAPPED_DEPTH)
    return Groove(tenon_radius, tenon_radius - depth, width, wall - depth)
