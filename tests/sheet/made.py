"""A finished job as its folder has it: the document, and its pieces measured with trimesh.

Nothing here comes from the code that made them. Widths are read as a caliper reads them, between
two parallel jaws; stations go by the poses that the document gives to the pieces' files.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import trimesh
from manifold3d import CrossSection
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Made:
    """A folder with one part's job."""

    folder: Path

    @cached_property
    def job(self) -> Any:
        return json.loads((self.folder / "job.json").read_text(encoding="utf-8"))

    @cached_property
    def part(self) -> Any:
        (part,) = self.job["parts"]
        return part

    @property
    def settings(self) -> Any:
        return self.job["settings"]

    @property
    def survey(self) -> Any:
        return self.part["survey"]

    @property
    def joints(self) -> list[Any]:
        joints: list[Any] = self.part["joints"]
        return joints

    @cached_property
    def bodies(self) -> list[Any]:
        return [piece for piece in self.part["pieces"] if piece["role"] == "piece"]

    @cached_property
    def names(self) -> set[str]:
        """Of the part, its pieces and their files."""
        told = {self.part["name"], *(bed["file"] for bed in self.job["beds"])}
        if self.job["trial"]:
            told |= {self.job["trial"]["file"], Path(self.job["trial"]["file"]).stem}
        return told | {piece["name"] for piece in self.part["pieces"]}

    @cached_property
    def meshes(self) -> dict[str, trimesh.Trimesh]:
        files = {piece["name"]: piece["file"] for piece in self.part["pieces"]}
        if self.job["trial"]:
            file = self.job["trial"]["file"]
            files[Path(file).stem] = file
        return {name: trimesh.load(self.folder / file) for name, file in files.items()}

    def piece(self, name: str) -> Any:
        (found,) = [piece for piece in self.part["pieces"] if piece["name"] == name]
        return found

    def mesh(self, piece: Any) -> trimesh.Trimesh:
        return self.meshes[piece["name"]]

    def height(self, name: str) -> float:
        return float(np.ptp(self.meshes[name].vertices[:, 2]))

    @cached_property
    def spans(self) -> list[tuple[float, float]]:
        """Of each body, from which to which station it reaches once all are put together."""
        axis = np.array(self.survey["axis"]["direction"])
        reach = []
        for piece in self.bodies:
            motion = np.array(piece["to_source"])
            placed = self.mesh(piece).vertices / piece["scale"] @ motion[:3, :3].T + motion[:3, 3]
            reach.append(((placed @ axis).min(), (placed @ axis).max()))
        low = reach[0][0]
        return [(float(start - low), float(stop - low)) for start, stop in reach]

    @cached_property
    def seams(self) -> list[float]:
        """Stations of the seams: where the upper piece begins."""
        return [start for start, _ in self.spans[1:]]

    def shoulder(self, number: int) -> float:
        """Height, mm over the bed, of the seam of a joint (from 1) on its lower piece."""
        lower = self.bodies[number - 1]
        return float((self.seams[number - 1] - self.spans[number - 1][0]) * lower["scale"])

    def pair(self, number: int) -> tuple[trimesh.Trimesh, trimesh.Trimesh]:
        """The pieces under and over a joint, from 1."""
        lower, upper = list(pairwise(self.bodies))[number - 1]
        return self.mesh(lower), self.mesh(upper)

    def ring(self, number: int) -> trimesh.Trimesh:
        """The collar of a joint, from 1."""
        rings = [piece for piece in self.part["pieces"] if piece["role"] != "piece"]
        return self.mesh(rings[number - 1])

    @cached_property
    def frame(self) -> FloatArray:
        """(3, 3) rows: reference, its left-hand normal, axis, in the source's coordinates.

        The reference is the source's +x, square to the axis; +y where the axis is within 1 degree
        of x.
        """
        axis = np.array(self.survey["axis"]["direction"])
        along = np.eye(3)[1 if abs(axis[0]) > math.cos(math.radians(1.0)) else 0]
        reference = along - (along @ axis) * axis
        reference /= np.linalg.norm(reference)
        return np.array([reference, np.cross(axis, reference), axis])

    def across(self, piece: Any, points: FloatArray) -> FloatArray:
        """(n, 2) mm, along the reference and its normal, of points (n, 3) of a piece's file."""
        motion, point = np.array(piece["to_source"]), np.array(self.survey["axis"]["point"])
        placed = points / piece["scale"] @ motion[:3, :3].T + motion[:3, 3] - point
        seen: FloatArray = placed @ self.frame[:2].T
        return seen

    def in_file(self, piece: Any, offset: tuple[float, float]) -> FloatArray:
        """(2,) mm, where a line along the axis, off it by so much, stands in a piece's file."""
        motion, point = np.array(piece["to_source"]), np.array(self.survey["axis"]["point"])
        place = point + np.array(offset) @ self.frame[:2]
        found: FloatArray = (np.linalg.inv(motion) @ np.append(place, 1.0))[:2] * piece["scale"]
        return found

    def is_collared(self, number: int) -> bool:
        return "collar_thickness" in self.joints[number - 1]

    def is_twin(self, number: int) -> bool:
        return len(self.joints[number - 1]["bores"]) > 1


def cut_at(mesh: trimesh.Trimesh, height: float) -> FloatArray:
    """(n, 2, 2) mm, what a level plane leaves of a mesh, as single lines."""
    lines = trimesh.intersections.mesh_plane(mesh, (0.0, 0.0, 1.0), (0.0, 0.0, height))
    cut: FloatArray = np.asarray(lines)[:, :, :2]
    return cut


def middle_of(mesh: trimesh.Trimesh, height: float) -> FloatArray:
    """Of the box about a cut, mm: the axis of what is round outside there."""
    points = cut_at(mesh, height).reshape(-1, 2)
    middle: FloatArray = (points.min(axis=0) + points.max(axis=0)) / 2.0
    return middle


def between_jaws(points: FloatArray) -> float:
    """The least reading of a caliper turned about some points."""
    angles = np.linspace(0.0, np.pi, 3600, endpoint=False)
    along = points @ np.array([np.cos(angles), np.sin(angles)])
    return float(np.ptp(along, axis=0).min())


def nearest(lines: FloatArray, centre: FloatArray) -> float:
    """The least distance from a point to lines."""
    start, way = lines[:, 0], lines[:, 1] - lines[:, 0]
    share = ((centre - start) * way).sum(axis=1) / np.maximum((way**2).sum(axis=1), 1e-30)
    feet = start + np.clip(share, 0.0, 1.0)[:, None] * way
    return float(np.hypot(*(feet - centre).T).min())


def apart(one: trimesh.Trimesh, other: trimesh.Trimesh) -> float:
    """Between the convex shadows of two meshes on the bed, mm."""
    outlines = [_shadow(mesh) for mesh in (one, other)]
    return min(
        nearest(_sides(outlines[1 - which]), corner)
        for which in (0, 1)
        for corner in outlines[which]
    )


def _shadow(mesh: trimesh.Trimesh) -> FloatArray:
    """Corners of the hull about a mesh seen from above, in order around."""
    (outline,) = CrossSection.hull_points(mesh.vertices[:, :2]).to_polygons()
    return np.array(outline)


def _sides(outline: FloatArray) -> FloatArray:
    return np.stack([outline, np.roll(outline, -1, axis=0)], axis=1)


def turn(one: float, other: float) -> float:
    """Degrees from one angle to another, the short way."""
    return abs(math.remainder(one - other, 360.0))
