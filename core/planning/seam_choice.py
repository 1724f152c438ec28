"""Which of the feasible chains of cuts scores best.

Dynamic programming over candidates: first at even steps over each window, counted from a chain
that is known to hold together, with every place where the score has a kink; then ever closer about
all chains that may still turn out the best; at last about the best chain, down to steps of 1/1024
mm. Neighbours move at once, so that seams held apart by the envelope's height, or by their joints,
move together. A valley of the score that trails by more than `_SLACK` on the first steps is not
looked into again: that the best chain lies in none of those is tested, not proven.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..values import BoolArray, FloatArray, IntArray
from .cut_score import Seams, SeamScorer
from .cut_search import Search
from .intervals import GRAIN
from .seam_reach import SEAM_GAP, Ground, Runs, common_runs, may_follow, reach_down

APART = 5.0
"""A plan is another one where some seam lies at least so far, mm, from its counterpart."""

_MOST_CANDIDATES, _MOST_KEPT = 120, 40
_COARSEST, _FINE = 16.0, 1.0 / 16.0
_CLOSER = 4.0
_SLACK = 0.5
_EXACT = 1024.0
"""Stations are brought to 1/1024 mm, which a file's float32 holds exactly."""

_NO_GATES = 2
"""Gate number of the high end where no cut is insisted on: then no step passes over any."""

_OFFSETS = np.arange(-4.0, 5.0)
_BEYOND = 8
"""How many 1/1024 mm farther than there are seams each may move for all to lie on such."""

_BETTER = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class _Solved:
    """The best chain of some candidates, and what the best through each of them scores."""

    chain: Seams
    score: float
    through: list[FloatArray]


