"""What the table says where joints differ: collars counted, cautions, gaps too wide for glue."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from borewright.core.fitting.strength_words import CAUTION, DRY_CAUTION
from borewright.core.recording.groove_record import groove_words
from borewright.core.recording.report import job_document
from borewright.core.recording.strength_record import strength_notes, strength_of
from borewright.core.recording.summary import job_summary
from borewright.core.values import Joint, Plan, Settings

from tests.collared import SEAM, collared
from tests.core.test_grooved_joint import first, part_of
from tests.core.test_report import SETTINGS, job, record


def plan_with_a_sleeve() -> Plan:
    """The record's plan with a sleeve whose lugs are 170 and 280 degrees round."""
    angles = (math.radians(170.0), math.radians(280.0))
    joint = Joint("sleeve", SEAM, (), collared("wall 1.2 around 57.6", "inside", angles).collar)
    return replace(record().outcome.plan, joints=(joint,))


def test_sleeves_are_counted_beside_the_pieces_and_angles_end_at_180() -> None:
    part = record()
    part = replace(part, outcome=replace(part.outcome, plan=plan_with_a_sleeve()))
    assert "pipe: 2 pieces and 1 sleeve for an envelope" in job_summary(job([part]))
    joint = job_document(job([part]))["parts"][0]["joints"][0]  # type: ignore[index]
    assert joint["key_angles_deg"] == pytest.approx([170.0, -80.0])


def test_a_gap_too_wide_for_glue_reaches_the_table() -> None:
    told = notes(replace(SETTINGS, clearance=0.3))
    assert any("0.30 mm is more than cyanoacrylate fills" in line for line in told)
    assert not any("is more than" in line for line in notes(SETTINGS))
    assert told[-1] == CAUTION


def test_joints_without_glue_tell_nothing_of_glue() -> None:
    told = notes(replace(SETTINGS, fit="push"))
    assert told[-1] == DRY_CAUTION
    assert not any("glue" in line or "cyanoacrylate" in line for line in told)


def notes(settings: Settings) -> tuple[str, ...]:
    outcome = record().outcome
    joints = outcome.plan.joints
    found = [strength_of(joint, outcome.survey, settings) for joint in joints]
    return strength_notes(joints, [strength for strength in found if strength], settings)


def test_thread_narrows_a_bore_only_where_there_is_one() -> None:
    tube, _ = first(part_of("bore 14, wall 5", "lapped"))
    solid, _ = first(part_of("solid 30", "lapped"))
    assert "narrows the bore" in groove_words(tube, SETTINGS)[1]
    assert "bore" not in groove_words(solid, SETTINGS)[1]
