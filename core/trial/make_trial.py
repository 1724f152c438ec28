"""The rings that try a joint, of whichever kind it is."""

from __future__ import annotations

from .collar_rings import collar_trial
from .trial_rings import tenon_trial
from .trial_set import Envelope, FitTrial
from .tried_joint import TriedCollar, TriedJoint


def make_trial(tried: TriedJoint | TriedCollar, envelope: Envelope | None) -> FitTrial:
    """The proven rings that try a joint.

    Parameters
    ----------
    envelope : mm, that the set has to fit; any where it is None

    Raises
    ------
    BadSetting : the rings would take more plastic than a trial is worth
    TooWide : the set does not fit the envelope
    ProofFailed : a ring breaks a promise
    """
    if isinstance(tried, TriedCollar):
        return collar_trial(tried, envelope)
    return tenon_trial(tried, envelope)
