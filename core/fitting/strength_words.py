"""What a joint holds, in words, with every assumption under it."""

from __future__ import annotations

import math

from .strength import Assumptions, First, Stated, Strength

CAUTION = (
    "Expect printed layers to part before the glue does; "
    "nothing here is for loads that can hurt anyone."
)

_FIRST: dict[First, str] = {
    "layers": "layers first",
    "glue": "glue first",
    "either": "either may be first",
}


def strength_words(strength: Strength) -> tuple[str, ...]:
    """What one tenon holds, a line a number; then what it rests on, and the caution last."""
    told = (_glue_words(strength), *_hold_words(strength), _first_words(strength))
    wide = () if strength.gap_filled else (_gap_words(strength),)
    return (*told, *wide, *assumption_words(strength.assumptions), CAUTION)


def assumption_words(assumed: Assumptions) -> tuple[str, ...]:
    """A line a number that is assumed, with its source, and what the model leaves out."""
    print_of, glue = assumed.material, assumed.glue
    told = (
        f"{print_of} modulus {_stated(assumed.modulus)}",
        f"{print_of} across layers parts at {_stated(assumed.layer_strength)}, printed solid",
        f"{glue} shear modulus {_stated(assumed.glue_modulus)}",
        f"{glue} design shear {_stated(assumed.design_shear)}, its low end taken",
        f"{glue} on {print_of} breaks at {_stated(assumed.breaking_shear)} of mean shear",
        f"{glue} fills a gap up to {_stated(assumed.greatest_gap)}",
        "glue fills the whole gap, evenly; straight pull, no bending, no notch at the root",
    )
    return tuple(f"assumed: {line}" for line in told)


def _glue_words(strength: Strength) -> str:
    return f"glue on {strength.sizes.glue_area:.0f} mm2, {strength.glue_volume:.0f} mm3 of it"


def _hold_words(strength: Strength) -> tuple[str, ...]:
    sizes, shear = strength.sizes, strength.assumptions.design_shear.low
    load = f"{strength.design_load:.0f} N of straight pull"
    twist = f"{strength.design_torque / 1000.0:.1f} N m of twist"
    peak = f"{strength.peak_over_mean:.1f} times the mean (elastic)"
    useful = min(strength.useful_overlap, sizes.parallel_length)
    overlap = f"{useful:.1f} of {sizes.parallel_length:.1f} mm"
    return (
        f"{load}, or {twist}, is {shear:g} MPa of mean shear",
        f"at the overlap's ends {peak}; {overlap} do 99 % of the work",
        f"without glue it can tilt by {math.degrees(strength.tilt):.2f} degrees",
        f"wall at the tenon's root {sizes.root_wall:.2f} mm, {sizes.root_area:.0f} mm2",
    )


def _first_words(strength: Strength) -> str:
    layers, glue = _span(strength.layers_part), _span(strength.glue_breaks)
    return f"layers part at {layers}, glue at {glue}: {_FIRST[strength.first]}"


def _gap_words(strength: Strength) -> str:
    gap, glue = strength.sizes.radial_clearance, strength.assumptions.glue
    return (
        f"a gap of {gap:.2f} mm is more than {glue} fills: the glue's numbers do not hold; "
        "take one that fills gaps, as epoxy does"
    )


def _span(loads: tuple[float, float]) -> str:
    return f"{loads[0]:.0f} to {loads[1]:.0f} N"


def _stated(number: Stated) -> str:
    low, high = f"{number.low:g}", f"{number.high:g}"
    span = low if low == high else f"{low} to {high}"
    return f"{span} {number.unit} ({number.source})"
