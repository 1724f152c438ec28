"""How pieces are printed, as it is asked for on a command line: what decides plastic and mass."""

from __future__ import annotations

import argparse

from ...core.estimating.materials import MATERIALS
from ...core.values import Printing
from ..settings import options
from .arguments import add_length, checked


def add_printing(command: argparse.ArgumentParser, remark: str) -> None:
    """Options without defaults here; `remark` says what stands where one is not given."""
    usual = Printing()
    command.add_argument(
        "--material",
        type=checked(options.parse_material),
        metavar="NAME",
        help=f"what is printed, {', '.join(MATERIALS)} ({remark}{usual.material})",
    )
    add_length(command, "--filament", options.FILAMENT, f"{remark}{usual.filament:g}")
    command.add_argument(
        "--lines",
        type=checked(options.parse_lines),
        metavar="N",
        help=f"lines of plastic side by side along each wall ({remark}{usual.lines})",
    )
    command.add_argument(
        "--solid-layers",
        type=checked(options.parse_solid_layers),
        metavar="N",
        help=f"solid layers under and over each level face ({remark}{usual.solid_layers})",
    )
    command.add_argument(
        "--infill",
        type=checked(options.parse_infill),
        metavar="PERCENT",
        help=f"percent of the inside that is plastic ({remark}{usual.infill_percent:g})",
    )
    command.add_argument(
        "--flow",
        type=checked(options.parse_flow),
        metavar="MM3/S",
        help="plastic that the printer lays in a second; without it no time is told",
    )
