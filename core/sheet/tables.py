"""Tables of a part: its pieces, its joints, its side holes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..bench.round_files import MOST_SHARE, SOURCE, drill_bit_for, round_file_for
from ..recording.job_record import JobRecord, PartRecord
from ..recording.joint_record import fit_diameters
from ..recording.survey_record import hole_slant_deg
from ..recording.table_text import degrees_text
from ..values import Joint, Outcome, PassedOn, Piece, Settings, SideHole, Survey
from .sheet_text import Table
from .together import rows_together

_SLANTED_DEG = 0.5
"""A hole that leans less is not called slanted."""


def part_tables(part: PartRecord, record: JobRecord) -> tuple[Table, ...]:
    """All of them that have rows."""
    outcome = part.outcome
    tables = list(_pieces_tables(part, record))
    if isinstance(outcome, PassedOn):
        return tuple(tables)
    if outcome.plan.joints:
        tables.append(joints_table(outcome.plan.joints, record.settings))
    if outcome.survey.side_holes:
        tables.append(holes_table(outcome.survey))
    return tuple(tables)


def _pieces_tables(part: PartRecord, record: JobRecord) -> Iterator[Table]:
    """One, but for a plan, which has no files."""
    saved = [piece for piece in part.pieces if piece.name in record.files]
    if saved:
        yield _pieces_table(saved, part, record)


def _pieces_table(pieces: Sequence[Piece], part: PartRecord, record: JobRecord) -> Table:
    header = ("piece", "height", "solid g", "figure g", "filament m", "bed", "stands on", "why")
    material = record.settings.printing.material
    return Table(
        "Pieces",
        header,
        rows_together(
            [piece.name for piece in pieces],
            [[_piece_row(piece, part, record)] for piece in pieces],
        ),
        (
            (
                "Solid: all that the file encloses, the bound. Figure, and its filament: walls, "
                f"solid layers and infill as the settings ask for them, in {material}. Brims, "
                "supports and what the nozzle primes with come on top."
            ),
        ),
    )


def _piece_row(piece: Piece, part: PartRecord, record: JobRecord) -> tuple[str, ...]:
    taken = record.estimates[piece.name].filament
    bed = record.bed_of(piece.name)
    end, why = standing_of(piece, part)
    return (
        f"{piece.size[2]:.2f}",
        f"{taken.solid.mass_g:.1f}",
        f"{taken.figure.mass_g:.1f}",
        f"{taken.figure.filament_m:.2f}",
        "" if bed is None else str(bed + 1),
        end,
        why,
    )


def standing_of(piece: Piece, part: PartRecord) -> tuple[str, str]:
    """What a piece stands on as its file has it, and why."""
    outcome = part.outcome
    if isinstance(outcome, PassedOn):
        return "as its file stands", "most of it on the bed and least overhanging, of what fits"
    lean = outcome.plan.lean
    if lean is not None:
        return (
            f"its low end, leaning {degrees_text(lean.tilt)} degrees",
            "upright it is too tall for the envelope",
        )
    if piece.role != "piece":
        return "its lower edge", "upright it is round, and its lugs need no supports"
    return _end_down(piece)


def _end_down(piece: Piece) -> tuple[str, str]:
    below, above = piece.joint_below, piece.joint_above
    up = "its tenon points up" if above is not None and above.tenons else ""
    if below is not None and below.tenons:
        roof = "the socket's roof, a 45 degree cone, needs no supports"
        return "the socket's mouth", f"{roof}, and {up}" if up else roof
    round_up = "upright its layers are round"
    return "its low end", f"{round_up}, and {up}" if up else round_up


def joints_table(joints: Sequence[Joint], settings: Settings) -> Table:
    """Sizes as the files have them; glue only where the fit is glued."""
    glued = settings.fit == "glue"
    header = ("joint", "kind", "station", "inner", "outer", "engagement", "gap a side", "keys at")
    rows = [
        (*_joint_row(number, joint), *([f"{joint.glue_area:.0f}"] if glued else []))
        for number, joint in enumerate(joints, 1)
    ]
    notes = [
        (
            "Inner: what goes in, outer: what goes around it, diameters in the files. Stations "
            "count from the low end; keys in degrees, counter-clockwise seen from the high end."
        )
    ]
    made = settings.compensation.hole_undersize
    if made:
        notes.append(
            f"Outer is {made:g} mm wider in the files than it should print, for holes that print "
            "too narrow."
        )
    return Table(
        "Joints",
        (*header, "glue mm2") if glued else header,
        tuple(rows),
        tuple(notes),
    )


def _joint_row(number: int, joint: Joint) -> tuple[str, ...]:
    within, around = fit_diameters(joint)
    return (
        str(number),
        joint.kind,
        f"{joint.station:.2f}",
        f"{within:.2f}",
        f"{around:.2f}",
        f"{joint.engagement:.2f}",
        f"{joint.radial_clearance:.3f}",
        ", ".join(degrees_text(angle) for angle in joint.key_angles),
    )


def holes_table(survey: Survey) -> Table:
    """Side holes, and the round file that cleans each."""
    header = ("hole", "station", "angle", "along", "across", "clean with")
    rows = tuple(
        (
            str(number),
            f"{hole.station:.2f}",
            degrees_text(hole.angle),
            f"{hole.axial_width:.2f}",
            f"{hole.across_width:.2f}",
            file_words(hole),
        )
        for number, hole in enumerate(survey.side_holes, 1)
    )
    sizes = (
        f"Clean with: a usual round file, at most {MOST_SHARE:g} times the hole ({SOURCE}); of a "
        "hole too narrow for any, the thickest drill bit that leaves it as it is."
    )
    return Table("Side holes", header, rows, (sizes, *_slant_notes(survey)))


def least_hole_width(hole: SideHole) -> float:
    """Diameter, mm, of the widest round bar that passes it, where it is round or nearly so."""
    if hole.wall is not None:
        return 2.0 * hole.wall.radius
    return min(hole.axial_width, hole.across_width)


def file_words(hole: SideHole) -> str:
    """What cleans a hole: a round file, or of one too narrow for any, a drill bit."""
    width = least_hole_width(hole)
    size = round_file_for(width)
    if size is not None:
        return f"{size:g} mm round file"
    return f"{drill_bit_for(width):.1f} mm drill bit"


def _slant_notes(survey: Survey) -> Iterator[str]:
    for number, hole in enumerate(survey.side_holes, 1):
        if hole.wall is not None:
            slant = hole_slant_deg(hole.wall, survey.bores[hole.bore])
            if slant >= _SLANTED_DEG:
                yield f"Hole {number} slants by {slant:.1f} degrees: file along it, not square."


def surveyed(part: PartRecord) -> Outcome | None:
    """What a part came to where its shape is known; None where it was passed on as it is."""
    return None if isinstance(part.outcome, PassedOn) else part.outcome
