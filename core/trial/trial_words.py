"""What a fit trial came to and how to use it, as a short table for a person to read."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

import numpy as np

from ..fitting.fit_rules import fit_sentence
from ..values import Fit
from .trial_record import trial_notes
from .trial_set import About, FitTrial

_WIDTH = 96

_PICK: dict[Fit, str] = {
    "glue": "For glue take the tightest that goes home by hand and comes off again.",
    "push": "To be pushed home take the tightest that goes home by hand and does not drop off.",
    "take-apart": "To be taken apart take the tightest that slides on and off without force.",
}

_PRINT = """Print the file as it stands, without supports: with the material, layers, nozzle and
    speed that the part will have."""

_STEPS = {
    "tenon": (
        _PRINT,
        """Let it cool. Brush strings off the tenon and out of the mouths; do not sand or scrape
        what is to fit.""",
        """Count a ring's bars with a finger, from the long one on. Where there are keys the long
        one stands over the first one's groove.""",
        """Try each ring on the tenon, dry and straight, from the most bars down. It is home when
        the flat shoulders meet.""",
    ),
    "collar": (
        _PRINT,
        """Let it cool. Brush strings off stub and rings; do not sand or scrape what is to fit.""",
        """Count a ring's bars with a finger, from the long one on. The long one stands over the
        first lug.""",
        """Try each ring on the stub's notched end, dry and straight, the lugs down into the
        notches, from the most bars down. It is home when its top is level with the stub's.""",
    ),
}

_NONE_FITS = """If all are loose, try again about a smaller --clearance; if none goes on, about
    a larger one."""

_CARE = (
    """Never force a ring: thin rings split along their layers, and the edges are sharp. Do
    not twist it against its keys.""",
    "What fits holds for this printer, material, layer height and orientation only.",
)


@dataclass(frozen=True, slots=True)
class _Words:
    """What the rings of a kind of joint are called."""

    base: str
    rings: str
    within: str
    around: str


_WORDS = {
    "tenon": _Words("tenon ring", "socket rings", "tenon", "socket"),
    "collar": _Words("stub of the tube", "halves of its collar", "outside", "collar"),
}


def trial_summary(trial: FitTrial, file: str, remarks: tuple[str, ...]) -> str:
    """The table, and what to do with the rings.

    remarks : of the part's file; those of the rings follow
    """
    size = " x ".join(f"{extent:.1f}" for extent in np.ptp(trial.mesh.vertices, axis=0))
    held = sum(check.ok for check in trial.checks)
    words = _WORDS[trial.about.kind]
    made = (
        f"Fit trial: 1 {words.base} and {len(trial.rings)} {words.rings} in {file}, "
        f"{trial.volume / 1000.0:.2f} cm3 of plastic, {size} mm"
    )
    sections = [
        [_wrapped(made, "  ", first="")],
        ["Joint", *_joint_lines(trial.about, words)],
        ["Rings", *_ring_lines(trial, words)],
        ["Use", *_use_lines(trial)],
        ["Take care", *(_wrapped(said, "  ") for said in _CARE)],
        ["Notes", *(_wrapped(said, "  ") for said in trial_notes(trial, remarks))],
        ["Proofs", f"  {held} of {len(trial.checks)} hold"],
    ]
    whole = [section for section in sections if len(section) > 1 or section is sections[0]]
    return "\n\n".join("\n".join(section) for section in whole) + "\n"


def _joint_lines(about: About, words: _Words) -> list[str]:
    within = f"{about.source}: {words.within} {about.within:.2f} mm"
    return [_wrapped(within, "  "), _wrapped(fit_sentence(about.settings), "  ")]


def _ring_lines(trial: FitTrial, words: _Words) -> list[str]:
    lines = [f"  bars  clearance a side, mm  {words.around}, mm"]
    for ring in trial.rings:
        asked = abs(ring.clearance - trial.about.settings.clearance) < 1e-9
        mark = "  the one asked for" if asked else ""
        lines.append(f"  {ring.number:4d}  {ring.clearance:20.3f}  {ring.around:10.3f}{mark}")
    return lines


def _use_lines(trial: FitTrial) -> list[str]:
    settings = trial.about.settings
    name = settings.profile or "NAME"
    kept = f"borewright profile {name} --clearance {settings.clearance:g} --fit {settings.fit}"
    steps = (
        *_STEPS[trial.about.kind],
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
