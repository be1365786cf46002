"""What a roster is judged by, and what it is written from."""

from __future__ import annotations

from django.db.models import Prefetch

from orders.models import BlockChoice, ColorwayBlock, JacketOrder, TeamOrder
from orders.roster import Accepted, AcceptedColorway, RosterRow

CHOICES = Prefetch(
    "choices",
    BlockChoice.objects.select_related("block", "fabric_color").order_by("block__position"),
)
FILLS = Prefetch("fills", ColorwayBlock.objects.select_related("block", "fabric_color"))


def accepted_by(team_order: TeamOrder, *, from_club: bool = False) -> Accepted:
    """What a roster of this order may say; `from_club` binds it as members are bound."""
    jackets = roster_rows(team_order)
    offered = {size.code for size in team_order.sizes.all()} if from_club else set()
    if offered:
        offered |= {jacket.size for jacket in jackets}
    free = set(team_order.free_blocks.all())
    colorways = team_order.colorways.prefetch_related(
        FILLS, "blocking__blocks", "blocking__pattern__sizes"
    )
    return Accepted(
        colorways=tuple(
            AcceptedColorway(
                name=colorway.name,
                sizes=tuple(
                    size.code
                    for size in colorway.blocking.pattern.sizes.all()
                    if not offered or size.code in offered
                ),
                blocks=tuple(block.code for block in colorway.blocking.blocks.all()),
                fills=tuple((fill.block.code, fill.fabric_color.code) for fill in fills),
                free=tuple(fill.block.code for fill in fills if fill.block in free)
                if from_club
                else None,
            )
            for colorway in colorways
            for fills in [colorway.fills.all()]
        ),
        colors=tuple((color.code, color.name) for color in team_order.palette.all()),
        jackets=jackets,
        expected=tuple(team_order.expected.values_list("name", flat=True)),
        names_allowed=team_order.names_allowed or not from_club,
    )


def roster_rows(team_order: TeamOrder) -> tuple[RosterRow, ...]:
    """The jackets of the order as the rows of its roster."""
    jackets = (
        JacketOrder.objects.filter(team_order=team_order)
        .select_related("size", "colorway")
        .prefetch_related(CHOICES)
        .order_by("pk")
    )
    return tuple(
        RosterRow(
            number=0,
            member=jacket.member,
            size=jacket.size.code,
            colorway=jacket.colorway.name,
            name_on_jacket=jacket.name_on_jacket,
            note=jacket.note,
            choices=tuple((own.block.code, own.fabric_color.code) for own in jacket.choices.all()),
        )
        for jacket in jackets
    )
