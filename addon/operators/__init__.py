"""What can be done to a part, one operator a file, and the menu that has them all."""

from __future__ import annotations

from . import menu, printer_operators
from .build import BOREWRIGHT_OT_build
from .open_sheet import BOREWRIGHT_OT_open_sheet
from .plan import BOREWRIGHT_OT_plan
from .save import BOREWRIGHT_OT_save
from .show_part import BOREWRIGHT_OT_show_part
from .show_place import BOREWRIGHT_OT_show_place
from .split import BOREWRIGHT_OT_split
from .survey import BOREWRIGHT_OT_survey
from .trial import BOREWRIGHT_OT_trial

CLASSES = (
    BOREWRIGHT_OT_survey,
    BOREWRIGHT_OT_plan,
    BOREWRIGHT_OT_build,
    BOREWRIGHT_OT_save,
    BOREWRIGHT_OT_open_sheet,
    BOREWRIGHT_OT_trial,
    BOREWRIGHT_OT_show_place,
    BOREWRIGHT_OT_show_part,
    BOREWRIGHT_OT_split,
    *printer_operators.CLASSES,
    *menu.CLASSES,
)
