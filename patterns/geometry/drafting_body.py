"""Front and back of the drafted jacket: a half body each, drawn on one frame of shared points.

The proportions are our own invented starting values, judged by eye on the drawn pieces. Halves are
drawn at positive x, counterclockwise, with the finished hem on y = 0 and the center line on x = 0.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from patterns.geometry.bodies import BODY_RANGES_MM, Body, Ease, require
from patterns.geometry.outline import (
    Edge,
    EdgeKind,
    Line,
    Outline,
    Pairing,
    Point,
    cubic,
    length_mm,
    mirrored,
    notch_on,
)

SHOULDER_SLOPE = math.radians(19.0)
BACK_LENGTH_OF_HEIGHT, BACK_LENGTH_MORE_MM = 0.39, 12.0
BALANCE_OF_HEIGHT = 0.006  # the back shoulder lies this much higher than the front one
SCYE_OF_CHEST, SCYE_OF_HEIGHT = 0.10, 0.084  # nape to underarm level; chest with its ease
GREATEST_SCYE_OF_BACK = 0.7
TIP_OF_SHOULDER, TIP_OF_QUARTER = 0.45, 0.48  # a loose shoulder follows the chest as well
SHOULDER_MORE_OF_EASE = 0.1
LEAST_SHOULDER_OF_CHEST = 0.3
LEAST_SHOULDER_MM, LEAST_SCOOP_MM = 45.0, 10.0
STEEPEST_SIDE = 0.25  # how far the side seam may lean, of its height

#: The share of the armhole, from the underarm, at which its notch lies; of the side seam likewise.
ARMHOLE_NOTCH, SIDE_NOTCH = 0.38, 0.5

_SOLVED_MM = 1e-9


@dataclass(frozen=True, slots=True)
class Shape:
    """What makes a half a front or a back. Depth and handles of the neckline in half neck widths
    and depths; `narrowing` is where the armhole's lower handle ends, as a share of the tip's x."""

    neck_depth: float
    neck_handles: tuple[float, float]
    narrowing: float


FRONT = Shape(neck_depth=1.15, neck_handles=(0.55, 0.52), narrowing=0.87)
BACK = Shape(neck_depth=0.29, neck_handles=(0.80, 0.50), narrowing=0.93)


@dataclass(frozen=True, slots=True)
class Frame:
    """The points that front and back share, in mm; `balance` is the front shoulder's drop."""

    underarm: Point
    hem_corner: Point
    nape_y: float
    neck_half: float
    tip_x: float
    balance: float

    @property
    def shoulder_mm(self) -> float:
        return (self.tip_x - self.neck_half) / math.cos(SHOULDER_SLOPE)


@dataclass(frozen=True, slots=True)
class Half:
    """The edges of a half body, counterclockwise from the center of the hem."""

    hem: Line
    side: Line
    armhole: Line
    shoulder: Line
    neckline: Line
    center: Line

    @property
    def grainline(self) -> tuple[Point, Point]:
        x, y = self.side[1]
        return (x / 2, y), (x / 2, 0.15 * y)


def body_frame(body: Body, ease: Ease) -> Frame:
    """The shared points. Raises PatternError where the shoulder or the armhole finds no room."""
    chest = body.chest_mm + ease.chest_mm
    nape_y = BACK_LENGTH_OF_HEIGHT * body.height_mm + BACK_LENGTH_MORE_MM
    scye = SCYE_OF_CHEST * chest + SCYE_OF_HEIGHT * body.height_mm
    frame = Frame(
        underarm=(chest / 4, nape_y - scye),
        hem_corner=((body.hip_mm + ease.hip_mm) / 4, 0.0),
        nape_y=nape_y,
        neck_half=_neck_half((body.neck_mm + ease.neck_mm) / 2),
        tip_x=TIP_OF_SHOULDER * (body.shoulder_width_mm / 2 + SHOULDER_MORE_OF_EASE * ease.chest_mm)
        + TIP_OF_QUARTER * chest / 4,
        balance=BALANCE_OF_HEIGHT * body.height_mm,
    )
    _require_side_seam(body, ease, frame)
    _require_shoulder_room(body, ease, frame)
    return frame


def _require_side_seam(body: Body, ease: Ease, frame: Frame) -> None:
    """The underarm lies well above the hem, and the side seam does not lean far."""
    deepest = GREATEST_SCYE_OF_BACK * frame.nape_y - SCYE_OF_HEIGHT * body.height_mm
    widest = deepest / SCYE_OF_CHEST - ease.chest_mm
    require(body, "chest_mm", body.chest_mm, BODY_RANGES_MM["chest_mm"][0], widest)
    quarter, height = frame.underarm
    middle, lean = 4 * quarter - ease.hip_mm, 4 * STEEPEST_SIDE * height
    require(body, "hip_mm", body.hip_mm, middle - lean, middle + lean)


