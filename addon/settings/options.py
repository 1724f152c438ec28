"""What can be asked for, its range and its words: one table for command and operator."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ...core.estimating.materials import MATERIALS
from ...core.fitting import printer_profile as ranges
from ...core.values import Fit, JointKind


@dataclass(frozen=True, slots=True)
class LengthOption:
    """A length in mm that the person may set.

    low, high : both allowed
    tooltip : a sentence without its full stop
    """

    label: str
    low: float
    high: float
    tooltip: str

    def parse(self, text: str) -> float:
        """The length, from a command line.

        Raises
        ------
        ValueError : not a number, or out of range; the message has the numbers
        """
        return _in_range(text, self.low, self.high, "a length in mm")


CLEARANCE = LengthOption(
    "Radial Clearance", *ranges.CLEARANCE_RANGE, "Gap on each side between tenon and socket"
)
NOZZLE = LengthOption("Nozzle", *ranges.NOZZLE_RANGE, "Bore of the printer's nozzle")
LAYER = LengthOption("Layer", *ranges.LAYER_RANGE, "Height of the printer's layers")
SPREAD = LengthOption(
    "Spread", *ranges.SPREAD_RANGE, "How far, more or less, the printer's diameters are off"
)
HOLE_UNDERSIZE = LengthOption(
    "Hole Undersize",
    *ranges.HOLE_UNDERSIZE_RANGE,
    "How much too narrow holes print, on the diameter",
)
FIRST_LAYER_BULGE = LengthOption(
    "First Layer Bulge",
    *ranges.FIRST_LAYER_BULGE_RANGE,
    "How much too wide the first layers print, on each side",
)
FILAMENT = LengthOption("Filament", *ranges.FILAMENT_RANGE, "Diameter of the filament")
ENGAGEMENT = LengthOption(
    "Engagement",
    1.0,
    100.0,
    "Length from the seam to the tenon's highest point",
)
GUARD = LengthOption("Guard", 0.0, 100.0, "Least distance from a joint to the edge of a side hole")
MAX_MOVE = LengthOption("Max Move", 0.0, 5.0, "Most that truing may move a vertex of the source")
BORE = LengthOption(
    "Bore Diameter",
    0.5,
    1000.0,
    "Diameter that the bore is brought to, no vertex moving more than the max move",
)
LEAST_WALL = LengthOption("Least Wall", 0.2, 20.0, "No wall of a joint is made thinner than this")
CUT = LengthOption(
    "Cut", 0.001, 10000.0, "A seam to make whatever the plan, measured from the low end"
)
WALL = LengthOption("Wall", 0.5, 500.0, "Wall of a tube whose joint is tried")
SOLID = LengthOption("Solid", 1.0, 1000.0, "Diameter of a solid round whose joint is tried")
PREFER = LengthOption(
    "Prefer", 0.0, 10000.0, "A station near which a seam is better than elsewhere, from the low end"
)
SPACING = LengthOption("Spacing", 0.0, 100.0, "Least distance between the pieces on a bed")
ENVELOPE = LengthOption(
    "Envelope", *ranges.ENVELOPE_RANGE, "The printer's usable volume; nothing is subtracted from it"
)

LEAST_PIECES, MOST_PIECES = 1, 100
AVOID_RANGE = (0.0, 10000.0)

TRUE_CHOICES = {
    "both": "Make bore and outside exact",
    "bore": "Make the bore exact",
    "outside": "Make the outside exact",
    "none": "Leave the surfaces as they are",
}

FIT_CHOICES: dict[Fit, str] = {
    "glue": "Leave room for a thin film of glue",
    "push": "Make it tight, to be pushed home and to stay",
    "take-apart": "Make it slide, to be taken apart again",
}

JOINT_LABELS: dict[JointKind, str] = {
    "tenon": "Tenon",
    "pins": "Pins",
    "collar": "Collar",
    "sleeve": "Sleeve",
    "oring": "O-Ring",
    "lapped": "Lapped",
}

JOINT_CHOICES: dict[JointKind, str] = {
    "tenon": "A tenon within the wall, or a round one in a solid part",
    "pins": "Several pins in a solid part",
    "collar": "A ring of its own over both ends",
    "sleeve": "A tube of its own within both ends, which narrows the bore",
    "oring": "A tenon with a groove for an O-ring",
    "lapped": "A tenon with a groove for a lapping of thread",
}


def parse_envelope(text: str) -> tuple[float, float, float]:
    """The envelope's three lengths, mm, from a command line.

    Raises
    ------
    ValueError : not three lengths, or one out of range
    """
    sizes = text.lower().split("x")
    if len(sizes) != 3:
        raise ValueError(f"found {len(sizes)} lengths in {text!r}; needed: 3, as in 180x180x180")
    x, y, z = (ENVELOPE.parse(size) for size in sizes)
    return x, y, z


def parse_pieces(text: str) -> int:
    """The least number of pieces, from a command line.

    Raises
    ------
    ValueError : not a whole number, or out of range
    """
    return _whole(text, LEAST_PIECES, MOST_PIECES)


def parse_stretch(text: str) -> tuple[float, float]:
    """A stretch of stations, mm, from a command line.

    Raises
    ------
    ValueError : not two stations with a - between them, out of range, or the first
        is not the lower
    """
    ends = re.fullmatch(r"([0-9.]+)-([0-9.]+)", text.strip())
    if ends is None:
        raise ValueError(f"found {text!r}; needed: FROM-TO, 2 stations in mm, as in 100-120.5")
    low, high = (_in_range(end, *AVOID_RANGE, "a station in mm") for end in ends.groups())
    if low >= high:
        raise ValueError(f"found {text!r}; needed: FROM below TO, as in 100-120")
    return low, high


def parse_joint_number(text: str) -> int:
    """A joint's number, from a command line.

    Raises
    ------
    ValueError : not a whole number, or none from 1 on
    """
    value = _number(text)
    if not value.is_integer() or value < 1.0:
        raise ValueError(f"found {text!r}; needed: a whole number from 1")
    return int(value)


def parse_shrink(text: str) -> float:
    """A shrink in percent, from a command line.

    Raises
    ------
    ValueError : not a number, or out of range
    """
    return _in_range(text, *ranges.SHRINK_RANGE, "percent")


def parse_material(text: str) -> str:
    """A material of the density table, from a command line, whatever its capitals.

    Raises
    ------
    ValueError : there is none of that name
    """
    for name in MATERIALS:
        if name.casefold() == text.casefold():
            return name
    raise ValueError(f"found {text!r}; needed: 1 of {', '.join(MATERIALS)}")


def parse_lines(text: str) -> int:
    """Lines of plastic in a wall, from a command line.

    Raises
    ------
    ValueError : not a whole number, or out of range
    """
    return _whole(text, *ranges.LINES_RANGE)


def parse_solid_layers(text: str) -> int:
    """Solid layers at level faces, from a command line.

    Raises
    ------
    ValueError : not a whole number, or out of range
    """
    return _whole(text, *ranges.SOLID_LAYERS_RANGE)


def parse_infill(text: str) -> float:
    """An infill in percent, from a command line.

    Raises
    ------
    ValueError : not a number, or out of range
    """
    return _in_range(text, *ranges.INFILL_RANGE, "percent")


def parse_flow(text: str) -> float:
    """Plastic laid in a second, mm3, from a command line.

    Raises
    ------
    ValueError : not a number, or out of range
    """
    return _in_range(text, *ranges.FLOW_RANGE, "mm3/s")


def _whole(text: str, low: float, high: float) -> int:
    value = _number(text)
    if not value.is_integer() or not low <= value <= high:
        raise ValueError(f"found {text!r}; needed: a whole number from {low:g} to {high:g}")
    return int(value)


def _in_range(text: str, low: float, high: float, what: str) -> float:
    value = _number(text)
    if not low <= value <= high:
        raise ValueError(f"found {text!r}; needed: {what} from {low:g} to {high:g}")
    return value


def _number(text: str) -> float:
    """A number; one that is not finite is outside of every range."""
    try:
        return float(text)
    except ValueError:
        raise ValueError(f"found {text!r}; needed: a number, as in 1.5") from None
