"""What the command knows of one of its sub-commands."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SubCommand:
    """One word after `borewright`, and what it does.

    add_arguments : gives its options to a parser
    check : raises ValueError where options that are right by themselves do not go together
    run : does it; the text for standard output
    only_tells : that text is all it is for
    """

    name: str
    purpose: str
    description: str
    add_arguments: Callable[[argparse.ArgumentParser], None]
    check: Callable[[argparse.Namespace], None]
    run: Callable[[argparse.Namespace], str]
    only_tells: bool
