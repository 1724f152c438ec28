"""Side holes as prisms about a line that leads from the outside into a bore."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from tests.families.outlines import obround, oval, rectangle
from tests.families.solids import Solid, Workshop
from tests.families.surfaces import Direction, Outline
from tests.families.truth import Opening

RIM_EDGE = 0.3
"""Length, mm, of the edges round a hole."""


@dataclass(frozen=True, slots=True)
class SideCut:
    """A side hole as it is cut.

    station, angle_deg : where its centre line meets the outside
    long, wide : of the cutter, along and across the axis before it is tilted
    along_deg : how far the centre line leans towards the high end, going outward
    across_deg : how far it leans counter-clockwise, going outward
    """

    station: float
    angle_deg: float
    long: float
    wide: float
    kind: Literal["oval", "slot", "window"] = "oval"
    along_deg: float = 0.0
    across_deg: float = 0.0

    def outline(self) -> Outline:
        """Of the cutter, its long side along u."""
        sides = max(24, round(math.pi * (self.long + self.wide) / 2.0 / RIM_EDGE))
        if self.kind == "oval":
            return oval(self.long / 2.0, self.wide / 2.0, sides)
        if self.kind == "slot":
            return obround(self.long, self.wide, sides)
        return rectangle(self.long, self.wide)

    def cutter(self, workshop: Workshop, reach: float, bore_offset: tuple[float, float]) -> Solid:
        """From the bore's centre line out through the surface at `reach` from the axis."""
        out, left, up = self._local_axes()
        along, across = math.radians(self.along_deg), math.radians(self.across_deg)
        flat = math.cos(across) * out + math.sin(across) * left
        w = math.cos(along) * flat + math.sin(along) * up
        u = math.cos(along) * up - math.sin(along) * flat
        point = reach * out + self.station * up
        frame = Direction(point, u, np.cross(w, u), w)
        depth = float((point[:2] - bore_offset) @ flat[:2]) / math.cos(along)
        return workshop.prism(self.outline(), frame, -depth, self.long + self.wide)

    def _local_axes(self) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
        angle = math.radians(self.angle_deg)
        out = (math.cos(angle), math.sin(angle), 0.0)
        return np.array([out, (-out[1], out[0], 0.0), (0.0, 0.0, 1.0)])

    def opening(self, reach: float) -> Opening:
        """The truth at a round outside of radius `reach` about the axis.

        The mouth is widest along the axis in the plane through its centre line, and
        across it where the cutter's two flanks meet the outside; across is measured
        square to the radius at the centre line. A cutter leans one way at most.
        """
        assert self.along_deg == 0.0 or self.across_deg == 0.0
        axial = self.long / math.cos(math.radians(self.along_deg))
        across = self._flank(reach, self.wide / 2.0) - self._flank(reach, -self.wide / 2.0)
        return Opening(self.station, self.angle_deg, axial, across)

    def _flank(self, reach: float, beside: float) -> float:
        """Where the line `beside` the centre line meets the outside, along the tangent."""
        lean = math.radians(self.across_deg)
        along_line = math.sqrt(reach**2 - (beside + reach * -math.sin(lean)) ** 2)
        out_of_line = beside - reach * math.sin(lean)
        return along_line * math.sin(lean) + out_of_line * math.cos(lean)
