"""Vertices and triangles added to a piece."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from ..meshes.ear_clipping import clip_ears
from ..meshes.polygon import doubled_areas, signed_area, stitch, unfold, zip_chains
from ..meshes.section_filling import fill_section
from ..values import FloatArray, IntArray


class FaceBuilder:
    """A piece's vertices near joints, and what is added to them.

    Rings and chains are vertex numbers that run with growing angle (counter-clockwise from above).
    """

    def __init__(self, vertices: FloatArray) -> None:
        self.vertices = vertices
        self.faces: list[IntArray] = []

    def ring(self, points: FloatArray) -> IntArray:
        """Numbers of new vertices."""
        numbers = len(self.vertices) + np.arange(len(points))
        self.vertices = np.vstack([self.vertices, points])
        return numbers

    def quads(self, first: IntArray, second: IntArray, *, closed: bool, up: bool) -> None:
        """Faces between two rings with as many corners; `up` as in `band`."""
        if closed:
            first, second = np.append(first, first[0]), np.append(second, second[0])
        a, b, c, d = first[:-1], first[1:], second[1:], second[:-1]
        self._take(np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])]), up=up)

    def band(
        self,
        first: IntArray,
        second: IntArray,
        centre: tuple[float, float],
        *,
        closed: bool,
        up: bool,
    ) -> None:
        """Triangles between two rings about a centre.

        up : it shows the side from which the first ring is seen below, angles growing
            to the right
        """
        arms = [self.vertices[chain, :2] - np.array(centre) for chain in (first, second)]
        angles = [np.arctan2(arm[:, 1], arm[:, 0]) for arm in arms]
        numbers = np.concatenate([first, second])
        self._take(numbers[stitch(*angles, closed=closed)], up=up)

    def cone(
        self,
        outer: IntArray,
        inner: IntArray,
        centre: tuple[float, float],
        *,
        closed: bool,
        up: bool,
    ) -> None:
        """Triangles between an outer ring and an inner one that seen from above lie within it.

        up : it faces up
        """
        numbers = np.concatenate([outer, inner])
        points = self.vertices[numbers, :2] - np.array(centre)
        angles = np.arctan2(points[:, 1], points[:, 0])
        strip = stitch(angles[: len(outer)], angles[len(outer) :], closed=closed)
        self._take(numbers[unfold(points, strip, len(outer))], up=up)

    def section(self, rings: list[IntArray], *, up: bool) -> None:
        """A level face; rings run counter-clockwise around it and clockwise around holes."""
        self._take(fill_section(self.vertices[:, :2], rings), up=up)

    def plane(self, outline: IntArray, *, up: bool) -> None:
        """A plane face that is not upright; its outline runs counter-clockwise from above."""
        self._take(outline[np.array(clip_ears(self.vertices[outline, :2]))], up=up)

    def between(self, first: IntArray, second: IntArray, *, up: bool) -> None:
        """A plane face that rises from the chains' starts to their ends, the first on its right.

        Its steps go by height, unless that folds it.
        """
        numbers = np.concatenate([first, second])
        faces = numbers[zip_chains(*(self.vertices[chain, 2] for chain in (first, second)))]
        if doubled_areas(self.vertices[:, :2], faces).min() > 0.0:
            self._take(faces, up=up)
        else:
            self.plane(np.concatenate([first, second[::-1]]), up=up)

    def fan(self, ring: IntArray, top: tuple[float, float, float], *, up: bool) -> None:
        """Triangles from a ring to a new vertex over its middle."""
        (apex,) = self.ring(np.array([top]))
        ahead = np.roll(ring, -1)
        self._take(np.column_stack([ring, ahead, np.full(len(ring), apex)]), up=up)

    def upright(
        self, outline: IntArray, centre: tuple[float, float], angle: float, *, up: bool
    ) -> None:
        """A radial face at an angle; `up` shows the side from which angles grow."""
        corners = self.vertices[outline] - np.array([*centre, 0.0])
        reach = corners[:, 0] * np.cos(angle) + corners[:, 1] * np.sin(angle)
        points = np.column_stack([reach, corners[:, 2]])
        if signed_area(points) < 0.0:
            outline, points = outline[::-1], points[::-1]
        self._take(outline[np.array(clip_ears(points))], up=up)

    def upright_face(self, corners: list[np.int64]) -> None:
        """A plane, convex face, its corners counter-clockwise seen from outside."""
        first, *rest = corners
        faces = [(first, one, other) for one, other in pairwise(rest)]
        self._take(np.array(faces, np.int64), up=True)

    def _take(self, faces: IntArray, *, up: bool) -> None:
        a, b, c = faces.T
        whole = faces[(a != b) & (b != c) & (c != a)]
        self.faces.append(whole if up else whole[:, ::-1])
