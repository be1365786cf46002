"""What a team order refuses: each rule raises OrderError with the reason."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from orders.errors import OrderError, OrderFrozenError
from orders.lines import folded
from orders.models import BlockChoice, ColorwayBlock, TeamOrder
from patterns.models import Block, Blocking, FabricColor


def check_open(team_order: TeamOrder) -> None:
    if team_order.state == TeamOrder.State.CANCELLED:
        raise OrderFrozenError(
            f"{team_order.code} is cancelled: nothing in it changes any more. Order again from its "
            "page makes a new order of it."
        )
    if not team_order.is_editable:
        raise OrderFrozenError(
            f"{team_order.code} is {team_order.get_state_display()}: its colors and jackets are "
            "frozen. A change after the freeze needs a supplement."
        )


def check_frozen(team_order: TeamOrder) -> None:
    if team_order.is_editable:
        raise OrderError(
            f"{team_order.code} is {team_order.get_state_display()} and not frozen yet: change it "
            "on its own page."
        )
    if team_order.state != TeamOrder.State.IN_PRODUCTION:
        raise OrderError(
            f"{team_order.code} is {team_order.get_state_display()}: nothing in it is made any "
            "more. Open a new order. Nothing was changed."
        )


def check_palette_keeps_used(team_order: TeamOrder, palette: Iterable[FabricColor]) -> None:
    used = FabricColor.objects.filter(
        pk__in=ColorwayBlock.objects.filter(colorway__team_order=team_order)
        .values("fabric_color")
        .union(
            BlockChoice.objects.filter(jacket_order__team_order=team_order).values("fabric_color")
        )
    )
    if gone := sorted(color.name for color in set(used) - set(palette)):
        raise OrderError(
            f"{', '.join(gone)} stays in the palette: a colorway or a jacket uses it.",
            field="palette",
        )


def check_every_block_colored(
    name: str, blocking: Blocking, fills: Mapping[Block, FabricColor]
) -> None:
    blocks = set(blocking.blocks.all())
    if missing := sorted(str(block) for block in blocks - set(fills)):
        raise OrderError(f"Colorway {name} gives no color to {', '.join(missing)}.")
    if foreign := sorted(str(block) for block in set(fills) - blocks):
        raise OrderError(f"{blocking} has no block {', '.join(foreign)}.")


def check_in_palette(team_order: TeamOrder, colors: Iterable[FabricColor]) -> None:
    palette = set(team_order.palette.all())
    if foreign := sorted({color.name for color in colors if color not in palette}):
        raise OrderError(f"{', '.join(foreign)} is not in the palette of {team_order.code}.")


def check_days(closes_on: date | None, deadline: date) -> None:
    if closes_on and closes_on > deadline:
        raise OrderError(
            f"The form closes on {closes_on} and the deadline is {deadline} already; name an "
            "earlier closing day.",
            field="closes_on",
        )


def is_taken(name: str, names: Iterable[str]) -> bool:
    # The database folds only ASCII letters on SQLite; two Ødegårds must not both get in.
    return folded(name) in map(folded, names)
