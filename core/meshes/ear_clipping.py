"""Triangles of a simple polygon, by cutting off ears, the roundest first."""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable

from ..values import FloatArray

Triple = tuple[int, int, int]
Taken = Callable[[int, int], bool]

FLAT = 1e-4
"""A corner this near to the line past it, mm, lies on it but for float32 rounding."""


def clip_ears(points: FloatArray, taken: Taken | None = None) -> list[Triple]:
    """Triangles of a simple polygon.

    Parameters
    ----------
    points : (n, 2) float, mm, counter-clockwise; may touch itself along bridges
    taken : whether two corners already have an edge elsewhere, so that another
        between them would be a third sheet; no cut is made there

    Returns
    -------
    n - 2 triples of indices, counter-clockwise. Where rounding leaves no true
    ear, the corner that is least turned inside out is cut, so that the surface
    still closes.
    """
    return _Ring(points, taken).clip()


class _Ring:
    """The corners left, linked in a ring, and a heap of those that may be ears.

    Corners beside one that lies on a straight line come first, so that no three
    corners in line are left for last.
    """

    def __init__(self, points: FloatArray, taken: Taken | None) -> None:
        self.count = len(points)
        self.x: list[float] = points[:, 0].tolist()
        self.y: list[float] = points[:, 1].tolist()
        self.taken = taken
        self.before = [self.count - 1, *range(self.count - 1)]
        self.after = [*range(1, self.count), 0]
        self.roundness = [0.0] * self.count
        self.height = [0.0] * self.count
        self.blunt: set[int] = set()
        for corner in range(self.count):
            self._measure(corner)
        self.version = [0] * self.count
        self.heap: list[tuple[bool, float, int, int]] = []
        for corner in range(self.count):
            self._offer(corner)

    def clip(self) -> list[Triple]:
        triangles: list[Triple] = []
        passed_over: list[int] = []
        while len(triangles) < self.count - 3:
            corner = self._next_ear(passed_over)
            triangles.append((self.before[corner], corner, self.after[corner]))
            self._cut(corner)
        last = self.before[triangles[-1][2]] if triangles else 0
        triangles.append((self.before[last], last, self.after[last]))
        return triangles

    def _next_ear(self, passed_over: list[int]) -> int:
        """The best true ear; those passed over are asked again when none is left."""
        fresh = True
        while True:
            while self.heap:
                _, _, version, corner = heapq.heappop(self.heap)
                if version != self.version[corner] or corner in self.blunt:
                    continue
                if self._is_open(corner):
                    return corner
                passed_over.append(corner)
            if not fresh or not passed_over:
                return self._last_resort()
            fresh = False
            for corner in passed_over:
                if self.version[corner] >= 0:
                    self._offer(corner)
            passed_over.clear()

    def _cut(self, corner: int) -> None:
        before, after = self.before[corner], self.after[corner]
        self.after[before], self.before[after] = after, before
        self.version[corner] = -1
        self.blunt.discard(corner)
        self._measure(before)
        self._measure(after)
        for changed in {before, after, self.before[before], self.after[after]}:
            self._offer(changed)

    def _offer(self, corner: int) -> None:
        before, after = self.height[self.before[corner]], self.height[self.after[corner]]
        flat = abs(before) < FLAT or abs(after) < FLAT
        self.version[corner] += 1
        entry = (not flat, -self.roundness[corner], self.version[corner], corner)
        heapq.heappush(self.heap, entry)

    def _measure(self, corner: int) -> None:
        """How round a corner's ear is, and how far it stands off the line past it."""
        a, c = self.before[corner], self.after[corner]
        x, y = self.x[corner], self.y[corner]
        arm_x, arm_y, on_x, on_y = x - self.x[a], y - self.y[a], self.x[c] - x, self.y[c] - y
        closing_x, closing_y = arm_x + on_x, arm_y + on_y
        area = arm_x * on_y - arm_y * on_x
        cut = closing_x * closing_x + closing_y * closing_y
        longest = max(arm_x * arm_x + arm_y * arm_y, on_x * on_x + on_y * on_y, cut)
        self.roundness[corner] = area / max(longest, 1e-300)
        self.height[corner] = area / max(math.sqrt(cut), 1e-300)
        if self.height[corner] < FLAT:
            self.blunt.add(corner)
        else:
            self.blunt.discard(corner)

    def _is_open(self, corner: int) -> bool:
        """No other corner lies in the ear, and its cut is no edge elsewhere."""
        a, c = self.before[corner], self.after[corner]
        if self.taken is not None and self.taken(a, c):
            return False
        ax, ay, bx, by = self.x[a], self.y[a], self.x[corner], self.y[corner]
        cx, cy = self.x[c], self.y[c]
        own = {(ax, ay), (bx, by), (cx, cy)}
        for other in self.blunt:
            x, y = self.x[other], self.y[other]
            if (
                (bx - ax) * (y - ay) - (by - ay) * (x - ax) >= 0.0
                and (cx - bx) * (y - by) - (cy - by) * (x - bx) >= 0.0
                and (ax - cx) * (y - cy) - (ay - cy) * (x - cx) >= 0.0
                and (x, y) not in own
            ):
                return False
        return True

    def _last_resort(self) -> int:
        """A corner that lies in line with its neighbours; else the least turned inside out."""
        left = [corner for corner in range(self.count) if self.version[corner] >= 0]
        in_line = [c for c in left if abs(self.height[c]) < FLAT and self._is_open(c)]
        if in_line:
            return max(in_line, key=lambda corner: self.height[corner])
        fresh = [
            corner
            for corner in left
            if self.taken is None or not self.taken(self.before[corner], self.after[corner])
        ]
        return max(fresh or left, key=lambda corner: self.roundness[corner])
