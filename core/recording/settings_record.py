"""What was asked for, for a record."""

from __future__ import annotations

from dataclasses import asdict

from ..values import Settings


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
        "cut": list(settings.cuts),
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
    }
