"""The folded parts put where they are worn: sleeves along their grain, cuffs and collar double.

The frame is that of the jacket looked at from in front: millimetres, y up, center front on x = 0,
the wearer's left at positive x. Sleeves keep their true shape; the collar is bent around the neck.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from patterns.geometry.outline import Line, Point, length_mm
from patterns.geometry.picture_moves import FAR_MM, clipped, finer, flipped, moved_by
from patterns.geometry.picture_parts import Cloths, Piece


def arm(sleeve: Piece, cuff: Piece | None, *, front: bool) -> Cloths:
    """Half a sleeve folded along its grain, its cuff at its end, top of the cap at the origin, the
    underarm at negative x; seen from in front, or from behind with the other half."""
    cloths = (*(_cuff_on(sleeve, cuff) if cuff else ()), *sleeve.cloths)
    half = clipped(cloths, x=(-FAR_MM, 0.0)) if front else flipped(clipped(cloths, x=(0.0, FAR_MM)))
    top = max(y for _, y in sleeve.line("cap"))
    return moved_by(half, lambda x, y: (x, y - top))


def _cuff_on(sleeve: Piece, cuff: Piece) -> Cloths:
    """The outer layer of a cuff laid along the wrist."""
    import numpy as np

    wrist, seam = sleeve.line("wrist"), cuff.line("sleeve_edge")
    top = seam[0][1]
    middle = (wrist[0][0] + wrist[-1][0]) / 2
    fold = _fold_y(cuff, top, cuff.line("inner_edge")[0][1])
    xs, ys = zip(*wrist, strict=True)
    outer = clipped(cuff.cloths, y=(min(fold, top), max(fold, top)))
    return moved_by(
        finer(outer), lambda x, y: (x + middle, np.interp(x + middle, xs, ys) - abs(y - top))
    )


def hung(arm_cloths: Cloths, shoulder_end: Point, degrees: float) -> Cloths:
    """An arm hung on the shoulder end, turned outward from straight down."""
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return moved_by(
        arm_cloths,
        lambda x, y: (shoulder_end[0] + cos * x - sin * y, shoulder_end[1] + sin * x + cos * y),
    )


def fitting_angle_deg(sleeve: Piece, shoulder_end: Point, underarm: Point) -> float:
    """How far an arm is turned outward when its underarm lies in the direction of the body's."""
    cap = sleeve.line("cap")
    top = max(y for _, y in cap)
    down = math.atan2(cap[0][1] - top, cap[0][0])
    body = math.atan2(underarm[1] - shoulder_end[1], underarm[0] - shoulder_end[0])
    return math.degrees(body - down) % 360.0


@dataclass(frozen=True, slots=True)
class Collar:
    """A collar straightened: x from -1 (end at the wearer's right) over the center back to 1, y
    from the neck seam (0) to the fold (1), the outer and the inner layer apart."""

    outer: Cloths
    inner: Cloths
    stand_mm: float
    half_neck_mm: float


def straightened(collar: Piece) -> Collar:
    """PatternError when the edges `neck` or `inner_neck` are missing."""
    import numpy as np

    neck, inner = collar.line("neck"), collar.line("inner_neck")
    reach = max(abs(x) for x, _ in neck)
    half_neck_mm = length_mm(neck) / 2
    xs, ys = zip(*neck, strict=True)
    stand = abs(_fold_y(collar, neck[0][1], inner[0][1]) - neck[0][1])

    def straight(x: Any, y: Any) -> tuple[Any, Any]:
        return np.clip(-x / reach, -1.0, 1.0), np.abs(y - np.interp(x, xs, ys)) / stand

    cloths = moved_by(finer(collar.cloths), straight)
    folded = moved_by(clipped(cloths, y=(1.0, FAR_MM)), lambda x, y: (x, 2.0 - y))
    return Collar(clipped(cloths, y=(0.0, 1.0)), folded, stand, half_neck_mm)


def bent(
    layer: Cloths,
    stand_mm: float,
    span: tuple[float, float],
    neckline: Line,
    lean: Point,
    leaning: Callable[[Any], Any],
) -> Cloths:
    """The part of a collar layer within `span` of its x, standing on the neckline that the span
    walks along. `leaning` says by x how far it leans: 0 upright, 1 like the unit vector `lean`, -1
    like its mirror image."""
    import numpy as np

    points = np.array(neckline)
    walked = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))

    def stand_up(x: Any, y: Any) -> tuple[Any, Any]:
        place = (x - span[0]) / (span[1] - span[0]) * walked[-1]
        height, share = y * stand_mm, leaning(x)
        return (
            np.interp(place, walked, points[:, 0]) + height * share * lean[0],
            np.interp(place, walked, points[:, 1]) + height * (1 + abs(share) * (lean[1] - 1)),
        )

    return moved_by(clipped(layer, x=span), stand_up)


def _fold_y(folded: Piece, outer_y: float, inner_y: float) -> float:
    return (outer_y + inner_y) / 2 if folded.fold_y is None else folded.fold_y
