"""All pieces on as few beds as possible, tall with tall."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from ..errors import TooWide
from ..values import FloatArray
from .bed import Bed, BedItem, Placed
from .filling import (
    Candidate,
    FillingBed,
    Floor,
    Preference,
    Stood,
    along_border,
    bottom_left,
    fill_beds,
    left_bottom,
    towards_corner,
)
from .least_beds import floor_room, least_beds, least_height, widened_area
from .stance import Stance, inner_radius, outer_radius, stances_on

PREFERENCES: tuple[Preference, ...] = (bottom_left, left_bottom, towards_corner, along_border)

Order = list[tuple[Candidate, Preference]]

HEIGHT_SHARES = (1.0, 0.0, 0.75, 0.5)
"""By how much an order goes by rank in height, the rest by rank in area."""

LEAST_TRIES = 2
"""Both by height and by area, however many pieces there are."""

MOST_WORK = 400.0, 80.0, 2500.0
"""Pieces tried on beds, after which no further order is tried: so many, more for each piece,
and never more."""

PLACE_STEP = 2.0**-15
"""Places are whole multiples of this, mm: up to 512 mm float32 holds them exactly, and so do
readers of bed files that keep motions as float32."""

_ROUND_OFF = 1e-6
"""Of a step: what reckoning may leave over a place that is on one."""


def pack_beds(
    items: Sequence[BedItem], floor: tuple[float, float], spacing: float
) -> tuple[Bed, ...]:
    """Place pieces on beds: fewest beds, then the least sum of the beds' heights.

    Pieces go one after another where the first bed has a place, as far to one
    side or corner as the pieces already there allow (bottom-left placement; the
    places are the corners of the space that no-fit polygons leave free). The
    first order is by falling height, so that tall stands with tall and short
    pieces are not held up; the next is by area; then pieces that opened a bed come
    earlier in the next try. It ends when a lower bound is met or after a
    fixed amount of work. So few beds are found, not proven, unless the bound is met.

    Parameters
    ----------
    items : in the order of assembly; names need not differ
    floor : mm, x and y; passed by at most `FIT_SLACK`, and that only by a piece as wide itself
    spacing : mm, least distance of two outlines on a bed

    Returns
    -------
    tuple[Bed, ...] : in the order of their first pieces; on each the pieces in the order given,
        as a group in the middle of the floor

    Raises
    ------
    TooWide : a piece fits the floor at no turn

    References
    ----------
    B. S. Baker, E. G. Coffman, R. L. Rivest (1980), "Orthogonal packings in two dimensions",
    SIAM J. Comput. 9(4): bottom-left placement. M. Adamowicz, A. Albano (1976), "Nesting
    two-dimensional shapes in rectangular modules", Computer-Aided Design 8(1): no-fit polygons.
    D. E. Joslin, D. P. Clements (1999), "Squeaky wheel optimization", J. Artificial
    Intelligence Research 10: what had it worst comes earlier next time. (From memory.)
    """
    if not items:
        return ()
    beds = _best_filling(items, _candidates(items, floor, spacing), floor, spacing)
    beds.sort(key=lambda bed: min(one.candidate.number for one in bed.stood))
    return tuple(_bed(bed, items, np.array(floor)) for bed in beds)


def _candidates(
    items: Sequence[BedItem], floor: tuple[float, float], spacing: float
) -> list[Candidate]:
    kinds: dict[bytes, int] = {}
    stances: list[tuple[Stance, ...]] = []
    found = []
    for number, item in enumerate(items):
        kind = kinds.setdefault(item.outline.tobytes(), len(kinds))
        if kind == len(stances):
            stances.append(_stances(item, floor))
        found.append(
            Candidate(
                number=number,
                kind=kind,
                stances=stances[kind],
                area=widened_area(item.outline, spacing),
                inner=inner_radius(item.outline),
                outer=outer_radius(item.outline),
                height=item.height,
            )
        )
    return found


def _stances(item: BedItem, floor: tuple[float, float]) -> tuple[Stance, ...]:
    try:
        return stances_on(item.outline, floor)
    except TooWide as problem:
        raise TooWide(
            f"{item.name} on the bed: {problem.found}", problem.needed, problem.remedy
        ) from problem


def _best_filling(
    items: Sequence[BedItem],
    candidates: Sequence[Candidate],
    size: tuple[float, float],
    spacing: float,
) -> list[FillingBed]:
    """The best of several orders and preferences, until none can be better or work is up."""
    falling = sorted(candidates, key=lambda one: (-one.height, -one.area, one.number))
    needed = least_beds([items[one.number] for one in falling], size, spacing)
    heights = np.array([one.height for one in falling])
    least = _cost(int(needed[-1]), least_height(heights, needed, int(needed[-1])))
    floor = Floor(np.array(size), spacing, floor_room(size, spacing))
    search = _Search(falling)
    some, each, most = MOST_WORK
    enough = min(some + each * len(falling), most)
    while search.cost > least and (search.tries < LEAST_TRIES or floor.work < enough):
        order = search.next_order()
        search.learn(order, fill_beds(order, floor))
    return search.best


class _Search:
    """Orders to try one after another, and the best filling so far."""

    def __init__(self, falling: list[Candidate]) -> None:
        self.best: list[FillingBed] = []
        self.cost = (len(falling) + 1, math.inf)
        self.tries = 0
        self._rank = {one.number: float(rank) for rank, one in enumerate(falling)}
        self._falling = falling
        self._rng = np.random.default_rng(len(falling))
        self._listed = _listed_orders(falling)

    def next_order(self) -> Order:
        """The listed orders first; then the last one with what had it worst farther in front."""
        listed = next(self._listed, None)
        if listed is not None:
            return listed
        ranked = sorted(self._falling, key=lambda one: self._rank[one.number])
        liked = self._rng.integers(len(PREFERENCES), size=len(ranked))
        one_liking, any_turn = self._rng.random(2) < 0.5
        if one_liking:
            liked[:] = liked[0]
        if not any_turn:
            ranked = [self._at_one_turn(one) for one in ranked]
        return [(one, PREFERENCES[like]) for one, like in zip(ranked, liked, strict=True)]

    def _at_one_turn(self, one: Candidate) -> Candidate:
        turn = int(self._rng.integers(len(one.stances)))
        return replace(one, stances=one.stances[turn : turn + 1])

    def learn(self, order: Order, beds: list[FillingBed]) -> None:
        """Keep beds that are better; bring forward what stands on the emptiest bed."""
        self.tries += 1
        cost = _cost(len(beds), sum(bed.height for bed in beds))
        if cost < self.cost:
            self.best, self.cost = beds, cost
        worst = min(beds, key=lambda bed: bed.area)
        for rank, (one, _) in enumerate(order):
            self._rank[one.number] = rank + self._rng.uniform(-1.0, 1.0)
        for stood in worst.stood:
            self._rank[stood.candidate.number] -= self._rng.uniform(0.0, len(order))


def _cost(beds: int, height: float) -> tuple[int, float]:
    """What is to be least; heights that differ by rounding are equal."""
    return beds, round(height, 6)


def _listed_orders(falling: list[Candidate]) -> Iterator[Order]:
    """By height, by area and by mixtures of these, each with every preference.

    Orders that differ only by which of several equal pieces comes first are one.
    """
    by_area = sorted(falling, key=lambda one: (-one.area, one.number))
    area_rank = {one.number: rank for rank, one in enumerate(by_area)}
    different: dict[tuple[tuple[int, float], ...], list[Candidate]] = {}
    for share in HEIGHT_SHARES:
        ranks = [
            (share * rank + (1.0 - share) * area_rank[one.number], rank)
            for rank, one in enumerate(falling)
        ]
        order = [falling[rank] for _, rank in sorted(ranks)]
        different.setdefault(tuple((one.kind, one.height) for one in order), order)
    for preference in PREFERENCES:
        for order in different.values():
            yield [(one, preference) for one in order]


def _bed(bed: FillingBed, items: Sequence[BedItem], floor: FloatArray) -> Bed:
    """The bed with its pieces in the order given, moved together to the middle, none below 0."""
    stood = sorted(bed.stood, key=lambda one: one.candidate.number)
    moves = np.array([[one.x, one.y] for one in stood])
    low = (moves + [one.stance.low for one in stood]).min(axis=0)
    high = (moves + [one.stance.high for one in stood]).max(axis=0)
    x, y = np.maximum((floor - high - low) / 2.0, -low)
    return Bed(tuple(_placed(one, items, x, y) for one in stood), bed.height)


def _placed(one: Stood, items: Sequence[BedItem], x: float, y: float) -> Placed:
    return Placed(
        name=items[one.candidate.number].name,
        turn=one.stance.turn,
        x=_on_step(float(one.x + x)),
        y=_on_step(float(one.y + y)),
    )


def _on_step(place: float) -> float:
    """The next step up: down, a piece at the floor's edge would stand beside its bed."""
    return math.ceil(place / PLACE_STEP - _ROUND_OFF) * PLACE_STEP
