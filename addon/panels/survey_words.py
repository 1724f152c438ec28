"""What was found of a part, in words for the panel."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ...core.values import RoundSurface, SideHole, Survey
from ..words.told import told

_SHOWN = 0.005
"""Half of the last digit that is shown, mm."""

_ALONG = math.radians(0.05)
"""An axis nearer than that to one of the scene's is called along it."""


def axis_words(survey: Survey) -> str:
    """Where the axis points."""
    direction = survey.frame.rows[2]
    k = int(np.argmax(np.abs(direction)))
    off = math.acos(min(1.0, abs(float(direction[k]))))
    if off < _ALONG:
        return told("Along {sign}{letter}", sign="-" if direction[k] < 0.0 else "", letter="XYZ"[k])
    return ", ".join(f"{component:.3f}" for component in direction)


def surface_words(surfaces: Sequence[RoundSurface], length: float) -> tuple[str, ...]:
    """One for each stretch: its diameters, where it lies, how far off the axis it is."""
    return tuple(_stretch_words(surface, length) for surface in surfaces)


def _stretch_words(surface: RoundSurface, length: float) -> str:
    low = f"{2.0 * surface.radius_at(surface.start):.2f}"
    high = f"{2.0 * surface.radius_at(surface.stop):.2f}"
    said = (
        told("{low} mm", low=low)
        if low == high
        else told("{low} to {high} mm", low=low, high=high)
    )  # fmt: skip
    if surface.start > _SHOWN or surface.stop < length - _SHOWN:
        said += told(
            ", at {start} to {stop}", start=f"{surface.start:.1f}", stop=f"{surface.stop:.1f}"
        )
    if surface.eccentricity > _SHOWN:
        said += told(", {distance} mm off the axis", distance=f"{surface.eccentricity:.2f}")
    return said


def wall_words(survey: Survey) -> tuple[str, str]:
    """The least, and what is usual."""
    return (
        told("{wall} mm at the least", wall=f"{survey.wall_least:.2f}"),
        told("{wall} mm median", wall=f"{survey.wall_median:.2f}"),
    )


def hole_words(hole: SideHole) -> tuple[str, str]:
    """Where a side hole is, and how wide."""
    return (
        told("At {station} mm", station=f"{hole.station:.2f}"),
        told(
            "{along} along, {across} across",
            along=f"{hole.axial_width:.2f}",
            across=f"{hole.across_width:.2f}",
        ),
    )


def unit_words(scale_to_mm: float) -> str:
    """How long one unit of the scene is on the printer."""
    return told("1 unit = {scale} mm", scale=f"{scale_to_mm:g}")
