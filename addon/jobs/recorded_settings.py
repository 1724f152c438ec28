"""The settings that a job's record holds, read as strictly as a command line.

A key that an older record does not have takes the default; one that this version does not
know is left alone. What is there has to be of its kind and in the range of its option.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar, get_args

from ...core.errors import BadRecord
from ...core.estimating.materials import MATERIALS
from ...core.fitting import printer_profile as ranges
from ...core.fitting.fit_rules import check_layer
from ...core.fitting.profile_name import check_name
from ...core.strict_json import (
    entry,
    flag,
    many,
    number_from,
    one_of,
    optional,
    read_value,
    stretch,
    text,
    whole_from,
)
from ...core.surveying.unit_guess import UNITS_IN_MM
from ...core.values import (
    ClearanceOrigin,
    Compensation,
    PartDemands,
    Printing,
    Settings,
)
from ..settings import options

_Value = TypeVar("_Value")
_Readers = Mapping[str, Callable[[object], Any]]


def _length(option: options.LengthOption) -> Callable[[object], float]:
    return number_from(option.low, option.high)


def _envelope(value: object) -> tuple[float, float, float]:
    sizes = many(_length(options.ENVELOPE))(value)
    if len(sizes) != 3:
        raise TypeError("3 lengths in mm")
    return sizes[0], sizes[1], sizes[2]


def _profile(value: object) -> str:
    name = text(value)
    check_name(name)
    return name


_OF_DEMANDS: _Readers = {
    "cuts": many(_length(options.CUT)),
    "avoid": many(stretch(*options.AVOID_RANGE)),
    "prefer": many(_length(options.PREFER)),
    "pieces": optional(whole_from(options.LEAST_PIECES, options.MOST_PIECES)),
}
_OF_COMPENSATION: _Readers = {
    "hole_undersize": _length(options.HOLE_UNDERSIZE),
    "first_layer_bulge": _length(options.FIRST_LAYER_BULGE),
    "shrink_percent": number_from(*ranges.SHRINK_RANGE),
}
_OF_PRINTING: _Readers = {
    "material": one_of(tuple(MATERIALS)),
    "filament": _length(options.FILAMENT),
    "lines": whole_from(*ranges.LINES_RANGE),
    "solid_layers": whole_from(*ranges.SOLID_LAYERS_RANGE),
    "infill_percent": number_from(*ranges.INFILL_RANGE),
    "flow": optional(number_from(*ranges.FLOW_RANGE)),
}
_OF_SETTINGS: _Readers = {
    **_OF_DEMANDS,
    "envelope": _envelope,
    "clearance": _length(options.CLEARANCE),
    "engagement": optional(_length(options.ENGAGEMENT)),
    "guard": _length(options.GUARD),
    "max_move": _length(options.MAX_MOVE),
    "true": one_of(tuple(options.TRUE_CHOICES)),
    "least_wall": _length(options.LEAST_WALL),
    "units": one_of((*UNITS_IN_MM, "auto")),
    "flip": flag,
    "bore": optional(_length(options.BORE)),
    "joint": optional(one_of(tuple(options.JOINT_CHOICES))),
    "fit": one_of(tuple(options.FIT_CHOICES)),
    "nozzle": _length(options.NOZZLE),
    "layer": _length(options.LAYER),
    "compensation": lambda value: Compensation(**_fields(entry(value), _OF_COMPENSATION)),
    "profile": optional(_profile),
    "clearance_from": one_of(get_args(ClearanceOrigin)),
    "spread": _length(options.SPREAD),
    "lean": flag,
    "spacing": _length(options.SPACING),
    "wind": flag,
    "printing": lambda value: Printing(**_fields(entry(value), _OF_PRINTING)),
}
"""By the names of the fields; each takes the value as JSON has it."""

_KEYS = {"cuts": "cut"}
"""Keys of the record that are called otherwise than the field."""


@dataclass(frozen=True, slots=True)
class RecordedSettings:
    """What a job was asked for.

    settings : for every part
    own : more, for single parts, by their names
    """

    settings: Settings
    own: Mapping[str, PartDemands]


def recorded_settings(document: Mapping[str, object]) -> RecordedSettings:
    """The settings in a job's record.

    Raises
    ------
    BadRecord : there are none, or a value is none that an option could have given
    """
    settings = _read(document, "settings", entry)
    _read(settings, "envelope", _envelope)  # has no default
    fields = _fields(settings, _OF_SETTINGS)
    own = _read(settings, "own", entry) if "own" in settings else {}
    read = RecordedSettings(
        settings=Settings(**fields),
        own={name: PartDemands(**_fields(_read(own, name, entry), _OF_DEMANDS)) for name in own},
    )
    _check(read.settings)
    return read


def _check(settings: Settings) -> None:
    """Values that are right by themselves have to go together."""
    check_layer(settings.nozzle, settings.layer)
    if settings.clearance_from == "profile" and settings.profile is None:
        raise _damaged("clearance_from is 'profile', and there are 0 profiles", "profile, its name")


def _fields(found: Mapping[str, object], readers: _Readers) -> dict[str, Any]:
    """What is there, by the names of its fields."""
    return {
        field: _read(found, _KEYS.get(field, field), read)
        for field, read in readers.items()
        if _KEYS.get(field, field) in found
    }


def _read(found: Mapping[str, object], key: str, read: Callable[[object], _Value]) -> _Value:
    if key not in found:
        raise _damaged(f"0 keys {key!r}", "1")
    return read_value(found, key, read, _damaged)


def _damaged(found: str, needed: str) -> BadRecord:
    return BadRecord(found, needed, "job.json as a job wrote it, or the options in its place")
