"""What a job came to, as a short table for a person to read."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from ..fitting.fit_rules import fit_sentence, wall_sentence
from ..fitting.iso_words import like_words, printable_words
from ..fitting.strength_together import JointStrength
from ..meshes.mesh_checks import enclosed_volume
from ..values import (
    Check,
    Joint,
    Outcome,
    PassedOn,
    Piece,
    Plan,
    RoundSurface,
    Settings,
    SideHole,
    Survey,
)
from .estimate_record import estimate_lines
from .groove_record import groove_words
from .job_record import JobRecord, PartRecord, Source
from .joint_record import fit_diameters
from .plan_record import plan_lines, station_lines
from .strength_record import strength_notes, strength_of, strength_rows
from .survey_record import hole_slant_deg
from .table_text import degrees_text, table, wrapped
from .tuning_words import tuning_lines

_SHOWN = 0.005
"""Half of the last digit that the table shows, mm."""

_UPRIGHT_DEG = 0.5
"""A hole that leans less than this is not called slanted."""


def job_summary(record: JobRecord) -> str:
    """The table of every part. Of a plan: the same, without pieces, beds and proofs."""
    sections = [section for part in record.parts for section in _part_sections(part, record)]
    if notes := _strength_note_lines(record):
        sections.append(["What the strengths mean", *notes])
    if record.beds:
        sections.append(["Beds", *_bed_lines(record)])
    if record.estimates:
        sections.append(["Filament", *_estimate_lines(record)])
    if record.changes:
        sections.append(
            [f"Since the job of {record.since}", *(wrapped(said, "  ") for said in record.changes)]
        )
    told = record.every_warning
    if told:
        sections.append(["Notes", *(wrapped(said, "  ") for said in told)])
    return "\n\n".join("\n".join(section) for section in sections) + "\n"


def _part_sections(part: PartRecord, record: JobRecord) -> list[list[str]]:
    outcome, settings = part.outcome, record.settings
    if isinstance(outcome, PassedOn):
        return _passed_on_sections(part, outcome, record)
    sections = [
        [f"{outcome.name}: {_counted(outcome)} for an envelope of {_envelope(settings)} mm"],
        ["Survey", *_survey_lines(part.source, outcome)],
        ["Seams", *_cut_lines(outcome.plan)],
    ]
    if part.choices is not None:
        sections.append(["Where seams may lie", *station_lines(part.choices.stations)])
        if part.choices.plans:
            sections.append(["Best plans", *plan_lines(part.choices.plans)])
    if outcome.plan.joints:
        sections.append(["Joints", *_joint_lines(outcome.plan, outcome.survey, settings)])
        sections.append(["Fit", *_fit_lines(settings, outcome.plan.joints[0])])
        sections += _groove_sections(settings, outcome)
        sections.append(["Strength", *_strength_lines(settings, outcome)])
    tuning = part.tuning(settings)
    if tuning is not None:
        sections.append(["Tuning", *tuning_lines(tuning, settings.layer)])
    return sections + _piece_sections(outcome.pieces, outcome.checks, record)


def _passed_on_sections(part: PartRecord, outcome: PassedOn, record: JobRecord) -> list[list[str]]:
    """Of a part that was left as it is."""
    rows = [("file", _file(part.source))]
    return [
        [f"{outcome.name}: 1 piece as it is, which fits {_envelope(record.settings)} mm"],
        ["Survey", *table("ll", rows), wrapped(outcome.reason, "  ")],
        *_piece_sections((outcome.piece,), outcome.checks, record),
    ]


def _piece_sections(
    pieces: Sequence[Piece], checks: Sequence[Check], record: JobRecord
) -> list[list[str]]:
    """What was made, and its proofs; nothing of a plan."""
    saved = [piece for piece in pieces if piece.name in record.files]
    if not saved:
        return []
    return [["Pieces", *_piece_lines(saved, record)], ["Proofs", *_proof_lines(checks)]]


def _counted(outcome: Outcome) -> str:
    """How many pieces, and rings beside them."""
    count = len(outcome.plan.cuts) + 1
    return ("1 piece" if count == 1 else f"{count} pieces") + _rings(outcome.plan)


def _envelope(settings: Settings) -> str:
    return " x ".join(f"{size:g}" for size in settings.envelope)


def _file(source: Source) -> str:
    return f"{source.file}, {source.triangles:,} triangles, 1 unit = 1 {source.unit}"


def _rings(plan: Plan) -> str:
    """The collars and sleeves beside the pieces, counted; nothing where there are none."""
    kinds = [joint.kind for joint in plan.joints if joint.collar is not None]
    counts = {kind: kinds.count(kind) for kind in dict.fromkeys(kinds)}
    return "".join(
        f" and {count} {kind}" + ("s" if count > 1 else "") for kind, count in counts.items()
    )


def _survey_lines(source: Source, outcome: Outcome) -> list[str]:
    survey, trued = outcome.survey, outcome.trued
    triangles = f"{trued.triangles_before:,} triangles to {len(trued.mesh.triangles):,}"
    rows = [
        ("file", _file(source)),
        ("length", f"{survey.length:.2f} mm"),
        *_surface_rows("bore", survey.bores, survey.length),
        *_surface_rows("outside", survey.outsides, survey.length),
        ("wall", f"{survey.wall_least:.2f} mm at the least, {survey.wall_median:.2f} mm median"),
        ("trued", f"{triangles}, no vertex moved more than {trued.max_move:.3f} mm"),
    ]
    return table("ll", rows) + _hole_lines(survey) + _ornament_lines(survey)


def _surface_rows(
    name: str, surfaces: Sequence[RoundSurface], length: float
) -> list[tuple[str, str]]:
    """A row for each stretch, numbered where there are several."""
    if not surfaces:
        missing = {"bore": "none: the part is solid", "outside": "not round: the wall is measured"}
        return [(name, missing[name])]
    if len(surfaces) == 1:
        return [(name, _round_surface(surfaces[0], length))]
    return [
        (f"{name} {number}", _round_surface(surface, length))
        for number, surface in enumerate(surfaces, 1)
    ]


def _round_surface(surface: RoundSurface, length: float) -> str:
    """Diameters; where it lies, unless it is the whole length; how far off the axis it is."""
    low = 2.0 * surface.radius_at(surface.start)
    high = 2.0 * surface.radius_at(surface.stop)
    said = f"{low:.2f} mm at its low end, {high:.2f} mm at its high end"
    if f"{low:.2f}" == f"{high:.2f}":
        said = f"{low:.2f} mm, straight"
    if surface.start > _SHOWN or surface.stop < length - _SHOWN:
        said += f", stations {surface.start:.2f} to {surface.stop:.2f}"
    if surface.eccentricity > _SHOWN:
        x, y = surface.offset
        angle = degrees_text(math.atan2(y, x))
        said += f", {surface.eccentricity:.2f} mm off the axis at {angle} deg"
    return said


def _hole_lines(survey: Survey) -> list[str]:
    if not survey.side_holes:
        return ["  no side holes"]
    header = ("side hole", "station", "angle", "along", "across", "shape", "into bore")
    rows = [
        (
            str(number),
            f"{hole.station:.2f}",
            degrees_text(hole.angle),
            f"{hole.axial_width:.2f}",
            f"{hole.across_width:.2f}",
            _hole_shape(hole, survey.bores[hole.bore]),
            str(hole.bore + 1),
        )
        for number, hole in enumerate(survey.side_holes, 1)
    ]
    return table("rrrrrlr", _without_bores([header, *rows], survey))


def _without_bores(rows: list[tuple[str, ...]], survey: Survey) -> list[tuple[str, ...]]:
    """The last column tells which bore: it goes where there is one only."""
    return rows if len(survey.bores) > 1 else [row[:-1] for row in rows]


def _hole_shape(hole: SideHole, bore: RoundSurface) -> str:
    """What the survey knows of it; nothing where its wall is no cylinder."""
    if hole.wall is None:
        return ""
    slant = hole_slant_deg(hole.wall, bore)
    lean = "" if slant < _UPRIGHT_DEG else f", slanted {slant:.1f} deg"
    return f"round, {2.0 * hole.wall.radius:.2f}{lean}"


def _ornament_lines(survey: Survey) -> list[str]:
    if not survey.ornaments:
        return []
    header = ("ornament", "from", "to", "reach", "on the")
    rows = [
        (
            str(number),
            f"{ornament.start:.2f}",
            f"{ornament.stop:.2f}",
            f"{ornament.least_radius:.2f} to {ornament.greatest_radius:.2f} from the axis",
            "bore" if ornament.place == "bore" else "outside",
        )
        for number, ornament in enumerate(survey.ornaments, 1)
    ]
    return table("rrrll", [header, *rows])


def _cut_lines(plan: Plan) -> list[str]:
    if plan.lean is not None:
        return [f"  none: the part leans by {degrees_text(plan.lean.tilt)} degrees"]
    if not plan.cuts:
        return ["  none: the part fits as it is"]
    lines: list[str] = []
    for number, cut in enumerate(plan.cuts, 1):
        low, high = cut.window
        lines.append(f"  {number}  station {cut.station:.2f} mm, of {low:.2f} to {high:.2f} mm")
        lines.append(wrapped(cut.why, "     "))
    return lines


def _joint_lines(plan: Plan, survey: Survey, settings: Settings) -> list[str]:
    header = (
        "joint",
        "kind",
        "inner",
        "outer",
        "engagement",
        "clearance",
        "keys at deg",
        "glue mm2" if settings.fit == "glue" else "mates mm2",
    )
    rows = [
        (
            str(number),
            joint.kind,
            *(f"{diameter:.2f}" for diameter in fit_diameters(joint)),
            f"{joint.engagement:.2f}",
            f"{joint.radial_clearance:.2f}",
            " ".join(degrees_text(angle) for angle in joint.key_angles),
            f"{joint.glue_area:.0f}",
            " and ".join(str(bore + 1) for bore in joint.bores),
        )
        for number, joint in enumerate(plan.joints, 1)
    ]
    return table("rlrrrrlrl", _without_bores([(*header, "around bore"), *rows], survey))


def _fit_lines(settings: Settings, joint: Joint) -> list[str]:
    """Gap and least wall, why so; what ISO 286 says to the gap, on the first joint's diameter."""
    diameter, _ = fit_diameters(joint)
    told = (
        fit_sentence(settings),
        wall_sentence(settings),
        like_words(diameter, settings.clearance),
        printable_words(diameter, settings.spread),
    )
    return [wrapped(said, "  ") for said in told]


