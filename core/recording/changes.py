"""What moved between two jobs, in sentences, from their records.

A length is told as moved from half of the last digit that it is shown with. A side hole is
taken for the nearest of the earlier job by station and by the way around the outside; what
is farther than `_FARTHEST` from all of them is new.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence

import numpy as np

from ..values import FloatArray
from .job_seen import (
    SeenHole,
    SeenJob,
    SeenJoint,
    SeenPart,
    SeenPiece,
    SeenSurface,
    place_matches,
    seen_job,
)
from .table_text import degrees_text

_LEAST_MM, _LEAST_DEG = 0.005, 0.05
"""Half of the last digit that is shown."""

_FARTHEST = 20.0
"""How far a side hole may have moved, mm, and be the same; judgement, no source."""

Pairs = list[tuple[int | None, int | None]]
"""Places of the old and of the new one; None: there is none."""


def changes_words(
    old_document: Mapping[str, object], new_document: Mapping[str, object]
) -> tuple[str, ...]:
    """What the later of two jobs has otherwise than the earlier, by their records.

    Raises
    ------
    BadRecord : the older one is damaged
    """
    old, new = seen_job(old_document), seen_job(new_document)
    asked = _settings_words(old_document, new_document)
    matches = place_matches([part.name for part in old.parts], [part.name for part in new.parts])
    files = list(_file_words(old, new, matches))
    moved = [*_part_changes(old, new, matches), *_bed_words(old, new)]
    if moved:
        return (*asked, *files, *moved)
    *most, last = [
        "lengths",
        "bores",
        "outsides",
        "side holes",
        "seams",
        "joints",
        *_made(old, new),
    ]
    return (*asked, *files, f"Nothing moved: {', '.join(most)} and {last} are as they were.")


def _made(old: SeenJob, new: SeenJob) -> list[str]:
    """What both jobs made, so that it could be compared: nothing, where one is a plan."""
    pieces = all(any(part.pieces for part in job.parts) for job in (old, new))
    beds = old.bed_count is not None and new.bed_count is not None
    return ["pieces"] * pieces + ["beds"] * beds


def _settings_words(old: Mapping[str, object], new: Mapping[str, object]) -> Iterator[str]:
    """What was asked for otherwise, as far as the earlier record knows of it."""
    before, after = _flat(old["settings"]), _flat(new["settings"])
    pairs = {
        key: (_shown(before.get(key)), _shown(after.get(key)))
        for key in dict.fromkeys((*after, *before))
        if key.startswith(_OWN) or (key in before and key in after)
    }
    told = [
        f"{key.removeprefix(_OWN).replace('_', ' ')} {now}, before {then}"
        for key, (then, now) in pairs.items()
        if then != now
    ]
    if told:
        yield f"Asked for: {'; '.join(told)}."


_OWN = "own "
"""Begins the keys of what is asked for single parts, which need not be in both records."""


def _flat(settings: object) -> dict[str, object]:
    """Settings within settings by both names."""
    if not isinstance(settings, Mapping):
        return {"": settings}
    return {
        f"{key} {name}".strip(): value
        for key, inner in settings.items()
        for name, value in _flat(inner).items()
    }


def _shown(value: object) -> str:
    if value is None or value == []:
        return "none"
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, list):
        stretches = any(isinstance(one, list) for one in value)
        return (" and " if stretches else " ").join(map(_shown, value))
    return f"{value:g}" if isinstance(value, float) else str(value)


def _file_words(old: SeenJob, new: SeenJob, matches: Mapping[str, str]) -> Iterator[str]:
    """Files that are called otherwise."""
    files = {part.name: part.file for part in old.parts}
    for part in new.parts:
        before = matches.get(part.name)
        if before is not None and (before, files[before]) != (part.name, part.file):
            whose = "" if before == part.name else f" and is held against part {before}"
            yield f"{part.name}: comes from {part.file}, before from {files[before]}{whose}."


def _part_changes(old: SeenJob, new: SeenJob, matches: Mapping[str, str]) -> Iterator[str]:
    before = {part.name: part for part in old.parts}
    for part in new.parts:
        if part.name in matches:
            yield from _part_words(before[matches[part.name]], part)
        else:
            yield f"{part.name}: new, {_counted(len(part.joints), 'seam')}."
    for name in before:
        if name not in matches.values():
            yield f"{name}: gone."


def _part_words(old: SeenPart, new: SeenPart) -> Iterator[str]:
    """What moved in one part."""
    said = [
        *_survey_words(old, new),
        *_surface_words("bore", old, new, lambda part: part.bores),
        *_surface_words("outside", old, new, lambda part: part.outsides),
        *_hole_words(old, new),
        *_joint_words(old, new),
        *_piece_words(old, new),
    ]
    yield from (f"{new.name}: {one}." for one in said)


def _survey_words(old: SeenPart, new: SeenPart) -> Iterator[str]:
    """Length; of a part that could not be surveyed in one of the two jobs, just that."""
    if old.length is not None and new.length is not None:
        yield from _moved("length", old.length, new.length)
    elif old.length != new.length:
        yield (
            "could not be surveyed, before it could"
            if new.length is None
            else ("surveyed, before it could not be")
        )


def _surface_words(
    what: str,
    old: SeenPart,
    new: SeenPart,
    surfaces: Callable[[SeenPart], tuple[SeenSurface, ...]],
) -> Iterator[str]:
    """Stretches of bore or outside, in order where there are as many as before."""
    before, after = surfaces(old), surfaces(new)
    if len(before) != len(after):
        yield f"{_counted(len(after), f'stretch of {what}')}, before {len(before)}"
        return
    for number, (one, other) in enumerate(zip(before, after, strict=True), 1):
        told = [
            *_moved("diameter", one.diameter, other.diameter),
            *_stretch_words(one, other, old, new),
            *_moved("off the axis by", math.hypot(*one.offset), math.hypot(*other.offset)),
        ]
        if told:
            yield f"{what} {number}, {'; '.join(told)}"


def _stretch_words(
    one: SeenSurface, other: SeenSurface, old: SeenPart, new: SeenPart
) -> Iterator[str]:
    """Where it lies; not told of one that is as long as its part, then and now."""
    if not (_is_whole(one, old) and _is_whole(other, new)):
        yield from _moved("from station", one.low, other.low)
        yield from _moved("to station", one.high, other.high)


def _is_whole(surface: SeenSurface, part: SeenPart) -> bool:
    length = part.length or 0.0
    return abs(surface.low) < _LEAST_MM and abs(surface.high - length) < _LEAST_MM


def _hole_words(old: SeenPart, new: SeenPart) -> Iterator[str]:
    for before, after in _nearest(_hole_distances(old, new), _FARTHEST):
        if after is None:
            assert before is not None
            yield f"side hole gone, before {_hole_place(old.holes[before])}"
        elif before is None:
            yield f"side hole {after + 1} new, {_hole_place(new.holes[after])}"
        else:
            one, other = old.holes[before], new.holes[after]
            told = [
                *_moved("station", one.station, other.station),
                *_turned("angle", one.angle_deg, other.angle_deg),
                *_moved("width along", one.along, other.along),
                *_moved("width across", one.across, other.across),
            ]
            if told:
                yield f"side hole {after + 1}, {'; '.join(told)}"


def _hole_place(hole: SeenHole) -> str:
    return f"at station {hole.station:.2f} mm, {_degrees(hole.angle_deg)} deg"


def _hole_distances(old: SeenPart, new: SeenPart) -> FloatArray:
    """(n, m) mm, on the widest round surface, from every old hole to every new one."""
    widths = [surface.diameter for part in (old, new) for surface in (*part.bores, *part.outsides)]
    before, after = (
        np.array([(hole.station, hole.angle_deg) for hole in part.holes]).reshape(-1, 2)
        for part in (old, new)
    )
    along, turn = np.moveaxis(before[:, None, :] - after[None, :, :], 2, 0)
    around = np.radians((turn + 180.0) % 360.0 - 180.0) * max(widths, default=0.0) / 2.0
    distances: FloatArray = np.hypot(along, around)
    return distances


def _joint_words(old: SeenPart, new: SeenPart) -> Iterator[str]:
    for before, after in _joint_pairs(old.joints, new.joints):
        if after is None:
            assert before is not None
            yield f"seam gone, before at station {old.joints[before].station:.2f} mm"
        elif before is None:
            yield f"seam {after + 1} new, at station {new.joints[after].station:.2f} mm"
        else:
            told = list(_one_joint_words(old.joints[before], new.joints[after]))
            if told:
                yield f"seam {after + 1}, {'; '.join(told)}"


def _joint_pairs(old: Sequence[SeenJoint], new: Sequence[SeenJoint]) -> Pairs:
    """In order where there are as many as before, else the nearest of them."""
    if len(old) == len(new):
        return [(number, number) for number in range(len(new))]
    before, after = (np.array([joint.station for joint in joints]) for joints in (old, new))
    return _nearest(np.abs(before[:, None] - after[None, :]), math.inf)


def _one_joint_words(old: SeenJoint, new: SeenJoint) -> Iterator[str]:
    yield from _moved("station", old.station, new.station)
    if old.kind != new.kind:
        yield f"joint {new.kind}, before {old.kind}"
    yield from _moved("engagement", old.engagement, new.engagement)
    yield from _moved("inner diameter", old.inner, new.inner)
    yield from _moved("outer diameter", old.outer, new.outer)
    yield from _moved("clearance", old.clearance, new.clearance)
    yield from _turned("first key", old.key_angle_deg, new.key_angle_deg)


def _piece_words(old: SeenPart, new: SeenPart) -> Iterator[str]:
    """Nothing where one of the two records is of a plan."""
    if not (old.pieces and new.pieces):
        return
    if len(old.pieces) != len(new.pieces):
        yield f"{_counted(len(new.pieces), 'piece')}, before {len(old.pieces)}"
        return
    pairs = list(zip(old.pieces, new.pieces, strict=True))
    for number, (before, after) in enumerate(pairs, 1):
        told = list(_one_piece_words(before, after))
        if told:
            yield f"piece {number}, {'; '.join(told)}"
    same = [after.name for before, after in pairs if before.sha256 == after.sha256]
    if 0 < len(same) < len(pairs):
        yield f"{len(same)} of {len(pairs)} files the same to the byte, {' '.join(same)}"


def _one_piece_words(old: SeenPiece, new: SeenPiece) -> Iterator[str]:
    if old.role != new.role:
        yield f"a {new.role}, before a {old.role}"
    yield from _moved("height", old.height, new.height)
    if old.bed is not None and new.bed is not None and old.bed != new.bed:
        yield f"on bed {new.bed + 1}, before on bed {old.bed + 1}"


def _bed_words(old: SeenJob, new: SeenJob) -> Iterator[str]:
    """Nothing where one of the two put no pieces on beds."""
    if old.bed_count is None or new.bed_count is None or old.bed_count == new.bed_count:
        return
    yield f"{_counted(new.bed_count, 'bed')}, before {old.bed_count}."


def _nearest(distances: FloatArray, most: float) -> Pairs:
    """Pairs of rows and columns, the nearest first to be paired, none farther than `most`.

    In the order of the columns; then the rows that were left.
    """
    rows, columns = distances.shape
    row_of: dict[int, int] = {}
    taken: set[int] = set()
    for flat in np.argsort(distances, axis=None, kind="stable"):
        row, column = divmod(int(flat), columns)
        if distances[row, column] > most or len(row_of) == min(rows, columns):
            break
        if column not in row_of and row not in taken:
            row_of[column] = row
            taken.add(row)
    paired: Pairs = [(row_of.get(column), column) for column in range(columns)]
    return paired + [(row, None) for row in range(rows) if row not in taken]


def _moved(what: str, old: float, new: float) -> Iterator[str]:
    if abs(new - old) >= _LEAST_MM:
        yield f"{what} {new:.2f} mm, before {old:.2f}"


def _turned(what: str, old: float, new: float) -> Iterator[str]:
    if abs(math.remainder(new - old, 360.0)) >= _LEAST_DEG:
        yield f"{what} {_degrees(new)} deg, before {_degrees(old)}"


def _counted(count: int, noun: str) -> str:
    if count == 1:
        return f"1 {noun}"
    first, _, rest = noun.partition(" ")
    many = f"{first}es" if first.endswith("ch") else f"{first}s"
    return f"{count} {many} {rest}".strip()


def _degrees(angle_deg: float) -> str:
    return degrees_text(math.radians(angle_deg))
