"""What can go wrong that a person can do something about.

Every message says what was found, what is needed, and what to try, with
numbers. The three parts are kept as fields, so that a panel can show them
apart and a test can read them.
"""

from __future__ import annotations


class CoreError(Exception):
    """Root of every refusal by the core.

    Parameters
    ----------
    found : what was measured, with its number
    needed : what would be right, with its number
    remedy : what the person can do about it
    places : (x, y, z) points, mm, in the source's coordinates, where it is wrong
    """

    def __init__(
        self,
        found: str,
        needed: str,
        remedy: str,
        places: tuple[tuple[float, float, float], ...] = (),
    ) -> None:
        super().__init__(found, needed, remedy)
        self.found = found
        self.needed = needed
        self.remedy = remedy
        self.places = places

    def __str__(self) -> str:
        return f"found: {self.found}; needed: {self.needed}; try: {self.remedy}"


class BadSetting(CoreError):
    """A setting is out of its range or contradicts another."""


class BadProfile(CoreError):
    """A printer profile cannot be read, kept or named so."""


class BadFile(CoreError):
    """The file is missing, is no mesh file, is cut short or contradicts itself."""


class BadRecord(CoreError):
    """The record of an earlier job cannot be read, or is of other parts than are given."""


class BadMesh(CoreError):
    """The mesh is empty, not finite, torn, touches itself or is several bodies."""


class UnitUnclear(CoreError):
    """The size of the part fits no unit, or more than one."""


class NotTubular(CoreError):
    """No round bore, or no round outside around it, could be found."""


class DegeneratePoints(CoreError):
    """Points that do not determine the circle, cone or cylinder asked for."""


class TruingRefused(CoreError):
    """Making the surfaces true would break a bound on moves or on the wall."""


class WallTooThin(CoreError):
    """The wall at a station cannot hold a tenon and a socket."""


class NoPlan(CoreError):
    """No set of cuts meets every constraint."""


class TooWide(CoreError):
    """The part's section does not fit the envelope's floor."""


class CrowdedZone(CoreError):
    """Something besides bore and outside lies where a joint has to go."""


class ProofFailed(CoreError):
    """A finished piece breaks one of the promises measured on it."""
