"""What is known of one printer, and the text that it is kept as.

The text is JSON of schema `borewright.printer/2`. It is read strictly: a key that is
missing, unknown, doubled or of another kind is told, never guessed at. A text of version
1, which knew nothing of printing, is read as strictly, and takes the defaults for that.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import TypeVar

from ..errors import BadProfile, BadSetting
from ..estimating.materials import find_material
from ..strict_json import number, optional, parse_object, read_value, three_numbers, whole_number
from ..strict_json import text as as_text
from ..values import Compensation, Fit, Printing
from .profile_name import check_name

FAMILY, VERSION = "borewright.printer", 2
SCHEMA = f"{FAMILY}/{VERSION}"

Range = tuple[float, float]

ENVELOPE_RANGE: Range = (1.0, 10000.0)
CLEARANCE_RANGE: Range = (0.0, 0.5)
NOZZLE_RANGE: Range = (0.1, 2.0)
LAYER_RANGE: Range = (0.02, 1.5)
SPREAD_RANGE: Range = (0.01, 1.0)
HOLE_UNDERSIZE_RANGE: Range = (0.0, 1.0)
FIRST_LAYER_BULGE_RANGE: Range = (0.0, 1.0)
SHRINK_RANGE: Range = (0.0, 5.0)
"""Percent."""
FILAMENT_RANGE: Range = (1.0, 5.0)
LINES_RANGE: Range = (1, 20)
SOLID_LAYERS_RANGE: Range = (0, 50)
INFILL_RANGE: Range = (0.0, 100.0)
"""Percent."""
FLOW_RANGE: Range = (0.1, 500.0)
"""mm3/s; lines and solid layers are counts, all others mm."""

_Value = TypeVar("_Value")

_AS_IT_IS = Compensation()
_USUAL = Printing()

_PARTS = {"clearances", "compensation", "printing"}
"""Keys whose values are objects; version 1 has no `printing`."""


@dataclass(frozen=True, slots=True)
class FitClearances:
    """Gaps, mm a side, that suit the printer; None: not tried yet."""

    glue: float | None = None
    push: float | None = None
    take_apart: float | None = None

    def of(self, fit: Fit) -> float | None:
        """The gap for a fit."""
        gap: float | None = getattr(self, _field(fit))
        return gap

    def with_gap(self, fit: Fit, radial_clearance: float) -> FitClearances:
        """The same with another gap for a fit."""
        return replace(self, **{_field(fit): radial_clearance})


def _field(fit: Fit) -> str:
    return fit.replace("-", "_")


@dataclass(frozen=True, slots=True)
class PrinterProfile:
    """What is known of one printer.

    envelope : mm, its usable volume; None: given with each job
    nozzle, layer : mm
    spread : mm, plus and minus, that it holds a diameter to
    printing : how it prints, as far as plastic goes

    Raises
    ------
    BadProfile : its name cannot be a file's name everywhere
    BadSetting : a number is out of its range, or the material is not in the density table
    """

    name: str
    envelope: tuple[float, float, float] | None = None
    nozzle: float = 0.4
    layer: float = 0.2
    spread: float = 0.2
    clearances: FitClearances = FitClearances()
    compensation: Compensation = _AS_IT_IS
    printing: Printing = _USUAL

    def __post_init__(self) -> None:
        check_name(self.name)
        for length in self.envelope or ():
            _check("envelope", length, ENVELOPE_RANGE)
        _check("nozzle", self.nozzle, NOZZLE_RANGE)
        _check("layer", self.layer, (LAYER_RANGE[0], min(LAYER_RANGE[1], self.nozzle)))
        _check("spread", self.spread, SPREAD_RANGE)
        for fit, gap in asdict(self.clearances).items():
            if gap is not None:
                _check(f"clearance for {fit.replace('_', '-')}", gap, CLEARANCE_RANGE)
        made = self.compensation
        _check("hole undersize", made.hole_undersize, HOLE_UNDERSIZE_RANGE)
        _check("first layer bulge", made.first_layer_bulge, FIRST_LAYER_BULGE_RANGE)
        _check("shrink", made.shrink_percent, SHRINK_RANGE, "%")
        check_printing(self.printing)


def check_printing(printing: Printing) -> None:
    """Raises `BadSetting` for a number out of its range, or a material that is not known."""
    find_material(printing.material)
    _check("filament", printing.filament, FILAMENT_RANGE)
    _check("lines", printing.lines, LINES_RANGE, "side by side")
    _check("solid layers", printing.solid_layers, SOLID_LAYERS_RANGE, "layers")
    _check("infill", printing.infill_percent, INFILL_RANGE, "%")
    if printing.flow is not None:
        _check("flow", printing.flow, FLOW_RANGE, "mm3/s")


def _check(what: str, value: float, allowed: Range, unit: str = "mm") -> None:
    low, high = allowed
    if not low <= value <= high:
        raise BadSetting(
            f"{what} {value:g} {unit}", f"{low:g} to {high:g} {unit}", "a value in that range"
        )


def format_profile(profile: PrinterProfile) -> str:
    """The text that a profile is kept as. The same profile gives the same text."""
    document: dict[str, object] = {
        "schema": SCHEMA,
        "name": profile.name,
        "envelope": profile.envelope and list(profile.envelope),
        "nozzle": profile.nozzle,
        "layer": profile.layer,
        "spread": profile.spread,
        "clearances": asdict(profile.clearances),
        "compensation": asdict(profile.compensation),
        "printing": asdict(profile.printing),
    }
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def parse_profile(text: str) -> PrinterProfile:
    """The profile that a text holds.

    Raises
    ------
    BadProfile : it is no JSON, not of this schema, of a newer version, or a key is
        missing, unknown, doubled or of the wrong kind
    BadSetting : a number is out of its range
    """
    document = parse_object(text, _damaged)
    version = _version(document)
    wanted = {"schema", "name", "envelope", "nozzle", "layer", "spread"}
    parts = {"clearances", "compensation"} if version == 1 else _PARTS
    _check_keys(document, wanted | parts, "the profile")
    clearances = _part(document, "clearances", set(FitClearances.__dataclass_fields__))
    compensation = _part(document, "compensation", set(Compensation.__dataclass_fields__))
    return PrinterProfile(
        name=_read(document, "name", as_text),
        envelope=_read(document, "envelope", optional(three_numbers)),
        nozzle=_read(document, "nozzle", number),
        layer=_read(document, "layer", number),
        spread=_read(document, "spread", number),
        clearances=FitClearances(
            **{fit: _read(clearances, fit, optional(number)) for fit in clearances}
        ),
        compensation=Compensation(
            **{key: _read(compensation, key, number) for key in compensation}
        ),
        printing=_USUAL if version == 1 else _printing(document),
    )


def _printing(document: Mapping[str, object]) -> Printing:
    printing = _part(document, "printing", set(Printing.__dataclass_fields__))
    return Printing(
        material=_read(printing, "material", as_text),
        filament=_read(printing, "filament", number),
        lines=_read(printing, "lines", whole_number),
        solid_layers=_read(printing, "solid_layers", whole_number),
        infill_percent=_read(printing, "infill_percent", number),
        flow=_read(printing, "flow", optional(number)),
    )


def _damaged(found: str, needed: str) -> BadProfile:
    return BadProfile(found, needed, "mend the file, or move it away and make the profile anew")


def _version(document: Mapping[str, object]) -> int:
    """The version of the schema, one that is known."""
    schema = document.get("schema")
    known = re.fullmatch(re.escape(FAMILY) + "/([1-9][0-9]{0,5})", str(schema))
    if known and int(known[1]) > VERSION:
        raise BadProfile(
            f"printer profile of version {known[1]}",
            f"version {VERSION}, the newest that this Borewright knows",
            "a newer Borewright, or another profile name",
        )
    if not known:
        raise _damaged(f"schema {str(schema)[:60]!r} of 1 file", f"schema {SCHEMA!r}")
    return int(known[1])


def _check_keys(document: Mapping[str, object], wanted: set[str], where: str) -> None:
    missing, unknown = sorted(wanted - document.keys()), sorted(document.keys() - wanted)
    if missing or unknown:
        raise _damaged(
            f"in {where} {len(missing)} keys missing ({_listed(missing)}) and "
            f"{len(unknown)} unknown ({_listed(unknown)})",
            f"the keys {_listed(sorted(wanted))}",
        )


def _listed(words: list[str]) -> str:
    return ", ".join(words) or "none"


def _part(document: Mapping[str, object], key: str, wanted: set[str]) -> dict[str, object]:
    part = document[key]
    if not isinstance(part, dict):
        raise _damaged(f"{key} is {part!r}, 0 JSON objects", "1 JSON object")
    _check_keys(part, wanted, key)
    return part


def _read(document: Mapping[str, object], key: str, read: Callable[[object], _Value]) -> _Value:
    return read_value(document, key, read, _damaged)
