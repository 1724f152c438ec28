"""Numbers as they were typed."""

from __future__ import annotations

import numpy as np


def as_typed(value: float) -> float:
    """The shortest decimal that a property's number stands for: 0.4, not 0.4000000059604645.

    Blender keeps 32 bits of a number, the core and the profiles 64.
    """
    return float(str(np.float32(value)))
