"""Small hand-made snapshots with quiet defaults; the fact under test is written in the test.

All numbers are invented round ones. The jacket has three blocks: fronts FR (a pair, L-shaped), a
back BK (on the fold) and a collar CO (single), with five seams on them.
"""

from __future__ import annotations

import datetime
from dataclasses import replace
from decimal import Decimal
from typing import Any

from production.planning.plan import Placement
from production.planning.snapshot import (
    BlockShape,
    BoltSpec,
    ElasticSpec,
    FabricColorSpec,
    FabricSpec,
    JacketSpec,
    Line,
    OperationSpec,
    OrderSpec,
    RunSnapshot,
    SeamStretch,
    SizeSpec,
    ThreadSpec,
    WorkroomSpec,
    ZipperSpec,
)

MONDAY = datetime.date(2027, 2, 1)


def rectangle(depth_mm: float, breadth_mm: float) -> Line:
    """Counterclockwise, centered on the origin as in the lay frame."""
    x, y = depth_mm / 2, breadth_mm / 2
    return ((-x, -y), (x, -y), (x, y), (-x, y))


def l_shape(depth_mm: float, breadth_mm: float) -> Line:
    """The rectangle without the 100 x 80 mm at its far upper corner."""
    x, y = depth_mm / 2, breadth_mm / 2
    return ((-x, -y), (x, -y), (x, y - 80), (x - 100, y - 80), (x - 100, y), (-x, y))


def make_shape(
    block: str, size: str = "S", outline: Line | None = None, pairing: str = "single", **values: Any
) -> BlockShape:
    outline = outline or rectangle(400, 80)
    return BlockShape(
        block=block,
        name=values.pop("name", f"block {block}"),
        piece=values.pop("piece", block),
        size=size,
        pairing=pairing,
        cut_outline_mm=outline,
        stitch_outline_mm=outline,
        **values,
    )


def jacket_shapes(size: str, more_mm: float = 0) -> tuple[BlockShape, ...]:
    return (
        make_shape("FR", size, l_shape(600 + more_mm, 280 + more_mm), "pair"),
        make_shape("BK", size, rectangle(600 + more_mm, 500 + more_mm), "fold"),
        make_shape("CO", size, rectangle(400 + more_mm, 80), "single"),
    )


def make_stretch(seam: str, kind: str, block: str, length_mm: float, **values: Any) -> SeamStretch:
    return SeamStretch(
        blocking=values.pop("blocking", "quay"),
        size=values.pop("size", "S"),
        seam=seam,
        name=f"{seam} seam",
        kind=kind,
        block=block,
        length_mm=length_mm,
        runs=values.pop("runs", 1),
        topstitched=values.pop("topstitched", False),
    )


def jacket_seams(size: str) -> tuple[SeamStretch, ...]:
    return (
        make_stretch("side", "join", "BK", 1000, runs=2, size=size),
        make_stretch("neck", "join", "CO", 400, topstitched=True, size=size),
        make_stretch("zip", "zipper", "FR", 1200, runs=2, size=size),
        make_stretch("hem", "hem", "BK", 500, size=size),
        make_stretch("cuff", "join", "FR", 500, runs=2, size=size),
    )


def make_jacket(code: str = "J1", **values: Any) -> JacketSpec:
    return JacketSpec(
        **{
            "code": code,
            "team_order": "TO-1",
            "member": f"member of {code}",
            "size": "S",
            "blocking": "quay",
            "colorway": "home",
            "blocks": (("FR", "spruce"), ("BK", "spruce"), ("CO", "oat")),
            "zipper_color": "black",
            **values,
        }
    )


def make_fabric(**values: Any) -> FabricSpec:
    return FabricSpec(
        **{
            "code": "fleece",
            "name": "Test fleece",
            "fiber": "polyester",
            "usable_width_mm": 1400,
            "nap": "one_way",
            "highest_plies": 8,
            "shrinkage": Decimal("0.02"),
            "end_allowance_mm": 20,
            "compressed_thickness_mm": Decimal("1.2"),
            "price_per_m": Decimal("10.00"),
            **values,
        }
    )


def make_color(code: str, **values: Any) -> FabricColorSpec:
    return FabricColorSpec(
        **{
            "code": code,
            "name": code,
            "fabric": "fleece",
            "hex_color": "#123456",
            "hatch": "none",
            "thread": f"thread-{code}",
            **values,
        }
    )


