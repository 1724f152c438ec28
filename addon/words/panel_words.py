"""The core's words for what can be asked for, said as the panel's labels have them.

The core speaks to the command line too, and names its options.
"""

from __future__ import annotations

import re

from ..settings.options import FIT_CHOICES, JOINT_LABELS, TRUE_CHOICES

_LABELS = {
    "avoid": "Avoid",
    "bore": "Bore Diameter",
    "clearance": "Radial Clearance",
    "engagement": "Engagement",
    "envelope": "Envelope",
    "fit": "Fit",
    "flip": "Flip",
    "guard": "Guard",
    "joint": "Joint",
    "joint-number": "Joint",
    "layer": "Layer",
    "lean": "Lean",
    "least-wall": "Least Wall",
    "max-move": "Max Move",
    "nozzle": "Nozzle",
    "out": "Folder",
    "overwrite": "Overwrite",
    "pieces": "Least Pieces",
    "prefer": "Prefer",
    "spacing": "Spacing",
    "true": "Make True",
    "units": "Unit",
    "wind": "Wind Instrument",
}
"""By the name of the option."""


_CHOICES: dict[str, dict[str, str]] = {
    "joint": dict(JOINT_LABELS.items()),
    "fit": {fit: fit.replace("-", " ").title() for fit in FIT_CHOICES},
    "true": {surfaces: surfaces.title() for surfaces in TRUE_CHOICES},
}
"""Labels of what an option may be set to, where these have some."""

_OPTION = re.compile(r"--([a-z]+(?:-[a-z]+)*)(?: ([a-z]+(?:-[a-z]+)*))?")
_SEAM = re.compile(r"(?:\b(a|any|no) )?--cut(?: (\d+(?:\.\d+)?))?")
_SIZES = re.compile(r"--bore and --wall(?:,? or --solid)?(?:, without PART)?")
_COMMAND = re.compile(r"(borewright [a-z]+ [^,;]*)")


def panel_words(sentence: str) -> str:
    """A sentence of the core for somebody who has the panel before them."""
    said = _SIZES.sub("sizes given to the command borewright trial", sentence)
    between = _COMMAND.split(said)
    between[::2] = [_OPTION.sub(_label, _SEAM.sub(_seam, words)) for words in between[::2]]
    return "".join(between)


def _seam(said: re.Match[str]) -> str:
    article, station = said[1] or "a", said[2]
    kept = " insisted on" if article != "a" else ""
    return f"{article} seam{kept}" + (f" at {station}" if station else "")


def _label(said: re.Match[str]) -> str:
    option, word = said[1], said[2]
    label = _LABELS.get(option, f"--{option}")
    if word is None:
        return label
    return f"{label} {_CHOICES.get(option, {}).get(word, word)}"
