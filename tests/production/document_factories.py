"""A run to print: six blocks in four sizes, three fabric colors, two team orders.

All numbers and names are invented. The seams and the workroom come from `planning_factories`.
"""

from __future__ import annotations

import datetime
import math
from decimal import Decimal
from functools import cache
from typing import Any

from patterns.geometry.picture import Part, Picture, Shape, View
from production.planning.plan import Plan
from production.planning.planner import plan_run
from production.planning.snapshot import (
    BlockingSpec,
    BlockShape,
    JacketSpec,
    Line,
    OrderSpec,
    RunSnapshot,
    ZipperSpec,
)
from tests.production.planning_factories import (
    make_bolt,
    make_color,
    make_fabric,
    make_shape,
    make_size,
    make_snapshot,
    make_stretch,
    make_workroom,
    rectangle,
)

SIZES = {"YM": -80.0, "S": 0.0, "M": 30.0, "XL": 90.0}
HOME = {"FB": "spruce", "FY": "marigold", "BK": "spruce", "SL": "spruce", "CO": "oat", "PL": "oat"}
AWAY = {**HOME, "FB": "marigold", "FY": "spruce", "SL": "marigold"}
NAMES = ("Ada Thorn", "Żółta Ćma", "Анна Вишня", "Νίκη Παππά", "Őze Szűcs", "Bo")
DEADLINE = datetime.date(2027, 3, 14)  # a Sunday


def curved_front(depth_mm: float, breadth_mm: float) -> Line:
    """A rectangle with a quarter circle of 120 mm scooped out as an armhole."""
    x, y = depth_mm / 2, breadth_mm / 2
    steps = [math.radians(90 + 90 * step / 12) for step in range(13)]
    scoop = tuple((-x + 120 * math.sin(a), y + 120 * math.cos(a)) for a in reversed(steps))
    return ((-x, -y), (x, -y), (x, y), *reversed(scoop), (-x, y - 120))


def inset(outline: Line, depth_mm: float, breadth_mm: float) -> Line:
    """The outline drawn in by 10 mm at its ends, near enough to a stitching line to look at."""
    across, along = (breadth_mm - 20) / breadth_mm, (depth_mm - 20) / depth_mm
    return tuple((x * along, y * across) for x, y in outline)


def block(
    code: str, name: str, size: str, depth: float, breadth: float, pairing: str
) -> BlockShape:
    outline = curved_front(depth, breadth) if code == "FB" else rectangle(depth, breadth)
    shape = make_shape(code, size, outline, pairing, name=name)
    return BlockShape(
        block=shape.block,
        name=shape.name,
        piece=shape.piece,
        size=size,
        pairing=pairing,
        cut_outline_mm=outline,
        stitch_outline_mm=inset(outline, depth, breadth),
        notches=(((0.0, -breadth / 2 + 10), (0.0, -breadth / 2), 2),),
        marks=(("fold", ((-depth / 4, 0.0), (depth / 4, 0.0))),),
        grainline=((-depth / 4, 5.0), (depth / 4, 5.0)),
    )


def blocks(size: str, more: float) -> tuple[BlockShape, ...]:
    return (
        block("FB", "Front body", size, 430 + more, 290 + more / 2, "pair"),
        block("FY", "Front yoke", size, 220 + more / 2, 280 + more / 2, "pair"),
        block("BK", "Back", size, 650 + more, 560 + more, "fold"),
        block("SL", "Sleeve", size, 560 + more, 430 + more, "pair"),
        block("CO", "Collar", size, 140, 440 + more, "fold"),
        block("PL", "Placket", size, 620 + more, 62, "single"),
    )


def picture(view: View) -> Picture:
    """Body over yoke, a sleeve on each side, a zipper or nothing in the middle."""

    def box(code: str, x: float, y: float, width: float, height: float) -> Shape:
        ring = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
        return Shape(Part.BLOCK, code, ring)

    sleeves = (box("SL", 0, 40, 120, 500), box("SL", 480, 40, 120, 500))
    if view is View.BACK:
        shapes: tuple[Shape, ...] = (*sleeves, box("BK", 120, 40, 360, 600))
    elif view is View.FRONT:
        front = (box("FY", 120, 40, 360, 180), box("FB", 120, 220, 360, 420))
        line = Shape(Part.ZIPPER, "PL", ((300, 20), (300, 640)))
        shapes = (*sleeves, *front, box("CO", 230, 0, 140, 40), line)
    else:
        shapes = (box("PL", 290, 40, 20, 600),)
    return Picture(view, 600.0, 660.0, shapes)


def make_jackets(count: int) -> tuple[JacketSpec, ...]:
    """Sizes and names by turns, every third jacket the other way round, the last fifth for the
    second club."""
    sizes = list(SIZES)
    return tuple(
        JacketSpec(
            code=f"R-0007-{number:03d}",
            team_order="TQ-1" if number <= 0.8 * count else "HB-2",
            member=NAMES[number % len(NAMES)],
            size=sizes[number % len(sizes)],
            blocking="boat",
            colorway="Away" if number % 3 == 0 else "Home",
            blocks=tuple((AWAY if number % 3 == 0 else HOME).items()),
            zipper_color="black",
            name_on_jacket="Cox" if number == 1 else "",
            note="Longer sleeves" if number == 2 else "",
        )
        for number in range(1, count + 1)
    )


def make_printable(count: int = 12, unit: str = "metric", **values: Any) -> RunSnapshot:
    stretches = [
        make_stretch(f"s{code}", "join", code, 700, blocking="boat", size=size)
        for size in SIZES
        for code in HOME
    ]
    zips = [make_stretch("zip", "zipper", "PL", 1200, blocking="boat", size=s) for s in SIZES]
    return make_snapshot(
        **{
            "run": "R-0007",
            "deadline": DEADLINE,
            "orders": (
                OrderSpec("TQ-1", "Tern Quay Rowing Club", "Spring jackets", DEADLINE),
                OrderSpec("HB-2", "Heron Bend Canoe Club", "Season", datetime.date(2027, 3, 28)),
            ),
            "jackets": make_jackets(count),
            "sizes": tuple(make_size(size, zipper_mm=600) for size in SIZES),
            "shapes": tuple(shape for size, more in SIZES.items() for shape in blocks(size, more)),
            "seams": (*stretches, *zips),
            "fabrics": (make_fabric(name="Midweight fleece", fiber="100 % polyester"),),
            "fabric_colors": (
                make_color("spruce", name="Spruce", hex_color="#1f4d43", hatch="rising"),
                make_color(
                    "marigold",
                    name="Marigold",
                    hex_color="#f0a818",
                    hatch="dots",
                    thread="thread-oat",
                ),
                make_color("oat", name="Oat", hex_color="#e8dcc4", hatch="none"),
            ),
            "bolts": (make_bolt("B-1", "marigold", 20_000),),
            "zippers": (ZipperSpec("black", "Black", 650, Decimal("2.00")),),
            "workroom": make_workroom(length_unit=unit),
            "blockings": (
                BlockingSpec("boat", "Boathouse", tuple(picture(view) for view in View)),
            ),
            **values,
        }
    )


@cache
def printable_run(count: int = 12, unit: str = "metric") -> tuple[RunSnapshot, Plan]:
    """A snapshot with its plan; kept, as planning takes longer than printing."""
    snapshot = make_printable(count, unit)
    return snapshot, plan_run(snapshot).plan
