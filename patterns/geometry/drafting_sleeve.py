"""The sleeve of the drafted jacket: a low cap solved to fit both armholes."""

from __future__ import annotations

import math
from dataclasses import dataclass

from patterns.geometry.bodies import BODY_RANGES_MM, Body, Ease, require
from patterns.geometry.drafting_body import ARMHOLE_NOTCH, Frame, solved
from patterns.geometry.outline import (
    Edge,
    Line,
    Outline,
    Pairing,
    PatternError,
    Point,
    cubic,
    cubic_steps,
    length_mm,
    notch_on,
)

CAP_OF_ARMHOLE = 0.60  # cap height, of the mean depth of the armholes
REACH_MORE_MM = 32.0  # longer than nape to wrist, at the corners of the wrist's arc
CUFF_OF_HEIGHT = 0.031

#: Lengths of the cap's handles, at the top and at the underarm, as shares of the half width. The
#: front is hollower near the underarm, the back fuller near the top.
FRONT_HANDLES, BACK_HANDLES = (0.46, 0.44), (0.52, 0.38)

LEAST_DROP_MM = 60.0
STEEPEST_TAPER = math.radians(30.0)
_SETTLED = 1e-10
_ROUNDS = 60


@dataclass(frozen=True, slots=True)
class _Cap:
    """Both halves of the cap, each from the top down to the underarm level y = 0, at positive x,
    and the angle by which the underarm seams lean in."""

    front: Line
    back: Line
    taper: float

    @property
    def edge(self) -> Line:
        """Counterclockwise on the sleeve: from the back underarm over the top to the front."""
        over_the_top = tuple((-x, y) for x, y in self.front[1:])
        return (*reversed(self.back), *over_the_top)


def sleeve(
    body: Body, ease: Ease, frame: Frame, front_armhole: Line, back_armhole: Line
) -> Outline:
    """The wearer's left sleeve, front at negative x, underarm level on y = 0.

    Each half of the cap is as long as its own armhole and half of the cap ease. Raises PatternError
    where the arm is too short for the cap or the wrist too wide for the sleeve.
    """
    height = CAP_OF_ARMHOLE * (_rise(front_armhole) + _rise(back_armhole)) / 2
    drop = _drop_mm(body, frame, height)
    wrist_mm = body.wrist_mm + ease.wrist_mm
    front_mm, back_mm = length_mm(front_armhole), length_mm(back_armhole)
    cap = _cap(body, height, drop, wrist_mm, front_mm + ease.cap_mm / 2, back_mm + ease.cap_mm / 2)
    # Both underarm seams lean in alike, which makes them equally long.
    lean = drop * math.tan(cap.taper)
    front_x, back_x = cap.front[-1][0], cap.back[-1][0]
    wrist = _wrist((lean - front_x, -drop), (back_x - lean, -drop), cap.taper)
    return _outline(
        Edge("cap", cap.edge),
        Edge("front_underarm", ((-front_x, 0.0), wrist[0])),
        Edge("wrist", wrist),
        Edge("back_underarm", (wrist[-1], (back_x, 0.0))),
        length_mm(cap.back),
        (ARMHOLE_NOTCH * front_mm, ARMHOLE_NOTCH * back_mm),
    )


def _wrist(front_corner: Point, back_corner: Point, taper: float) -> Line:
    """A shallow arc upward, square to both underarm seams, so that it runs smoothly over the seam.

    The arc sweeps twice the taper; the handles are those of the cubic nearest to a circle."""
    (left, y), (right, _) = front_corner, back_corner
    handle = (right - left) * _arc_handle(taper)
    across, rise = handle * math.cos(taper), handle * math.sin(taper)
    return cubic(front_corner, (left + across, y + rise), (right - across, y + rise), back_corner)


def _arc_handle(half_sweep: float) -> float:
    """Handle length of a circular arc as a share of its chord: 4/3 tan(sweep / 4) of the radius,
    the chord being 2 sin(sweep / 2) of it; a third for a straight line."""
    if half_sweep < 1e-6:
        return 1.0 / 3.0
    return 4.0 / 3.0 * math.tan(half_sweep / 2) / (2.0 * math.sin(half_sweep))


