"""What disabling the extension leaves in Blender: nothing, after work as after none."""

from __future__ import annotations

import math
import os
import subprocess
import sys

import pytest

WATCHED = '''
import bpy
import addon_utils, threading

EXTENSION = {extension!r}


def menus():
    """What is drawn in each menu, panel and header beside what Blender itself draws there."""
    drawn = {{}}
    for name in dir(bpy.types):
        draw = getattr(getattr(bpy.types, name, None), "draw", None)
        functions = getattr(draw, "_draw_funcs", None)
        if functions is not None:
            drawn[name] = [function.__module__ + "." + function.__name__ for function in functions]
    return {{name: functions for name, functions in drawn.items()
            if any("borewright" in function for function in functions)}}


def handlers():
    return {{name: [function.__module__ for function in getattr(bpy.app.handlers, name)]
            for name in dir(bpy.app.handlers)
            if isinstance(getattr(bpy.app.handlers, name), list)}}


def keymaps():
    keys = bpy.context.window_manager.keyconfigs
    return {{config.name: {{keymap.name: [item.idname for item in keymap.keymap_items]
                          for keymap in config.keymaps}} for config in keys}}


def properties():
    """Of all kinds of data blocks, and of the window manager."""
    return {{name: sorted(prop.identifier for prop in getattr(bpy.types, name).bl_rna.properties)
            for name in dir(bpy.types)
            if isinstance(getattr(bpy.types, name), type)
            and issubclass(getattr(bpy.types, name), bpy.types.ID)}}


def state():
    return {{
        "types": sorted(dir(bpy.types)),
        "classes": sorted(one.__name__ for base in (
            bpy.types.Operator, bpy.types.Panel, bpy.types.Menu, bpy.types.UIList,
            bpy.types.PropertyGroup, bpy.types.Gizmo, bpy.types.GizmoGroup,
            bpy.types.AddonPreferences) for one in base.__subclasses__()
            if "borewright" in one.__module__ and getattr(one, "is_registered", False)),
        "operators": sorted(dir(bpy.ops.borewright)),
        "menus": menus(),
        "handlers": handlers(),
        "keymaps": keymaps(),
        "properties": properties(),
        "work": threads(),
    }}


def threads():
    return [one.name for one in threading.enumerate() if one.name == "borewright"]


def survey():
    import bmesh
    data = bpy.data.meshes.new("Pipe")
    edited = bmesh.new()
    rings = [[edited.verts.new((radius * x, radius * y, z)) for x, y in {circle!r}]
             for radius, z in ((13.0, 0.0), (13.0, 300.0), (9.5, 300.0), (9.5, 0.0))]
    for ring, after in zip(rings, rings[1:] + rings[:1]):
        for k in range(len(ring)):
            edited.faces.new((ring[k - 1], ring[k], after[k], after[k - 1]))
    edited.to_mesh(data)
    edited.free()
    pipe = bpy.data.objects.new("Pipe", data)
    bpy.context.scene.collection.objects.link(pipe)
    bpy.context.view_layer.objects.active = pipe
    pipe.select_set(True)
    assert bpy.ops.borewright.survey() == {{"FINISHED"}}
    assert len(pipe.borewright.cuts) == 1
    return pipe


def told_apart(before, after):
    for key in before:
        assert before[key] == after[key], (key, before[key], after[key])


bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
before = state()
'''

ROUNDS = """
for round in range(20):
    assert addon_utils.enable(EXTENSION, default_set=True)
    if round == 0:
        enabled = state()
        for key in ("types", "classes", "operators", "menus", "handlers", "properties"):
            assert enabled[key] != before[key], key
    bpy.data.batch_remove(list(bpy.data.objects))
    pipe = survey()
    if round == 10:
        assert bpy.ops.borewright.build() == {"FINISHED"}
    addon_utils.disable(EXTENSION, default_set=True)
    told_apart(before, state())
print("rounds made")
"""

ENDED_ENABLED = """
addon_utils.enable(EXTENSION, default_set=True)
survey()
bpy.ops.borewright.build()
print("left enabled")
"""

LEFT_BEHIND = """
addon_utils.enable(EXTENSION, default_set=True)
addon_utils.disable(EXTENSION, default_set=True)
def left(*_arguments):
    pass
bpy.app.handlers.load_post.append(left)
try:
    told_apart(before, state())
except AssertionError:
    print("told")
bpy.app.handlers.load_post.remove(left)
"""

CIRCLE = [(math.cos(k * math.tau / 64), math.sin(k * math.tau / 64)) for k in range(64)]


@pytest.mark.parametrize(
    ("script", "says"),
    [(ROUNDS, "rounds made"), (ENDED_ENABLED, "left enabled"), (LEFT_BEHIND, "told")],
    ids=["twenty rounds with a survey each", "enabled at the end", "the watch sees a handler"],
)
def test_nothing_is_left_and_blender_ends_with_0(installed: str, script: str, says: str) -> None:
    """Blender 4.5 hangs or crashes at exit over what is left registered."""
    begun = WATCHED.format(extension=installed, circle=CIRCLE)
    done = subprocess.run(
        [sys.executable, "-c", begun + script],
        capture_output=True,
        timeout=120,
        check=False,
        env=os.environ,
    )
    assert (done.returncode, done.stderr.decode()) == (0, ""), done.stderr.decode()[-1500:]
    assert says in done.stdout.decode()
