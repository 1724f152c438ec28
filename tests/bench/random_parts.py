"""Random members of the families through the survey, and the job, against their truth.

    python -m tests.bench.random_parts [--seed N] [--job] COUNT

Prints every part that is read wrong, with the call that makes it again, and a count by family.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections import Counter
from collections.abc import Callable
from functools import partial

import numpy as np
from borewright.core.errors import CoreError, ProofFailed
from borewright.core.values import Mesh, Settings

from tests.families.judged import Bounds, faults, read
from tests.families.judged_pieces import piece_faults
from tests.families.shapes import (
    Facets,
    Part,
    SideCut,
    bell,
    closed_end,
    eccentric,
    free_form,
    many_sided_tube,
    milled,
    odd_holes,
    oval_tube,
    placed,
    stepped,
    two_bores,
)
from tests.jobs import split_surveyed
from tests.parts import random_pose

REFUSED = "refused"

Maker = Callable[[], Part]


def main() -> None:
    arguments = argparse.ArgumentParser(prog="tests.bench.random_parts")
    arguments.add_argument("count", type=int)
    arguments.add_argument("--seed", type=int, default=0)
    arguments.add_argument("--job", action="store_true", help="split them as well")
    asked = arguments.parse_args()
    tally: Counter[str] = Counter()
    for number in range(asked.seed, asked.seed + asked.count):
        rng = np.random.default_rng(number)
        make = random_maker(rng)
        part = placed(make(), random_pose(rng))
        wrong = _survey_fault(part) or (_job_fault(part) if asked.job else "")
        name = make.func.__name__  # type: ignore[attr-defined]
        kind = "refused" if wrong.startswith(REFUSED) else "wrong" if wrong else "right"
        tally[f"{name}: {kind}"] += 1
        if wrong:
            sys.stdout.write(f"seed {number}: {_told(make)}\n    {wrong}\n")
    for name, count in sorted(tally.items()):
        sys.stdout.write(f"{name} {count}\n")


def random_maker(rng: np.random.Generator) -> Maker:
    """One family with sizes drawn so that the part has a wall of 1.5 mm or more."""
    families = (_turned, _milled, _sectioned, _sculpted, _drilled)
    facets = Facets(int(rng.choice([40, 63, 96, 128])))
    return families[rng.integers(len(families))](rng, facets)


def _drawn(rng: np.random.Generator, low: float, high: float) -> float:
    """To 0.01 mm, so that a printed call makes the same part again."""
    return round(float(rng.uniform(low, high)), 2)


def _shares(rng: np.random.Generator) -> list[float]:
    """Where one or two steps lie along the part, none near another or an end."""
    shares = [float(rng.uniform(0.15, 0.45)), float(rng.uniform(0.55, 0.85))]
    return shares[: rng.integers(1, 3)]


def _turned(rng: np.random.Generator, facets: Facets) -> Maker:
    bore, wall = _drawn(rng, 6.0, 24.0), _drawn(rng, 2.0, 6.0)
    length = _drawn(rng, 100.0, 300.0)
    kind = rng.integers(4)
    outside = round(bore + 2.0 * wall, 2)
    if kind == 0:
        turn, beside = _drawn(rng, 0.0, 6.28), _drawn(rng, 0.1, wall - 1.5)
        off = (round(beside * math.cos(turn), 3), round(beside * math.sin(turn), 3))
        return partial(
            eccentric, length=length, outside=outside, bore=bore, off_centre=off, facets=facets
        )
    if kind == 1:
        floor = round(length * float(rng.uniform(0.6, 0.95)), 2)
        return partial(
            closed_end, length=length, outside=outside, bore=bore, floor=floor, facets=facets
        )
    if kind == 2:
        ends = [round(share * length, 2) for share in _shares(rng)]
        sizes = [round(bore + 1.3 * step, 2) for step in range(len(ends) + 1)]
        steps = tuple(zip([*ends, length], rng.permutation(sizes).tolist(), strict=True))
        return partial(stepped, outside=round(outside + 4.0, 2), steps=steps, facets=facets)
    growths = rng.permutation([0.7, 3.5, 7.5]) + rng.uniform(-0.5, 0.5, 3)
    widths = np.cumsum([bore, *growths]).round(2).tolist()
    stations = [0.0, round(0.4 * length, 2), round(0.7 * length, 2), length]
    inner = tuple(zip(stations, widths, strict=True))
    outer = tuple((z, round(d + 2.0 * wall, 2)) for z, d in inner)
    return partial(bell, outside=outer, bore=inner, facets=facets)


def _milled(rng: np.random.Generator, facets: Facets) -> Maker:
    bore, wall = _drawn(rng, 6.0, 24.0), _drawn(rng, 3.0, 6.0)
    length = _drawn(rng, 100.0, 300.0)
    shape = str(rng.choice(["flat", "keyway", "bore keyway"]))
    reach = round(bore / 2.0 + wall - (wall - 1.5 if shape == "bore keyway" else 1.0), 2)
    start = _drawn(rng, 5.0, 40.0)
    return partial(
        milled, length=length, bore=bore, outside=round(bore + 2.0 * wall, 2), shape=shape,
        reach=reach, width=_drawn(rng, 2.0, 0.4 * bore), start=start,
        stop=round(start + _drawn(rng, 8.0, 40.0), 2), facets=facets,
    )  # fmt: skip


def _sectioned(rng: np.random.Generator, facets: Facets) -> Maker:
    bore, wall = _drawn(rng, 6.0, 20.0), _drawn(rng, 2.0, 6.0)
    length = _drawn(rng, 100.0, 300.0)
    across = round(bore + 2.0 * wall, 2)
    kind = rng.integers(3)
    if kind == 0:
        axes = (round(across * float(rng.uniform(1.1, 1.6)), 2), across)
        return partial(oval_tube, length=length, axes=axes, bore=bore, facets=facets)
    if kind == 1:
        sides = int(rng.choice([4, 5, 6, 8, 10, 12]))
        return partial(
            many_sided_tube, sides=sides, across_flats=across, bore=bore, length=length,
            facets=facets,
        )  # fmt: skip
    apart = round(bore + _drawn(rng, 1.5, 6.0), 2)
    size = (round(apart + across + _drawn(rng, 0.0, 4.0), 2), across)
    return partial(two_bores, length=length, bore=bore, apart=apart, size=size, facets=facets)


def _sculpted(rng: np.random.Generator, facets: Facets) -> Maker:
    bore, wall, swing = _drawn(rng, 6.0, 20.0), _drawn(rng, 2.0, 5.0), _drawn(rng, 0.4, 1.5)
    return partial(
        free_form, length=_drawn(rng, 80.0, 160.0), bore=bore,
        diameter=round(bore + 2.0 * (wall + swing), 2), swing=swing,
        lobes=int(rng.integers(2, 7)), turns=_drawn(rng, 0.0, 2.0), facets=facets,
    )  # fmt: skip


def _drilled(rng: np.random.Generator, facets: Facets) -> Maker:
    bore, wall = _drawn(rng, 10.0, 20.0), _drawn(rng, 2.5, 5.0)
    cuts = []
    for number in range(int(rng.integers(1, 6))):
        wide = _drawn(rng, 3.0, 0.6 * bore)
        long = round(wide * float(rng.choice([1.0, 1.0, 1.5, 2.0])), 2)
        kind = str(rng.choice(["oval", "slot", "window"])) if long > wide else "oval"
        lean = _drawn(rng, -25.0, 25.0) if long == wide else 0.0
        station, angle = round(40.0 + 45.0 * number, 2), _drawn(rng, -180.0, 180.0)
        cuts.append(SideCut(station, angle, long, wide, kind, along_deg=lean))  # type: ignore[arg-type]
    return partial(
        odd_holes, length=270.0, bore=bore, outside=round(bore + 2.0 * wall, 2),
        cuts=tuple(cuts), facets=facets,
    )  # fmt: skip


def _survey_fault(part: Part) -> str:
    try:
        told = faults(part, read(part), Bounds(wall=(0.02 + _sagitta(part), 0.02)))
    except CoreError as problem:
        return f"survey: {type(problem).__name__} {problem}"
    return f"survey: {'; '.join(told)}" if told else ""


def _sagitta(part: Part) -> float:
    """Of the coarsest outside drawn, 40 sides: how much thinner the mesh's own wall may be."""
    across = part.truth.least_wall or 0.0
    across += max(stretch.diameter_at(stretch.stop) for stretch in part.truth.bores) / 2.0
    return 1.6 * across * (1.0 - math.cos(math.pi / 40.0))


def _job_fault(part: Part) -> str:
    """Of the pieces. A refusal is told as one: a thin wall may well deserve it."""
    height = 0.55 * part.truth.length
    settings = Settings(envelope=(250.0, 250.0, height))
    mesh = Mesh(part.vertices.astype(np.float32), part.triangles)
    try:
        (outcome,) = split_surveyed(mesh, "part", settings)
    except ProofFailed as problem:
        return f"job: {problem}"
    except CoreError as problem:
        return f"{REFUSED}: {type(problem).__name__} {problem}"
    told = piece_faults(part, outcome, height, max(0.005, _sagitta(part)))
    return f"pieces: {'; '.join(told)}" if told else ""


def _told(make: Maker) -> str:
    assert isinstance(make, partial)
    return f"{make.func.__name__}({', '.join(f'{k}={v!r}' for k, v in make.keywords.items())})"


if __name__ == "__main__":
    main()