def _groove_sections(settings: Settings, outcome: Outcome) -> list[list[str]]:
    """What goes into the grooves of sealed joints; the same words of several joints once."""
    told = [groove_words(joint.tenon, settings) for joint in outcome.plan.joints if joint.tenons]
    return [
        ["Groove", *(wrapped(line, "  ") for line in words)]
        for words in dict.fromkeys(told)
        if words
    ]


def _strength_lines(settings: Settings, outcome: Outcome) -> list[str]:
    _, strengths = _strengths(settings, [outcome])
    if not strengths:
        return ["  no gap for glue, no numbers"]
    rows = strength_rows(strengths, settings)
    return table("r" * len(rows[0]), rows)


def _strength_note_lines(record: JobRecord) -> list[str]:
    """What the strengths of all parts mean and rest on; nothing where there are none."""
    outcomes = [part.outcome for part in record.parts if isinstance(part.outcome, Outcome)]
    joints, strengths = _strengths(record.settings, outcomes)
    notes = strength_notes(joints, strengths, record.settings) if strengths else ()
    return [wrapped(note, "  ") for note in notes]


def _strengths(
    settings: Settings, outcomes: Sequence[Outcome]
) -> tuple[list[Joint], list[JointStrength]]:
    """All joints, and the strengths of those that have any."""
    found = [(joint, outcome.survey) for outcome in outcomes for joint in outcome.plan.joints]
    strengths = [strength_of(joint, survey, settings) for joint, survey in found]
    return [joint for joint, _ in found], [one for one in strengths if one is not None]


