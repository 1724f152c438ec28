"""Draws a section through a finished joint, from the piece files themselves.

    python tests/demo/section_picture.py DIR OUT.svg

DIR holds the pieces and job.json of a finished job. The plane holds the axis and
the middle of the key of the lowest joint, so the right half shows the key and
the left half the joint as it is everywhere else. Every dimension is measured on
the pieces, the engagement apart, which is the one that the job tells.
"""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

from tests import measure

FloatArray = NDArray[np.float64]
Point = tuple[float, float]

SCALE = 22.0
"""Pixels a millimetre."""

BELOW, ABOVE = 7.0, 8.0
"""How much is drawn under the seam and over the tenon's tip, mm."""

SIDE = 250.0
"""Room for words on each side, pixels."""

EDGE, LINE, INK = 14.0, 21.0, "#1b1b1b"


@dataclass(frozen=True, slots=True)
class Halves:
    """Where things lie in the section, mm: x from the axis, y up from the seam.

    bore : its radius under the seam
    tenon, socket : radii off the key
    rib, groove : radii in the middle of the key
    tip, roof : heights at the bore
    gap : between tip and roof, upward
    """

    bore: float
    outside: float
    tenon: float
    socket: float
    rib: float
    groove: float
    tip: float
    roof: float
    gap: float


