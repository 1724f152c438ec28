"""Side holes, open and closed, as lengths of a pipe without any.

For round holes in a cylinder of radius a, the hole's radius b being less than a, and low tones: of
plane waves the lengths are within 4 % where the open holes lie up to a tenth of a wave apart, and
ever farther off beyond. A hole's two corrections are taken
together as 1.5 b; measured, the inner one falls as b / a grows.

References
----------
A. H. Benade, Fundamentals of Musical Acoustics (1976), on woodwind finger holes (chapter 21, from
memory); the same in On the mathematical theory of woodwind finger holes, Journal of the
Acoustical Society of America 32 (1960) 1591-1608.
C. J. Nederveen, J. K. M. Jansen, R. R. van Hassel, Corrections for woodwind tone-hole
calculations, Acta Acustica 84 (1998) 957-966, on the inner correction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ToneHole:
    """A side hole; lengths in mm.

    hole_radius, bore_radius : b and a
    chimney : its length through the wall
    """

    hole_radius: float
    bore_radius: float
    chimney: float

    def __post_init__(self) -> None:
        assert min(self.hole_radius, self.bore_radius) > 0.0
        assert self.chimney >= 0.0

    @property
    def effective_chimney(self) -> float:
        """mm, the air beyond either end counted: t + 1.5 b."""
        return self.chimney + 1.5 * self.hole_radius

    @property
    def area_share(self) -> float:
        """Of the bore's section: (b / a)^2."""
        return (self.hole_radius / self.bore_radius) ** 2


def open_hole_length(hole: ToneHole, beyond: float) -> float:
    """Length, mm, from the only open hole to where the pipe as good as ends.

    te / ((b / a)^2 + te / D): next to nothing of a wide hole, `beyond` of none.

    Parameters
    ----------
    beyond : D, mm, from the hole to the corrected open end
    """
    chimney = hole.effective_chimney
    return chimney / (hole.area_share + chimney / beyond)


def open_row_length(holes: Sequence[ToneHole], spacings: Sequence[float]) -> float:
    """Length, mm, from the first of a row of open holes to where the pipe as good as ends.

    Each hole's is that of the only open hole, with the next one's end as the open end. Of many
    holes alike, S apart, it comes to (S / 2) (sqrt(1 + 4 (te / S) (a / b)^2) - 1).

    Parameters
    ----------
    spacings : mm, from each hole to the next; from the last one to the corrected open end,
        infinite where the pipe is closed there
    """
    length = 0.0
    for hole, spacing in zip(reversed(holes), reversed(spacings), strict=True):
        length = open_hole_length(hole, spacing + length)
    return length


def closed_hole_length(hole: ToneHole) -> float:
    """Length, mm, that a closed hole adds to the pipe: t (b / a)^2 / 2.

    By its volume, as a mean over where it may lie in the wave. That air moves past it a little
    more easily is left out: by Nederveen and others as if t were some 0.28 b less.
    """
    return 0.5 * hole.chimney * hole.area_share
