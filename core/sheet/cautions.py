"""What can hurt at the bench: cautions with their sources, and which step needs which.

A step does not name its cautions: they follow from its own words, so none can be forgotten.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from itertools import chain

from .sheet_text import Caution, Hazard, Step, Table, Value

_COMMON = "common practice, no source"

CAUTIONS: dict[Hazard, Caution] = {
    caution.hazard: caution
    for caution in (
        Caution(
            "instant glue",
            "Instant glue bonds skin and eyelids in seconds: safety glasses, gloves.",
            "Instant glue (cyanoacrylate) bonds skin and eyelids in seconds, and a large drop can "
            "burn. Wear safety glasses and gloves of nitrile or polyethylene. Skin stuck: do not "
            "pull; soak it in warm soapy water, then peel or roll it apart. In an eye: rinse with "
            "warm water, cover it with moist gauze, never force the lids, get medical help at "
            "once. Lips stuck: wet them with warm water, do not pull, get medical help.",
            "ECHA registration dossier 16286, ethyl cyanoacrylate, first aid; nitrile from memory",
        ),
        Caution(
            "instant glue on cloth",
            "It can burn on cloth, paper and cotton gloves: keep it off them.",
            "Keep instant glue off clothes, rags, tissue and paper towels, and wear no gloves of "
            "cotton or wool: on fibres it can set in a rush of heat that burns and smokes.",
            "common practice of safety data sheets, no source",
        ),
        Caution(
            "instant glue vapour",
            "Its vapour irritates airways and may bring on asthma: ventilate.",
            "Ventilate. Vapour of instant glue irritates eyes, nose and airways and may bring on "
            "asthma. Who has asthma, or notices it, leaves this to others.",
            "UK HSE research report RR646; WHO CICAD 36 (2001)",
        ),
        Caution(
            "epoxy",
            "Epoxy irritates skin and can make it allergic: gloves, ventilate.",
            "Epoxy and its hardener irritate, and can make skin allergic for good. Wear the gloves "
            "that the label names, ventilate, never clean skin with a solvent.",
            _COMMON,
        ),
        Caution(
            "dust",
            "Dust harms eyes and lungs: work wet or with extraction, glasses, mask.",
            "Dust gets into eyes and lungs. Work wet, or with extraction at the work. Wear safety "
            "glasses and a close-fitting mask of class N95 or P2. No food or drink at the bench. "
            "Filled plastics, as with wood or fibre, make worse dust.",
            "NIOSH, 3D Printing with Filaments: Health and Safety Questions to Ask, for extraction "
            "and food; all else common practice, no source",
        ),
        Caution(
            "solvent",
            (
                "Vapour of stains and solvents can catch fire and make dizzy: no flame, fresh air, "
                "gloves."
            ),
            "Vapour of stains, solvents and alcohol can catch fire and make dizzy: no flame, no "
            "spark, no smoking, fresh air, and the gloves that the label names.",
            _COMMON,
        ),
        Caution(
            "oily rags",
            (
                "Rags and paper with oil or stain can catch fire by themselves: dry them flat "
                "outdoors or keep them under water in a closed metal can."
            ),
            "Rags, pads and paper with a drying oil (linseed, tung, oil stains) heat up and can "
            "catch fire by themselves within hours. Dry them single and flat outdoors, or keep "
            "them under water in a closed metal can; never in a heap, a pocket or a bin. Dust "
            "from a surface stained in the last 30 days can do the same: empty the bag.",
            "public guidance of fire services and NFPA on oily rags, known second hand",
        ),
        Caution(
            "mouth",
            "A print is not fit for the mouth before it is coated and cured.",
            "A print is not fit for the mouth as it comes off the printer: its grooves hold "
            "moisture and germs, and what its colours and the nozzle leave in it is not known; "
            "filament that is called food-safe does not change that. Coat all that lips touch, let "
            "the coating cure as its label says, wash it, share it with nobody. Local rules for "
            "what touches food come first (in the EU 10/2011, in the US 21 CFR).",
            "common practice, no source; the rules' numbers from memory",
        ),
        Caution(
            "hot printer",
            "Nozzle and bed burn skin, also a while after they are switched off.",
            "Nozzle (180 to 260 C) and bed (50 to 110 C) burn, also a while after they are "
            "switched off. Let both cool. Do not leave a hot printer alone. Ventilate, and take "
            "the lowest temperature and the filament with least emission that will do.",
            "NIOSH, 3D Printing with Filaments: Health and Safety Questions to Ask, for emissions; "
            "temperatures from memory",
        ),
        Caution(
            "blade",
            "Blades and edges cut: away from your body and your other hand.",
            "Blades slip and cut. Cut away from your body and your other hand, with a sharp blade "
            "and little force. Edges of thin prints cut too.",
            _COMMON,
        ),
        Caution(
            "small parts",
            "Small bits can choke a child: pick them up.",
            "Strings, brims, offcuts, O-rings and small pieces can choke a child: pick them up, "
            "and keep glue, blades and coatings out of reach.",
            "common practice, no source; what counts as small: 16 CFR 1501.4, from memory",
        ),
        Caution(
            "load",
            "Printed layers can part without warning: not where that could hurt someone.",
            "Printed layers can part without warning. Use nothing of this where its failure could "
            "hurt someone; railings, wiring and gas belong to the local code and a licensed trade.",
            _COMMON,
        ),
    )
}

_SIGNS: dict[Hazard, str] = {
    "instant glue": r"instant glue",
    "instant glue on cloth": r"instant glue",  # its two briefs go on from that of the glue
    "instant glue vapour": r"instant glue",
    "epoxy": r"epoxy",
    "dust": r"sand(s|ed|ing)?|round files?|filing|drill bits?|scrap(e|es|ed|ing)|abrasive|paper",
    "solvent": r"stain(s|ed|ing)?|solvents?|alcohol|varnish|coat(s|ed|ings?)?|oils?|lacquers?",
    "oily rags": r"stain(s|ed|ing)?|oils?|rags?",
    "mouth": r"lips?|mouthpieces?|your mouth|blown",
    "hot printer": r"nozzles?|hot|the bed|bed and print",
    "blade": r"blades?|knif(e|es)|drill bits?|cut off|trim(s|med|ming)?|scrap(e|es|ed|ing)",
    "small parts": r"strings?|brims if any|break (them )?off|O-rings?|offcuts",
    "load": r"full strength|by friction|to take (it|them) apart|rely",
}
"""Words that make a step need a caution, whole words of it, as patterns."""


def hazards_of(words: str) -> tuple[Hazard, ...]:
    """What can hurt when one does what the words say, in the order of the table."""
    return tuple(
        hazard
        for hazard, signs in _SIGNS.items()
        if re.search(rf"\b(?:{signs})\b", words, re.IGNORECASE)
    )


def make_step(
    title: str,
    text: Sequence[str],
    values: Sequence[Value] = (),
    tables: Sequence[Table] = (),
) -> Step:
    """A step with the cautions that its own words ask for."""
    words = [title, *text, *chain.from_iterable((one.name, one.shown) for one in values)]
    words += chain.from_iterable(_table_words(table) for table in tables)
    cautions = tuple(CAUTIONS[hazard] for hazard in hazards_of("\n".join(words)))
    return Step(title, tuple(text), tuple(values), tuple(tables), cautions)


def cautions_of(steps: Iterable[Step]) -> tuple[Caution, ...]:
    """All that notes and steps carry, each once, in the order of the table."""
    carried = {caution.hazard for step in steps for caution in step.cautions}
    return tuple(caution for hazard, caution in CAUTIONS.items() if hazard in carried)


def _table_words(table: Table) -> tuple[str, ...]:
    return (table.title, *table.header, *chain.from_iterable(table.rows), *table.notes)
