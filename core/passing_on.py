"""A part whose shape is not understood and that fits as it is: stood on the bed, and no more."""

from __future__ import annotations

import numpy as np

from .errors import BadSetting, NotTubular
from .jointing.pose import stand_on_bed
from .meshes.mend import MendedBody
from .planning.rule_words import cutting_words
from .planning.standing import Stand, best_stand
from .proving.passed_checks import prove_passed
from .surveying.survey import check_tears
from .values import OTHER, Frame, Mesh, PassedOn, Piece, Settings

_SOME = 0.5
"""Areas under this, mm2, are not worth a word."""


def pass_on(
    body: MendedBody, name: str, settings: Settings, refusal: NotTubular, *, proven: bool
) -> PassedOn:
    """The one piece that such a part is, in a good upright pose.

    Parameters
    ----------
    body : sound, mm
    refusal : why it could not be surveyed
    proven : with the proofs; a plan does without

    Raises
    ------
    NotTubular : the refusal, where the part does not fit the envelope either
    BadSetting : something is asked for that needs an axis
    BadMesh : a tear was closed that is not flat
    """
    check_tears(body, np.full(len(body.mesh.triangles), OTHER))
    stand = best_stand(body.mesh, settings.room)
    if stand is None:
        raise _too_large(body, settings, refusal)
    _check_demands(settings, refusal)
    piece = _stood(body.mesh, stand, f"{name}-01", settings)
    return PassedOn(
        name=name,
        piece=piece,
        reason=f"Its shape is not understood, so it is left as it is: {refusal.found}.",
        triangles_before=len(body.mesh.triangles),
        checks=prove_passed(body.mesh, piece, settings) if proven else (),
        warnings=_remarks(stand, settings),
    )


def _stood(mesh: Mesh, stand: Stand, name: str, settings: Settings) -> Piece:
    lowest = float((mesh.vertices @ stand.rows[2]).min())
    frame = Frame(lowest * stand.rows[2], stand.rows.copy())
    in_frame = Mesh(frame.to_part(mesh.vertices), mesh.triangles)
    return stand_on_bed(name, in_frame, frame, settings, None, None)


def _check_demands(settings: Settings, refusal: NotTubular) -> None:
    """Nothing may be asked for that can only be had of a part with an axis."""
    asked = cutting_words(settings)
    if asked:
        raise BadSetting(
            f"{' and '.join(asked)} for a part whose shape is not understood ({refusal.found})",
            refusal.needed,
            f"no {' and no '.join(asked)} for this part, which fits and is then passed on as it "
            f"is; or {refusal.remedy}",
        )


def _too_large(body: MendedBody, settings: Settings, refusal: NotTubular) -> NotTubular:
    size = " x ".join(f"{length:.2f}" for length in np.ptp(body.mesh.vertices, axis=0))
    room = " x ".join(f"{length:g}" for length in settings.envelope)
    return NotTubular(
        f"{refusal.found}; and {size} mm, which fits an envelope of {room} mm on none of its flat "
        "faces nor as it stands in the file",
        f"{refusal.needed}, to be cut; or a part that fits as it is, to be passed on",
        f"{refusal.remedy}, or a larger --envelope",
        refusal.places,
    )


def _remarks(stand: Stand, settings: Settings) -> tuple[str, ...]:
    """How it stands, and what of it needs a hand."""
    faces = "1 flat face" if stand.faces == 1 else f"{stand.faces} flat faces"
    high = f"{stand.height:.2f} mm high"
    as_filed = f"it stands {high} as it does in its file, and needs supports and a brim"
    if stand.contact:
        best = f"the best of the {faces} it can stand on" if stand.faces > 1 else "its flat face"
        remarks = [f"It stands {high} with {stand.contact:.0f} mm2 on the bed, on {best}."]
    elif stand.faces:
        remarks = [f"On none of its {faces} does it fit: {as_filed}."]
    else:
        remarks = [f"It has no flat face to stand on: {as_filed}."]
    if stand.overhang > _SOME:
        remarks.append(
            f"{stand.overhang:.0f} mm2 of it, seen from above, overhang by more than 45 degrees "
            "and may need supports."
        )
    if settings.flip:
        remarks.append("It has no low end that --flip could change.")
    if settings.lean:
        remarks.append("It has no axis that --lean could tilt.")
    if settings.bore is not None:
        remarks.append(f"It has no bore that --bore {settings.bore:g} could change.")
    return tuple(remarks)
