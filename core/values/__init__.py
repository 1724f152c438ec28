"""The values that pass between the stages.

Every length is a millimetre and every angle a radian; a quantity that departs
from this carries its unit in its name. From the survey on, coordinates are in
the *part frame*: z is the station (0 at the low end, growing along the axis),
x is the reference direction and y its left-hand normal, so that atan2(y, x) is
the angle of the contract. `Frame` leads back to the source's coordinates.
"""

from .arrays import BoolArray, FloatArray, Frame, IntArray, Mesh, NarrowArray, read_only
from .joint import Collar, Joint, Key, Lug, Mark, Tenon, TenonGroove
from .lengths import (
    AXIAL_GAP,
    CHORD_TOLERANCE,
    FACET_ALLOWANCE,
    FIT_SLACK,
    KEY_RELIEF,
    LEAD_IN,
    MOUTH_RELIEF,
    ROUND_OFF,
)
from .outcome import Check, Cut, Lean, Outcome, PassedOn, Piece, Plan, Role
from .settings import (
    ClearanceOrigin,
    Compensation,
    Fit,
    JointKind,
    PartDemands,
    Printing,
    Settings,
)
from .survey import (
    BORE,
    HIGH_END,
    HOLE,
    LOW_END,
    OTHER,
    OUTSIDE,
    HoleWall,
    Ornament,
    RoundSurface,
    SideHole,
    Survey,
    TruedPart,
    WallStretch,
)

__all__ = [
    "AXIAL_GAP",
    "BORE",
    "CHORD_TOLERANCE",
    "FACET_ALLOWANCE",
    "FIT_SLACK",
    "HIGH_END",
    "HOLE",
    "KEY_RELIEF",
    "LEAD_IN",
    "LOW_END",
    "MOUTH_RELIEF",
    "OTHER",
    "OUTSIDE",
    "ROUND_OFF",
    "BoolArray",
    "Check",
    "ClearanceOrigin",
    "Collar",
    "Compensation",
    "Cut",
    "Fit",
    "FloatArray",
    "Frame",
    "HoleWall",
    "IntArray",
    "Joint",
    "JointKind",
    "Key",
    "Lean",
    "Lug",
    "Mark",
    "Mesh",
    "NarrowArray",
    "Ornament",
    "Outcome",
    "PartDemands",
    "PassedOn",
    "Piece",
    "Plan",
    "Printing",
    "Role",
    "RoundSurface",
    "Settings",
    "SideHole",
    "Survey",
    "Tenon",
    "TenonGroove",
    "TruedPart",
    "WallStretch",
    "read_only",
]
