"""A housing for an O-ring around a tenon: which cord, which ring, and how it seals.

Sizes are those of the finished print: what a printer takes from a hole and how files
make that good is settled before. The groove is the tables' but for its ceiling, which
rises at 45 degrees; the room that this adds counts where the ring's own room is judged.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..errors import BadSetting
from .grooves import Groove
from .oring_tables import (
    BEST_STRETCH,
    CORD_HOUSINGS,
    LEAST_STRETCH,
    MOST_STRETCH,
    SEAL_LIMITS,
    CordHousing,
    Grade,
    Quantity,
    listed_rings,
)

HOUSING_LINES = 2
"""Lines of the nozzle left under a ring's groove, at the least. Common practice, no source."""

MOST_CLEARANCE = 0.5
"""Gap a side, mm, at which the groove still has most of the thinnest cord's depth."""

_SPREAD_STEP = 0.01
_ANY_RADIUS = 20.0


@dataclass(frozen=True, slots=True)
class Ranged:
    """A share as drawn, and the least and the greatest that it may come out as."""

    nominal: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Verdict:
    """How a share, or all between two, stands against its limit in `SEAL_LIMITS`."""

    quantity: Quantity
    low: float
    high: float
    grade: Grade


@dataclass(frozen=True, slots=True)
class OringHousing:
    """A groove with its ring.

    cord : the cord and what the tables ask for it
    ring : number of AS568; None: no listed ring suits, the supplier has to be asked
    inside_diameter : mm, of that ring, or the best one to ask for
    inside_range : mm, inside diameters that stretch by 1 to 5 %
    squeeze, fill, stretch : nominal, and at the worst of printer and cord; fill is of the
        whole room of the groove, its ceiling's too
    """

    groove: Groove
    cord: CordHousing
    ring: str | None
    inside_diameter: float
    inside_range: tuple[float, float]
    squeeze: Ranged
    fill: Ranged
    stretch: Ranged
    verdicts: tuple[Verdict, ...]

    @property
    def worst(self) -> int:
        """Its verdicts' worst: 0 good, 1 doubtful, 2 critical."""
        return max(_RANK[verdict.grade] for verdict in self.verdicts)


_RANK: dict[Grade, int] = {"good": 0, "doubtful": 1, "critical": 2}


def usable_cords(clearance: float, printer_spread: float) -> tuple[CordHousing, ...]:
    """The cords that seal in their housing, the best first: by verdicts, then the thickest.

    Squeeze and fill, which decide, are the same around a tenon of any radius.

    Parameters
    ----------
    clearance : mm, between tenon and socket

    Raises
    ------
    BadSetting : the clearance is too wide, or the printer's spread for any cord
    """
    _check_clearance(clearance)
    grooves = [
        (cord, Groove(_ANY_RADIUS, _ANY_RADIUS + clearance - cord.depth, cord.width, 1.0))
        for cord in CORD_HOUSINGS
    ]
    ranks = {}
    for cord, groove in grooves:
        shares = _squeeze(cord, printer_spread), _fill(cord, groove, printer_spread)
        verdicts = _verdicts(*shares, Ranged(BEST_STRETCH, BEST_STRETCH, BEST_STRETCH))
        ranks[cord] = max(_RANK[verdict.grade] for verdict in verdicts)
    usable = [cord for cord in CORD_HOUSINGS if ranks[cord] < _RANK["critical"]]
    if not usable:
        raise _spread_too_wide(grooves, _best(grooves, printer_spread), printer_spread)
    return tuple(sorted(usable, key=lambda cord: (ranks[cord], -cord.cord)))


def housing_of(cord: CordHousing, groove: Groove, printer_spread: float) -> OringHousing:
    """A cord in a groove that is made: with the listed ring that suits, or the best to ask for."""
    return _housing(cord, groove, printer_spread)


def housing_words(housing: OringHousing) -> tuple[str, ...]:
    """What to buy, what it is cut to, and how each share stands against its limit."""
    groove, cord = housing.groove, housing.cord
    low, high = housing.inside_range
    bought = (
        f"O-ring AS568 {housing.ring}, cord {cord.cord:.2f} mm, "
        f"inside {housing.inside_diameter:.2f} mm"
        if housing.ring is not None
        else f"no listed O-ring suits: ask the supplier for cord {cord.cord:.2f} mm, inside "
        f"{low:.2f} to {high:.2f} mm, best {housing.inside_diameter:.2f} mm"
    )
    cut = (
        f"groove of {2.0 * groove.bottom_radius:.2f} mm diameter, {groove.width:.2f} mm wide, "
        f"ceiling at 45 degrees, {groove.wall_left:.2f} mm of wall under it"
    )
    return (bought, cut, *(_verdict_words(verdict) for verdict in housing.verdicts))


