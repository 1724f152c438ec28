"""A job as the command line asks for it, without Blender."""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping
from pathlib import Path

from borewright.addon.command_line.arguments import Parser
from borewright.addon.command_line.job_command import SPLIT
from borewright.addon.jobs.job_settings import JobAsked, asked_job
from borewright.core.recording.settings_record import job_settings_entry
from borewright.core.values import Compensation, PartDemands, Printing, Settings

EVERY = Settings(
    envelope=(180.0, 190.0, 200.5), clearance=0.17, engagement=9.0, guard=3.0, max_move=0.05,
    true="bore", least_wall=0.95, units="cm", cuts=(150.0, 160.5), pieces=3, flip=True, bore=19.05,
    joint="collar", fit="push", nozzle=0.6, layer=0.25,
    compensation=Compensation(0.1, 0.2, 0.3), profile="mini", clearance_from="asked", spread=0.15,
    avoid=((10.0, 20.5), (30.0, 40.0)), prefer=(77.0,), lean=True, spacing=7.5,
    printing=Printing("PETG", 2.85, 2, 5, 33.0, 6.5), wind=True,
)  # fmt: skip
"""Not one value as by default."""

OWN = {
    "body": PartDemands(cuts=(99.0,), avoid=((1.0, 2.0),), prefer=(5.0,), pieces=4),
    "body-b": PartDemands(prefer=(6.0,)),
}


def parsed(*argv: str) -> argparse.Namespace:
    """Arguments of `split`, those that go together."""
    parser = Parser(prog="borewright", allow_abbrev=False)
    SPLIT.add_arguments(parser)
    arguments = parser.parse_args([*argv, "--out", "x"])
    SPLIT.check(arguments)
    return arguments


def asked(*argv: str) -> JobAsked:
    """What `split` is asked for."""
    arguments = parsed(*argv)
    return asked_job(arguments, arguments.parts)


def job_document(
    settings: Settings,
    own: Mapping[str, PartDemands] | None = None,
    files: tuple[str, ...] = ("pipe.stl",),
) -> dict[str, object]:
    """A record with as little as can be compared: parts that could not be surveyed."""
    parts = [
        {"name": Path(file).stem, "source": {"file": file}, "survey": None, "joints": [],
         "pieces": []}
        for file in files
    ]  # fmt: skip
    return {
        "schema": "borewright.job/1",
        "settings": job_settings_entry(settings, own or {}),
        "parts": parts,
        "beds": [],
        "trial": None,
    }


def saved(folder: Path, document: object) -> str:
    """The path of a record's file."""
    path = folder / "job.json"
    path.write_text(json.dumps(document))
    return str(path)
