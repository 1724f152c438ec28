"""How fast plans are made, and how they compare with every plan there is.

    python -m tests.bench.plans [--repeats N] [--seed N] [COUNT]

First tubes 2 m long with 20 side holes: the time of `plan_cuts` alone, best of several, by the
clock and of this process only. Then COUNT random parts, 500 unless told otherwise, against an
exhaustive search (`tests/exhaustive_plans.py`): the piece count has to be the same, no plan on
the grid may score more, and ours may score no more above the best on the grid than rounding down to
it can lose. Prints Markdown tables; ends with 1 where anything differs.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections import Counter
from dataclasses import dataclass
from time import perf_counter, process_time

import numpy as np
from borewright.core.errors import NoPlan
from borewright.core.planning.cut_plan import plan_cuts
from borewright.core.planning.plan_survey import survey_plans
from borewright.core.values import Settings, Survey

from tests.exhaustive_plans import EveryPlan, random_case
from tests.round_parts import a_part

HEIGHTS = (150.0, 180.0, 195.0)
ROUND_OFF = 1e-9


@dataclass(frozen=True, slots=True)
class Compared:
    """A random part against every plan of it.

    pieces, ours : fewest, None where there is no plan
    above : by how much our score is over the best on the grid
    loss : by how much it may be
    kept : whether our plan keeps every rule
    """

    pieces: int | None
    ours: int | None
    above: float = 0.0
    loss: float = 0.0
    kept: bool = True

    @property
    def agrees(self) -> bool:
        """Whether both came to the same."""
        same = self.pieces == self.ours and self.kept
        return same and -ROUND_OFF <= self.above <= self.loss + ROUND_OFF


def main() -> int:
    arguments = argparse.ArgumentParser(
        prog="tests.bench.plans", description=__doc__.split("\n")[0]
    )
    arguments.add_argument("count", metavar="COUNT", nargs="?", type=int, default=500)
    arguments.add_argument("--repeats", type=int, default=10)
    arguments.add_argument("--seed", type=int, default=1000, help="of the first random part")
    asked = arguments.parse_args()
    sys.stdout.write(times(asked.repeats) + "\n\n")
    compared = [compare(seed) for seed in range(asked.seed, asked.seed + asked.count)]
    sys.stdout.write(agreement(compared) + "\n")
    return 0 if all(one.agrees for one in compared) else 1


def long_tube() -> Survey:
    """A tube of 2 m with 20 side holes, at stations that no printer's height divides evenly."""
    rng = np.random.default_rng(5)
    stations = np.sort(rng.uniform(60.0, 1940.0, 20)).tolist()
    widths = rng.uniform(5.0, 12.0, 20).tolist()
    holes = list(zip(stations, widths, strict=True))
    return a_part(2000.0, holes, bore=(19.0, 19.0), outside=(28.0, 28.0))


def times(repeats: int) -> str:
    """Milliseconds for each envelope."""
    survey = long_tube()
    machine = f"{os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}"
    lines = [
        f"A tube of 2 m with 20 side holes; best of {repeats}; {machine}.",
        "",
        "| envelope's height, mm | pieces | plan, ms | of this process, ms |",
        "|---:|---:|---:|---:|",
    ]
    for height in HEIGHTS:
        settings = Settings((180.0, 180.0, height))
        clock, own = [], []
        for _ in range(repeats):
            began, began_own = perf_counter(), process_time()
            plan = plan_cuts(survey, settings)
            clock.append(perf_counter() - began)
            own.append(process_time() - began_own)
        best = f"{min(clock) * 1e3:.1f} | {min(own) * 1e3:.1f}"
        lines.append(f"| {height:g} | {len(plan.cuts) + 1} | {best} |")
    return "\n".join(lines)


def compare(seed: int) -> Compared:
    """One random part, planned and searched exhaustively."""
    case = random_case(seed)
    every = EveryPlan(case)
    try:
        plan = plan_cuts(case.survey, case.settings)
    except NoPlan:
        return Compared(every.pieces, None)
    ours = len(plan.cuts) + 1
    if every.pieces != ours:
        return Compared(every.pieces, ours)
    best = survey_plans(case.survey, case.settings, plan).plans[0]
    return Compared(
        every.pieces,
        ours,
        best.score.total - every.best(),
        every.grid_loss(best.stations),
        every.keeps_rules(best.stations),
    )


def agreement(compared: list[Compared]) -> str:
    """By the number of pieces: how many parts, how many agree, how far scores lie apart."""
    lines = [
        "| pieces | parts | agree | least over the grid's best | most | most that may be |",
        "|---:|---:|---:|---:|---:|---:|",
    ]
    counts = Counter(one.pieces for one in compared)
    for pieces in sorted(counts, key=lambda count: count or 0):
        group = [one for one in compared if one.pieces == pieces]
        agree = sum(one.agrees for one in group)
        row = f"| {pieces or 'no plan'} | {len(group)} | {agree} "
        above = [one.above for one in group]
        most = max(one.loss for one in group)
        lines.append(f"{row}| {min(above):.1e} | {max(above):.3f} | {most:.2f} |")
    return "\n".join(lines)


if __name__ == "__main__":
    sys.exit(main())