def _require_shoulder_room(body: Body, ease: Ease, frame: Frame) -> None:
    """The shoulder begins outside the neck and ends inside the side seam."""
    outermost = frame.underarm[0] - LEAST_SCOOP_MM
    # The neckline is drawn in proportion, so its width goes with its girth.
    girth_mm = body.neck_mm + ease.neck_mm
    widest = (outermost - LEAST_SHOULDER_MM) / frame.neck_half * girth_mm - ease.neck_mm
    require(body, "neck_mm", body.neck_mm, BODY_RANGES_MM["neck_mm"][0], widest)
    tip_per_mm = TIP_OF_SHOULDER / 2
    width = body.shoulder_width_mm
    low = width + (frame.neck_half + LEAST_SHOULDER_MM - frame.tip_x) / tip_per_mm
    high = width + (outermost - frame.tip_x) / tip_per_mm
    low = max(low, LEAST_SHOULDER_OF_CHEST * body.chest_mm)
    require(body, "shoulder_width_mm", width, low, high)


def _neck_half(half_girth_mm: float) -> float:
    """The half neck width whose front and back necklines add up to the half neck girth."""

    def girth(neck_half: float) -> float:
        return sum(length_mm(_neckline((neck_half, 0.0), shape)) for shape in (FRONT, BACK))

    return solved(girth, half_girth_mm, 0.1 * half_girth_mm, half_girth_mm)


def solved(function: Callable[[float], float], target: float, low: float, high: float) -> float:
    """Where a rising function reaches the target between low and high, by bisection."""
    while high - low > _SOLVED_MM:
        middle = (low + high) / 2
        if function(middle) < target:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _neckline(neck_point: Point, shape: Shape) -> Line:
    """From the neck point, square to the shoulder, down to the center line, square to it."""
    x, y = neck_point
    depth = shape.neck_depth * x
    first, second = shape.neck_handles[0] * depth, shape.neck_handles[1] * x
    return cubic(
        neck_point,
        (x - first * math.sin(SHOULDER_SLOPE), y - first * math.cos(SHOULDER_SLOPE)),
        (second, y - depth),
        (0.0, y - depth),
    )


def half(frame: Frame, shape: Shape, lowered_mm: float) -> Half:
    """A half body whose shoulder lies `lowered_mm` below the back's."""
    neck_point = (
        frame.neck_half,
        frame.nape_y + BACK.neck_depth * frame.neck_half - lowered_mm,
    )
    tip = (frame.tip_x, neck_point[1] - frame.shoulder_mm * math.sin(SHOULDER_SLOPE))
    neckline = _neckline(neck_point, shape)
    return Half(
        hem=((0.0, 0.0), frame.hem_corner),
        side=(frame.hem_corner, frame.underarm),
        armhole=_armhole(frame, tip, shape.narrowing),
        shoulder=(tip, neck_point),
        neckline=neckline,
        center=(neckline[-1], (0.0, 0.0)),
    )


def _armhole(frame: Frame, tip: Point, narrowing: float) -> Line:
    """From the underarm, square to the side seam, up to the shoulder tip, square to the shoulder,
    so that the armhole runs smoothly over both seams."""
    (ux, uy), (hx, hy) = frame.underarm, frame.hem_corner
    side = math.hypot(ux - hx, uy - hy)
    low, high = ux - narrowing * tip[0], 0.5 * (tip[1] - uy)
    return cubic(
        frame.underarm,
        (ux - low * (uy - hy) / side, uy + low * (ux - hx) / side),
        (tip[0] - high * math.sin(SHOULDER_SLOPE), tip[1] - high * math.cos(SHOULDER_SLOPE)),
        tip,
    )


def front(drawn: Half) -> Outline:
    """The wearer's left front."""
    side, armhole = Edge("side", drawn.side), Edge("armhole", drawn.armhole)
    center = Edge("center_front", drawn.center)
    return Outline(
        "FR",
        "Front",
        Pairing.PAIR,
        (
            Edge("hem", drawn.hem, EdgeKind.HEM),
            side,
            armhole,
            Edge("shoulder", drawn.shoulder),
            Edge("neckline", drawn.neckline),
            center,
        ),
        (
            notch_on("af", armhole, ARMHOLE_NOTCH * armhole.length_mm),
            notch_on("si", side, (1 - SIDE_NOTCH) * side.length_mm),
            notch_on("cf", center, center.length_mm / 2),
        ),
        grainline=drawn.grainline,
    )


def back(drawn: Half) -> Outline:
    """The wearer's left half seen from behind, hence the drawn half mirrored."""
    neckline = Edge("neckline", mirrored(drawn.neckline))
    armhole, side = Edge("armhole", mirrored(drawn.armhole)), Edge("side", mirrored(drawn.side))
    (x, top), (_, bottom) = drawn.grainline
    return Outline(
        "BK",
        "Back",
        Pairing.FOLD,
        (
            neckline,
            Edge("shoulder", mirrored(drawn.shoulder)),
            armhole,
            side,
            Edge("hem", mirrored(drawn.hem), EdgeKind.HEM),
            Edge("center_back", mirrored(drawn.center), EdgeKind.FOLD),
        ),
        (
            notch_on("cb", neckline, 0.0),
            notch_on("ab", armhole, (1 - ARMHOLE_NOTCH) * armhole.length_mm, count=2),
            notch_on("si", side, SIDE_NOTCH * side.length_mm),
        ),
        grainline=((-x, top), (-x, bottom)),
    )
