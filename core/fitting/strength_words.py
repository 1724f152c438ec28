"""What the strength of a joint rests on, in words: every assumption, and the cautions."""

from __future__ import annotations

from .strength import Assumptions, Stated, Strength

CAUTION = (
    "Whatever these numbers say, printed layers may part before the glue does; "
    "nothing here is for loads that can hurt anyone."
)

DRY_CAUTION = (
    "Whatever these numbers say, printed layers may part at less; "
    "nothing here is for loads that can hurt anyone."
)
"""For a joint without glue."""


def assumption_words(assumed: Assumptions) -> tuple[str, ...]:
    """A line a number that is assumed, with its source, and what the model leaves out."""
    print_of, glue = assumed.material, assumed.glue
    told = (
        f"{print_of} modulus {_stated(assumed.modulus)}",
        layer_words(assumed),
        f"{glue} shear modulus {_stated(assumed.glue_modulus)}",
        f"{glue} design shear {_stated(assumed.design_shear)}, its low end taken",
        f"{glue} on {print_of} breaks at {_stated(assumed.breaking_shear)} of mean shear",
        f"{glue} fills a gap up to {_stated(assumed.greatest_gap)}",
        "glue fills the whole gap, evenly; straight pull, no bending, no notch at the root",
    )
    return tuple(f"assumed: {line}" for line in told)


def layer_words(assumed: Assumptions) -> str:
    """The strength across layers that is assumed, with its source."""
    return (
        f"{assumed.material} across layers parts at {_stated(assumed.layer_strength)}, "
        "printed solid"
    )


def several_words(*, glued: bool) -> tuple[str, ...]:
    """What is meant where a joint has several tenons."""
    layers = "of several tenons: layers are those of all together, root wall the thinnest one's"
    if not glued:
        return (layers,)
    told = (
        "of several tenons: layers, pull and glue are of all together, root wall and peak of the "
        "worst; twist: about the middle between them, by the glue's shear around each alone"
    )
    return (told,)


def collar_words() -> tuple[str, ...]:
    """What is meant where a joint is a collar or a sleeve."""
    return ("of a collar or sleeve: each number is of one of its two ends",)


def gap_words(strength: Strength) -> tuple[str, ...]:
    """That the gap is too wide for the glue, where it is."""
    if strength.gap_filled:
        return ()
    gap, glue = strength.sizes.radial_clearance, strength.assumptions.glue
    told = (
        f"a gap of {gap:.2f} mm is more than {glue} fills: the glue's numbers do not hold; "
        "take one that fills gaps, as epoxy does"
    )
    return (told,)


def _stated(number: Stated) -> str:
    low, high = f"{number.low:g}", f"{number.high:g}"
    span = low if low == high else f"{low} to {high}"
    return f"{span} {number.unit} ({number.source})"
