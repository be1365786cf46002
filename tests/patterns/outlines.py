"""Small outlines for the tests of the geometry, and strategies for random ones."""

from __future__ import annotations

import math
from collections.abc import Sequence

from hypothesis import strategies as st

from patterns.geometry.outline import Edge, EdgeKind, Line, Outline, Pairing, Point

RECTANGLE: Line = ((0, 0), (100, 0), (100, 60), (0, 60))

#: A 100 x 100 square without its upper right quarter.
L_SHAPE: Line = ((0, 0), (100, 0), (100, 50), (50, 50), (50, 100), (0, 100))


def make_outline(
    points: Sequence[Point] = RECTANGLE,
    *,
    hem: Sequence[str] = (),
    fold: Sequence[str] = (),
    pairing: Pairing = Pairing.SINGLE,
    **more,
) -> Outline:
    """An outline with one straight edge per side, named s0, s1, … in the order of the points."""
    edges = []
    for index, (a, b) in enumerate(zip(points, (*points[1:], points[0]), strict=True)):
        name = f"s{index}"
        kind = EdgeKind.HEM if name in hem else EdgeKind.FOLD if name in fold else EdgeKind.SEAM
        edges.append(Edge(name, (a, b), kind))
    values = {"code": "P", "name": "Piece", "pairing": pairing, "edges": tuple(edges)} | more
    return Outline(**values)


def make_half_front(**more) -> Outline:
    """The left half of a body cut on the fold, with a curved armhole that is concave."""
    armhole = tuple(
        (240 - 60 * math.sin(t), 420 + 180 * (1 - math.cos(t)))
        for t in (math.pi / 2 * step / 24 for step in range(25))
    )
    values = {
        "code": "FR",
        "name": "Front",
        "pairing": Pairing.FOLD,
        "edges": (
            Edge("hem", ((0, 0), (250, 0)), EdgeKind.HEM),
            Edge("side", ((250, 0), (240, 420))),
            Edge("armhole", armhole),
            Edge("shoulder", (armhole[-1], (70, 640))),
            Edge("neckline", ((70, 640), (50, 600), (20, 575), (0, 570))),
            Edge("center", ((0, 570), (0, 0)), EdgeKind.FOLD),
        ),
        "grainline": ((120, 400), (120, 100)),
    } | more
    return Outline(**values)


@st.composite
def star_outlines(draw, convex: bool = False) -> Outline:
    """Random outlines around the origin: points in all directions at random distances, which may be
    concave, or on a circle at random directions, which are convex. No two directions are nearer
    than 10 degrees."""
    count = draw(st.integers(3, 12))
    gaps = draw(st.lists(st.floats(0.3, 1.0), min_size=count, max_size=count))
    directions = [0.0]
    for gap in gaps[:-1]:
        directions.append(directions[-1] + gap * 2 * math.pi / sum(gaps))
    radii = [150.0] * count
    if not convex:
        radii = draw(st.lists(st.floats(60, 200), min_size=count, max_size=count))
    return make_outline(
        tuple(
            (radius * math.cos(angle), radius * math.sin(angle))
            for radius, angle in zip(radii, directions, strict=True)
        )
    )


bends = st.one_of(
    st.just(()),
    st.tuples(
        st.tuples(st.floats(0.0, 1.0), st.floats(-0.6, 0.6)),
        st.tuples(st.floats(0.0, 1.0), st.floats(-0.6, 0.6)),
    ),
)
