"""What can be asked for, its range and its words: one table for command and operator."""

from __future__ import annotations

from dataclasses import dataclass


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
        value = _number(text)
        if not self.low <= value <= self.high:
            raise ValueError(
                f"found {text!r}; needed: a length in mm from {self.low:g} to {self.high:g}"
            )
        return value


CLEARANCE = LengthOption("Radial Clearance", 0.0, 0.5, "Gap on each side between tenon and socket")
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
ENVELOPE = LengthOption(
    "Envelope", 1.0, 10000.0, "The printer's usable volume; nothing is subtracted from it"
)

LEAST_PIECES, MOST_PIECES = 1, 100

TRUE_CHOICES = {
    "both": "Make bore and outside exact",
    "bore": "Make the bore exact",
    "outside": "Make the outside exact",
    "none": "Leave the surfaces as they are",
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
    value = _number(text)
    if not value.is_integer() or not LEAST_PIECES <= value <= MOST_PIECES:
        raise ValueError(
            f"found {text!r}; needed: a whole number from {LEAST_PIECES} to {MOST_PIECES}"
        )
    return int(value)


def _number(text: str) -> float:
    """A number; one that is not finite is outside of every range."""
    try:
        return float(text)
    except ValueError:
        raise ValueError(f"found {text!r}; needed: a number, as in 1.5") from None
