"""The core's words for what can be asked for, said as the panel's labels have them.

The core speaks to the command line too, and names its options.
"""

from __future__ import annotations

import re

_LABELS = {
    "avoid": "Avoid",
    "bore": "Bore Diameter",
    "clearance": "Radial Clearance",
    "cut": "a cut at",
    "engagement": "Engagement",
    "envelope": "Envelope",
    "fit": "Fit",
    "flip": "Flip",
    "guard": "Guard",
    "joint": "Joint",
    "layer": "Layer",
    "lean": "Lean",
    "least-wall": "Least Wall",
    "max-move": "Max Move",
    "nozzle": "Nozzle",
    "pieces": "Least Pieces",
    "spacing": "Spacing",
    "true": "Make True",
    "units": "Unit",
}
"""By the name of the option."""


def panel_words(sentence: str) -> str:
    """A sentence of the core for somebody who has the panel before them."""
    return re.sub(r"--([a-z]+(?:-[a-z]+)*)", lambda said: _LABELS.get(said[1], said[0]), sentence)
