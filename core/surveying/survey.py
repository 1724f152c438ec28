"""What is this part? Axis, bores, outside, wall, side holes, ornaments."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from ..errors import BadMesh, BadSetting
from ..meshes.mend import MendedBody
from ..meshes.places import bad_mesh, counted, told
from ..meshes.products import columns_along
from ..planning.intervals import Span
from ..values import (
    BORE,
    HIGH_END,
    LOW_END,
    OTHER,
    OUTSIDE,
    ROUND_OFF,
    BoolArray,
    FloatArray,
    Frame,
    IntArray,
    Mesh,
    Ornament,
    RoundSurface,
    Survey,
)
from .bore_openings import ONE_LINE
from .cylinder_fit import frame_rows
from .find_surfaces import FoundPart, find_surfaces
from .labelling import Extent, Regions, Stretch, label_ends, label_round, share_windows
from .openings import find_openings
from .solid_dips import LONG_ORNAMENT
from .solid_walls import solid_spans
from .surface_fit import FoundSurface
from .thin_places import least_beside
from .walls import find_walls

_LEAST_BAND, _MOST_BAND = 0.05, 0.5
"""How far off a surface, mm, vertices may speak for it: not those of the wall's other side."""

_FLAT_TEAR = 0.1
"""A tear no farther off its plane, mm, is flat."""

_AT_END = 0.5
_ALMOST_X_DEG = 1.0
_SAME_COMPONENT = 0.001
_NOISE_REACH = 3.0


def survey_part(body: MendedBody, *, max_move: float, flip: bool = False) -> Survey:
    """Read a sound body in millimetres: what it is, where, and which triangle belongs to what.

    Parameters
    ----------
    body : any pose, mm
    max_move : mm, how far off a surface a vertex may lie and still belong to it
    flip : the other end is the low end

    Raises
    ------
    NotTubular : no straight, round bore, or one that its outside does not surround
    BadSetting : a max_move that could take one side of a wall for the other
    BadMesh : a tear was closed that lies on no surface known, or the mesh passes through itself
    """
    band = max(max_move, ROUND_OFF)
    found = find_surfaces(body.mesh, min(max(max_move, _LEAST_BAND), _MOST_BAND))
    direction = axis_direction(found.direction, flip=flip)
    rows = frame_rows(direction, _reference(direction))
    columns = columns_along(body.mesh.vertices, rows, found.point)
    stretches = _stretches(found, rows, max_move)
    regions, extents, shared = label_round(columns, body.mesh.triangles, stretches, band)
    labels = regions.labels.copy()
    low, high = label_ends(columns, body.mesh.triangles, labels, band, stretches)
    frame = Frame(found.point + low * rows[2], rows)
    columns[2] -= low
    part = Mesh(np.column_stack(columns), body.mesh.triangles)
    regions = Regions(labels, regions.numbers)
    seen = [
        _as_seen(stretch.surface, extent, low, high - low)
        for stretch, extent in zip(stretches, extents, strict=True)
    ]
    return _describe(body, part, regions, shared, frame, high - low, seen, found, band)


def axis_direction(direction: FloatArray, *, flip: bool) -> FloatArray:
    """The axis with its component of largest magnitude positive (the first of equals)."""
    sizes = np.abs(direction)
    leading = int(np.flatnonzero(sizes >= sizes.max() - _SAME_COMPONENT)[0])
    sign = math.copysign(1.0, direction[leading]) * (-1.0 if flip else 1.0)
    return direction * sign


def _reference(direction: FloatArray) -> FloatArray:
    """Source x, or y where the axis runs along x."""
    across_x = math.degrees(math.acos(min(1.0, abs(float(direction[0])))))
    reference: FloatArray = np.eye(3)[1 if across_x < _ALMOST_X_DEG else 0]
    return reference


def _stretches(found: FoundPart, rows: FloatArray, max_move: float) -> list[Stretch]:
    """The surfaces found, about the part's axis, outsides first: a bore's label wins."""
    stretches = []
    for label, surfaces in ((OUTSIDE, found.outsides), (BORE, found.bores)):
        placed = _on_lines([_placed(surface, found.point, rows) for surface in surfaces])
        windows = share_windows(placed)
        for number, (surface, place, window) in enumerate(
            zip(surfaces, placed, windows, strict=True)
        ):
            stretches.append(Stretch(label, number, place, window, surface.facet_angle))
    _check_reach(stretches, max_move)
    return stretches