class SeamChoice:
    """The best chains of cuts, one from each window, low end first, high end last."""

    def __init__(self, search: Search, windows: list[Runs]) -> None:
        self.ground, self.windows, self.height = search.ground, windows, search.height
        self.scorer = SeamScorer(search.field, search.ground)
        self._known = some_chain(search.ground, windows, search.height)

    def best(self, unlike: Sequence[Seams] = ()) -> Seams | None:
        """The best chain that has a seam `APART` from each of others; None: there is none.

        Stations are 1/1024ths of a millimetre, but where a window leaves none.
        """
        steps = np.array([_first_step(window) for window in self.windows])
        levels = self._first_candidates(steps, unlike)
        found = self._solve(levels, unlike)
        slack = _SLACK
        while found is not None and steps.max() > _FINE:
            levels = self._closer_candidates(levels, found, steps, slack, unlike)
            steps, slack = np.maximum(steps / _CLOSER, 1.0 / _EXACT), slack / _CLOSER
            found = self._solve(levels, unlike)
        if found is None:
            return None
        chain = self._climbed(found.chain, unlike, (_FINE, _FINE / 8.0, 1.0 / _EXACT))
        return self._all_exact(chain, unlike) or self._made_exact(chain, unlike)

    # --- candidates ---------------------------------------------------------------------

    def _first_candidates(self, steps: FloatArray, unlike: Sequence[Seams]) -> list[Seams]:
        levels = []
        for number, window in enumerate(self.windows):
            kinks = np.concatenate([self._kinks(number, unlike), (window.low + window.high) / 2.0])
            known, step = float(self._known.stations[number]), steps[number]
            reach = window.low.min() - known, window.high.max() - known
            grid = known + np.arange(np.ceil(reach[0] / step), reach[1] / step) * step
            found = _within(window, np.concatenate([grid, kinks]))
            levels.append(_together(found, _ends_of(window), _one_of(self._known, number)))
        return levels

    def _kinks(self, number: int, unlike: Sequence[Seams]) -> FloatArray:
        """Where the score of a seam may be at its best without being level."""
        ground, home = self.ground, self.windows[number].home
        others = [chain.stations[number] + side for chain in unlike for side in (-APART, APART)]
        middles = (ground.low[home] + ground.high[home]) / 2.0
        return np.concatenate([middles, self.scorer.preferred, self.scorer.hiding, others])

    def _closer_candidates(
        self,
        levels: list[Seams],
        found: _Solved,
        steps: FloatArray,
        slack: float,
        unlike: Sequence[Seams],
    ) -> list[Seams]:
        """About each candidate whose best chain may still turn out the best of all."""
        closer = []
        for number, (level, through) in enumerate(zip(levels, found.through, strict=True)):
            window, step = self.windows[number], steps[number]
            kept = np.flatnonzero(through >= found.score - slack)
            kept = kept[np.argsort(-through[kept], kind="stable")[:_MOST_KEPT]]
            stations = level.stations[kept]
            if step > 1.0 / _EXACT:
                parts = np.arange(1.0 - _CLOSER, _CLOSER) * step / _CLOSER
                stations = (stations[:, None] + parts).ravel()
            kinks = self._kinks(number, unlike)
            near = np.abs(kinks[:, None] - level.stations[kept]).min(axis=1) <= step
            both = np.concatenate([stations, kinks[near]])
            known = _one_of(found.chain, number)
            closer.append(_together(_within(window, both), _ends_of(window), known))
        return closer

    # --- dynamic programming ------------------------------------------------------------

    def _solve(self, levels: list[Seams], unlike: Sequence[Seams]) -> _Solved | None:
        """The best chain of candidates, with a bit for each other chain that it is unlike."""
        merits = self._merits(levels)
        bits = [_unlike_bits(level, number, unlike) for number, level in enumerate(levels)]
        steps = [
            self._steps(below, above) + merit
            for (below, above), merit in zip(pairwise(levels), merits[1:], strict=True)
        ]
        every = np.arange(1 << len(unlike))
        upward = [np.where(every == bits[0][:, None], merits[0][:, None], -np.inf)]
        for step, bit in zip(steps, bits[1:], strict=True):
            passed = (upward[-1][:, :, None] + step[:, None, :]).max(axis=0)
            upward.append(_gathered(passed, bit))
        score = float(upward[-1][:, -1].max())
        if score == -np.inf:
            return None
        full = np.where(every == every[-1], 0.0, -np.inf)
        onward = [np.tile(full, (len(levels[-1].stations), 1))]
        for step, bit in zip(steps[::-1], bits[:0:-1], strict=True):
            left = onward[-1][np.arange(len(bit))[:, None], every | bit[:, None]]
            onward.append((step[:, :, None] + left).max(axis=1))
        through = [(up + on).max(axis=1) for up, on in zip(upward, onward[::-1], strict=True)]
        return _Solved(_traced(levels, steps, bits, onward[::-1]), score, through)

    def _merits(self, levels: list[Seams]) -> list[FloatArray]:
        """What each candidate adds to the score by itself."""
        ends = np.cumsum([len(level.stations) for level in levels])[:-1]
        return np.split(self.scorer.terms(_together(*levels)).sum(axis=0), ends)

    def _steps(self, below: Seams, above: Seams) -> FloatArray:
        """What the piece between two candidates adds; minus infinity where there can be none."""
        lengths = above.stations[None, :] - below.stations[:, None]
        even = self.scorer.evenness(lengths, len(self.windows) - 1)
        return np.where(holds(self.ground, below, above, self.height), even, -np.inf)

    # --- about one chain ----------------------------------------------------------------

    def _climbed(self, chain: Seams, unlike: Sequence[Seams], steps: Sequence[float]) -> Seams:
        """The best chain that small steps lead to, neighbours moving at once, ever finer."""
        score = -np.inf
        for step in steps:
            while True:
                levels = [self._about(chain, number, step) for number in range(len(self.windows))]
                found = self._solve(levels, unlike)
                assert found is not None
                if found.score <= score + _BETTER:
                    break
                chain, score = found.chain, found.score
        return chain

    def _about(self, chain: Seams, number: int, step: float) -> Seams:
        near = _within(self.windows[number], chain.stations[number] + step * _OFFSETS)
        return _together(near, _one_of(chain, number))

    def _all_exact(self, chosen: Seams, unlike: Sequence[Seams]) -> Seams | None:
        """The best chain nearby with all seams on 1/1024ths of a millimetre; None: there is none.

        Seams that the height holds at arm's length lose up to one step each, so the last may lose
        as many as there are. Where a window has no
        such station, its seam stays.
        """
        levels, reach = [], len(self.windows) + _BEYOND
        for number, window in enumerate(self.windows):
            about = np.round(chosen.stations[number] * _EXACT) / _EXACT
            near = _within(window, about + np.arange(-reach, reach + 1.0) / _EXACT)
            levels.append(near if len(near.stations) else _one_of(chosen, number))
        found = self._solve(levels, unlike)
        return None if found is None else found.chain

    def _made_exact(self, chosen: Seams, unlike: Sequence[Seams]) -> Seams:
        """Free seams brought to the nearest 1/1024 mm where the plan still holds.

        From the high end down and up again: one that moves may make room for its neighbour.
        """
        stations = chosen.stations.copy()
        free = range(1, len(stations) - 1)
        for number in (*reversed(free), *free):
            steps = stations[number] * _EXACT
            for exact in sorted((np.floor(steps), np.ceil(steps)), key=lambda k: abs(k - steps)):
                trial = stations.copy()
                trial[number] = exact / _EXACT
                if self._still_holds(Seams(trial, chosen.home), number, unlike):
                    stations = trial
                    break
        return Seams(stations, chosen.home)

    def _still_holds(self, seams: Seams, number: int, unlike: Sequence[Seams]) -> bool:
        """Whether a moved seam still lies in its window and between its neighbours."""
        station, window = seams.stations[number], self.windows[number]
        inside = (window.low <= station) & (station <= window.high)
        if not (inside & (window.home == seams.home[number])).any():
            return False
        if not all((np.abs(seams.stations - o.stations) >= APART - GRAIN).any() for o in unlike):
            return False
        three = [_one_of(seams, near) for near in (number - 1, number, number + 1)]
        return all(
            bool(holds(self.ground, below, above, self.height).all())
            for below, above in pairwise(three)
        )


