"""A team order with real blocks, for quotes: the shipped pattern, one colorway, nobody yet."""

from __future__ import annotations

import datetime
from typing import Any

from orders.models import Club, Colorway, ColorwayBlock, JacketOrder, TeamOrder
from patterns.models import Blocking, FabricColor, PatternSize
from patterns.services import install_shipped

FAR_OFF = datetime.date(2099, 3, 14)
SIZES = ("YM", "M", "XL")


def make_order_to_quote(
    colorways: tuple[tuple[str, str, str], ...] = (("Harbor", "breakwater", "spruce"),),
    sizes: tuple[str, ...] = SIZES,
    jackets: tuple[tuple[str, str], ...] = (),
    **values: Any,
) -> TeamOrder:
    """`colorways` are (name, blocking, fabric color), the collar and the placket's inside being
    oat; `jackets` are (size, colorway)."""
    if not Blocking.objects.exists():
        install_shipped()
    club, _ = Club.objects.get_or_create(name="Tern Quay Rowing Club")
    order = TeamOrder.objects.create(
        **{
            "code": "TQ-99A",
            "club": club,
            "title": "Spring jackets",
            "deadline": FAR_OFF,
            **values,
        }
    )
    order.palette.set(FabricColor.objects.all())
    order.sizes.set(PatternSize.objects.filter(code__in=sizes))
    colors = {color.code: color for color in FabricColor.objects.all()}
    made = {}
    for name, code, base in colorways:
        blocking = Blocking.objects.get(code=code)
        made[name] = Colorway.objects.create(
            team_order=order, name=name, blocking=blocking, zipper_color="oat"
        )
        ColorwayBlock.objects.bulk_create(
            ColorwayBlock(
                colorway=made[name],
                block=block,
                fabric_color=colors["oat" if block.piece.code == "CO" else base],
            )
            for block in blocking.blocks.select_related("piece")
        )
    for number, (size, name) in enumerate(jackets, start=1):
        JacketOrder.objects.create(
            team_order=order,
            member=f"Member {number:02d}",
            size=PatternSize.objects.get(code=size),
            colorway=made[name],
        )
    return order
