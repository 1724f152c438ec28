"""The grooves around tenons, for the record and the summary: what goes in, and how it seals."""

from __future__ import annotations

from ..fitting.grooves import Groove
from ..fitting.oring_tables import CORD_HOUSINGS
from ..fitting.ring_housings import OringHousing, Ranged, housing_of, housing_words
from ..values import Settings, Tenon


def ring_housing(tenon: Tenon, settings: Settings) -> OringHousing | None:
    """The housing that a tenon has for an O-ring; None without one."""
    made = tenon.groove
    if made is None or made.cord is None:
        return None
    radius = tenon.tenon_radius
    groove = Groove(radius, radius - made.depth, made.width, made.wall_left)
    cord = next(one for one in CORD_HOUSINGS if one.cord == made.cord)
    return housing_of(cord, groove, settings.spread)


def groove_entry(tenon: Tenon, settings: Settings) -> dict[str, object] | None:
    """For the record: the groove's sizes, mm, and of an O-ring its shares; None without one."""
    made = tenon.groove
    if made is None:
        return None
    entry: dict[str, object] = {
        "for": "thread" if made.cord is None else "O-ring",
        "groove_diameter": 2.0 * (tenon.tenon_radius - made.depth),
        "groove_width": made.width,
        "groove_depth": made.depth,
        "groove_from": made.start,
        "groove_to": made.stop,
        "wall_under": made.wall_left,
        "rib_height": tenon.rib_height,
    }
    housing = ring_housing(tenon, settings)
    return entry if housing is None else entry | _ring_entry(housing, settings)


def _ring_entry(housing: OringHousing, settings: Settings) -> dict[str, object]:
    return {
        "cord": housing.cord.cord,
        "ring": None if housing.ring is None else f"AS568 {housing.ring}",
        "inside_diameter": housing.inside_diameter,
        "inside_range": list(housing.inside_range),
        "housing_depth": housing.cord.depth,
        "printer_spread": settings.spread,
        "squeeze": _range_entry(housing.squeeze),
        "fill": _range_entry(housing.fill),
        "stretch": _range_entry(housing.stretch),
        "verdicts": [
            {"of": one.quantity, "low": one.low, "high": one.high, "grade": one.grade}
            for one in housing.verdicts
        ],
    }


def _range_entry(share: Ranged) -> dict[str, float]:
    return {"nominal": share.nominal, "low": share.low, "high": share.high}


def groove_words(tenon: Tenon, settings: Settings) -> tuple[str, ...]:
    """For the summary: what to buy or wind, and how it seals; nothing without a groove."""
    made = tenon.groove
    if made is None:
        return ()
    housing = ring_housing(tenon, settings)
    if housing is not None:
        return housing_words(housing)
    cut = (
        f"groove for thread of {2.0 * (tenon.tenon_radius - made.depth):.2f} mm diameter, "
        f"{made.width:.2f} mm wide, {made.depth:.2f} mm deep, ceiling at 45 degrees, "
        f"{made.wall_left:.2f} mm of wall under it"
    )
    narrows = "; wound tight it narrows the bore" if tenon.bores else ""
    wound = f"waxed thread, wound until the tenon goes in with a light push{narrows}"
    return cut, wound
