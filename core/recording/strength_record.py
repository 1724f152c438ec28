"""What each joint holds, for the record and the table, by the sizes it has in the part."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ..fitting.strength import Assumptions, JointSizes, Stated, Strength, joint_strength
from ..fitting.strength_together import JointStrength, strength_together
from ..fitting.strength_words import (
    CAUTION,
    DRY_CAUTION,
    assumption_words,
    collar_words,
    gap_words,
    layer_words,
    several_words,
)
from ..jointing.collar_design import collar_width
from ..values import Collar, Joint, Settings, Survey, Tenon


def strength_of(joint: Joint, survey: Survey, settings: Settings) -> JointStrength | None:
    """Of a joint, all its tenons together, or of one end under its collar.

    None without a gap for glue.
    """
    gap = settings.clearance
    if gap <= 0.0:
        return None
    if joint.collar is not None:
        sizes, centres = [_collar_sizes(joint, joint.collar, gap)], [joint.collar.inner.offset]
    else:
        sizes = [_tenon_sizes(tenon, joint, survey, gap) for tenon in joint.tenons]
        centres = [tenon.centres[0] for tenon in joint.tenons]
    return strength_together([joint_strength(one) for one in sizes], centres)


def _tenon_sizes(tenon: Tenon, joint: Joint, survey: Survey, gap: float) -> JointSizes:
    outer = survey.walls[tenon.wall].outer
    narrowest = min(outer.radius_at(tenon.station), outer.radius_at(tenon.roof_top))
    off = math.dist(outer.offset, tenon.centres[0]) + outer.sagitta
    bores = [survey.bores[number] for number in tenon.bores[:1]]
    outline = 2.0 * math.pi * tenon.tenon_radius + tenon.outline_excess
    return JointSizes(
        tenon_radius=tenon.tenon_radius,
        bore_radius=max((bore.radius_at(tenon.station) for bore in bores), default=0.0),
        socket_outer_radius=min(narrowest - off, _share_of_wall(tenon, joint)),
        parallel_length=tenon.glue_area / outline,  # a groove left out
        radial_clearance=gap,
        glue_area=tenon.glue_area,
    )


def _share_of_wall(tenon: Tenon, joint: Joint) -> float:
    """Radius, mm, up to halfway between a tenon's socket and the next: no wall counts twice."""
    between = [
        math.dist(tenon.centres[0], other.centres[0]) + tenon.socket_radius - other.socket_radius
        for other in joint.tenons
        if other is not tenon
    ]
    return min(between, default=math.inf) / 2.0


def _collar_sizes(joint: Joint, collar: Collar, gap: float) -> JointSizes:
    """One end under a collar; of a sleeve, the sleeve is what goes in."""
    within = collar.entering_radius(joint.station)
    if collar.place == "outside":
        inner = collar.inner.radius_at(joint.station)
        outer = collar_width(collar, joint.station) / 2.0
    else:
        inner, outer = within - collar.thickness, collar.outer.radius_at(joint.station)
    return JointSizes(
        tenon_radius=within,
        bore_radius=inner,
        socket_outer_radius=outer,
        parallel_length=collar.reach,
        radial_clearance=gap,
        glue_area=joint.glue_area,
    )


def together_entry(strength: JointStrength, settings: Settings) -> dict[str, object]:
    """The numbers of a joint, all its tenons together; of glue only where the fit is glued."""
    told: dict[str, object] = {
        "tilt_deg": math.degrees(strength.tilt),
        "root_wall": strength.root_wall,
        "root_area": strength.root_area,
        "layers_part_n": list(strength.layers_part),
    }
    if settings.fit != "glue":
        return told
    return told | {
        "glue_area": strength.glue_area,
        "glue_volume": strength.glue_volume,
        "design_load_n": strength.design_load,
        "design_torque_nm": strength.design_torque / 1000.0,
        "peak_over_mean": strength.peak_over_mean,
        "glue_breaks_n": list(strength.glue_breaks),
        "first": strength.first,
    }


