"""Cutting, moving, mirroring and turning over what a picture is made of."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

from patterns.geometry.outline import Point
from patterns.geometry.picture_parts import Cloth, Cloths

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

#: Larger than any jacket, in mm.
FAR_MM = 1e5

#: How finely cloth is bent, in mm.
BEND_STEP_MM = 8.0


def clipped(
    cloths: Iterable[Cloth],
    x: tuple[float, float] = (-FAR_MM, FAR_MM),
    y: tuple[float, float] = (-FAR_MM, FAR_MM),
) -> Cloths:
    """What lies within the ranges of x and y."""
    import shapely

    return cut_to(cloths, shapely.box(x[0], y[0], x[1], y[1]))


def cut_to(cloths: Iterable[Cloth], region: BaseGeometry) -> Cloths:
    """What lies within a region, each connected part by itself."""
    import shapely

    return tuple(
        Cloth(cloth.block, part)
        for cloth in cloths
        for part in shapely.get_parts(cloth.geometry.intersection(region))
        if part.geom_type == cloth.geometry.geom_type and not part.is_empty
    )


def parted(cloths: Cloths, a: Point, b: Point) -> tuple[Cloths, Cloths]:
    """What lies on the right and on the left hand when walking on a line from a towards b."""
    import shapely

    length = math.hypot(b[0] - a[0], b[1] - a[1])
    ux, uy = FAR_MM * (b[0] - a[0]) / length, FAR_MM * (b[1] - a[1]) / length
    ends = (a[0] - ux, a[1] - uy), (a[0] + ux, a[1] + uy)
    right, left = (
        shapely.Polygon((*ends, *((x + s * uy, y - s * ux) for x, y in ends[::-1])))
        for s in (1.0, -1.0)
    )
    return cut_to(cloths, right), cut_to(cloths, left)


def moved_by(cloths: Iterable[Cloth], change: Callable[[Any, Any], tuple[Any, Any]]) -> Cloths:
    """Every point moved by a function of the arrays of x and y."""
    import numpy as np
    import shapely

    def on_points(points: Any) -> Any:
        return np.column_stack(change(points[:, 0], points[:, 1]))

    return tuple(
        Cloth(cloth.block, shapely.transform(cloth.geometry, on_points)) for cloth in cloths
    )


def flipped(cloths: Iterable[Cloth]) -> Cloths:
    """Mirrored across x = 0."""
    return moved_by(cloths, lambda x, y: (-x, y))


def both_sides(cloths: Cloths) -> Cloths:
    return (*flipped(cloths), *cloths)


def turned_over(cloths: Iterable[Cloth], a: Point, b: Point) -> Cloths:
    """Mirrored across the line through two points, as cloth turned over along a fold."""
    along = math.atan2(b[1] - a[1], b[0] - a[0])
    cos, sin = math.cos(2 * along), math.sin(2 * along)

    def over(x: Any, y: Any) -> tuple[Any, Any]:
        dx, dy = x - a[0], y - a[1]
        return a[0] + cos * dx + sin * dy, a[1] + sin * dx - cos * dy

    return moved_by(cloths, over)


def finer(cloths: Cloths) -> Cloths:
    """With points near enough to each other for being bent."""
    import shapely

    return tuple(
        Cloth(cloth.block, shapely.segmentize(cloth.geometry, BEND_STEP_MM)) for cloth in cloths
    )
