"""A small frozen run whose jackets may be changed: sizes S and M, two colorways, some work done."""

from __future__ import annotations

from typing import Any

from orders.facts import JacketFacts
from orders.models import BlockChoice, Colorway, ColorwayBlock, JacketOrder, TeamOrder
from patterns.models import Block, FabricColor, PatternSize
from production.models import Jacket, Run
from production.tracking import record
from tests.production.run_factories import FILLS, make_run, make_team_order

AWAY = (("FR", "oat"), ("BK", "spruce"), ("CO", "spruce"))


def make_frozen_run(jackets: int = 3, cut: tuple[int, ...] = ()) -> Run:
    """TO-1-01, -03, … are S, TO-1-02, -04, … are M; those numbered in `cut` wait to be sewn."""
    order = make_team_order(jackets=jackets, state=TeamOrder.State.IN_PRODUCTION)
    home = order.colorways.get()
    away = Colorway.objects.create(
        team_order=order, name="away", blocking=home.blocking, zipper_color="black"
    )
    for colorway, fills in ((home, FILLS), (away, AWAY)):
        for code, color in fills:
            ColorwayBlock.objects.create(
                colorway=colorway,
                block=Block.objects.get(code=code),
                fabric_color=FabricColor.objects.get(code=color),
            )
    run = make_run(order=order)
    for number in cut:
        record(f"TO-1-{number:02d}", "done", "cut", None)
    return run


def jacket(number: int) -> Jacket:
    return Jacket.objects.get(code=f"TO-1-{number:02d}")


def facts(line: JacketOrder, **values: Any) -> JacketFacts:
    """The line as it stands, but for `size` and `colorway` by name and `own` colors by block."""
    size, colorway = values.get("size"), values.get("colorway")
    own = values.get(
        "own", {choice.block.code: choice.fabric_color.code for choice in own_of(line)}
    )
    return JacketFacts(
        member=values.get("member", line.member),
        size=PatternSize.objects.get(code=size) if size else line.size,
        colorway=line.team_order.colorways.get(name=colorway) if colorway else line.colorway,
        choices={
            Block.objects.get(code=block): FabricColor.objects.get(code=color)
            for block, color in own.items()
        },
    )


def own_of(line: JacketOrder) -> list[BlockChoice]:
    return list(line.choices.select_related("block", "fabric_color"))


def late_member(order: TeamOrder, member: str = "Late One", size: str = "S") -> JacketFacts:
    return JacketFacts(
        member=member,
        size=PatternSize.objects.get(code=size),
        colorway=order.colorways.get(name="home"),
    )
