"""Outlines cut into convex parts: triangles, joined again where the joint part stays convex."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

from production.planning.snapshot import Line

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

#: A corner turned inward by so little, as twice the area of its triangle, counts as straight.
STRAIGHT_MM2 = 1e-9

Corner = tuple[float, float]


@lru_cache(maxsize=4096)
def convex_parts(ring: Line) -> tuple[Floats, ...]:
    """Convex parts that together are the outline, each an array of its corners, counterclockwise.

    Joins the triangles of a constrained Delaunay triangulation over one edge after another
    (Hertel and Mehlhorn 1983, from memory: at most four times as many parts as needed).
    """
    import numpy as np
    import shapely

    triangles = shapely.orient_polygons(
        shapely.get_parts(shapely.constrained_delaunay_triangles(shapely.Polygon(ring)))
    )
    corners = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3].tolist()
    parts = {number: [(x, y) for x, y in triangle] for number, triangle in enumerate(corners)}
    part_at = {edge: number for number, part in parts.items() for edge in _edges(part)}
    for start, end in list(part_at):
        one, other = part_at[start, end], part_at.get((end, start))
        if other is None or other == one:
            continue
        joint = _from(parts[one], end)[:-1] + _from(parts[other], start)[:-1]
        if _is_convex(joint):
            parts[one] = joint
            part_at.update(dict.fromkeys(_edges(parts.pop(other)), one))
    return tuple(np.array(part) for part in parts.values())


@lru_cache(maxsize=4096)
def convex_hull(ring: Line) -> Floats:
    """The corners of the hull of an outline, counterclockwise."""
    import numpy as np
    import shapely

    hull = shapely.orient_polygons(shapely.Polygon(ring).convex_hull)
    return np.array(shapely.get_coordinates(hull)[:-1])


def _edges(part: list[Corner]) -> list[tuple[Corner, Corner]]:
    return list(pairwise([*part, part[0]]))


def _from(part: list[Corner], corner: Corner) -> list[Corner]:
    at = part.index(corner)
    return part[at:] + part[:at]


def _is_convex(part: list[Corner]) -> bool:
    return all(
        (bx - ax) * (cy - by) - (by - ay) * (cx - bx) >= -STRAIGHT_MM2
        for (ax, ay), (bx, by), (cx, cy) in zip(
            part, part[1:] + part[:1], part[2:] + part[:2], strict=True
        )
    )
