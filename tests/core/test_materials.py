"""Lengths and masses of filament, by m = rho pi d^2 / 4 L worked by hand for this file."""

from __future__ import annotations

import math

import pytest
from borewright.core.errors import BadSetting
from borewright.core.estimating.materials import (
    MATERIALS,
    Material,
    filament_length_m,
    filament_section,
    find_material,
    mass_g,
)


@pytest.mark.parametrize(("diameter", "area"), [(1.75, 2.405282), (2.85, 6.379397)])
def test_the_section_of_a_filament(diameter: float, area: float) -> None:
    assert filament_section(diameter) == pytest.approx(area, abs=5e-7)


@pytest.mark.parametrize(("density", "thin", "thick"), [
    (1.24, 335.28, 126.42), (1.27, 327.36, 123.43), (1.04, 399.76, 150.73),
    (1.15, 361.52, 136.31), (1.25, 332.60, 125.40),
])  # fmt: skip
def test_metres_in_a_kilogram(density: float, thin: float, thick: float) -> None:
    """Of 1.75 and of 2.85 mm: 1000 g over rho pi d^2 / 4, to the last digit told."""
    volume = 1000.0 / density * 1000.0
    assert filament_length_m(volume, 1.75) == pytest.approx(thin, abs=5e-3)
    assert filament_length_m(volume, 2.85) == pytest.approx(thick, abs=5e-3)
    assert mass_g(volume, density) == pytest.approx(1000.0)


def test_a_solid_tube_of_26_and_19_by_300() -> None:
    """pi / 4 (26^2 - 19^2) 300 = 74 220.1 mm3, at 1.24 g/cm3 92.033 g, of 1.75 mm 30.857 m."""
    volume = math.pi / 4.0 * (26.0**2 - 19.0**2) * 300.0
    assert volume / 1000.0 == pytest.approx(74.2201, abs=5e-5)
    assert mass_g(volume, find_material("PLA").density) == pytest.approx(92.033, abs=5e-4)
    assert filament_length_m(volume, 1.75) == pytest.approx(30.857, abs=5e-4)


def test_every_density_lies_in_what_is_told_of_it_and_names_its_source() -> None:
    """A density out of its range is refused at birth; data sheets say 1.22 to 1.26 of PLA."""
    assert list(MATERIALS) == ["PLA", "PETG", "ABS", "wood-PLA"]
    assert all("from memory" in material.source for material in MATERIALS.values())
    assert "1.24 g/cm3 (from memory; in data sheets, 1.22 to 1.26)" in (
        MATERIALS["PLA"].density_words
    )
    assert MATERIALS["ABS"].density_words == "ABS of 1.04 g/cm3 (from memory)"
    with pytest.raises(AssertionError):
        Material("lead", "lead", 1.2, (11.3, 11.4), "from memory")


def test_a_material_that_is_not_in_the_table_is_told_with_those_that_are() -> None:
    with pytest.raises(BadSetting, match="'gold', 0 times among 4; needed: 1 of PLA, PETG, ABS"):
        find_material("gold")
