"""Started by a windowed Blender: plays one scenario and ends Blender.

blender ... --python in_blender.py -- SCENARIO PART.stl OUT
"""

from __future__ import annotations

import importlib
import os
import sys
import traceback
from pathlib import Path

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.window.pictures import save_picture
from tests.window.session import Session
from tests.window.steps import Steps, pause

MODULE = "bl_ext.user_default.borewright"


def played(scenario: str, session: Session) -> Steps:
    """The scenario, after Blender has drawn itself for the first time."""
    yield from pause(0.5)
    yield from importlib.import_module(f"tests.window.scenarios.{scenario}").steps(session)
    yield from pause(0.2)


def leave_in_good_order(session: Session) -> None:
    """Say that the scenario has passed, and have Blender end as its user would."""
    (session.out / "passed").touch()
    bpy.context.preferences.view.use_save_prompt = False
    with bpy.context.temp_override(window=session.window):
        bpy.ops.wm.quit_blender()


def give_up(session: Session) -> None:
    """Show what is on the screen and end at once, as failed."""
    traceback.print_exc()
    save_picture(session.out / "failed.png")
    sys.stdout.flush()
    os._exit(1)


def play(scenario: str, session: Session) -> None:
    """Take a step of the scenario each time Blender has handled its events and drawn."""
    steps = played(scenario, session)

    def take_step() -> float | None:
        try:
            return next(steps) or 0.0
        except StopIteration:
            leave_in_good_order(session)
        except BaseException:  # noqa: BLE001 # whatever it is, the scenario has failed
            give_up(session)
        return None

    bpy.app.timers.register(take_step, persistent=True)


def main(arguments: list[str]) -> None:
    """Enable the installed extension and start."""
    import addon_utils

    scenario, part, out = arguments
    addon_utils.enable(MODULE, default_set=True)
    assert all(addon_utils.check(MODULE)), f"{MODULE} is not enabled"
    bpy.context.preferences.view.show_splash = False
    bpy.context.preferences.system.viewport_aa = (
        "OFF"  # drawn by the processor, every sample counts
    )
    play(scenario, Session(part=Path(part), out=Path(out)))


main(sys.argv[sys.argv.index("--") + 1 :])
