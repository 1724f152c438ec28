"""All that a record is made of: the parts, what they came to, and the files as they were saved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..acoustics.tuning import Tuning, check_tuning
from ..beds.bed import Bed
from ..estimating.estimates import PieceEstimate
from ..planning.plan_survey import PlanSurvey
from ..trial.trial_set import FitTrial
from ..values import Mesh, Outcome, PartDemands, PassedOn, Piece, Settings

TRIAL = "fit-trial"
"""Name of a trial's rings as they stand together, and of their file."""


@dataclass(frozen=True, slots=True)
class Source:
    """The file that a part came from.

    triangles : as many as the file says it holds
    """

    file: str
    sha256: str
    triangles: int
    unit: str
    scale_to_mm: float


@dataclass(frozen=True, slots=True)
class SavedFile:
    """A file as it was written; before it is, its hash is empty."""

    file: str
    sha256: str


@dataclass(frozen=True, slots=True, eq=False)
class PartRecord:
    """A part, and the file that it came from.

    choices : of a plan, what it was chosen from
    """

    source: Source
    outcome: Outcome | PassedOn
    choices: PlanSurvey | None = None
    _tunings: dict[Settings, Tuning] = field(default_factory=dict, init=False, repr=False)

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """All that is printed of it."""
        if isinstance(self.outcome, PassedOn):
            return (self.outcome.piece,)
        return self.outcome.pieces

    def tuning(self, settings: Settings) -> Tuning | None:
        """What the split does to the air in it, worked out once; None unless it is asked for."""
        if not settings.wind or isinstance(self.outcome, PassedOn):
            return None
        if settings not in self._tunings:
            self._tunings[settings] = check_tuning(self.outcome, settings)
        return self._tunings[settings]


@dataclass(frozen=True, slots=True)
class SavedBed:
    """A bed, and the file that holds it."""

    saved: SavedFile
    bed: Bed


@dataclass(frozen=True, slots=True, eq=False)
class SavedTrial:
    """A fit trial that goes with the job, and the file that holds it."""

    saved: SavedFile
    trial: FitTrial


@dataclass(frozen=True, slots=True, eq=False)
class JobRecord:
    """A whole job. Of a plan: the same, without files, beds and a trial.

    files : by the name of their piece
    estimates : the same, and of the trial's rings together by the name of their file
    warnings : of the whole job; those of its parts follow
    sheet : the plan sheet, which is made from all the rest
    since : the record of the job that this one repeats, as it was named
    changes : since that job, sentences
    own : what was asked for single parts, by their names, beside `settings`
    """

    settings: Settings
    parts: tuple[PartRecord, ...]
    warnings: tuple[str, ...] = ()
    files: Mapping[str, SavedFile] = field(default_factory=dict)
    estimates: Mapping[str, PieceEstimate] = field(default_factory=dict)
    beds: tuple[SavedBed, ...] = ()
    trial: SavedTrial | None = None
    sheet: SavedFile | None = None
    since: str = ""
    changes: tuple[str, ...] = ()
    own: Mapping[str, PartDemands] = field(default_factory=dict)

    @property
    def standing(self) -> dict[str, Mesh]:
        """Everything that is printed, in the pose of its file, by name; a trial's rings as one."""
        pieces = {piece.name: piece.mesh for part in self.parts for piece in part.pieces}
        return pieces if self.trial is None else {**pieces, TRIAL: self.trial.trial.mesh}

    @property
    def every_warning(self) -> tuple[str, ...]:
        """Those of the whole job, then those of its parts, each once."""
        own = (said for part in self.parts for said in part.outcome.warnings)
        return tuple(dict.fromkeys((*self.warnings, *own)))

    def bed_of(self, piece: str) -> int | None:
        """Which of the beds a piece stands on."""
        for number, one in enumerate(self.beds):
            if any(placed.name == piece for placed in one.bed.placed):
                return number
        return None