class Sheet:
    """The picture being drawn. Takes mm from the axis and the seam."""

    def __init__(self, halves: Halves) -> None:
        self.halves = halves
        self.width = 2.0 * SIDE + 2.0 * halves.outside * SCALE
        self.height = (BELOW + halves.tip + ABOVE) * SCALE + 2.0 * EDGE
        self.parts: list[str] = []

    def at(self, x: float, y: float) -> Point:
        """Pixels of a point."""
        top = self.halves.tip + ABOVE
        return self.width / 2.0 + x * SCALE, EDGE + (top - y) * SCALE

    def line(self, start: Point, end: Point, style: str = "thin") -> None:
        """A straight line between two points in pixels."""
        (x1, y1), (x2, y2) = start, end
        self.parts.append(
            f'<line class="{style}" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>'
        )

    def words(self, place: Point, text: str, anchor: str = "start") -> None:
        """A line of text whose middle height is at a place in pixels."""
        x, y = place
        self.parts.append(
            f'<text x="{x:.1f}" y="{y + 5.5:.1f}" text-anchor="{anchor}">{text}</text>'
        )

    def dot(self, place: Point) -> None:
        """Where a leader points."""
        self.parts.append(f'<circle cx="{place[0]:.1f}" cy="{place[1]:.1f}" r="2"/>')

    def arrow(self, tip: Point, toward: Point) -> None:
        """An arrow head at a tip, of a dimension line that comes from `toward`."""
        along = np.subtract(toward, tip)
        along = along / np.linalg.norm(along)
        across = np.array([-along[1], along[0]])
        left, right = (np.add(tip, 10.0 * along + side * across) for side in (3.2, -3.2))
        corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in (tip, left, right))
        self.parts.append(f'<polygon points="{corners}"/>')

    def dimension(self, start: Point, end: Point) -> None:
        """A line with an arrow head at each end, in pixels."""
        self.line(start, end)
        self.arrow(start, end)
        self.arrow(end, start)

    def solid(self, contours: list[FloatArray], hatch: str) -> None:
        """A cut face, hatched, with its outline, within the frame."""
        steps = []
        for contour in contours:
            places = [self.at(*point) for point in contour.tolist()]
            steps.append("M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in places) + "Z")
        path = "".join(steps)
        self.parts.append(f'<path class="{hatch}" clip-path="url(#frame)" d="{path}"/>')

    def text(self) -> str:
        """The whole SVG."""
        x, y = self.at(-self.halves.outside - 1.0, self.halves.tip + ABOVE)
        right, low = self.at(self.halves.outside + 1.0, -BELOW)
        head = HEAD.format(
            width=self.width, height=self.height, x=x, y=y, w=right - x, h=low - y, ink=INK
        )
        return head + "\n".join(self.parts) + "\n</svg>\n"


HEAD = """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" \
width="{width:.0f}" height="{height:.0f}" role="img" \
aria-label="Section through a finished joint: tenon below, socket above">
<defs>
<pattern id="rising" width="9" height="9" patternUnits="userSpaceOnUse" \
patternTransform="rotate(45)"><path d="M0 0V9" stroke="#777777" stroke-width="1.3"/></pattern>
<pattern id="falling" width="6" height="6" patternUnits="userSpaceOnUse" \
patternTransform="rotate(-45)"><path d="M0 0V6" stroke="#777777" stroke-width="0.9"/></pattern>
<clipPath id="frame"><rect x="{x:.1f}" y="{y:.1f}" width="{w:.1f}" height="{h:.1f}"/></clipPath>
</defs>
<style>
text {{ font: 16px "DejaVu Sans", "Helvetica Neue", Arial, sans-serif; fill: {ink}; }}
circle, polygon {{ fill: {ink}; }}
line, path.break {{ stroke: {ink}; stroke-width: 1; fill: none; }}
line.beyond {{ stroke-width: 0.8; }}
line.axis {{ stroke-width: 0.8; stroke-dasharray: 18 4 3 4; }}
path.lower {{ fill: url(#rising); stroke: {ink}; stroke-width: 1.5; fill-rule: evenodd; }}
path.upper {{ fill: url(#falling); stroke: {ink}; stroke-width: 1.5; fill-rule: evenodd; }}
</style>
<rect width="100%" height="100%" fill="#ffffff"/>
"""


def cut_faces(seat: measure.Seat) -> tuple[list[FloatArray], list[FloatArray]]:
    """Outlines of lower and upper piece in the plane of axis and key, the key to the right."""
    x, y = seat.centre.tolist()
    faces = []
    for solid in (seat.lower, seat.upper):
        home = solid.translate((-x, -y, -seat.seam))
        turned = home.rotate((0.0, 0.0, -math.degrees(seat.key_angle))).rotate((-90.0, 0.0, 0.0))
        faces.append(turned.slice(0.0).to_polygons())
    return faces[0], faces[1]


def crossings(contours: list[FloatArray], value: float, axis: Literal[0, 1]) -> FloatArray:
    """Where outlines cross the line on which a coordinate has a value, ascending."""
    found = []
    for contour in contours:
        ahead = np.roll(contour, -1, axis=0)
        side, other = contour[:, axis] - value, ahead[:, axis] - value
        at = (side >= 0.0) != (other >= 0.0)
        share = (side / np.where(at, side - other, 1.0))[at]
        start, end = contour[at, 1 - axis], ahead[at, 1 - axis]
        found.append(start + share * (end - start))
    return np.sort(np.concatenate(found))


def read_halves(seat: measure.Seat, lower: list[FloatArray], upper: list[FloatArray]) -> Halves:
    """The sizes that the words point at."""
    height = (seat.tip - seat.seam) / 2.0
    inner, outer = crossings(lower, height, 1), crossings(upper, height, 1)
    bore = float(crossings(lower, -1.0, 1)[-2])
    beside, cone = -bore - 1e-3, -bore - 0.7 * float(-inner[0] - bore)
    return Halves(
        bore=bore,
        outside=float(outer[-1]),
        tenon=float(-inner[0]),
        socket=float(-outer[1]),
        rib=float(inner[-1]),
        groove=float(outer[2]),
        tip=float(crossings(lower, beside, 0)[-1]),
        roof=float(crossings(upper, beside, 0)[0]),
        gap=float(crossings(upper, cone, 0)[0] - crossings(lower, cone, 0)[-1]),
    )


def draw(seat: measure.Seat) -> str:
    """The SVG of one joint."""
    lower, upper = cut_faces(seat)
    halves = read_halves(seat, lower, upper)
    sheet = Sheet(halves)
    sheet.solid(upper, "upper")
    sheet.solid(lower, "lower")
    draw_beyond(sheet)
    draw_breaks(sheet)
    draw_dimensions(sheet, seat)
    draw_leaders(sheet, seat)
    return sheet.text()


def draw_beyond(sheet: Sheet) -> None:
    """The axis, and the edges seen in the bore beyond the plane."""
    halves = sheet.halves
    for height in (halves.tip, halves.roof):
        sheet.line(sheet.at(-halves.bore, height), sheet.at(halves.bore, height), "beyond")
    sheet.line(sheet.at(0.0, -BELOW), sheet.at(0.0, halves.tip + ABOVE), "axis")


def draw_breaks(sheet: Sheet) -> None:
    """Where the walls are broken off: a wave across each."""
    halves = sheet.halves
    for height in (-BELOW, halves.tip + ABOVE):
        for side in (-1.0, 1.0):
            (x1, y), (x2, _) = (
                sheet.at(side * (halves.bore - 0.25), height),
                sheet.at(side * (halves.outside + 0.25), height),
            )
            third = (x2 - x1) / 3.0
            sheet.parts.append(
                f'<path class="break" d="M{x1:.1f} {y:.1f}C{x1 + third:.1f} {y - 12:.1f} '
                f'{x2 - third:.1f} {y + 12:.1f} {x2:.1f} {y:.1f}"/>'
            )


def draw_dimensions(sheet: Sheet, seat: measure.Seat) -> None:
    """Engagement and bore, in the empty bore."""
    halves = sheet.halves
    left = -halves.bore * 0.8
    sheet.line(sheet.at(-halves.bore, 0.0), sheet.at(left + 0.6, 0.0))
    low, high = sheet.at(left, 0.0), sheet.at(left, halves.tip)
    sheet.dimension(low, high)
    sheet.words(sheet.at(left + 0.4, 0.45 * halves.tip + 0.5), "engagement")
    sheet.words(sheet.at(left + 0.4, 0.45 * halves.tip - 0.5), f"{seat.tip - seat.seam:.1f}")
    ends = sheet.at(-halves.bore, -0.65 * BELOW), sheet.at(halves.bore, -0.65 * BELOW)
    sheet.dimension(*ends)
    sheet.words(sheet.at(0.4, -0.65 * BELOW + 0.7), f"bore {2.0 * halves.bore:.2f}")


def draw_leaders(sheet: Sheet, seat: measure.Seat) -> None:
    """The words on both sides, each with a leader, spread so that none meet."""
    halves = sheet.halves
    seen = measure.clearance(seat)
    tenon, socket = measure.joint_diameters(seat)
    wall = (halves.bore + halves.tenon) / 2.0
    shell = (halves.socket + halves.outside) / 2.0
    gap = (halves.tenon + halves.socket) / 2.0
    cone = halves.bore + 0.7 * (halves.tenon - halves.bore)
    left = [
        ("upper piece", (-shell, halves.roof + 0.7 * ABOVE)),
        (f"gap over the tip {halves.gap:.2f}", (-cone, roof_over(halves, cone) - halves.gap / 2.0)),
        (f"socket diameter {socket:.2f}", (-halves.socket, 0.62 * halves.tip)),
        (f"clearance {(seen.least + seen.greatest) / 2.0:.2f} a side", (-gap, 0.45 * halves.tip)),
        (f"tenon diameter {tenon:.2f}", (-halves.tenon, 0.28 * halves.tip)),
        ("seam", (-halves.outside, 0.0)),
        ("lower piece", (-shell, -0.55 * BELOW)),
    ]
    right = [
        ("groove in the bore", (halves.bore, (halves.tip + halves.roof) / 2.0)),
        ("roof of the socket", (cone + 0.4, roof_over(halves, cone + 0.4))),
        (f"key: rib of {halves.rib - halves.tenon:.2f}", (halves.rib - 0.15, 0.45 * halves.tip)),
        ("tenon", (wall, 0.3 * halves.tip)),
        ("first-layer relief", (halves.groove + 0.05, 0.12)),
        ("shoulder", ((halves.outside + halves.groove) / 2.0 + 0.3, 0.0)),
    ]
    lay_words(sheet, left, -1.0)
    lay_words(sheet, right, 1.0)


def roof_over(halves: Halves, x: float) -> float:
    """Height of the 45 degree roof at a distance from the axis."""
    return halves.roof - max(0.0, x - halves.bore)


def lay_words(sheet: Sheet, told: list[tuple[str, Point]], side: float) -> None:
    """Words in one column, from the top down, as near to what they tell as they may be."""
    targets = [sheet.at(*place) for _, place in told]
    heights = [y for _, y in targets]
    for k in range(1, len(heights)):
        heights[k] = max(heights[k], heights[k - 1] + LINE)
    over = heights[-1] - (sheet.height - EDGE)
    for k in reversed(range(len(heights))):
        heights[k] -= max(0.0, over)
        if k + 1 < len(heights):
            heights[k] = min(heights[k], heights[k + 1] - LINE)
    edge = sheet.at(side * (sheet.halves.outside + 1.6), 0.0)[0]
    for (text, _), target, y in zip(told, targets, heights, strict=True):
        sheet.words((edge + side * 6.0, y), text, "start" if side > 0.0 else "end")
        sheet.line((edge, y), target)
        sheet.dot(target)


def main(argv: list[str]) -> int:
    """Draw the lowest joint of the job in a folder."""
    if len(argv) != 2:
        sys.stderr.write(
            f"found: {len(argv)} arguments; needed: 2; try: section_picture.py DIR OUT.svg\n"
        )
        return 2
    seat = measure.seat(measure.load(Path(argv[0])), 0)
    Path(argv[1]).write_text(draw(seat), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
