"""The job killed at random moments, and a saver too; what each left.

    python -m tests.bench.kills [--seed N] COUNT

Half of COUNT are struck at any moment of the run, half while it saves; four times as many savers.
Prints every promise that was broken, and a table. Ends with 1 where there was one.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np

from tests.kills import SIGNALS, Struck, set_scene, strike, strike_saver
from tests.parts import plain_tube
from tests.saved import NOTE


def main() -> int:
    parser = argparse.ArgumentParser(prog="tests.bench.kills")
    parser.add_argument("count", type=int)
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        struck = [*_jobs(Path(place), asked.seed, asked.count)]
        struck += _savers(Path(place), asked.seed, 4 * asked.count)
    for one in struck:
        if one.faults:
            sys.stdout.write(f"BROKEN: {one}\n")
    sys.stdout.write(_table(struck))
    return 1 if any(one.faults for one in struck) else 0


def _jobs(place: Path, seed: int, count: int) -> list[Struck]:
    part = place / "pipe.stl"
    plain_tube().save(part)
    scene = set_scene(part, place / "scene")
    lives, saves = f"{scene.life_s:.2f} s", f"{scene.saving_s * 1e3:.0f} ms"
    sys.stdout.write(f"a run lives {lives} and saves for {saves} of it\n\n")
    struck = []
    for number in range(count):
        rng = np.random.default_rng([seed, number])
        moment = ("any", "saving")[number % 2]
        struck.append(strike(scene, moment, SIGNALS[number // 2 % len(SIGNALS)], rng))
    return struck


def _savers(place: Path, seed: int, count: int) -> list[Struck]:
    struck = []
    for number in range(count):
        out = place / f"saver-{number}" / "out"
        out.mkdir(parents=True)
        (out / NOTE).write_text("mine")
        steps = ("one step", "two steps")[number % 2]
        rng = np.random.default_rng([seed, number])
        struck.append(strike_saver(out, steps, SIGNALS[number // 2 % len(SIGNALS)], rng))
    return struck


def _table(struck: list[Struck]) -> str:
    lines = [
        "| struck | by | runs | left it | something beside it | broken promises |",
        "|---|---|---:|---|---:|---:|",
    ]
    for key in sorted({(one.moment, one.signal) for one in struck}):
        those = [one for one in struck if (one.moment, one.signal) == key]
        states = Counter(one.state for one in those)
        told = ", ".join(f"{state} {count}" for state, count in sorted(states.items()))
        beside = sum(bool(one.left) for one in those)
        broken = sum(bool(one.faults) for one in those)
        lines.append(f"| {key[0]} | {key[1]} | {len(those)} | {told} | {beside} | {broken} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    sys.exit(main())
