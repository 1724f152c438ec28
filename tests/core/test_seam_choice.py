"""The choice among chains of long parts: no search with ever more candidates finds a better one."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from borewright.core.planning import seam_choice
from borewright.core.planning.cut_score import Seams
from borewright.core.planning.cut_search import Search, search_cuts
from borewright.core.planning.seam_choice import SeamChoice, holds
from borewright.core.planning.seam_reach import Runs, seam_windows
from borewright.core.values import Ornament, Settings

from tests.round_parts import a_part

SEEDS = (5, 9, 14, 21, 38, 125)
MOVE = 1.0 / 1024.0


def long_search(seed: int) -> Search:
    """A straight or tapered part up to 2 m long, at sizes that no lattice shares."""
    rng = np.random.default_rng(seed)
    length, count = float(rng.uniform(600.0, 2000.0)), int(rng.integers(4, 24))
    stations, widths = rng.uniform(20.0, length - 20.0, count), rng.uniform(3.0, 14.0, count)
    holes = list(zip(stations.tolist(), widths.tolist(), strict=True))
    prefer = tuple(rng.uniform(0.0, length, 3).tolist()) if rng.random() < 0.4 else ()
    settings = Settings((180.0, 180.0, float(rng.uniform(90.0, 260.0))), prefer=prefer)
    feet = rng.uniform(20.0, length - 30.0, 3).tolist()
    rings = [Ornament(foot, foot + 8.0, 10.7, 15.0) for foot in feet]
    if rng.random() < 0.4:
        survey = a_part(length, holes, bore=(16.0, 9.0), outside=(28.0, 19.0))
    else:
        survey = a_part(length, holes, ornaments=rings)
    found = search_cuts(survey, settings)
    assert found is not None
    return found


def windows_of(search: Search) -> list[Runs]:
    return seam_windows(search.ground, search.levels, search.height)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_search_with_more_candidates_finds_no_better_chain(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    search = long_search(seed)
    choice = SeamChoice(search, windows_of(search))
    best = choice.best()
    monkeypatch.setattr(seam_choice, "_MOST_CANDIDATES", 1000)
    monkeypatch.setattr(seam_choice, "_MOST_KEPT", 200)
    monkeypatch.setattr(seam_choice, "_SLACK", 2.0)
    finer = choice.best()
    assert best is not None
    assert finer is not None
    assert choice.scorer.score(best).total >= choice.scorer.score(finer).total - 1e-9


@pytest.mark.parametrize("seed", SEEDS)
def test_no_group_of_seams_is_better_one_step_away(seed: int) -> None:
    search = long_search(seed)
    windows = windows_of(search)
    choice = SeamChoice(search, windows)
    best = choice.best()
    assert best is not None
    score = choice.scorer.score(best).total
    inner = range(1, len(windows) - 1)
    for first in inner:
        for last in range(first, len(windows) - 1):
            for move in (-MOVE, MOVE):
                stations = best.stations.copy()
                stations[first : last + 1] += move
                moved = Seams(stations, best.home)
                if is_held(search, windows, moved):
                    assert choice.scorer.score(moved).total <= score + 1e-9


def is_held(search: Search, windows: list[Runs], seams: Seams) -> bool:
    """Whether every seam lies in its window, and each can follow the one below."""
    inside = [
        bool(((w.low <= z) & (z <= w.high) & (w.home == home)).any())
        for w, z, home in zip(windows, seams.stations, seams.home, strict=True)
    ]
    ones = [Seams(seams.stations[[k]], seams.home[[k]]) for k in range(len(seams.stations))]
    follow = [holds(search.ground, a, b, search.height).all() for a, b in pairwise(ones)]
    return all(inside) and all(follow)


@pytest.mark.parametrize("seed", SEEDS)
def test_stations_are_1024ths_of_a_millimetre(seed: int) -> None:
    search = long_search(seed)
    best = SeamChoice(search, windows_of(search)).best()
    assert best is not None
    assert len(best.stations) > 4
    assert (best.stations[1:-1] * 1024.0 % 1.0 == 0.0).all()