def make_bolt(code: str, color: str, length_mm: int, **values: Any) -> BoltSpec:
    return BoltSpec(
        **{
            "code": code,
            "fabric_color": color,
            "dye_lot": "lot-1",
            "usable_width_mm": 1480,
            "start_mm": 0,
            "end_mm": length_mm,
            **values,
        }
    )


def make_operation(code: str, stage: str, driver: str, **values: Any) -> OperationSpec:
    return OperationSpec(code=code, name=f"work {code}", stage=stage, driver=driver, **values)


def make_sewing(code: str, covers: str, **values: Any) -> OperationSpec:
    defaults = {
        "minutes_each": Decimal("0.5"),
        "minutes_per_metre": Decimal(1),
        "machine": "lockstitch",
        "foot": "standard",
        "stitch_type": "301",
        "stitch_length_mm": Decimal("3.0"),
    }
    return make_operation(code, "sew", "seam_metre", covers=covers, **{**defaults, **values})


OPERATIONS = (
    make_operation("mark", "cut", "lay", minutes_each=Decimal(10)),
    make_operation("spread", "cut", "ply", minutes_each=Decimal(2)),
    make_operation("cut-out", "cut", "block", minutes_each=Decimal("0.5")),
    make_sewing("seam", "join"),
    make_sewing("topstitch", "topstitched", contrast_thread=True, foot="edge"),
    make_sewing("zipper", "zipper", foot="zipper"),
    make_sewing("hem", "hem", rows=2, contrast_thread=True),
    make_sewing("cuff", "cuff"),
    make_operation("pack", "finish", "jacket", minutes_each=Decimal(3)),
)


def make_workroom(**values: Any) -> WorkroomSpec:
    return WorkroomSpec(
        **{
            "name": "Test workroom",
            "length_unit": "metric",
            "currency": "EUR",
            "table_length_mm": 6000,
            "block_gap_mm": 4,
            "seam_allowance_mm": 10,
            "hem_allowance_mm": 30,
            "people": 2,
            "minutes_per_person_day": 360,
            "working_weekdays": "12345",
            "relaxation_allowance": Decimal("0.11"),
            "thread_waste": Decimal("0.15"),
            "thread_tail_mm": 60,
            "labor_per_hour": Decimal("24.00"),
            "overhead": Decimal("0.20"),
            "minutes_spread": Decimal("0.20"),
            **values,
        }
    )


def make_size(code: str, **values: Any) -> SizeSpec:
    defaults = {"zipper_mm": 600, "hem_girth_mm": 900, "cuff_girth_mm": 200}
    return SizeSpec(code=code, name=code, age_group="adult", **{**defaults, **values})


def make_snapshot(**values: Any) -> RunSnapshot:
    colors = ("spruce", "oat", "slate")
    return RunSnapshot(
        **{
            "run": "R-0001",
            "deadline": MONDAY + datetime.timedelta(days=25),
            "planned_on": MONDAY,
            "orders": (OrderSpec("TO-1", "Test club", "Jackets", MONDAY),),
            "jackets": (make_jacket(),),
            "sizes": (make_size("S"), make_size("M", zipper_mm=640)),
            "shapes": jacket_shapes("S") + jacket_shapes("M", 20),
            "seams": jacket_seams("S") + jacket_seams("M"),
            "operations": OPERATIONS,
            "fabrics": (make_fabric(),),
            "fabric_colors": tuple(make_color(code) for code in colors),
            "threads": tuple(
                ThreadSpec(f"thread-{code}", code, "#123456", 1000, Decimal("4.50"))
                for code in (*colors, "red")
            ),
            "zippers": tuple(
                ZipperSpec(color, color, length_mm, Decimal("2.00"))
                for color in ("black", "white")
                for length_mm in (550, 600, 650)
            ),
            "elastics": (
                ElasticSpec("hem", "hem elastic", 25, Decimal("0.8"), 20, Decimal("1.00")),
                ElasticSpec("cuff", "cuff elastic", 25, Decimal("0.9"), 20, Decimal("1.00")),
            ),
            "workroom": make_workroom(),
            **values,
        }
    )


def moved(placement: Placement, x_mm: float = 0, y_mm: float = 0) -> Placement:
    return replace(placement, x_mm=placement.x_mm + x_mm, y_mm=placement.y_mm + y_mm)
