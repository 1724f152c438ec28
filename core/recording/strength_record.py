"""What each joint holds, for the record and the table, by the sizes it has in the part."""

from __future__ import annotations

import math

from ..fitting.strength import Assumptions, JointSizes, Stated, Strength, joint_strength
from ..fitting.strength_words import (
    CAUTION,
    DRY_CAUTION,
    assumption_words,
    gap_words,
    layer_words,
)
from ..jointing.collar_design import collar_width, mating_surface
from ..values import Collar, Joint, Settings, Survey, Tenon


def joint_strengths(joint: Joint, survey: Survey, settings: Settings) -> tuple[Strength, ...]:
    """Of each tenon of a joint, or of one end under its collar. None without a gap for glue."""
    gap = settings.clearance
    if gap <= 0.0:
        return ()
    if joint.collar is not None:
        sizes = [_collar_sizes(joint.collar, joint.station, gap)]
    else:
        sizes = [_tenon_sizes(tenon, survey, gap) for tenon in joint.tenons]
    return tuple(joint_strength(one) for one in sizes)


def _tenon_sizes(tenon: Tenon, survey: Survey, gap: float) -> JointSizes:
    outer = survey.walls[tenon.wall].outer
    narrowest = min(outer.radius_at(tenon.station), outer.radius_at(tenon.roof_top))
    off = math.dist(outer.offset, tenon.centres[0]) + outer.sagitta
    bores = [survey.bores[number] for number in tenon.bores[:1]]
    outline = 2.0 * math.pi * tenon.tenon_radius + tenon.outline_excess
    return JointSizes(
        tenon_radius=tenon.tenon_radius,
        bore_radius=max((bore.radius_at(tenon.station) for bore in bores), default=0.0),
        socket_outer_radius=narrowest - off,
        parallel_length=tenon.glue_area / outline,  # a groove left out
        radial_clearance=gap,
        glue_area=tenon.glue_area,
    )


def _collar_sizes(collar: Collar, station: float, gap: float) -> JointSizes:
    """One end under a collar; of a sleeve, the sleeve is what goes in."""
    radius = mating_surface(collar).radius_at(station)
    if collar.place == "outside":
        inner, tenon, outer = collar.inner.radius_at(station), radius, collar_width(collar, station)
        outer /= 2.0
    else:
        tenon, outer = radius - gap, collar.outer.radius_at(station)
        inner = tenon - collar.thickness
    return JointSizes(
        tenon_radius=tenon,
        bore_radius=inner,
        socket_outer_radius=outer,
        parallel_length=collar.reach,
        radial_clearance=gap,
        glue_area=2.0 * math.pi * tenon * collar.reach,
    )


def strength_entry(strength: Strength, settings: Settings) -> dict[str, object]:
    """The numbers of one tenon; those that rest on glue only where the fit is a glued one."""
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


def strength_rows(
    strengths: list[tuple[Strength, ...]], settings: Settings
) -> list[tuple[str, ...]]:
    """A table of the weakest tenon of each joint, the glue's columns only for a glued fit."""
    glued = settings.fit == "glue"
    header = ("joint", "root wall", "tilt deg", "layers N")
    rows: list[tuple[str, ...]] = [(*header, "glue mm3", "pull N", "twist N m", "peak", "glue N")]
    for number, tenons in enumerate(strengths, 1):
        if not tenons:
            continue
        one = min(tenons, key=lambda strength: strength.design_load)
        rows.append(
            (
                str(number),
                f"{one.sizes.root_wall:.2f}",
                f"{math.degrees(one.tilt):.2f}",
                _span(one.layers_part),
                f"{sum(strength.glue_volume for strength in tenons):.0f}",
                f"{sum(strength.design_load for strength in tenons):.0f}",
                f"{one.design_torque / 1000.0:.1f}",
                f"{one.peak_over_mean:.1f}",
                _span(one.glue_breaks),
            )
        )
    return rows if glued else [row[: len(header)] for row in rows]


def strength_notes(strength: Strength, settings: Settings) -> tuple[str, ...]:
    """What the table's numbers mean and rest on, and the caution."""
    shear = strength.assumptions.design_shear.low
    pull = (
        f"pull and twist: straight, at {shear:g} MPa of mean shear in the glue; peak: of the "
        "elastic shear at the overlap's ends over the mean"
    )
    layers = (
        "layers: straight pull at which the print's layers part, at the tenon's root or in the "
        "wall around it, whichever is weaker"
    )
    if settings.fit == "glue":
        told = f"{layers}; glue: at which the glue breaks"
        rests_on = assumption_words(strength.assumptions)
        return (told, pull, *gap_words(strength), *rests_on, CAUTION)
    return (layers, f"assumed: {layer_words(strength.assumptions)}", DRY_CAUTION)


def _span(loads: tuple[float, float]) -> str:
    return f"{loads[0]:.0f} to {loads[1]:.0f}"
