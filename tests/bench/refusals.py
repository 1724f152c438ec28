"""Processor time until a bent tube is refused, against that of planning the straight one.

    python -m tests.bench.refusals [--repeats N] [TRIANGLES]

Processor time of the process, best of some, turn and turn about: other programs on the
machine disturb it less than the time of day. Prints a Markdown table.
"""

from __future__ import annotations

import argparse
import sys
from contextlib import suppress
from time import process_time

from borewright.core.errors import NotTubular
from borewright.core.job import plan_parts
from borewright.core.values import Mesh, Settings

from tests.bent import bent
from tests.families.dense import dense_tube

SETTINGS = Settings((180.0, 180.0, 180.0))
SAGITTAS = (0.0, 0.5, 5.0, 60.0)


def main() -> None:
    arguments = argparse.ArgumentParser(prog="tests.bench.refusals")
    arguments.add_argument("size", metavar="TRIANGLES", nargs="?", type=int, default=1_300_000)
    arguments.add_argument("--repeats", type=int, default=3)
    asked = arguments.parse_args()
    tube = dense_tube(asked.size)
    straight = Mesh(tube.vertices, tube.triangles)
    meshes = [bent(straight, sagitta) if sagitta else straight for sagitta in SAGITTAS]
    runs = [[taken(mesh) for mesh in meshes] for _ in range(asked.repeats)]
    least = [min(of_one) for of_one in zip(*runs, strict=True)]
    sys.stdout.write("| sagitta, mm | processor, s | to the straight one's |\n|---:|---:|---:|\n")
    for sagitta, seconds in zip(SAGITTAS, least, strict=True):
        sys.stdout.write(f"| {sagitta:g} | {seconds:.2f} | {seconds / least[0]:.1f} |\n")


def taken(mesh: Mesh) -> float:
    """Seconds of processor until it is planned or refused."""
    start = process_time()
    with suppress(NotTubular):
        plan_parts(mesh, "part", lambda _: SETTINGS, 1.0, lambda _: None)
    return process_time() - start


if __name__ == "__main__":
    main()
