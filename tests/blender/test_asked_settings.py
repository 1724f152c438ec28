"""What is set in the sidebar, or given to Split Tall Part, is what the core is asked for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, replace
from types import ModuleType
from typing import Any

import bpy
import pytest

from tests.blender.built_pieces import add_part, own
from tests.blender.conftest import EXTENSION
from tests.command.asked import EVERY
from tests.parts import plain_tube

ASKED = replace(EVERY, units="auto", prefer=(), profile=None)
"""All that is set there, not one value as by default; the unit is read with the object's mesh."""

OF_JOB = {
    "envelope": ASKED.envelope, "nozzle": ASKED.nozzle, "layer": ASKED.layer,
    "spread": ASKED.spread, "hole_undersize": ASKED.compensation.hole_undersize,
    "first_layer_bulge": ASKED.compensation.first_layer_bulge,
    "shrink": ASKED.compensation.shrink_percent, "material": ASKED.printing.material,
    "filament": ASKED.printing.filament, "lines": ASKED.printing.lines,
    "solid_layers": ASKED.printing.solid_layers, "infill": ASKED.printing.infill_percent,
    "flow": ASKED.printing.flow, "spacing": ASKED.spacing,
}  # fmt: skip
OF_JOINTS = {
    "joint": ASKED.joint, "fit": ASKED.fit, "choose_clearance": True,
    "clearance": ASKED.clearance, "choose_engagement": True, "engagement": ASKED.engagement,
    "guard": ASKED.guard, "choose_least_wall": True, "least_wall": ASKED.least_wall,
    "true": ASKED.true, "max_move": ASKED.max_move, "wind": ASKED.wind,
}  # fmt: skip
OF_PART = {"flip": ASKED.flip, "pieces": ASKED.pieces, "choose_bore": True, "bore": ASKED.bore}


@pytest.fixture
def tube(extension: ModuleType) -> bpy.types.Object:
    assert extension.__name__ == EXTENSION
    return add_part(plain_tube().mesh, "Pipe")


def test_all_that_is_set_in_the_sidebar_is_asked_for(tube: bpy.types.Object) -> None:
    for name, value in {**OF_JOB, **OF_JOINTS}.items():
        setattr(bpy.context.scene.borewright, name, value)
    for name, value in {**OF_PART, "lean": ASKED.lean}.items():
        setattr(tube.borewright, name, value)
    for station in ASKED.cuts:
        cut = tube.borewright.cuts.add()
        cut.station, cut.insisted = station, True
    for start, stop in ASKED.avoid:
        kept = tube.borewright.avoid.add()
        kept.start, kept.stop = start, stop
    settings = own("addon.properties.panel_settings").settings_for(bpy.context.scene, tube)
    assert asdict(settings) == asdict(ASKED)


@pytest.mark.usefixtures("tube")
def test_all_that_is_given_to_split_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []

    def ask(_mesh: object, name: str, settings_of: Callable[[str], object], *_: object) -> None:
        asked.append(settings_of(name))
        raise own("core.errors").BadMesh("1", "0", "mend it")

    monkeypatch.setattr(own("addon.operators.split"), "split_parts", ask)
    with pytest.raises(RuntimeError, match="mend it"):
        bpy.ops.borewright.split(envelope=ASKED.envelope, **OF_JOINTS, **OF_PART)
    usual = own("core.values").Settings(ASKED.envelope)
    of_split = {name.removeprefix("choose_") for name in (*OF_JOINTS, *OF_PART)}
    of_split |= {"envelope", "clearance_from"}
    for name, value in asdict(asked[0]).items():
        expected = ASKED if name in of_split else usual
        assert value == asdict(expected)[name], name
