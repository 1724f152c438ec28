"""What filament weighs: the density table, and lengths of filament from volumes.

A length L of filament of diameter d and density rho has the mass m = rho pi d^2 / 4 L.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..errors import BadSetting

_MM_PER_M = 1000.0
_MM3_PER_CM3 = 1000.0


@dataclass(frozen=True, slots=True)
class Material:
    """A material for filament.

    name : as it is asked for
    words : as it is told
    density : g/cm3, that estimates take
    densities : g/cm3, the least and the most that is told of it
    source : where the densities are from
    """

    name: str
    words: str
    density: float
    densities: tuple[float, float]
    source: str

    def __post_init__(self) -> None:
        assert 0.0 < self.densities[0] <= self.density <= self.densities[1]

    @property
    def density_words(self) -> str:
        """The density, its range and its source."""
        low, high = self.densities
        told = "" if low == high else f", {low:.2f} to {high:.2f}"
        return f"{self.words} of {self.density:.2f} g/cm3 ({self.source}{told})"


MATERIALS: dict[str, Material] = {
    material.name: material
    for material in (
        Material("PLA", "PLA", 1.24, (1.22, 1.26), "from memory; in data sheets"),
        Material("PETG", "PETG", 1.27, (1.25, 1.29), "from memory; in data sheets"),
        Material("ABS", "ABS", 1.04, (1.04, 1.04), "from memory"),
        Material("wood-PLA", "wood-filled PLA", 1.20, (1.15, 1.25), "from memory, doubtful"),
    )
}
"""Of wood-filled PLA the middle; the more wood is in it, the lighter it is."""


def find_material(name: str) -> Material:
    """The material of a name.

    Raises
    ------
    BadSetting : there is none of that name
    """
    material = MATERIALS.get(name)
    if material is None:
        raise BadSetting(
            f"material {name[:60]!r}, 0 times among {len(MATERIALS)}",
            f"1 of {', '.join(MATERIALS)}",
            "the one whose density is nearest",
        )
    return material


def filament_section(diameter: float) -> float:
    """Area, mm2, of a filament's section."""
    return math.pi * diameter**2 / 4.0


def filament_length_m(volume: float, diameter: float) -> float:
    """Metres of filament that hold a volume, mm3."""
    return volume / filament_section(diameter) / _MM_PER_M


def mass_g(volume: float, density: float) -> float:
    """Grams that a volume, mm3, weighs at a density, g/cm3."""
    return volume / _MM3_PER_CM3 * density
