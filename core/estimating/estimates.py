"""Estimates of pieces and beds: plastic as a bound and as a figure, and whether a piece may tip."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from ..meshes.mesh_checks import enclosed_volume
from ..values import Mesh, Settings
from .materials import Material, filament_length_m, find_material, mass_g
from .plastic import laid_volume
from .tip_risk import TipRisk, tip_risk


@dataclass(frozen=True, slots=True)
class Plastic:
    """An amount of plastic.

    volume : mm3
    mass_g : g
    filament_m : m of filament that hold it
    """

    volume: float
    mass_g: float
    filament_m: float


@dataclass(frozen=True, slots=True)
class FilamentEstimate:
    """What pieces take.

    solid : of all that the files enclose: the bound for the pieces themselves
    figure : of walls, solid layers and infill, as the settings ask for them; never more
    """

    solid: Plastic
    figure: Plastic


@dataclass(frozen=True, slots=True)
class PieceEstimate:
    """What a piece takes, and how it stands."""

    filament: FilamentEstimate
    tip: TipRisk


def estimate_piece(mesh: Mesh, settings: Settings) -> PieceEstimate:
    """What a piece takes, and how it stands.

    A file that is larger than its piece, for the print's shrink, takes the plastic that
    the file encloses: that much is laid.

    Parameters
    ----------
    mesh : closed, in the pose of its file

    Raises
    ------
    BadSetting : the material is not in the density table
    """
    material = find_material(settings.printing.material)
    solid = enclosed_volume(mesh)
    figure = laid_volume(mesh, solid, settings)
    diameter = settings.printing.filament
    return PieceEstimate(
        FilamentEstimate(_plastic(solid, material, diameter), _plastic(figure, material, diameter)),
        tip_risk(mesh, settings.layer),
    )


def _plastic(volume: float, material: Material, diameter: float) -> Plastic:
    return Plastic(volume, mass_g(volume, material.density), filament_length_m(volume, diameter))


def sum_estimates(estimates: Iterable[PieceEstimate]) -> FilamentEstimate:
    """What several pieces take together, as those of a bed."""
    amounts = [estimate.filament for estimate in estimates]
    return FilamentEstimate(
        _total(amount.solid for amount in amounts), _total(amount.figure for amount in amounts)
    )


def _total(amounts: Iterable[Plastic]) -> Plastic:
    every = list(amounts)
    return Plastic(
        volume=math.fsum(amount.volume for amount in every),
        mass_g=math.fsum(amount.mass_g for amount in every),
        filament_m=math.fsum(amount.filament_m for amount in every),
    )


def least_time_s(plastic: Plastic, flow: float | None) -> float | None:
    """Seconds to lay plastic at a flow, mm3/s, and nothing else; None: no flow is known."""
    return None if flow is None else plastic.volume / flow
