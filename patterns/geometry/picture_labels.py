"""Where on the visible cloth a block's code can be written."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from patterns.geometry.outline import Point
from patterns.geometry.picture_parts import Cloth

if TYPE_CHECKING:
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

#: Size of the letters of a code, in mm of the jacket; a drawing convention.
LABEL_MM = 30.0

#: Width and height of a capital as shares of that size, on the wide side for a plain typeface.
CAPITAL_WIDTH, CAPITAL_HEIGHT = 0.62, 0.72

#: How near the roomiest spot is sought, in mm.
SPOT_MM = 2.0

#: How finely the visible cloth is found, in mm.
GRID_MM = 0.01


def label_spots(cloths: Sequence[Cloth]) -> tuple[Point | None, ...]:
    """The middle of each cloth's code, for cloths in painting order, each hiding what is painted
    before it; None for stitching and where the visible cloth has no room."""
    import shapely

    cover: BaseGeometry = shapely.Polygon()
    spots: list[Point | None] = []
    for cloth in reversed(cloths):
        if cloth.is_stitching:
            spots.append(None)
            continue
        # Rims of many blocks agree to all but the last digit, which set operations need a grid for.
        visible = shapely.difference(cloth.geometry, cover, grid_size=GRID_MM)
        spots.append(_spot(visible, cloth.block))
        cover = _areas(shapely.union(cloth.geometry, cover, grid_size=GRID_MM))
    return tuple(reversed(spots))


def _areas(geometry: BaseGeometry) -> BaseGeometry:
    """Without the lines that slivers shrink to on the grid."""
    import shapely

    parts = [part for part in shapely.get_parts(geometry) if part.geom_type == "Polygon"]
    return shapely.MultiPolygon(parts)


def _spot(visible: BaseGeometry, code: str) -> Point | None:
    import shapely

    width, height = LABEL_MM * CAPITAL_WIDTH * len(code) / 2, LABEL_MM * CAPITAL_HEIGHT / 2
    parts = [p for p in shapely.get_parts(_areas(visible)) if p.area > 4 * width * height]
    for part in sorted(parts, key=lambda p: -p.area):
        for x, y in _candidates(part):
            if part.covers(shapely.box(x - width, y - height, x + width, y + height)):
                return x, y
    return None


def _candidates(part: Polygon) -> Iterator[Point]:
    """The centroid, which looks best and is the same on both sides, then the roomiest spot."""
    import shapely

    yield part.centroid.x, part.centroid.y
    x, y = shapely.maximum_inscribed_circle(part, SPOT_MM).coords[0]
    yield x, y
