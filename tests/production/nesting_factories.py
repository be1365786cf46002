"""Blocks to nest: rectangles, and random outlines for property tests. Sizes are invented."""

from __future__ import annotations

import math

import shapely
from hypothesis import strategies as st

from production.planning.nesting import NestBlock
from production.planning.snapshot import Line


def rectangle(
    name: str, depth_mm: float, breadth_mm: float, count: int = 1, *turns: float
) -> NestBlock:
    outline = ((0.0, 0.0), (depth_mm, 0.0), (depth_mm, breadth_mm), (0.0, breadth_mm))
    return NestBlock((name,), name, outline, count, turns or (0.0,))


def polygon(name: str, outline: Line, count: int = 1, *turns: float) -> NestBlock:
    return NestBlock((name,), name, outline, count, turns or (0.0,))


def is_sound(ring: Line) -> bool:
    shape = shapely.Polygon(ring)
    return bool(shape.is_valid and shape.area > 100)


@st.composite
def stars(draw: st.DrawFn) -> Line:
    """Outlines seen whole from their middle, mostly hollow somewhere, 40 to 400 mm across."""
    reaches = draw(st.lists(st.floats(20, 200), min_size=3, max_size=9))
    step = 2 * math.pi / len(reaches)
    return tuple(
        (reach * math.cos(at * step), reach * math.sin(at * step))
        for at, reach in enumerate(reaches)
    )


@st.composite
def convex(draw: st.DrawFn) -> Line:
    corner = st.tuples(st.floats(-200, 200), st.floats(-200, 200))
    corners = draw(st.lists(corner, min_size=4, max_size=9))
    hull = shapely.MultiPoint(corners).convex_hull
    if not isinstance(hull, shapely.Polygon):
        return ((0.0, 0.0), (50.0, 0.0), (0.0, 50.0))
    return tuple((x, y) for x, y in hull.exterior.coords[:-1])


@st.composite
def some_blocks(draw: st.DrawFn) -> list[NestBlock]:
    outlines = st.one_of(stars(), convex()).filter(is_sound)
    turns = st.sampled_from([(0.0,), (0.0, 180.0), (0.0, 90.0, 180.0, 270.0), (0.0, 33.0)])
    told = draw(st.lists(st.tuples(outlines, st.integers(1, 3), turns), min_size=1, max_size=4))
    return [
        polygon(f"block {number}", outline, count, *turns)
        for number, (outline, count, turns) in enumerate(told)
    ]