def strength_entry(strength: Strength, settings: Settings) -> dict[str, object]:
    """The numbers of one tenon by itself; those that rest on glue only for a glued fit."""
    told: dict[str, object] = {
        "tilt_deg": math.degrees(strength.tilt),
        "root_wall": strength.sizes.root_wall,
        "root_area": strength.sizes.root_area,
        "layers_part_n": list(strength.layers_part),
    }
    if settings.fit != "glue":
        return told
    return told | {
        "glue_area": strength.sizes.glue_area,
        "glue_volume": strength.glue_volume,
        "design_load_n": strength.design_load,
        "design_shear_mpa": strength.assumptions.design_shear.low,
        "design_torque_nm": strength.design_torque / 1000.0,
        "peak_over_mean": strength.peak_over_mean,
        "useful_overlap": strength.useful_overlap,
        "glue_breaks_n": list(strength.glue_breaks),
        "first": strength.first,
        "gap_filled": strength.gap_filled,
    }


def assumptions_entry(assumed: Assumptions) -> dict[str, object]:
    """What the numbers rest on, once a job."""
    stated = {
        "modulus": assumed.modulus,
        "layer_strength": assumed.layer_strength,
        "glue_modulus": assumed.glue_modulus,
        "design_shear": assumed.design_shear,
        "breaking_shear": assumed.breaking_shear,
        "greatest_gap": assumed.greatest_gap,
    }
    return {
        "material": assumed.material,
        "glue": assumed.glue,
        **{name: _stated(number) for name, number in stated.items()},
        "caution": CAUTION,
    }


def _stated(number: Stated) -> dict[str, object]:
    return {
        "low": number.low,
        "high": number.high,
        "unit": number.unit,
        "source": number.source,
    }


def strength_rows(strengths: Sequence[JointStrength], settings: Settings) -> list[tuple[str, ...]]:
    """A table of the joints, the glue's columns only for a glued fit."""
    header = ("joint", "root wall", "tilt deg", "layers N")
    rows: list[tuple[str, ...]] = [(*header, "glue mm3", "pull N", "twist N m", "peak", "glue N")]
    rows += [
        (
            str(number),
            f"{one.root_wall:.2f}",
            f"{math.degrees(one.tilt):.2f}",
            _span(one.layers_part),
            f"{one.glue_volume:.0f}",
            f"{one.design_load:.0f}",
            f"{one.design_torque / 1000.0:.1f}",
            f"{one.peak_over_mean:.1f}",
            _span(one.glue_breaks),
        )
        for number, one in enumerate(strengths, 1)
    ]
    return rows if settings.fit == "glue" else [row[: len(header)] for row in rows]


def strength_notes(
    joints: Sequence[Joint], strengths: Sequence[JointStrength], settings: Settings
) -> tuple[str, ...]:
    """What the table's numbers mean and rest on, and the caution."""
    alone = strengths[0].parts[0]
    layers = (
        "layers: straight pull at which the print's layers part, at the tenon's root or in the "
        "wall around it, whichever is weaker"
    )
    glued = settings.fit == "glue"
    several = several_words(glued=glued) if any(len(one.parts) > 1 for one in strengths) else ()
    ends = collar_words() if any(joint.collar is not None for joint in joints) else ()
    if not glued:
        return (layers, *several, *ends, f"assumed: {layer_words(alone.assumptions)}", DRY_CAUTION)
    shear = alone.assumptions.design_shear.low
    pull = (
        f"pull and twist: straight, at {shear:g} MPa of mean shear in the glue; peak: of the "
        "elastic shear at the overlap's ends over the mean"
    )
    told = f"{layers}; glue: at which the glue breaks"
    rests_on = assumption_words(alone.assumptions)
    return (told, pull, *several, *ends, *gap_words(alone), *rests_on, CAUTION)


def _span(loads: tuple[float, float]) -> str:
    return f"{loads[0]:.0f} to {loads[1]:.0f}"
