"""What pieces take and how they stand, for the record and the table.

Solid is the bound for the pieces themselves; the figure is of walls, solid layers and
infill. No time is told unless the printer's flow is known, and then only the least.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from ..estimating.estimates import (
    FilamentEstimate,
    PieceEstimate,
    Plastic,
    least_time_s,
    sum_estimates,
)
from ..estimating.materials import find_material
from ..estimating.tip_risk import BRIM_RATIO, SLOWER_RATIO, TipAdvice, TipRisk
from ..meshes.places import counted
from ..values import Printing, Settings
from .table_text import table, wrapped

ADVICE_WORDS: dict[TipAdvice, str] = {
    "none": "stands by itself",
    "brim": "a brim",
    "brim and slower": "a brim, and slower",
}

_ANOTHER_WAY = (
    "Or another way: shorter pieces (--pieces), or props that are printed beside the piece and "
    "broken off."
)


def estimate_entry(estimate: PieceEstimate, settings: Settings) -> dict[str, object]:
    """`filament` and `tip` of a piece's entry."""
    return {
        "filament": filament_entry(estimate.filament, settings),
        "tip": _tip_entry(estimate.tip),
    }


def filament_entry(filament: FilamentEstimate, settings: Settings) -> dict[str, object]:
    """What a piece or a bed takes, densities in g/cm3; the least time where a flow is known."""
    printing = settings.printing
    material = find_material(printing.material)
    seconds = least_time_s(filament.figure, printing.flow)
    return {
        "material": material.name,
        "density": material.density,
        "densities": list(material.densities),
        "density_source": material.source,
        "diameter": printing.filament,
        "solid": _plastic_entry(filament.solid),
        "figure": _plastic_entry(filament.figure),
        **({} if seconds is None else {"flow": printing.flow, "least_time_s": seconds}),
    }


def _plastic_entry(plastic: Plastic) -> dict[str, object]:
    return {
        "volume": plastic.volume,
        "mass_g": plastic.mass_g,
        "length_m": plastic.filament_m,
    }


def _tip_entry(tip: TipRisk) -> dict[str, object]:
    return {
        "height": tip.height,
        "base_width": tip.base_width,
        "ratio": tip.ratio,
        "advice": tip.advice,
    }


def estimate_lines(
    pieces: Mapping[str, PieceEstimate],
    settings: Settings,
    beds: Mapping[str, Sequence[str]] | None = None,
) -> list[str]:
    """The table of all pieces, beds and their sum, and what its numbers mean.

    pieces : by name, in the order in which they are told
    beds : names of the pieces on each, by the name of the bed
    """
    header = ("piece", "solid g", "m", "figure g", "m", "high / base mm", "", "against tipping")
    rows = [header, *(_piece_row(name, estimate) for name, estimate in pieces.items())]
    for bed, names in (beds or {}).items():
        rows.append(_sum_row(bed, [pieces[name] for name in names]))
    if len(pieces) > 1:
        rows.append(_sum_row("all", list(pieces.values())))
    return [
        *table("lrrrrrrl", rows),
        *(wrapped(note, "  ") for note in estimate_notes(pieces, settings)),
    ]


def _piece_row(name: str, estimate: PieceEstimate) -> tuple[str, ...]:
    tip = estimate.tip
    return (
        name,
        *_amounts(estimate.filament),
        f"{tip.height:.1f} / {tip.base_width:.1f}",
        f"{tip.ratio:.1f}",
        ADVICE_WORDS[tip.advice],
    )


def _sum_row(name: str, estimates: Sequence[PieceEstimate]) -> tuple[str, ...]:
    return name, *_amounts(sum_estimates(estimates)), "", "", ""


def _amounts(filament: FilamentEstimate) -> tuple[str, str, str, str]:
    solid, figure = filament.solid, filament.figure
    return (
        f"{solid.mass_g:.1f}",
        f"{solid.filament_m:.2f}",
        f"{figure.mass_g:.1f}",
        f"{figure.filament_m:.2f}",
    )


def estimate_notes(pieces: Mapping[str, PieceEstimate], settings: Settings) -> tuple[str, ...]:
    """What the table's numbers mean and rest on."""
    return (
        _plastic_words(settings),
        *_tip_words(pieces),
        *_time_words(pieces, settings.printing),
    )


def _plastic_words(settings: Settings) -> str:
    printing = settings.printing
    material = find_material(printing.material)
    return (
        "solid: all that the file encloses, the bound; figure: walls of "
        f"{counted(printing.lines, 'line', 'lines')}, {settings.nozzle:g} mm wide each, "
        f"{counted(printing.solid_layers, 'solid layer', 'solid layers')} under and over level "
        f"faces, {printing.infill_percent:g} % of the rest. {material.density_words}, "
        f"{printing.filament:g} mm filament. Brims, supports and what the nozzle primes with "
        "come on top."
    )


def _tip_words(pieces: Mapping[str, PieceEstimate]) -> tuple[str, ...]:
    """Nothing where every piece stands by itself."""
    advised = {estimate.tip.advice for estimate in pieces.values()} - {"none"}
    if not advised:
        return ()
    rule = (
        f"against tipping: a brim where the height is over {BRIM_RATIO:g} times the base's least "
        f"width, and slower over {SLOWER_RATIO:g} times; common practice, no source."
    )
    return (rule, _ANOTHER_WAY) if "brim and slower" in advised else (rule,)


def _time_words(pieces: Mapping[str, PieceEstimate], printing: Printing) -> tuple[str, ...]:
    """Nothing where no flow is known."""
    seconds = least_time_s(sum_estimates(pieces.values()).figure, printing.flow)
    if seconds is None:
        return ()
    told = f"at {printing.flow:g} mm3/s, at least {_time(seconds)} to lay the figure's plastic"
    return (f"time: {told}; moves and heating come on top.",)


def _time(seconds: float) -> str:
    """In whole minutes, never more than it is."""
    hours, minutes = divmod(math.floor(seconds / 60.0), 60)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min"