def _on_lines(surfaces: list[RoundSurface]) -> list[RoundSurface]:
    """The surfaces; of those about one centre line all have its offset, to the last bit."""
    lines, placed = [(0.0, 0.0)], []
    for surface in surfaces:
        apart = [math.dist(line, surface.offset) for line in lines]
        nearest = apart.index(min(apart))
        if apart[nearest] >= ONE_LINE:
            nearest = len(lines)
            lines.append(surface.offset)
        placed.append(replace(surface, offset=lines[nearest]))
    return placed


def _placed(found: FoundSurface, point: FloatArray, rows: FloatArray) -> RoundSurface:
    """A found surface about the part's axis; stations count from `point`."""
    cone = found.cone
    centre = rows @ (cone.point - point)
    turn = math.copysign(1.0, float(cone.direction @ rows[2]))
    ends = sorted(turn * (end - float(point @ cone.direction)) for end in (found.low, found.high))
    slope = turn * cone.slope
    return RoundSurface(
        radius_at_zero=cone.radius_at_point - slope * float(centre[2]),
        slope=slope,
        start=ends[0],
        stop=ends[1],
        offset=(float(centre[0]), float(centre[1])),
        rms=cone.rms_residual,
        sagitta=found.sagitta_share * cone.radius_at_point + _NOISE_REACH * cone.rms_residual,
    )


def _check_reach(stretches: list[Stretch], max_move: float) -> None:
    """Bore and outside must not both be within max_move of one point."""
    for outside in (stretch.surface for stretch in stretches if stretch.label == OUTSIDE):
        for bore in (stretch.surface for stretch in stretches if stretch.label == BORE):
            low, high = max(bore.start, outside.start), min(bore.stop, outside.stop)
            if low >= high:
                continue
            wall = min(outside.radius_at(z) - bore.radius_at(z) for z in (low, high))
            if 2.0 * max_move > wall > 0.0:
                raise BadSetting(
                    f"a --max-move of {max_move:.3f} mm in a wall of some {wall:.2f} mm",
                    "less than half of the wall",
                    f"--max-move {math.floor(wall * 50.0 - 1.0) / 100.0:.2f} or less",
                )


def _as_seen(surface: RoundSurface, extent: Extent, low: float, length: float) -> RoundSurface:
    """A surface over the stretch of its triangles, stations from the low end."""
    return replace(
        surface,
        radius_at_zero=surface.radius_at_zero + surface.slope * low,
        start=max(0.0, extent.low - low),
        stop=min(length, extent.high - low),
        widest=extent.widest,
    )


def _describe(
    body: MendedBody,
    part: Mesh,
    regions: Regions,
    shared: BoolArray,
    frame: Frame,
    length: float,
    seen: list[RoundSurface],
    found: FoundPart,
    band: float,
) -> Survey:
    outsides, bores = tuple(seen[: len(found.outsides)]), tuple(seen[len(found.outsides) :])
    openings = find_openings(part, regions, shared, bores, outsides, length, band)
    _check_sheets(frame.to_source(openings.passing))
    _check_crossings(frame.to_source(openings.crossed.spoiling))
    regions = Regions(openings.labels, openings.numbers)
    check_tears(body, regions.labels)
    ornaments = (
        *(_told_apart(ornament) for ornament in openings.ornaments),
        *openings.crossed.keep_off,
    )
    solids = solid_spans(bores, length, _stations(found, frame, found.solid_at))
    gaps = _stations(found, frame, found.gaps)
    walls = find_walls(part, regions, bores, outsides, ornaments, solids, gaps)
    thin = (part, regions, openings.loose, openings.in_holes, bores, outsides, length)
    least = min(walls.least, least_beside(*thin)) if bores else walls.least
    stations = np.ascontiguousarray(part.vertices[:, 2])
    outside_remark = f"The outside is not round ({found.outside_words}): its wall is measured."
    return Survey(
        mesh=part,
        labels=regions.labels,
        numbers=regions.numbers,
        at_borders=openings.at_borders,
        frame=frame,
        length=length,
        bores=bores,
        outsides=outsides,
        walls=walls.stretches,
        side_holes=openings.side_holes,
        ornaments=tuple(sorted((*ornaments, *walls.dips), key=lambda one: (one.start, one.stop))),
        wall_least=least,
        wall_median=walls.median,
        remarks=(
            *body.remarks,
            *found.remarks,
            *(() if outsides else (outside_remark,)),
            *_split_remarks(walls.split, length),
            *_crossing_remarks(frame.to_source(openings.crossed.apart)),
        ),
        beyond_ends=_beyond_flat(part, stations, length, regions.labels),
        beyond_rough_ends=_beyond(stations, length),
    )


