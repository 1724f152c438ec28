"""What was asked for, for a record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict

from ..values import PartDemands, Settings


def job_settings_entry(settings: Settings, own: Mapping[str, PartDemands]) -> dict[str, object]:
    """Every setting, and what is asked for single parts, by their names."""
    asked = {name: {**_demands(demands), "pieces": demands.pieces} for name, demands in own.items()}
    return {**settings_entry(settings), "own": asked}


def settings_entry(settings: Settings) -> dict[str, object]:
    """Every setting for a record."""
    return {
        "envelope": list(settings.envelope),
        "clearance": settings.clearance,
        "engagement": settings.engagement,
        "guard": settings.guard,
        "max_move": settings.max_move,
        "true": settings.true,
        "bore": settings.bore,
        "least_wall": settings.least_wall,
        "units": settings.units,
        **_demands(settings),
        "pieces": settings.pieces,
        "flip": settings.flip,
        "joint": settings.joint,
        "fit": settings.fit,
        "clearance_from": settings.clearance_from,
        "nozzle": settings.nozzle,
        "layer": settings.layer,
        "spread": settings.spread,
        "compensation": asdict(settings.compensation),
        "profile": settings.profile,
        "lean": settings.lean,
        "spacing": settings.spacing,
        "printing": asdict(settings.printing),
        "wind": settings.wind,
    }


def _demands(asked: Settings | PartDemands) -> dict[str, object]:
    """Where seams are to be, and where not."""
    return {
        "cut": list(asked.cuts),
        "avoid": [list(stretch) for stretch in asked.avoid],
        "prefer": list(asked.prefer),
    }
