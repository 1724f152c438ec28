"""What a fit trial came to and how to use it, as a short table for a person to read."""

from __future__ import annotations

import textwrap

import numpy as np

from ..fitting.fit_rules import fit_sentence
from ..values import Fit
from .ring_sizes import RingSizes
from .trial_record import trial_notes
from .trial_rings import FitTrial, TrialRing

_WIDTH = 96

_PICK: dict[Fit, str] = {
    "glue": "For glue take the tightest that goes home by hand and comes off again.",
    "push": "To be pushed home take the tightest that goes home by hand and does not drop off.",
    "take-apart": "To be taken apart take the tightest that slides on and off without force.",
}

_PRINT = (
    """Print the file as it stands, without supports: with the material, layers, nozzle and
    speed that the part will have.""",
    """Let it cool. Brush strings off the tenon and out of the mouths; do not sand or scrape
    what is to fit.""",
    """Count a ring's bars with a finger, from the long one on. The long one stands over the
    first key's groove.""",
    """Try each ring on the tenon, dry and straight, from the most bars down. It is home when
    the flat shoulders meet.""",
)

_NONE_FITS = """If all are loose, try again about a smaller --clearance; if none goes on, about
    a larger one."""

_CARE = (
    """Never force a ring: thin rings split along their layers, and the edges are sharp. Do
    not twist it against its keys.""",
    "What fits holds for this printer, material, layer height and orientation only.",
)


def trial_summary(trial: FitTrial, file: str, remarks: tuple[str, ...]) -> str:
    """The table, and what to do with the rings.

    remarks : of the part's file; those of the rings follow
    """
    sizes = trial.sizes
    size = " x ".join(f"{extent:.1f}" for extent in np.ptp(trial.mesh.vertices, axis=0))
    held = sum(check.ok for check in trial.checks)
    sections = [
        [
            _wrapped(
                f"Fit trial: 1 tenon ring and {len(trial.rings)} socket rings in {file}, "
                f"{trial.volume / 1000.0:.2f} cm3 of plastic, {size} mm",
                "  ",
                first="",
            )
        ],
        ["Joint", *_joint_lines(sizes)],
        ["Rings", *_ring_lines(sizes, trial.rings)],
        ["Use", *_use_lines(trial)],
        ["Take care", *(_wrapped(said, "  ") for said in _CARE)],
        ["Notes", *(_wrapped(said, "  ") for said in trial_notes(trial, remarks))],
        ["Proofs", f"  {held} of {len(trial.checks)} hold"],
    ]
    whole = [section for section in sections if len(section) > 1 or section is sections[0]]
    return "\n\n".join("\n".join(section) for section in whole) + "\n"


def _joint_lines(sizes: RingSizes) -> list[str]:
    tenon = sizes.tenon
    return [
        _wrapped(f"{sizes.tried.source}: tenon {2.0 * tenon.tenon_radius:.2f} mm", "  "),
        _wrapped(fit_sentence(sizes.tried.settings), "  "),
    ]


def _ring_lines(sizes: RingSizes, rings: tuple[TrialRing, ...]) -> list[str]:
    lines = ["  bars  clearance a side, mm  socket, mm"]
    for ring in rings:
        socket = 2.0 * sizes.tenon_of(ring.clearance).socket_radius
        asked = abs(ring.clearance - sizes.tried.settings.clearance) < 1e-9
        mark = "  the one asked for" if asked else ""
        lines.append(f"  {ring.number:4d}  {ring.clearance:20.3f}  {socket:10.3f}{mark}")
    return lines


def _use_lines(trial: FitTrial) -> list[str]:
    settings = trial.sizes.tried.settings
    name = settings.profile or "NAME"
    kept = f"borewright profile {name} --clearance {settings.clearance:g} --fit {settings.fit}"
    steps = (
        *_PRINT,
        f"{_PICK[settings.fit]} {_NONE_FITS}",
        f"Keep its clearance: {kept}, the ring's in place of {settings.clearance:g}.",
    )
    return [_wrapped(step, "     ", first=f"  {number}  ") for number, step in enumerate(steps, 1)]


def _wrapped(text: str, indent: str, *, first: str | None = None) -> str:
    return textwrap.fill(
        " ".join(text.split()),
        _WIDTH,
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
    )
