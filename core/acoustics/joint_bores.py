"""What a joint does to the bore that runs through it: the volume that it adds or takes.

A tenon leaves a groove around its tip, open to the bore: the gap over the tip at the land's outer
edge, that and the land at the bore. What lies beyond, over the tip's cone and along the tenon, is
a narrow gap; glue fills it, or some of it. A sleeve makes the bore narrower over its length. A
collar changes nothing: shoulders meet in the bore's wall. That pieces may stand a little beside
each other, within the clearance, leaves the section as wide as it was.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..jointing.collar_design import mating_radius
from ..values import AXIAL_GAP, Collar, Joint, RoundSurface, Tenon
from .air_column import AirColumn


@dataclass(frozen=True, slots=True)
class BoreChange:
    """What one joint changes of one column of air.

    start, stop : stations between which the bore is another
    volume : mm3, by which the bore is larger, negative where it is smaller
    gap_volume : mm3, of the narrow gap beyond, as far as air may reach where nothing fills it
    """

    start: float
    stop: float
    volume: float
    gap_volume: float

    @property
    def area(self) -> float:
        """mm2, by which the bore's section is wider on the mean; negative where it is narrower."""
        return self.volume / (self.stop - self.start)


def bore_change(
    joint: Joint, column: AirColumn, bore: RoundSurface, mouth_relief: float
) -> BoreChange | None:
    """What a joint changes of a column of air; None where it changes nothing of it.

    Parameters
    ----------
    bore : of the column, at the joint
    mouth_relief : mm, bevel at a socket's mouth
    """
    if joint.collar is not None:
        return _sleeve_change(joint.collar, joint.station, bore)
    for tenon in joint.tenons:
        for place, number in enumerate(tenon.bores):
            if number in column.bores:
                return _tenon_change(tenon, tenon.swells[place], mouth_relief)
    return None


def _sleeve_change(collar: Collar, station: float, bore: RoundSurface) -> BoreChange | None:
    """The bore is the sleeve's over its length."""
    if collar.place == "outside":
        return None
    own = mating_radius(collar, station) - collar.thickness
    start, stop = station - collar.reach, station + collar.reach
    area = math.pi * (own**2 - bore.radius_at(station) ** 2)
    return BoreChange(start, stop, area * (stop - start), 0.0)


def _tenon_change(tenon: Tenon, swell: float, mouth_relief: float) -> BoreChange:
    radius = tenon.bore_radius_at_tip + swell
    return BoreChange(
        start=tenon.tip,
        stop=tenon.tip + AXIAL_GAP + tenon.land,
        volume=groove_volume(radius, tenon.land, AXIAL_GAP),
        gap_volume=_gap_volume(tenon, mouth_relief) / len(tenon.bores),
    )


def groove_volume(radius: float, land: float, gap: float) -> float:
    """Volume, mm3, of the groove around a tenon's tip, beside a bore of a radius, mm.

    Over the land its height falls at 45 degrees from land + gap at the bore to the gap:
    2 pi times the integral from 0 to land of (gap + land - s) (radius + s) ds.
    """
    flat = radius * (gap * land + land**2 / 2.0)
    return 2.0 * math.pi * (flat + gap * land**2 / 2.0 + land**3 / 6.0)


def _gap_volume(tenon: Tenon, mouth_relief: float) -> float:
    """mm3, over the tip's cone, and along the tenon down to the seam or to its seal."""
    foot = tenon.bore_radius_at_tip + tenon.land
    over = AXIAL_GAP * math.pi * (tenon.tenon_radius**2 - foot**2)
    outline = 2.0 * math.pi * (tenon.tenon_radius + tenon.radial_clearance / 2.0)
    outline += tenon.outline_excess
    sealed = tenon.groove is not None
    height = tenon.parallel_length - (tenon.groove.stop if tenon.groove is not None else 0.0)
    mouth = 0.0 if sealed else outline * tenon.mouth_bevel(mouth_relief) ** 2 / 2.0
    return over + outline * tenon.radial_clearance * height + mouth + _web_volume(tenon)


def _web_volume(tenon: Tenon) -> float:
    """mm3, between two bores: from the ridge to the roof it is as high as the groove is wide."""
    if len(tenon.centres) == 1:
        return 0.0
    apart = math.dist(*tenon.centres[:2])
    foot = tenon.bore_radius_at_tip + sum(tenon.swells) / len(tenon.swells)
    web = 2.0 * foot * apart - math.pi * foot**2
    cone = AXIAL_GAP * 2.0 * apart * (tenon.tenon_radius - foot - tenon.land)
    return (AXIAL_GAP + tenon.land) * web + cone