def _stations(found: FoundPart, frame: Frame, along: FloatArray) -> FloatArray:
    """Stations of what was seen so far along the axis from its point."""
    points = found.point + along[:, None] * found.direction
    stations: FloatArray = frame.to_part(points)[:, 2]
    return stations


def _split_remarks(split: tuple[Span, ...], length: float) -> tuple[str, ...]:
    """Holes through the solid: what reaches an end is no hole."""
    return tuple(
        f"A hole through the solid part, from {low:.1f} to {high:.1f} mm, opens no bore."
        for low, high in split
        if low > _AT_END and high < length - _AT_END
    )


def _check_sheets(passing: FloatArray) -> None:
    if len(passing):
        raise bad_mesh(
            f"a mesh that passes through itself: {counted(len(passing), 'corner', 'corners')} of "
            "one side of the wall beyond its other side",
            passing,
            "0 such corners: sheets that do not cross",
            "mend the mesh there and run again",
        )


def _check_crossings(crossings: FloatArray) -> None:
    if len(crossings):
        raise bad_mesh(
            f"a mesh that passes through itself: {counted(len(crossings), 'crossing', 'crossings')}"
            " at a bore, a side hole or an end",
            crossings,
            "0 crossings there: sheets that do not cross",
            "mend the mesh there and run again",
        )


def _crossing_remarks(crossings: FloatArray) -> tuple[str, ...]:
    if not len(crossings):
        return ()
    what = "of the mesh with itself, left as found: no seam comes near, but look at the print there"
    return (told(crossings, "crossing", "crossings", what),)


def _told_apart(ornament: Ornament) -> Ornament:
    """Long features of the outside are of its own place: flats, ribs, keyways along it."""
    if ornament.place == "outside" and ornament.stop - ornament.start > LONG_ORNAMENT:
        return replace(ornament, place="along")
    return ornament


def check_tears(body: MendedBody, labels: IntArray) -> None:
    """A tear that is not flat may be closed only where all of it lies on one known surface.

    labels : (m,) int, of the triangles, as in `Survey`

    Raises
    ------
    BadMesh : one that does not
    """
    for number, tear in enumerate(body.tears):
        on_it = np.unique(labels[body.fills == number])
        if tear.flatness <= _FLAT_TEAR or (len(on_it) == 1 and on_it[0] != OTHER):
            continue
        raise BadMesh(
            f"a tear of {tear.edges} edges about ({', '.join(f'{v:.3f}' for v in tear.place)}), "
            f"{tear.size:.2f} mm across, {tear.flatness:.2f} mm out of flat, on no round surface",
            "a tear on a round surface, or one that is flat to 0.10 mm",
            "close the tear there and run again",
            (tear.place,),
        )


def _beyond_flat(
    part: Mesh, stations: FloatArray, length: float, labels: IntArray
) -> tuple[float, float]:
    """How far, mm, the part reaches past the low and the high end once flat ends are planes.

    stations : (n,) of the vertices
    labels : of the triangles; the corners of flat ends do not count, which lie on their planes
    """
    past = (stations < 0.0) | (stations > length)
    flat = part.triangles[(labels == LOW_END) | (labels == HIGH_END)]
    past[flat.ravel()] = False
    return _beyond(stations[past], length)


def _beyond(stations: FloatArray, length: float) -> tuple[float, float]:
    """How far, mm, any of some stations lies past the low and the high end."""
    low, high = float(stations.min(initial=0.0)), float(stations.max(initial=length))
    return max(0.0, -low), max(0.0, high - length)
