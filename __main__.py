"""`python -m borewright ...`: the headless command, on Blender's module from the registry."""

import sys

from .addon.command_line.command import main

sys.exit(main(sys.argv[1:]))
