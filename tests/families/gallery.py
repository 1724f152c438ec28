"""One part of every family, in the sizes that tests ask for."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np

from tests.families.dense import dense_tube
from tests.families.shapes import (
    FaceHole,
    Facets,
    Part,
    SideCut,
    bell,
    closed_end,
    eccentric,
    free_form,
    many_sided_tube,
    milled,
    noisy,
    odd_holes,
    oval_tube,
    stepped,
    turned,
    two_bores,
    whistle_head,
)

SIGMA = 0.02
"""Noise of a scan, mm, on every vertex along each axis."""

TWO_BORE_HOLES = (
    FaceHole(50.0, 6.0, 0, 1),
    FaceHole(80.0, 5.0, 1, 1),
    FaceHole(110.0, 6.0, 1, -1),
)

GALLERY: dict[str, Callable[..., Part]] = {
    "oval": oval_tube,
    "octagon": many_sided_tube,
    "hexagon": partial(many_sided_tube, sides=6, across_flats=22.0),
    "eccentric": eccentric,
    "two bores in a capsule": two_bores,
    "holes into two bores": partial(two_bores, size=(40.0, 17.0), holes=TWO_BORE_HOLES),
    "two bores in an oval": partial(two_bores, body="oval", size=(36.0, 22.0)),
    "two diameters": partial(stepped, steps=((70.0, 12.0), (160.0, 16.0))),
    "three diameters": stepped,
    "bell": bell,
    "closed end": closed_end,
    "odd holes": odd_holes,
    "one slanted hole": partial(odd_holes, cuts=[SideCut(40.0, 125.0, 6.0, 6.0, along_deg=-20.0)]),
    "flat": milled,
    "flat from end to end": partial(milled, reach=10.6, stop=200.0),
    "keyway": partial(milled, shape="keyway", start=20.0, stop=60.0),
    "keyway in the bore": partial(milled, shape="bore keyway", reach=9.0, width=4.0),
    "whistle head": whistle_head,
    "free form": free_form,
    "dense tube": partial(dense_tube, 30_000),
}
"""All but the last take `facets` as well."""

SCANNED: dict[str, Callable[[], Part]] = {
    "tube": lambda: turned(
        [(0.0, 20.0), (60.0, 20.0)], [(0.0, 13.0), (60.0, 13.0)],
        cuts=[SideCut(30.0, 40.0, 7.0, 7.0)], facets=Facets(edge=0.3),
    ),
    "taper": lambda: turned(
        [(0.0, 20.0), (50.0, 18.0)], [(0.0, 13.0), (50.0, 12.0)], facets=Facets(edge=0.3)
    ),
    "oval": lambda: oval_tube(length=50.0, axes=(21.0, 17.0), bore=11.0, facets=Facets(edge=0.3)),
    "two bores": lambda: two_bores(
        length=40.0, bore=7.0, apart=11.0, size=(25.0, 14.0), facets=Facets(edge=0.3)
    ),
}  # fmt: skip


def scanned(name: str, seed: int = 0) -> Part:
    """A part of fine triangles with noise on every vertex."""
    return noisy(SCANNED[name](), SIGMA, np.random.default_rng(seed))
