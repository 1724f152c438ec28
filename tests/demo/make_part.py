"""The demo part: the calling pipe of the rope ferry at Sallow Reach.

    python tests/demo/make_part.py OUT.stl

The same bytes come out every time. The README beside this file tells the story.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

from tests.parts import Block, Hole, Part, Ring, tube, turned_pose

STEM = "reach-pipe"
ENVELOPE = (210.0, 210.0, 200.0)
"""What the boathouse printer can build, mm."""

LENGTH = 430.0
BORE = 16.0
OUTSIDE = (26.0, 24.4)

HOLES = (
    Hole(104.0, 0.0, 7.0),
    Hole(129.0, 0.0, 7.5),
    Hole(142.0, 180.0, 6.0),
    Hole(155.0, 0.0, 6.5),
    Hole(204.0, 0.0, 7.5),
    Hole(230.0, 0.0, 8.0),
    Hole(257.0, 0.0, 6.0),
    Hole(371.0, 0.0, 10.0),
)
RINGS = (Ring(30.0, 10.0, 34.0, bead=True), Ring(309.0, 8.0, 31.0, bead=True))
LIP_PLATE = Block(station=390.0, height=24.0, angle_deg=0.0, width=14.0, reach=19.0)
POSE = turned_pose((0.48, -0.6, 0.64), 62.0, (55.0, -130.0, 38.0))


def calling_pipe() -> Part:
    """The part as the ferry keeper's CAD program exports it."""
    return tube(
        length=LENGTH,
        bore=BORE,
        outside=OUTSIDE,
        holes=HOLES,
        rings=RINGS,
        block=LIP_PLATE,
        facets=126,
        level_step=5.0,
        pose=POSE,
    )


def main(argv: list[str]) -> int:
    """Write the part to the file named."""
    if len(argv) != 1:
        sys.stderr.write(f"found: {len(argv)} arguments; needed: 1; try: make_part.py OUT.stl\n")
        return 2
    out = Path(argv[0])
    out.parent.mkdir(parents=True, exist_ok=True)
    calling_pipe().save(out)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
