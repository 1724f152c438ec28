"""Which kind of glue a gap takes, how much of it, and how long it is left alone."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..fitting.strength import DEFAULT_ASSUMPTIONS, Stated

DROP_MASS = Stated(0.02, 0.03, "g", "from memory")
GLUE_DENSITY = Stated(1.06, 1.06, "g/cm3", "from memory")
DROP = Stated(
    1000.0 * DROP_MASS.low / GLUE_DENSITY.high,
    1000.0 * DROP_MASS.high / GLUE_DENSITY.low,
    "mm3",
    "from memory: 0.02 to 0.03 g of 1.06 g/cm3",
)
"""One drop from a bottle's nozzle. Sizes of drops differ with bottle and glue."""

THIN_GAP = 0.05
"""mm a side, up to which a thin instant glue reaches across. Common practice, no source."""

SLOW_GAP = 0.13
"""mm a side, over which instant glue needs longer before it holds."""

MOST_INSTANT = Stated(300.0, 300.0, "mm3", "judgement, no source")
"""Of instant glue at one joint: more of it runs, gets hot and sets before the joint is home."""

EPOXY_SHARE = 2
"""Times the gap's volume that is mixed, for what stays in the cup. Common practice, no source."""

LEAST_MIXED = Stated(1.0, 1.0, "ml", "common practice, no source")
"""Of an epoxy's two parts together: less is hard to measure out in equal shares."""

_HANDLING_SOURCE = "common practice, no source, of steel without an activator; plastics differ"


@dataclass(frozen=True, slots=True)
class GlueChoice:
    """A kind of glue for a gap.

    kind : thin or medium instant glue (cyanoacrylate), or a two-part epoxy
    handling : minutes after which the joint may be moved with care
    full : hours after which it is as strong as it gets
    """

    kind: str
    handling: Stated
    full: Stated

    @property
    def is_instant(self) -> bool:
        """Is it cyanoacrylate?"""
        return self.kind != EPOXY


THIN, MEDIUM, EPOXY = "thin instant glue", "medium instant glue", "two-part epoxy"

INSTANT_FULL = Stated(24.0, 24.0, "h", "common practice, no source")
QUICK_HANDLING = Stated(10.0 / 60.0, 10.0, "min", _HANDLING_SOURCE)
SLOW_HANDLING = Stated(10.0, 60.0, "min", _HANDLING_SOURCE)
EPOXY_HANDLING = Stated(15.0, 24.0 * 60.0, "min", "from memory, by kind")
EPOXY_FULL = Stated(24.0, 7.0 * 24.0, "h", "from memory, by kind")

FILLING = GlueChoice(EPOXY, EPOXY_HANDLING, EPOXY_FULL)
"""What a joint takes that came out too loose for a film of anything thinner."""


def glue_for(radial_gap: float, volume: float) -> GlueChoice:
    """The kind of glue for a gap, mm a side, that holds a volume, mm3."""
    if radial_gap > DEFAULT_ASSUMPTIONS.greatest_gap.high or volume > MOST_INSTANT.high:
        return FILLING
    kind = THIN if radial_gap <= THIN_GAP else MEDIUM
    handling = QUICK_HANDLING if radial_gap <= SLOW_GAP else SLOW_HANDLING
    return GlueChoice(kind, handling, INSTANT_FULL)


def mixed_for(volume: float) -> float:
    """Epoxy, ml, that is mixed for a gap's volume, mm3."""
    return max(LEAST_MIXED.low, EPOXY_SHARE * volume / 1000.0)


def drops_for(volume: float) -> tuple[int, int]:
    """Whole drops that hold a volume, mm3: as few as may do, as many as may be needed."""
    return max(1, math.floor(volume / DROP.high)), max(1, math.ceil(volume / DROP.low))
