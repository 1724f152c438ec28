"""What a gap and a printer are in the words of ISO 286, a sentence each."""

from __future__ import annotations

from .iso_286 import OVER, UP_TO, IsoFit, held_grade, like_fit, printable, tolerance


def like_words(diameter: float, radial_clearance: float) -> str:
    """Which usual fit has a like clearance, for a joint of some diameter and a gap a side, mm."""
    gap = 2.0 * radial_clearance
    said = f"On {diameter:.2f} mm that is {gap:.2f} mm of the diameter"
    if not OVER < diameter <= UP_TO:
        return f"{said}; ISO 286 is known here over {OVER:g} and up to {UP_TO:g} mm."
    like = like_fit(diameter, gap)
    least, greatest = like.least_clearance, like.greatest_clearance
    allowed = f"ISO 286 {like.name} ({least:.3f} to {greatest:.3f} mm)"
    return f"{said}, {_likeness(like, gap)} {allowed}."


def _likeness(like: IsoFit, gap: float) -> str:
    if gap > like.greatest_clearance + 1e-9:
        return "looser than"
    return "tighter than" if gap < like.least_clearance - 1e-9 else "as in"


def printable_words(diameter: float, spread: float) -> str:
    """Which usual fits a printer can hold that makes diameters to plus and minus `spread`, mm."""
    band = f"A printer true to plus and minus {spread:g} mm varies diameters by {2 * spread:.3f} mm"
    if not OVER < diameter <= UP_TO:
        return f"{band}."
    verdicts = printable(diameter, spread)
    allowed = ", ".join(f"{verdict.fit.name} {verdict.needed:.3f}" for verdict in verdicts)
    held = [verdict.fit.name for verdict in verdicts if verdict.holds]
    told = f"of these it can print {' and '.join(held)}" if held else "none of these is printable"
    return f"{band}. ISO 286 allows {allowed} mm: {told}. {_grade(diameter, spread)}."


def _grade(diameter: float, spread: float) -> str:
    grade = held_grade(diameter, spread)
    if grade is None:
        return "No grade to IT14 is printable"
    return f"The finest printable grade is IT{grade}, {tolerance(diameter, grade):.3f} mm"