def some_chain(ground: Ground, windows: list[Runs], height: float) -> Seams:
    """One seam from each window, low end first, that hold together: in the middle of wide runs."""
    end = windows[-1]
    chain = [(float(end.low[0]), int(end.home[0]))]
    for window in windows[-2::-1]:
        station, home = chain[-1]
        point = Runs(np.array([station]), np.array([station]), np.array([home]))
        below = common_runs(window, reach_down(ground, point, height))
        widest = int((below.high - below.low).argmax())
        middle = (below.low[widest] + below.high[widest]) / 2.0
        chain.append((float(middle), int(below.home[widest])))
    stations, homes = zip(*chain[::-1], strict=True)
    return Seams(np.array(stations), np.array(homes))


def holds(ground: Ground, below: Seams, above: Seams, height: float) -> BoolArray:
    """Whether each seam of `above` can be the next over each of `below`."""
    tops = below.stations + ground.zone_at(below.stations, below.home)
    tips = above.stations + ground.stands[above.home]
    feet = above.stations - ground.below[above.home]
    fits = tips[None, :] - below.stations[:, None] <= height + GRAIN
    apart = feet[None, :] >= tops[:, None] + SEAM_GAP - GRAIN
    held: BoolArray = fits & apart
    if ground.gate[-1] > _NO_GATES:
        held &= may_follow(ground.gate[below.home][:, None], ground.gate[above.home][None, :])
    return held


def _first_step(window: Runs) -> float:
    """The finest power of two, mm, that asks for no more candidates than can be weighed."""
    total = float((window.high - window.low).sum())
    step = 1.0 / _EXACT
    while step < _COARSEST and total > step * _MOST_CANDIDATES:
        step *= 2.0
    return step


def _within(window: Runs, stations: FloatArray) -> Seams:
    """The stations that lie in a window's runs."""
    stations = np.unique(stations)
    inside = (stations[:, None] >= window.low) & (stations[:, None] <= window.high)
    which, run = inside.nonzero()
    return Seams(stations[which], window.home[run])


def _ends_of(window: Runs) -> Seams:
    return Seams(np.concatenate([window.low, window.high]), np.tile(window.home, 2))


def _one_of(chain: Seams, number: int) -> Seams:
    return Seams(chain.stations[[number]], chain.home[[number]])


def _together(*seams: Seams) -> Seams:
    return Seams(
        np.concatenate([one.stations for one in seams]), np.concatenate([one.home for one in seams])
    )


def _unlike_bits(level: Seams, number: int, unlike: Sequence[Seams]) -> IntArray:
    """(n,) a bit for each other chain whose seam of this number lies far enough off."""
    bits = np.zeros(len(level.stations), np.int64)
    for bit, other in enumerate(unlike):
        bits |= (np.abs(level.stations - other.stations[number]) >= APART - GRAIN) << bit
    return bits


def _gathered(passed: FloatArray, bits: IntArray) -> FloatArray:
    """(n, masks) the best for each candidate with its own bits added to those (masks, n) before."""
    every = np.arange(len(bits))
    gathered = np.full(passed.shape[::-1], -np.inf)
    for mask, values in enumerate(passed):
        target = mask | bits
        gathered[every, target] = np.maximum(gathered[every, target], values)
    return gathered


def _traced(
    levels: list[Seams], steps: list[FloatArray], bits: list[IntArray], onward: list[FloatArray]
) -> Seams:
    """The best chain, from what the best onward of every candidate scores."""
    picks, mask = [0], int(bits[0][0])
    for step, bit, values in zip(steps, bits[1:], onward[1:], strict=True):
        left = step[picks[-1]] + values[np.arange(len(bit)), mask | bit]
        picks.append(int(left.argmax()))
        mask |= int(bit[picks[-1]])
    pairs = list(zip(levels, picks, strict=True))
    return Seams(
        np.array([level.stations[pick] for level, pick in pairs]),
        np.array([level.home[pick] for level, pick in pairs]),
    )