def _verdict_words(verdict: Verdict) -> str:
    limit = SEAL_LIMITS[verdict.quantity]
    low, high = verdict.low * 100.0, verdict.high * 100.0
    share = f"{low:.1f} %" if low == high else f"{low:.1f} to {high:.1f} %"
    good = f"{limit.good[0] * 100.0:.0f} to {limit.good[1] * 100.0:.0f} %"
    return f"{verdict.quantity} {share}: {verdict.grade}, {good} is good ({limit.source})"


def _best(grooves: list[tuple[CordHousing, Groove]], spread: float) -> OringHousing:
    housings = [_housing(cord, groove, spread) for cord, groove in grooves]
    return min(housings, key=lambda found: (found.worst, found.ring is None, -found.cord.cord))


def _housing(cord: CordHousing, groove: Groove, spread: float) -> OringHousing:
    """A cord in its groove, with the listed ring that suits, or the best one to ask for."""
    diameter = 2.0 * groove.bottom_radius
    inside_range = (diameter / (1.0 + MOST_STRETCH), diameter / (1.0 + LEAST_STRETCH))
    best = diameter / (1.0 + BEST_STRETCH)
    rings = listed_rings(cord.series) if cord.series is not None else ()
    # sizes lie farther apart than that range is wide: one at the most
    ring = next(
        (ring for ring in rings if inside_range[0] <= ring.inside_diameter <= inside_range[1]),
        None,
    )
    inside = best if ring is None else ring.inside_diameter
    squeeze, fill = _squeeze(cord, spread), _fill(cord, groove, spread)
    ends = (diameter, diameter - spread, diameter + spread)
    stretch = Ranged(*(end / inside - 1.0 for end in ends))
    return OringHousing(
        groove=groove,
        cord=cord,
        ring=None if ring is None else ring.number,
        inside_diameter=inside,
        inside_range=inside_range,
        squeeze=squeeze,
        fill=fill,
        stretch=stretch,
        verdicts=_verdicts(squeeze, fill, stretch),
    )


def _squeeze(cord: CordHousing, spread: float) -> Ranged:
    """Of the cord; socket and groove both off by the spread change the depth by as much."""
    thin, thick = cord.cord - cord.tolerance, cord.cord + cord.tolerance
    return Ranged(
        cord.squeeze,
        (thin - (cord.depth + spread)) / thin,
        (thick - (cord.depth - spread)) / thick,
    )


def _fill(cord: CordHousing, groove: Groove, spread: float) -> Ranged:
    """Of the groove and the gap before it, the room under its ceiling counted."""
    return Ranged(
        *(
            _fill_at(cord, groove, off, cord.cord + off_cord)
            for off, off_cord in ((0.0, 0.0), (spread, -cord.tolerance), (-spread, cord.tolerance))
        )
    )


def _fill_at(cord: CordHousing, groove: Groove, off: float, thickness: float) -> float:
    """Fill where depth and width are off, and the groove's own share of the depth by half."""
    depth, width = cord.depth + off, cord.width + off
    if depth <= 0.0 or width <= 0.0:
        return math.inf
    beside = max(groove.depth + off / 2.0, 0.0)
    return math.pi * thickness**2 / 4.0 / (depth * width + beside**2 / 2.0)


def _verdicts(squeeze: Ranged, fill: Ranged, stretch: Ranged) -> tuple[Verdict, ...]:
    spans: dict[Quantity, tuple[float, float]] = {
        "squeeze": (squeeze.nominal, squeeze.nominal),
        "squeeze at worst": (squeeze.low, squeeze.high),
        "fill at worst": (fill.low, fill.high),
        "stretch": (stretch.nominal, stretch.nominal),
        "stretch at worst": (stretch.low, stretch.high),
    }
    return tuple(
        Verdict(quantity, low, high, SEAL_LIMITS[quantity].grade(low, high))
        for quantity, (low, high) in spans.items()
    )


def _check_clearance(clearance: float) -> None:
    if not 0.0 <= clearance <= MOST_CLEARANCE:
        raise BadSetting(
            f"a clearance of {clearance:.2f} mm a side around an O-ring",
            f"0 to {MOST_CLEARANCE:.2f} mm",
            "another --clearance",
        )


def _spread_too_wide(
    grooves: list[tuple[CordHousing, Groove]], best: OringHousing, spread: float
) -> BadSetting:
    steps = range(math.floor(spread / _SPREAD_STEP), -1, -1)
    held = next(
        step * _SPREAD_STEP
        for step in steps
        if _best(grooves, step * _SPREAD_STEP).worst < _RANK["critical"]
    )
    low, high = best.squeeze.low * 100.0, best.squeeze.high * 100.0
    filled = f"{best.fill.high * 100.0:.0f} %" if best.fill.high <= 1.0 else "over 100 %"
    return BadSetting(
        f"diameters off by up to {spread:.2f} mm squeeze a cord of {best.cord.cord:.2f} mm by "
        f"{low:.0f} to {high:.0f} % and fill {filled} of its housing",
        "a squeeze over 0 and up to 40 %, up to 90 % filled",
        f"a printer that holds {held:.2f} mm, or another --joint",
    )