def _piece_lines(pieces: Sequence[Piece], record: JobRecord) -> list[str]:
    rows = []
    for piece in pieces:
        size = " x ".join(f"{extent:.2f}" for extent in piece.size)
        volume, bed = enclosed_volume(piece.mesh) / 1000.0, record.bed_of(piece.name)
        number = "" if bed is None else str(bed + 1)
        rows.append((record.files[piece.name].file, size, f"{volume:.1f}", number))
    return table("llrr", [("file", "size mm", "cm3", "bed"), *rows])


def _bed_lines(record: JobRecord) -> list[str]:
    """Each bed's file and height, and under it what stands there."""
    lines: list[str] = []
    for one in record.beds:
        lines.append(f"  {one.saved.file}  {one.bed.height:.1f} mm high")
        names = ", ".join(placed.name for placed in one.bed.placed)
        lines.append(wrapped(names, "     "))
    return lines


def _estimate_lines(record: JobRecord) -> list[str]:
    """What pieces and beds take; collars and rings of a trial are pieces here."""
    beds = {one.saved.file: [placed.name for placed in one.bed.placed] for one in record.beds}
    return estimate_lines(record.estimates, record.settings, beds)


def _proof_lines(checks: Sequence[Check]) -> list[str]:
    """A line for all checks of one name and limit, in the order in which they were made."""
    groups: dict[tuple[str, str], list[Check]] = {}
    for check in checks:
        groups.setdefault((check.name.replace("_", " "), _limit(check)), []).append(check)
    rows = [
        (name, str(len(group)), _value_range(group), limit, _verdict(group))
        for (name, limit), group in groups.items()
    ]
    header = ("proof", "times", "measured", "held against", "")
    held = sum(check.ok for check in checks)
    return [*table("lrlll", [header, *rows]), f"  {held} of {len(checks)} hold"]


def _value_range(checks: Iterable[Check]) -> str:
    values = [check.value for check in checks]
    low, high = _short(min(values)), _short(max(values))
    return low if low == high else f"{low} to {high}"


def _limit(check: Check) -> str:
    if isinstance(check.limit, tuple):
        return f"{_short(check.limit[0])} to {_short(check.limit[1])}"
    return _short(check.limit)


def _short(value: float) -> str:
    """Four digits that a person can read; the record has them all."""
    if value == 0.0:
        return "0"
    if abs(value) < 1e-3:
        return f"{value:.0e}"
    return f"{value:,.0f}" if abs(value) >= 1e4 else f"{value:.4g}"


def _verdict(checks: Iterable[Check]) -> str:
    return "holds" if all(check.ok for check in checks) else "FAILS"
