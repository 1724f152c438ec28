"""What is set in the sidebar, or given to Split Tall Part, is what the core is asked for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, replace
from pathlib import Path
from types import ModuleType
from typing import Any

import bpy
import pytest

from tests.blender.built_pieces import add_part, own
from tests.blender.conftest import EXTENSION
from tests.command.asked import EVERY
from tests.parts import plain_tube

ASKED = replace(EVERY, units="auto", profile=None)
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
OF_PART = {
    "flip": ASKED.flip, "pieces": ASKED.pieces, "lean": ASKED.lean, "choose_bore": True,
    "bore": ASKED.bore,
}  # fmt: skip
TYPED = {"seams": "160.5,150", "avoid": " 10-20.5, 30-40 ,", "prefer": "77"}
"""What lists of the panel are as fields of an operator."""


@pytest.fixture
def tube(extension: ModuleType) -> bpy.types.Object:
    assert extension.__name__ == EXTENSION
    return add_part(plain_tube().mesh, "Pipe")


def test_all_that_is_set_in_the_sidebar_is_asked_for(tube: bpy.types.Object) -> None:
    for name, value in {**OF_JOB, **OF_JOINTS}.items():
        setattr(bpy.context.scene.borewright, name, value)
    for name, value in OF_PART.items():
        setattr(tube.borewright, name, value)
    for station in ASKED.cuts:
        cut = tube.borewright.cuts.add()
        cut.station, cut.insisted = station, True
    for start, stop in ASKED.avoid:
        kept = tube.borewright.avoid.add()
        kept.start, kept.stop = start, stop
    for station in ASKED.prefer:
        tube.borewright.prefer.add().station = station
    settings = own("addon.properties.panel_settings").settings_for(bpy.context.scene, tube)
    assert asdict(settings) == asdict(ASKED)


@pytest.fixture
def asked(tube: bpy.types.Object, monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """What Split Tall Part asks of the core, which refuses it."""
    assert tube == bpy.context.active_object
    asked: list[Any] = []

    def ask(_mesh: object, name: str, settings_of: Callable[[str], object], *_: object) -> None:
        asked.append(settings_of(name))
        raise own("core.errors").BadMesh("1", "0", "mend it")

    monkeypatch.setattr(own("addon.operators.split"), "split_parts", ask)
    return asked


def test_all_that_is_given_to_split_is_asked_for(asked: list[Any]) -> None:
    with pytest.raises(RuntimeError, match="mend it"):
        bpy.ops.borewright.split(**OF_JOB, **OF_JOINTS, **OF_PART, **TYPED)
    assert asdict(asked[0]) == asdict(ASKED)


def test_split_takes_from_a_profile_what_is_not_given(
    asked: list[Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BOREWRIGHT_PROFILES", str(tmp_path))
    scene = bpy.context.scene.borewright
    for name, value in OF_JOB.items():
        setattr(scene, name, value)
    assert bpy.ops.borewright.save_printer(name="mini") == {"FINISHED"}
    with pytest.raises(RuntimeError, match="mend it"):
        bpy.ops.borewright.split(profile="mini", layer=0.3, spacing=ASKED.spacing)
    told = asdict(asked[0])
    expected = {**asdict(ASKED), "layer": 0.3, "profile": "mini"}
    of_printer = ("envelope", "nozzle", "layer", "spread", "compensation", "printing", "profile")
    assert [told[name] for name in of_printer] == [expected[name] for name in of_printer]


def test_a_setting_of_split_is_no_change_of_the_scenes_plan(
    tube: bpy.types.Object, monkeypatch: pytest.MonkeyPatch
) -> None:
    changes: list[None] = []
    monkeypatch.setattr(own("addon.properties.groups"), "on_change", [lambda: changes.append(None)])
    tube.borewright.pieces = 3
    assert len(changes) == 1
    properties = bpy.context.window_manager.operator_properties_last("borewright.split")
    properties.pieces, properties.guard = 3, 2.5
    assert len(changes) == 1