def cuff_depth_mm(body: Body) -> float:
    """The depth of the finished cuff."""
    return CUFF_OF_HEIGHT * body.height_mm


def _rise(armhole: Line) -> float:
    return armhole[-1][1] - armhole[0][1]


def _drop_mm(body: Body, frame: Frame, cap_height: float) -> float:
    """Underarm level to wrist, so that neck to cuff covers the arm."""
    drawn_mm = frame.neck_half + frame.shoulder_mm + cap_height + cuff_depth_mm(body)
    before_arm = body.shoulder_width_mm / 2 + REACH_MORE_MM - drawn_mm
    least = LEAST_DROP_MM - before_arm
    require(body, "arm_mm", body.arm_mm, least, BODY_RANGES_MM["arm_mm"][1])
    return before_arm + body.arm_mm


def _cap(
    body: Body, height: float, drop: float, wrist_mm: float, front_mm: float, back_mm: float
) -> _Cap:
    """The cap meets the underarm seams square, so its shape hangs on their taper and the taper on
    its width: the two are settled in turns."""
    taper = 0.0
    for _ in range(_ROUNDS):
        front = _half_cap(height, taper, FRONT_HANDLES, front_mm)
        back = _half_cap(height, taper, BACK_HANDLES, back_mm)
        biceps = front[-1][0] + back[-1][0]
        require(body, "wrist_mm with its ease", wrist_mm, 0.0, biceps)
        # The wrist is an arc over twice the taper, so its chord is a little shorter.
        chord = wrist_mm * (math.sin(taper) / taper if taper else 1.0)
        lean = (biceps - chord) / 2
        least = body.arm_mm + lean / math.tan(STEEPEST_TAPER) - drop
        require(body, "arm_mm", body.arm_mm, least, BODY_RANGES_MM["arm_mm"][1])
        before, taper = taper, math.atan(lean / drop)
        if abs(taper - before) < _SETTLED:
            return _Cap(front, back, taper)
    raise PatternError(f"Size {body.code}: no sleeve cap fits the armhole; check arm_mm.")


def _half_cap(height: float, taper: float, handles: tuple[float, float], wanted_mm: float) -> Line:
    """A half cap of the wanted length, by its width."""
    # A fixed number of steps lets the length rise without jumps while the width is searched.
    steps = cubic_steps(*_handles(height, taper, handles, wanted_mm))

    def drawn(width: float) -> Line:
        return cubic(*_handles(height, taper, handles, width), steps=steps)

    return drawn(solved(lambda width: length_mm(drawn(width)), wanted_mm, 0.0, wanted_mm))


def _handles(
    height: float, taper: float, handles: tuple[float, float], width: float
) -> tuple[Point, Point, Point, Point]:
    top, low = handles[0] * width, handles[1] * width
    return (
        (0.0, height),
        (top, height),
        (width - low * math.cos(taper), low * math.sin(taper)),
        (width, 0.0),
    )


def _outline(
    cap: Edge,
    front_underarm: Edge,
    wrist: Edge,
    back_underarm: Edge,
    back_cap_mm: float,
    notches_mm: tuple[float, float],
) -> Outline:
    """`notches_mm`: how far the armhole notches lie from the underarm, front and back; no ease is
    taken up below them."""
    front_notch_mm, back_notch_mm = notches_mm
    return Outline(
        "SL",
        "Sleeve",
        Pairing.PAIR,
        (cap, front_underarm, wrist, back_underarm),
        (
            notch_on("ab", cap, back_notch_mm, count=2),
            notch_on("sh", cap, back_cap_mm),
            notch_on("af", cap, cap.length_mm - front_notch_mm),
            notch_on("ua", front_underarm, front_underarm.length_mm / 2),
            notch_on("ua", back_underarm, back_underarm.length_mm / 2),
            notch_on("wr", wrist, wrist.length_mm / 2),
        ),
        grainline=((0.0, 0.0), (0.0, 0.85 * wrist.points[0][1])),
    )
