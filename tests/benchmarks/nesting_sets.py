"""What the nesting benchmark nests: lays of the demo, a synthetic set of jackets, ESICUP."""

from __future__ import annotations

import json
import os
from collections import Counter
from pathlib import Path
from typing import Any

from production.planning.nesting import Nest, NestBlock, Strip
from production.planning.nesting.blocks import area_mm2

ESICUP = Path(__file__).parents[1] / "published" / "esicup"
#: Instances come in units of their own; they are nested as cloth of this width.
ESICUP_WIDTH_MM = 1500.0
#: In %, records of JeroenGar/sparrow at a4bfbbe; see tests/published/test_packing.py.
BEST_DENSITY = {
    "dagli": 90.172,
    "fu": 92.396,
    "jakobs1": 89.247,
    "mao": 86.867,
    "shapes0": 69.978,
    "shirts": 90.920,
    "trousers": 92.615,
}
Nesting = tuple[list[NestBlock], Strip]


def density(found: Nest, blocks: list[NestBlock], strip: Strip) -> float:
    """Part of the cloth that the blocks cover, in %."""
    return 100 * area_mm2(blocks) / (found.length_mm * strip.width_mm)


def esicup(name: str) -> Nesting:
    told = json.loads((ESICUP / f"{name}.json").read_text())
    scale = ESICUP_WIDTH_MM / told["strip_height"]
    blocks = [
        NestBlock(
            key=(str(item["id"]),),
            name=f"piece {item['id']}",
            outline=tuple((x * scale, y * scale) for x, y in item["shape"]["data"]),
            count=item["demand"],
            turns=tuple(item["allowed_orientations"]),
        )
        for item in told["items"]
    ]
    return blocks, Strip(ESICUP_WIDTH_MM, 0.0)


def prepare_demo() -> Any:
    """The demo's run, planned, in a database in memory."""
    os.environ["DATABASE_URL"] = "sqlite://:memory:"
    os.environ["JACKET_MUSTER_STATIC"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "orders.site.settings")
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)
    from production.models import Run
    from production.scenario.demo import make_demo

    make_demo()
    return Run.objects.order_by("pk").first()


def demo_sets(lays: int, jacket_pieces: int) -> dict[str, Nesting]:
    """The demo's lays with the most blocks, and a synthetic set: blocks of all its sizes, one of
    each or one pair, as many as make up the pieces asked for."""
    run = prepare_demo()
    from production.models import Lay
    from production.services import load_snapshot

    snapshot = load_snapshot(run)
    fabric, gap_mm = snapshot.fabrics[0], float(snapshot.workroom.block_gap_mm)
    strip = Strip(float(fabric.usable_width_mm), gap_mm)
    turns = (0.0,) if fabric.nap == "one_way" else (0.0, 180.0)
    sets = {}
    stored = sorted(Lay.objects.filter(ticket__run=run), key=lambda lay: -len(lay.placements))
    for lay in stored[:lays]:
        counts = Counter((at["block"], at["size"], at["side"]) for at in lay.placements)
        sets[lay.code] = nest_blocks(snapshot.shapes, counts, turns), strip
    sides = {"pair": ("left", "right")}
    keys = [
        (shape.block, shape.size, side)
        for shape in sorted(snapshot.shapes, key=lambda shape: (shape.size, shape.block))
        for side in sides.get(shape.pairing, ("single",))
    ]
    counts = Counter(keys[number % len(keys)] for number in range(jacket_pieces))
    sets[f"{jacket_pieces} pieces"] = nest_blocks(snapshot.shapes, counts, turns), strip
    return sets


def nest_blocks(
    shapes: Any, counts: Counter[tuple[str, str, str]], turns: tuple[float, ...]
) -> list[NestBlock]:
    outlines = {(shape.block, shape.size): shape.cut_outline_mm for shape in shapes}
    return [
        NestBlock(
            key=key,
            name=" ".join(key),
            outline=tuple((x, -y if key[2] == "right" else y) for x, y in outlines[key[:2]]),
            count=count,
            turns=turns,
        )
        for key, count in sorted(counts.items())
    ]
