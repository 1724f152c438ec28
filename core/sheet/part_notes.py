"""What stands beside the drawing of a part, station by station."""

from __future__ import annotations

from dataclasses import dataclass

from ..recording.table_text import degrees_text
from ..values import Joint, Ornament, Outcome, RoundSurface, SideHole, Survey
from .scales import told_length

KIND_WORDS = {
    "tenon": "tenon",
    "pins": "pins",
    "collar": "collar",
    "sleeve": "sleeve",
    "oring": "tenon with O-ring",
    "lapped": "lapped tenon",
}

_AT_END = 0.05
"""mm, within which a surface begins at the part's own end."""


@dataclass(frozen=True, slots=True)
class StationNote:
    """Something told at a station.

    has_value : the station itself is told, too
    is_hole : it may be left to the table of holes
    """

    station: float
    note: str
    has_value: bool = True
    is_hole: bool = False


def station_notes(outcome: Outcome) -> list[StationNote]:
    """Holes, seams, ornaments and changes of bore and outside, from the low end up."""
    survey = outcome.survey
    notes = [
        *(
            StationNote(hole.station, told_hole(hole, number), is_hole=True)
            for number, hole in enumerate(survey.side_holes, 1)
        ),
        *(
            StationNote(joint.station, told_seam(joint, number))
            for number, joint in enumerate(outcome.plan.joints, 1)
        ),
        *_ornaments(survey),
        *_changes(survey.bores, "bore", survey),
        *_changes(survey.outsides, "outside", survey),
        StationNote(survey.length, "high end"),
    ]
    return sorted(notes, key=lambda told: told.station)


def told_hole(hole: SideHole, number: int) -> str:
    """A hole's number, width and angle."""
    if hole.wall is not None:
        width = f"Ø{told_length(2.0 * hole.wall.radius)}"
    else:
        width = f"{told_length(hole.axial_width)} x {told_length(hole.across_width)}"
    return f"hole {number}, {width}, {told_angle(hole.angle)}"


def told_seam(joint: Joint, number: int) -> str:
    """A seam's number, and what holds it."""
    return f"seam {number}, {KIND_WORDS[joint.kind]}"


def told_angle(angle: float) -> str:
    """Degrees, to a tenth, as the tables have them but for zeros at the end."""
    return f"{degrees_text(angle).removesuffix('.0')}°"


def _ornaments(survey: Survey) -> list[StationNote]:
    return [
        StationNote(ornament.start, f"to {told_length(ornament.stop)}: {_told_ornament(ornament)}")
        for ornament in survey.ornaments
        if ornament.place != "along"
    ]


def _told_ornament(ornament: Ornament) -> str:
    if ornament.place == "bore":
        return f"in the bore, Ø{told_length(2.0 * ornament.least_radius)} at least"
    return f"ornament, Ø{told_length(2.0 * ornament.greatest_radius)} at most"


def _changes(surfaces: tuple[RoundSurface, ...], word: str, survey: Survey) -> list[StationNote]:
    """Where stretches begin within the part, with their diameters there."""
    return [
        StationNote(s.start, f"{word} Ø{told_length(2.0 * s.radius_at(s.start))}{_tapering(s)}")
        for s in surfaces
        if _AT_END < s.start < survey.length - _AT_END
    ]


def _tapering(surface: RoundSurface) -> str:
    low, high = (2.0 * surface.radius_at(z) for z in (surface.start, surface.stop))
    return f" to Ø{told_length(high)}" if abs(high - low) >= 0.005 else ""


def few_enough(notes: list[StationNote], most: int) -> tuple[list[StationNote], int]:
    """As many notes as there is room for, and how many were left out.

    Heights of pieces go first, then holes, then all others, from the high end down.
    """
    rank = [0 if not note.has_value else 1 if note.is_hole else 2 for note in notes]
    order = sorted(range(len(notes)), key=lambda k: (rank[k], -notes[k].station))
    gone = set(order[: max(0, len(notes) - most)])
    return [note for k, note in enumerate(notes) if k not in gone], len(gone)
