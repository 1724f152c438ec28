"""All families of generated parts: what varies is a parameter, what is true a closed form."""

from __future__ import annotations

from tests.families.chains import Facets
from tests.families.more_than_tubes import curved, whistle_head
from tests.families.odd_outside import (
    FaceHole,
    free_form,
    many_sided_tube,
    oval_tube,
    sectioned,
    two_bores,
)
from tests.families.round_outside import (
    bell,
    closed_end,
    eccentric,
    milled,
    odd_holes,
    stepped,
    turned,
)
from tests.families.side_cuts import SideCut
from tests.families.truth import Part, Truth, as_counted, noisy, placed, shuffled

__all__ = [
    "FaceHole", "Facets", "Part", "SideCut", "Truth", "as_counted", "bell", "closed_end", "curved",
    "eccentric", "free_form", "many_sided_tube", "milled", "noisy", "odd_holes", "oval_tube",
    "placed", "sectioned", "shuffled", "stepped", "turned", "two_bores", "whistle_head",
]  # fmt: skip
