"""How long the core takes, against Blender's own STL import and general booleans.

    python -m tests.bench [--repeats N] [TRIANGLES ...]

For dense tubes with six side holes, each measured in this one process, turn and turn about,
best of three: Blender's import of the STL file; the core, from the mesh arrays that this
import gave to the arrays of proven pieces; and the same cuts, sockets and tenons by general
booleans. Prints Markdown tables: times and ratios, memory, where the core's time goes.
"""

from __future__ import annotations

import argparse
import math
import os
import platform
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from time import perf_counter
from typing import Any

import bpy
import numpy as np

from tests.bench.booleans import split_by_booleans
from tests.bench.core_run import CoreRun, peak_memory, run_core
from tests.bench.host_import import import_stl, read_arrays
from tests.families.dense import dense_tube

SIZES = (3_000, 100_000, 1_300_000, 5_000_000)

TIMES_HEADING = (
    "| triangles | import, s | unchecked, s | core, s | core / import | booleans, s "
    "| core / booleans |"
)


@dataclass(frozen=True, slots=True)
class Row:
    """Measures of one size: seconds, and bytes.

    import_s, unchecked_s : Blender's import as it comes, and without its check of the mesh
    """

    triangles: int
    import_s: float
    unchecked_s: float
    core: CoreRun
    booleans_s: float
    mesh_bytes: int
    peak_bytes: int


def main() -> None:
    arguments = argparse.ArgumentParser(prog="tests.bench", description=__doc__.split("\n")[0])
    arguments.add_argument("sizes", metavar="TRIANGLES", nargs="*", type=int, default=SIZES)
    arguments.add_argument("--repeats", type=int, default=3)
    asked = arguments.parse_args()
    rows = []
    for size in asked.sizes:
        rows.append(measure(size, asked.repeats))
        sys.stderr.write(f"{size:,} triangles measured\n")
    tables = heading(asked.repeats), times(rows), memory(rows), stages(rows)
    sys.stdout.write("\n\n".join(tables) + "\n")


def measure(size: int, repeats: int) -> Row:
    """One size, the three routes turn and turn about."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.stl"
        dense_tube(size).save(path)
        taken: dict[str, list[float]] = {"import": [], "unchecked": [], "booleans": []}
        runs: list[CoreRun] = []
        for _ in range(repeats):
            seconds, data = timed(partial(import_stl, path, check=False))
            taken["unchecked"].append(seconds)
            bpy.data.meshes.remove(data)
            seconds, data = timed(partial(import_stl, path, check=True))
            taken["import"].append(seconds)
            mesh = read_arrays(data)
            bpy.data.meshes.remove(data)
            runs.append(run_core(mesh))
            seconds, _ = timed(partial(split_by_booleans, mesh, runs[-1].joints))
            taken["booleans"].append(seconds)
    return Row(
        triangles=len(mesh.triangles),
        import_s=min(taken["import"]),
        unchecked_s=min(taken["unchecked"]),
        core=min(runs, key=lambda run: run.seconds),
        booleans_s=min(taken["booleans"]),
        mesh_bytes=mesh.vertices.nbytes + mesh.triangles.nbytes,
        peak_bytes=peak_memory(mesh),
    )


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """Seconds that it took, and what came of it."""
    start = perf_counter()
    result = work()
    return perf_counter() - start, result


def heading(repeats: int) -> str:
    """What this was measured on."""
    return (
        f"Blender {bpy.app.version_string}, Python {platform.python_version()}, "
        f"numpy {np.__version__}; best of {repeats} in one process; {os.cpu_count()} processors, "
        f"load {os.getloadavg()[0]:.1f} at the end (above 2, the threads of its own, others ran "
        "beside it: measure again)."
    )


def times(rows: list[Row]) -> str:
    """Seconds and ratios, and how the core's time grows."""
    lines = [
        TIMES_HEADING,
        "|---:|---:|---:|---:|---:|---:|---:|",
    ]
    for row in rows:
        core = row.core.seconds
        lines.append(
            f"| {row.triangles:,} | {row.import_s:.3f} | {row.unchecked_s:.3f} "
            f"| {core:.3f} | {core / row.import_s:.2f} "
            f"| {row.booleans_s:.3f} | {core / row.booleans_s:.2f} |"
        )
    large = [row for row in rows if row.triangles > 50_000]
    if len(large) > 1:
        first, last = large[0], large[-1]
        growth = math.log(last.core.seconds / first.core.seconds)
        growth /= math.log(last.triangles / first.triangles)
        lines.append(
            f"\nFrom {first.triangles:,} to {last.triangles:,} triangles the core's time grows "
            f"as their number to the power {growth:.2f}."
        )
    return "\n".join(lines)


def memory(rows: list[Row]) -> str:
    """Peak while the core runs, the mesh arrays themselves included."""
    lines = [
        "| triangles | mesh arrays, MB | peak, MB | peak / mesh arrays |",
        "|---:|---:|---:|---:|",
    ]
    lines += [
        f"| {row.triangles:,} | {row.mesh_bytes / 1e6:.1f} | {row.peak_bytes / 1e6:.1f} "
        f"| {row.peak_bytes / row.mesh_bytes:.1f} |"
        for row in rows
    ]
    return "\n".join(lines)


def stages(rows: list[Row]) -> str:
    """Milliseconds that each stage of the core took in its best run."""
    names = list(rows[0].core.stages)
    lines = [
        f"| triangles | {' | '.join(f'{name}, ms' for name in names)} | triangles after truing |",
        "|---:" * (len(names) + 2) + "|",
    ]
    for row in rows:
        cells = " | ".join(f"{1e3 * row.core.stages[name]:.0f}" for name in names)
        lines.append(f"| {row.triangles:,} | {cells} | {row.core.trued:,} |")
    return "\n".join(lines)


if __name__ == "__main__":
    main()
