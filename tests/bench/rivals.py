"""Two runs into one folder at once, again and again.

    python -m tests.bench.rivals [--seed N] COUNT

COUNT pairs of the real command, the second behind the first by up to 0.6 s, and forty times
as many pairs that do nothing but save. Prints every promise that was broken, and their number.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

import numpy as np

from tests.parts import plain_tube
from tests.rivals import commands, savers
from tests.saved import NOTE, first_job

SAVES_A_COMMAND = 40


def main() -> int:
    parser = argparse.ArgumentParser(prog="tests.bench.rivals")
    parser.add_argument("count", type=int)
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        broken = _commands(Path(place), asked.seed, asked.count)
        broken += _savers(Path(place), asked.count * SAVES_A_COMMAND)
    for one in broken:
        sys.stdout.write(f"BROKEN: {one}\n")
    pairs = f"{asked.count} pairs of commands, {asked.count * SAVES_A_COMMAND} of savers"
    sys.stdout.write(f"{pairs}: {len(broken)} broken promises\n")
    return 1 if broken else 0


def _commands(place: Path, seed: int, count: int) -> list[str]:
    part = place / "pipe.stl"
    plain_tube().save(part)
    out = place / "commands" / "out"
    out.parent.mkdir()
    first_job(part, out)
    rng = np.random.default_rng(seed)
    return [fault for _ in range(count) for fault in commands(part, out, rng.uniform(0.0, 0.6))]


def _savers(place: Path, rounds: int) -> list[str]:
    out = place / "savers" / "out"
    out.mkdir(parents=True)
    (out / NOTE).write_text("mine")
    return savers(out, rounds)


if __name__ == "__main__":
    sys.exit(main())
